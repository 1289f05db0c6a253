package export

import "strings"

const hexDigits = "0123456789abcdef"

// escape writes bytes from outside as they stand in a log between its quotes.
func escape(dst []byte, s string) []byte {
	for i := range len(s) {
		switch c := s[i]; {
		case c == '"' || c == '\\':
			dst = append(dst, '\\', c)
		case c == '\r':
			dst = append(dst, '\\', 'r')
		case c == '\n':
			dst = append(dst, '\\', 'n')
		case c == '\t':
			dst = append(dst, '\\', 't')
		case c < 0x20 || c > 0x7e:
			dst = append(dst, '\\', 'x', hexDigits[c>>4], hexDigits[c&15])
		default:
			dst = append(dst, c)
		}
	}
	return dst
}

// cell is a text from outside for a table.
func cell(s string) string {
	text := string(escape(make([]byte, 0, len(s)+16), s))
	if !formula(text) {
		return text
	}
	return `\x` + string([]byte{hexDigits[text[0]>>4], hexDigits[text[0]&15]}) + text[1:]
}

// formula says whether a spreadsheet might calculate a text instead of showing
// it. A signed number with its unit, which most load cells send, is none.
func formula(s string) bool {
	if s == "" || !strings.Contains("=+-@", s[:1]) {
		return false
	}
	return s[0] == '=' || s[0] == '@' || len(s) > 1 && !strings.Contains("0123456789. ", s[1:2]) || strings.ContainsAny(s[1:], "=@+-*/^&|!(<>")
}
