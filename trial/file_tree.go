package trial

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// fileNode is one value of the document with the line it stands on.
type fileNode struct {
	line int
	kind nodeKind
	text string      // a scalar: the string's content, or the number as written
	list []*fileNode // a list, or the tables of [[name]]

	keys     []string // a table's, in the order of the file
	vals     map[string]*fileNode
	explicit bool // a table with its own header or braces, which may come once
}

type nodeKind uint8

const (
	aString nodeKind = iota
	anInteger
	aFloat
	aBool
	aDate
	aList
	aTable
	tableList // [[name]]
)

// String is the kind as an error names it.
func (k nodeKind) String() string {
	return [...]string{"a text", "a whole number", "a number", "true or false", "a date", "a list", "a table", "a list of tables"}[k]
}

func newTable(line int, explicit bool) *fileNode {
	return &fileNode{line: line, kind: aTable, vals: map[string]*fileNode{}, explicit: explicit}
}

// Nothing in a trial file nests deeper than [load.calibration].coefficients.
const maxNesting = 8

// Faults in the writing of TOML tend to follow one from another.
const maxSyntaxErrors = 20

// treeBuilder reads TOML into fileNodes. The parser gives one expression at a
// time; after a fault the builder goes on at the next line that can be read,
// so that one slip does not hide the others.
type treeBuilder struct {
	text   []byte
	root   *fileNode
	table  *fileNode // the one the last header opened
	path   string    // its name
	fail   func(line int, key, reason, want string)
	syntax int // faults that leave keys unread

	ends []int // the offsets of the line ends
}

func (b *treeBuilder) build() {
	b.root = newTable(1, true)
	b.table = b.root
	for i, c := range b.text {
		if c == '\n' {
			b.ends = append(b.ends, i)
		}
	}
	var p unstable.Parser
	for start := 0; start < len(b.text) && b.syntax < maxSyntaxErrors; {
		p.Reset(b.text[start:])
		good := start // end of the last expression read
		for p.NextExpression() {
			good = b.apply(&p, start)
		}
		if p.Error() == nil {
			return
		}
		start = b.badSyntax(p.Error(), good)
	}
}

// badSyntax records a fault the parser met and returns where to go on.
func (b *treeBuilder) badSyntax(err error, good int) int {
	b.syntax++
	at, reason := good, err.Error()
	if pe, ok := errors.AsType[*unstable.ParserError](err); ok {
		reason = pe.Message
		if off := cap(b.text) - cap(pe.Highlight); pe.Highlight != nil && off > good && off < len(b.text) {
			at = off
		}
	}
	began := b.nextContent(good)
	at = max(at, began)
	line := b.lineOf(at)
	if len(bytes.TrimSpace(b.text[at:])) <= 1 {
		// Something never closed: where it began helps, the end does not.
		line = b.lineOf(began)
	}
	b.fail(line, "", "not TOML: "+visible(reason),
		`write key = value, with a text or a quantity in quotes, such as fairlead = "1.5 m"`)
	header := false
	if began < len(b.text) {
		header = b.text[began] == '['
	}
	next := b.lineAfter(at)
	for header && next < len(b.text) {
		// Keys under a header that cannot be read belong to no known table.
		if rest := bytes.TrimLeft(b.text[next:], " \t"); len(rest) > 0 && rest[0] == '[' {
			break
		}
		next = b.lineAfter(next)
	}
	return next
}

// nextContent is the first byte from off that is neither space nor comment,
// starting with the line after the one off is in, unless off is its start.
func (b *treeBuilder) nextContent(off int) int {
	if off > 0 && off < len(b.text) && b.text[off-1] != '\n' {
		off = b.lineAfter(off)
	}
	for off < len(b.text) {
		rest := bytes.TrimLeft(b.text[off:], " \t")
		if len(rest) > 0 && rest[0] != '#' && rest[0] != '\n' && rest[0] != '\r' {
			return len(b.text) - len(rest)
		}
		off = b.lineAfter(off)
	}
	return max(0, len(b.text)-1)
}

func (b *treeBuilder) lineAfter(off int) int {
	i := bytes.IndexByte(b.text[off:], '\n')
	if i < 0 {
		return len(b.text)
	}
	return off + i + 1
}

func (b *treeBuilder) lineOf(off int) int {
	before, _ := slices.BinarySearch(b.ends, off)
	return 1 + before
}

// apply adds one expression to the tree and returns where it ends in the
// text. start is where the parser's own offsets begin.
func (b *treeBuilder) apply(p *unstable.Parser, start int) int {
	e := p.Expression()
	names, line, end := b.key(e.Key(), start)
	if e.Kind == unstable.KeyValue {
		b.put(b.table, b.path, names, b.value(e.Value(), joinKeys(b.path, names), line, start, 0))
		return max(end, start+int(e.Raw.Offset+e.Raw.Length))
	}
	b.open(names, line, e.Kind == unstable.ArrayTable)
	return end
}

func (b *treeBuilder) key(it unstable.Iterator, start int) (names []string, line, end int) {
	for it.Next() {
		n := it.Node()
		if line == 0 {
			line = b.lineOf(start + int(n.Raw.Offset))
		}
		end = start + int(n.Raw.Offset+n.Raw.Length)
		names = append(names, string(n.Data))
	}
	return names, line, end
}

// open makes the table a header names and lets the keys that follow go there.
// After a fault they go to a table nobody reads.
func (b *treeBuilder) open(names []string, line int, list bool) {
	at, path := b.root, ""
	b.table, b.path = newTable(line, true), ""
	for i, name := range names {
		last := i == len(names)-1
		path = joinKey(path, name)
		next, have := at.vals[name]
		switch {
		case !have && last && list:
			next = &fileNode{line: line, kind: tableList, list: []*fileNode{b.table}}
			at.add(name, next)
		case !have && last:
			next = b.table
			at.add(name, next)
		case !have:
			next = newTable(line, false)
			at.add(name, next)
		case last && list && next.kind == tableList:
			next.list = append(next.list, b.table)
		case last && !list && next.kind == aTable && !next.explicit:
			// [limits.pull] before [limits]: the same table, now opened.
			next.explicit, next.line = true, line
			b.table = next
		case last || next.kind != aTable && next.kind != tableList:
			b.fail(line, path, fmt.Sprintf("is given twice, first on line %d", next.line), twiceWant(list, next))
			if last && !list && next.kind == aTable {
				b.table, b.path = next, path // its keys are read all the same
			}
			return
		}
		if next.kind == tableList && !last {
			path += fmt.Sprintf("[%d]", len(next.list))
			next = next.list[len(next.list)-1]
		}
		if last && list {
			path += fmt.Sprintf("[%d]", len(next.list))
		}
		at = next
	}
	b.path = path
}

func twiceWant(list bool, first *fileNode) string {
	if list != (first.kind == tableList) {
		return fmt.Sprintf("head it as on line %d", first.line)
	}
	return "put the keys of both under one header"
}

// put adds a value under a key that may have dots in it.
func (b *treeBuilder) put(at *fileNode, path string, names []string, v *fileNode) {
	for i, name := range names {
		path = joinKey(path, name)
		next, have := at.vals[name]
		last := i == len(names)-1
		switch {
		case have && (last || next.kind != aTable || next.explicit):
			b.fail(v.line, path, fmt.Sprintf("is given twice, first on line %d", next.line), "keep one of them")
			return
		case have:
			at = next
		case last:
			at.add(name, v)
		default:
			next = newTable(v.line, false)
			at.add(name, next)
			at = next
		}
	}
}

func (n *fileNode) add(name string, v *fileNode) {
	n.keys = append(n.keys, name)
	n.vals[name] = v
}

// value turns a parsed value into a node. path is its key, line where it
// stands unless the parser knows better.
func (b *treeBuilder) value(n *unstable.Node, path string, line, start, depth int) *fileNode {
	if n.Raw.Length > 0 {
		line = b.lineOf(start + int(n.Raw.Offset))
	}
	v := &fileNode{line: line, text: string(n.Data)}
	switch n.Kind {
	case unstable.String:
		v.kind = aString
	case unstable.Integer:
		v.kind = anInteger
	case unstable.Float:
		v.kind = aFloat
	case unstable.Bool:
		v.kind = aBool
	case unstable.Array:
		v.kind = aList
		for it := n.Children(); depth < maxNesting && it.Next(); {
			v.list = append(v.list, b.value(it.Node(), fmt.Sprintf("%s[%d]", path, len(v.list)+1), line, start, depth+1))
		}
	case unstable.InlineTable:
		v = newTable(line, true)
		for it := n.Children(); depth < maxNesting && it.Next(); {
			kv := it.Node()
			names, kline, _ := b.key(kv.Key(), start)
			b.put(v, path, names, b.value(kv.Value(), joinKeys(path, names), kline, start, depth+1))
		}
	default:
		v.kind = aDate
	}
	return v
}

// secondOpinion lets the library's own reader look at the whole document, for
// what the tree has no eye for, such as a date that does not exist.
func (b *treeBuilder) secondOpinion() {
	var doc map[string]any
	err := toml.Unmarshal(b.text, &doc)
	if err == nil {
		return
	}
	line := 1
	if de, ok := errors.AsType[*toml.DecodeError](err); ok {
		line, _ = de.Position()
	}
	b.fail(line, "", "not TOML: "+visible(strings.TrimPrefix(err.Error(), "toml: ")), "correct it")
}

func joinKeys(path string, names []string) string {
	for _, name := range names {
		path = joinKey(path, name)
	}
	return path
}

func joinKey(path, name string) string {
	name = visible(name)
	if path == "" {
		return name
	}
	return path + "." + name
}
