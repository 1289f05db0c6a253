package report

// page is a report before it is written in a language: blocks, one after the
// other.
type page struct {
	title  string
	blocks []block
	tables []*table
}

// block is one of heading, text, list, table or figure.
type block struct {
	heading string
	level   int // of the heading: 2 or 3
	text    string
	strong  bool // a caution or a warning
	list    []string
	table   *table
	figure  *figure
}

// table is also a CSV file, which has columns that the page may leave out.
type table struct {
	name    string // of the file
	title   string
	note    string
	columns []column
	rows    [][]cell
}

type column struct {
	head   string // on the page; "" it stands in the file alone
	key    string // in the file, with the unit; "" it stands on the page alone
	number bool
}

// cell is what a page and a file show.
type cell struct{ text, csv string }

func plain(s string) cell { return cell{s, s} }

// figure is also two files.
type figure struct {
	name  string
	title string
	note  string
	pull  bool // one pull's own
	svg   []byte
	png   []byte // nil: given away
}

func (p *page) head(level int, text string) {
	p.blocks = append(p.blocks, block{heading: text, level: level})
}
func (p *page) say(text string)  { p.blocks = append(p.blocks, block{text: text}) }
func (p *page) warn(text string) { p.blocks = append(p.blocks, block{text: text, strong: true}) }
func (p *page) list(items []string) {
	if len(items) > 0 {
		p.blocks = append(p.blocks, block{list: items})
	}
}

func (p *page) table(t *table) {
	if len(t.rows) == 0 {
		return
	}
	p.blocks = append(p.blocks, block{table: t})
	p.tables = append(p.tables, t)
}

func (p *page) figure(f *figure) {
	p.blocks = append(p.blocks, block{figure: f})
}
