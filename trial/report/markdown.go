package report

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"strings"
)

// markdown writes the page for those who read text; plots and tables are files
// beside it.
func (p *page) markdown(to io.Writer) error {
	b := bufio.NewWriter(to)
	fmt.Fprintf(b, "# %s\n", mdText(p.title))
	for _, k := range p.blocks {
		b.WriteByte('\n')
		switch {
		case k.heading != "":
			fmt.Fprintf(b, "%s %s\n", strings.Repeat("#", k.level), mdText(k.heading))
		case k.text != "" && k.strong:
			fmt.Fprintf(b, "**%s**\n", mdText(k.text))
		case k.text != "":
			fmt.Fprintf(b, "%s\n", mdText(k.text))
		case k.list != nil:
			for _, item := range k.list {
				fmt.Fprintf(b, "- %s\n", mdText(item))
			}
		case k.table != nil:
			k.table.markdown(b)
		case k.figure != nil:
			fmt.Fprintf(b, "![%s](plots/%s.svg)\n", mdText(k.figure.title), k.figure.name)
			if k.figure.note != "" {
				fmt.Fprintf(b, "\n%s\n", mdText(k.figure.note))
			}
		}
	}
	return b.Flush()
}

func (t *table) markdown(b *bufio.Writer) {
	fmt.Fprintf(b, "**%s** (tables/%s.csv)\n\n", mdText(t.title), t.name)
	var rule strings.Builder
	for _, c := range t.columns {
		if c.head == "" {
			continue
		}
		fmt.Fprintf(b, "| %s ", mdText(c.head))
		rule.WriteString("|---")
		if c.number {
			rule.WriteString(":")
		}
	}
	fmt.Fprintf(b, "|\n%s|\n", rule.String())
	for _, r := range t.rows {
		for i, c := range t.columns {
			if c.head != "" {
				fmt.Fprintf(b, "| %s ", mdText(r[i].text))
			}
		}
		b.WriteString("|\n")
	}
	if t.note != "" {
		fmt.Fprintf(b, "\n%s\n", mdText(t.note))
	}
}

var mdEscapes = strings.NewReplacer("\\", "\\\\", "|", "\\|", "*", "\\*", "_", "\\_", "`", "\\`", "<", "&lt;", "[", "\\[", "\n", " ", "\r", " ")

func mdText(s string) string {
	s = mdEscapes.Replace(s)
	if strings.HasPrefix(s, ">") || strings.HasPrefix(s, "#") {
		s = "\\" + s
	}
	return s
}

// csv writes a table for a spreadsheet: SI, the unit in the header, an empty field
// where nothing is known. What a spreadsheet might calculate is escaped as in the
// log.
func (t *table) csv(to io.Writer) error {
	w := csv.NewWriter(to)
	w.UseCRLF = true
	var row []string
	for _, c := range t.columns {
		if c.key != "" {
			row = append(row, c.key)
		}
	}
	_ = w.Write(row) // an error stays for Error
	for _, r := range t.rows {
		row = row[:0]
		for i, c := range t.columns {
			if c.key != "" {
				row = append(row, sheet(r[i].csv))
			}
		}
		_ = w.Write(row)
	}
	w.Flush()
	return w.Error()
}

// sheet keeps a text from being taken for a formula; a plain number stays one.
func sheet(s string) string {
	if s == "" || !strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return s
	}
	if _, err := parseFloat(s); err == nil {
		return s
	}
	return fmt.Sprintf(`\x%02x`, s[0]) + s[1:]
}
