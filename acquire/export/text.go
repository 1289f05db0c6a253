package export

import (
	"strings"

	"hawse/logfmt"
)

const hexDigits = "0123456789abcdef"

// cell is a text from outside for a table.
func cell(s string) string {
	text := string(logfmt.AppendEscaped(make([]byte, 0, len(s)+16), s))
	if !Formula(text) {
		return text
	}
	return `\x` + string([]byte{hexDigits[text[0]>>4], hexDigits[text[0]&15]}) + text[1:]
}

// Formula says whether a spreadsheet might calculate a text instead of showing
// it. A signed number with its unit, which most load cells send, is none.
func Formula(s string) bool {
	if s == "" || !strings.Contains("=+-@", s[:1]) {
		return false
	}
	return s[0] == '=' || s[0] == '@' || len(s) > 1 && !strings.Contains("0123456789. ", s[1:2]) || strings.ContainsAny(s[1:], "=@+-*/^&|!(<>")
}
