package report

import (
	"bufio"
	"bytes"
	"fmt"
	"html"
	"io"
)

// style prints on A4 and Letter alike: no width is the paper's.
const style = `
:root { color-scheme: light }
body { font: 15px/1.45 "Liberation Sans", Arial, Helvetica, sans-serif; color: #111; background: #fff; max-width: 60rem; margin: 1.5rem auto; padding: 0 1rem }
h1 { font-size: 1.7rem; line-height: 1.2 } h2 { font-size: 1.25rem; margin-top: 2.2rem; border-bottom: 1px solid #999 } h3 { font-size: 1.05rem; margin-bottom: .3rem }
table { border-collapse: collapse; font-size: .82rem; margin: .4rem 0; width: 100% }
caption { text-align: left; font-weight: bold; padding: .3rem 0 } th, td { border: 1px solid #bbb; padding: .15rem .35rem; text-align: left; vertical-align: top; overflow-wrap: break-word }
th { background: #eee; overflow-wrap: normal } td.h { overflow-wrap: anywhere; word-break: break-all; font-family: monospace; font-size: .9em } td.n, th.n { text-align: right; font-variant-numeric: tabular-nums } td.n, td.t { white-space: nowrap }
.note { font-size: .82rem; color: #333; margin: .1rem 0 .8rem } .warn { border: 2px solid #111; padding: .4rem .7rem; font-weight: bold }
figure { margin: .8rem 0; break-inside: avoid } figcaption { font-weight: bold; font-size: .9rem } figure svg { width: 100%; height: auto; display: block }
.scroll { overflow-x: auto } nav { font-size: .9rem } nav a { margin-right: .8rem } code { overflow-wrap: anywhere }
@page { margin: 14mm }
@media print { body { font-size: 10pt; max-width: none; margin: 0; padding: 0 } nav { display: none } table { font-size: 7.5pt } .scroll { overflow: visible }
  h2, h3 { break-after: avoid } tr { break-inside: avoid } thead { display: table-header-group } figure svg { max-height: 205mm } figure.pull svg { max-height: 168mm } figure.pull + ul { font-size: 8pt; line-height: 1.25; margin: 0 } }
`

// html writes the page as one file that needs nothing else.
func (p *page) html(to io.Writer) error {
	b := bufio.NewWriterSize(to, 1<<16)
	e := html.EscapeString
	fmt.Fprintf(b, "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"generator\" content=\"hawse report\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>%s</title>\n<style>%s</style></head><body>\n<h1>%s</h1>\n", e(p.title), style, e(p.title))
	n := 0
	b.WriteString("<nav>")
	for _, k := range p.blocks {
		if k.level == 2 {
			n++
			fmt.Fprintf(b, "<a href=\"#s%d\">%s</a> ", n, e(k.heading))
		}
	}
	b.WriteString("</nav>\n")
	n = 0
	for _, k := range p.blocks {
		switch {
		case k.level == 2:
			n++
			fmt.Fprintf(b, "<h2 id=\"s%d\">%s</h2>\n", n, e(k.heading))
		case k.heading != "":
			fmt.Fprintf(b, "<h3>%s</h3>\n", e(k.heading))
		case k.text != "" && k.strong:
			fmt.Fprintf(b, "<p class=\"warn\">%s</p>\n", e(k.text))
		case k.text != "":
			fmt.Fprintf(b, "<p>%s</p>\n", e(k.text))
		case k.list != nil:
			b.WriteString("<ul>")
			for _, item := range k.list {
				fmt.Fprintf(b, "<li>%s</li>\n", e(item))
			}
			b.WriteString("</ul>\n")
		case k.table != nil:
			k.table.html(b)
		case k.figure != nil:
			f := k.figure
			class := ""
			if f.pull {
				class = ` class="pull"`
			}
			fmt.Fprintf(b, "<figure%s><figcaption>%s</figcaption>\n", class, e(f.title))
			inline(b, f.svg, f.title)
			b.WriteByte('\n')
			if f.note != "" {
				fmt.Fprintf(b, "<p class=\"note\">%s</p>", e(f.note))
			}
			b.WriteString("</figure>\n")
		}
	}
	b.WriteString("</body></html>\n")
	return b.Flush()
}

func (t *table) html(b *bufio.Writer) {
	e := html.EscapeString
	fmt.Fprintf(b, "<div class=\"scroll\"><table><caption>%s</caption><thead><tr>", e(t.title))
	class := func(c column) string {
		if c.key == "sha256" {
			return ` class="h"`
		}
		switch c.key {
		case "run", "started_utc", "at_utc", "done_utc":
			return ` class="t"`
		}
		if c.number {
			return ` class="n"`
		}
		return ""
	}
	for _, c := range t.columns {
		if c.head != "" {
			fmt.Fprintf(b, "<th%s>%s</th>", class(c), e(c.head))
		}
	}
	b.WriteString("</tr></thead><tbody>\n")
	for _, r := range t.rows {
		b.WriteString("<tr>")
		for i, c := range t.columns {
			if c.head != "" {
				fmt.Fprintf(b, "<td%s>%s</td>", class(c), e(r[i].text))
			}
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table></div>\n")
	if t.note != "" {
		fmt.Fprintf(b, "<p class=\"note\">%s</p>\n", e(t.note))
	}
}

// inline writes an SVG as it stands in HTML: without its own prologue, and with a
// title for those who do not see it.
func inline(b *bufio.Writer, svg []byte, title string) {
	const tag = "<svg"
	_, rest, ok := bytes.Cut(svg, []byte(tag))
	if !ok {
		return
	}
	fmt.Fprintf(b, `%s role="img" aria-label="%s"`, tag, html.EscapeString(title))
	b.Write(rest)
}
