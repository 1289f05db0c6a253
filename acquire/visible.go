package acquire

// maxVisible bounds the text Visible makes, in bytes without the dots.
const maxVisible = 240

// Visible makes bytes from outside fit to be shown: control characters and
// everything beyond ASCII as \xHH, or \r \n \t; a backslash as \\, so that no
// two inputs look alike. Long text ends in "...".
func Visible(b []byte) string {
	const hex = "0123456789abcdef"
	out := make([]byte, 0, min(len(b)+8, maxVisible+8))
	for _, c := range b {
		at := len(out)
		switch {
		case c == '\r':
			out = append(out, '\\', 'r')
		case c == '\n':
			out = append(out, '\\', 'n')
		case c == '\t':
			out = append(out, '\\', 't')
		case c == '\\':
			out = append(out, '\\', '\\')
		case c < 0x20 || c > 0x7e:
			out = append(out, '\\', 'x', hex[c>>4], hex[c&15])
		default:
			out = append(out, c)
		}
		if len(out) > maxVisible {
			return string(append(out[:at], "..."...))
		}
	}
	return string(out)
}
