package listen

import (
	"fmt"
	"regexp"
	"strings"
)

// write makes the regular expression.
func (s *Shape) write(cols []*column, at int) {
	var b strings.Builder
	b.WriteString("^")
	status := false
	for i, c := range cols {
		switch {
		case !c.blankBefore:
		case c.always && c.kind != number && !c.trailing && !(i > 0 && cols[i-1].kind == number):
			b.WriteString(regexp.QuoteMeta(c.blanks))
		default:
			b.WriteString("[ \\t]*")
		}
		switch {
		case c.kind == blank:
			b.WriteString("[ \\t]*")
		case i == at && s.Kind == Counts:
			b.WriteString(`(?P<counts>[+-]?[ \t]*\d+)`)
		case i == at:
			b.WriteString(`[ \t]*(?P<value>[+-]?[ \t]*\d+` + decimals(c) + ")")
		case c.kind == unitColumn:
			quoted := make([]string, len(c.different))
			for j, u := range c.different {
				quoted[j] = regexp.QuoteMeta(u)
			}
			b.WriteString("(?P<unit>" + strings.Join(quoted, "|") + ")")
		case c.kind == number && len(c.different) > 1:
			b.WriteString(`[ \t]*[+-]?[ \t]*\d+(?:\.\d+)?`)
		case c.kind == word && len(c.different) > 1 && !status:
			status = true
			s.Status = c.different
			b.WriteString("(?P<status>[A-Za-z]+)")
		case c.kind == word && len(c.different) > 1:
			b.WriteString("[A-Za-z]+")
		case c.kind == sum:
			b.WriteString(`\*[0-9A-Fa-f]{2}`)
		default:
			b.WriteString(escape(c.texts[0]))
		}
	}
	b.WriteString("$")
	s.Pattern = b.String()
	for _, twice := range []string{`[ \t]*`, beyond} {
		for strings.Contains(s.Pattern, twice+twice) {
			s.Pattern = strings.ReplaceAll(s.Pattern, twice+twice, twice)
		}
	}
}

// beyond is any run of bytes that are no ASCII.
const beyond = `[^\x00-\x7f]+`

// escape quotes for the expression; what cannot be seen as a hexadecimal escape.
func escape(text string) string {
	var b strings.Builder
	for i := range len(text) {
		// An expression is over characters, and bytes past ASCII may be none.
		if c := text[i]; c >= 0x80 {
			b.WriteString(beyond)
		} else if c < 0x20 || c == 0x7f || c == '\'' {
			fmt.Fprintf(&b, `\x%02x`, c)
		} else {
			b.WriteString(regexp.QuoteMeta(string(c)))
		}
	}
	return b.String()
}

// decimals is the fraction: as many digits as it likes, for boxes change range.
func decimals(c *column) string {
	for _, t := range c.texts {
		if strings.Contains(t, ",") {
			return `(?:,\d+)?`
		}
	}
	return `(?:\.\d+)?`
}
