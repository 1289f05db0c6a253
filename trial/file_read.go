package trial

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// fileReader takes values out of the tree and remembers every fault and where
// each key stands, so that checks across keys can point at a line.
type fileReader struct {
	file  string
	errs  FileErrors
	notes []string

	lines  map[string]int  // of each key read and each table opened, by path
	bad    map[string]bool // paths with a fault in them or under them
	stray  map[string]bool // tables with an unknown key in them, perhaps a misspelt one
	broken bool            // TOML that could not be read: keys may only seem to be missing
}

func (r *fileReader) fail(line int, key, reason, want string) {
	r.errs = append(r.errs, &FileError{File: r.file, Line: line, Key: key, Reason: reason, Want: want})
	for key != "" {
		r.bad[key] = true
		key = parentKey(key)
	}
}

// failAt is fail at the line of a key, or of the nearest table around it.
func (r *fileReader) failAt(key, reason, want string) {
	r.fail(r.lineOf(key), key, reason, want)
}

func (r *fileReader) lineOf(key string) int {
	for ; key != ""; key = parentKey(key) {
		if line, ok := r.lines[key]; ok {
			return line
		}
	}
	return 1
}

// parentKey is the path of the table a key is in: "rode[2].wll" -> "rode[2]"
// -> "rode" -> "".
func parentKey(key string) string {
	if i := strings.LastIndexAny(key, ".["); i >= 0 {
		return key[:i]
	}
	return ""
}

// sound reports whether nothing is wrong with these keys, so that a check
// over them is worth making.
func (r *fileReader) sound(keys ...string) bool {
	return !r.broken && !slices.ContainsFunc(keys, func(k string) bool { return r.bad[k] })
}

// fileTable is one table being read. Keys nobody asked for are unknown.
type fileTable struct {
	r     *fileReader
	n     *fileNode
	path  string
	asked []string // every key that may stand here
}

func (t *fileTable) key(name string) string { return joinKey(t.path, name) }

// ask is a key of the trial file: what it is, in words that fit after "write"
// and "add", and an example of its value as it stands in the file.
type ask struct {
	name, what, eg string
	optional       bool
}

func (a ask) want(verb string) string {
	return fmt.Sprintf("%s %s, such as %s = %s", verb, a.what, a.name, a.eg)
}

// get finds a value; nil where there is none, which is a fault unless the key
// is optional.
func (t *fileTable) get(a ask) *fileNode {
	t.asked = append(t.asked, a.name)
	v := t.n.vals[a.name]
	if v == nil {
		if !a.optional {
			t.missing(a.name, a.want("add"))
		}
		return nil
	}
	t.r.lines[t.key(a.name)] = v.line
	return v
}

func (t *fileTable) missing(name, want string) {
	if t.r.broken {
		t.r.bad[t.key(name)] = true
		return
	}
	t.r.fail(t.n.line, t.key(name), "is missing", want)
}

func (t *fileTable) fail(a ask, reason string) {
	t.r.failAt(t.key(a.name), reason, a.want("write"))
}

// done reports the keys nobody asked for.
func (t *fileTable) done() {
	for _, k := range t.n.keys {
		if slices.Contains(t.asked, k) {
			continue
		}
		want := "take it out; the keys here are " + strings.Join(once(t.asked), ", ")
		if near := nearest(k, t.asked); near != "" {
			want = fmt.Sprintf("write %s if that is meant, or take it out", near)
		}
		t.r.fail(t.n.vals[k].line, t.key(k), "is no key of a trial file here", want)
		t.r.stray[t.path] = true
	}
}

// table opens a table inside this one.
func (t *fileTable) table(name, what string, optional bool) *fileTable {
	t.asked = append(t.asked, name)
	path := t.key(name)
	v := t.n.vals[name]
	switch {
	case v == nil && optional:
		return nil
	case v == nil:
		t.missing(name, fmt.Sprintf("add [%s]: %s", path, what))
		return nil
	case v.kind != aTable:
		t.r.fail(v.line, path, "is "+v.kind.String(), fmt.Sprintf("make it a table headed [%s]: %s", path, what))
		return nil
	}
	t.r.lines[path] = v.line
	return &fileTable{r: t.r, n: v, path: path}
}

// tables opens a list of tables inside this one.
func (t *fileTable) tables(name, what string) []*fileTable {
	t.asked = append(t.asked, name)
	path := t.key(name)
	v := t.n.vals[name]
	if v == nil || len(v.list) == 0 && (v.kind == tableList || v.kind == aList) {
		t.missing(name, fmt.Sprintf("add at least one [[%s]]: %s", path, what))
		return nil
	}
	notTable := func(n *fileNode) bool { return n.kind != aTable }
	if v.kind != tableList && (v.kind != aList || slices.ContainsFunc(v.list, notTable)) {
		t.r.fail(v.line, path, "is "+v.kind.String(), fmt.Sprintf("head every one of them [[%s]]: %s", path, what))
		return nil
	}
	t.r.lines[path] = v.line
	var out []*fileTable
	for i, n := range v.list {
		p := fmt.Sprintf("%s[%d]", path, i+1)
		t.r.lines[p] = n.line
		out = append(out, &fileTable{r: t.r, n: n, path: p})
	}
	return out
}

// Lengths of texts: a name must fit a screen and a log line.
const (
	maxName = 80
	maxText = 400
)

// text reads a text that is not empty and has nothing invisible in it.
func (t *fileTable) text(a ask, most int) string {
	v := t.get(a)
	if v == nil {
		return ""
	}
	if v.kind != aString {
		t.fail(a, "is "+v.kind.String()+", not a text")
		return ""
	}
	if reason := badText(v.text, most); reason != "" {
		t.fail(a, reason)
		return ""
	}
	return v.text
}

func badText(s string, most int) string {
	switch {
	case strings.TrimSpace(s) == "":
		return "is empty"
	case len(s) > most:
		return fmt.Sprintf("is %d bytes long, more than %d", len(s), most)
	case strings.ContainsFunc(s, func(c rune) bool { return !unicode.IsPrint(c) || c == unicode.ReplacementChar }):
		return fmt.Sprintf("%s has control or invisible characters in it", shown(s))
	case strings.TrimSpace(s) != s:
		return fmt.Sprintf("%s begins or ends with a space", shown(s))
	}
	return ""
}

// texts reads a text or a list of texts.
func (t *fileTable) texts(a ask, single, mayBeEmpty bool, most int) []string {
	v := t.get(a)
	if v == nil {
		return nil
	}
	list := v.list
	if single && v.kind == aString {
		list = []*fileNode{v}
	} else if v.kind != aList {
		t.fail(a, "is "+v.kind.String()+", not a list of texts")
		return nil
	}
	if len(list) == 0 && !mayBeEmpty {
		t.fail(a, "is empty")
	}
	var out []string
	for _, n := range list {
		reason := ""
		if n.kind != aString {
			reason = "has " + n.kind.String() + " in it, not a text"
		} else if reason = badText(n.text, most); reason == "" && slices.Contains(out, n.text) {
			reason = fmt.Sprintf("has %s in it twice", shown(n.text))
		}
		if reason != "" {
			t.r.fail(n.line, t.key(a.name), reason, a.want("write"))
			return nil
		}
		out = append(out, n.text)
	}
	return out
}

// whole reads a whole number within bounds.
func (t *fileTable) whole(a ask, least, most int64) int {
	v := t.get(a)
	if v == nil {
		return 0
	}
	if v.kind != anInteger {
		t.fail(a, "is "+v.kind.String()+", not a whole number")
		return 0
	}
	n, err := strconv.ParseInt(strings.ReplaceAll(v.text, "_", ""), 0, 64)
	if least == most && n != least {
		t.fail(a, fmt.Sprintf("%s is not %d, the only one read here", visible(v.text), least))
		return 0
	}
	if err != nil || n < least || n > most {
		t.fail(a, fmt.Sprintf("%s is not from %d to %d", visible(v.text), least, most))
		return 0
	}
	return int(n)
}

// yes reads true or false; false where there is none.
func (t *fileTable) yes(a ask) bool {
	v := t.get(a)
	if v == nil {
		return false
	}
	if v.kind != aBool {
		t.fail(a, "is "+v.kind.String()+", not true or false")
		return false
	}
	return v.text == "true"
}

// number reads a number without unit, above least and up to most.
func (t *fileTable) number(a ask, least, most float64) float64 {
	v := t.get(a)
	if v == nil {
		return 0
	}
	f, reason := v.number()
	if reason == "" && !(f > least && f <= most) {
		reason = fmt.Sprintf("%s is not above %s and up to %s", visible(v.text), shortest(least), shortest(most))
	}
	if reason != "" {
		t.fail(a, reason)
		return 0
	}
	return f
}

// plain reads a number without unit, within bounds, and whether it is there.
func (t *fileTable) plain(a ask, b bounds) (f float64, has bool) {
	v := t.get(a)
	if v == nil {
		return 0, false
	}
	f, reason := v.number()
	if reason == "" {
		if reason = b.reason(f); reason != "" {
			reason = visible(v.text) + " " + reason
		}
	}
	if reason != "" {
		t.fail(a, reason)
		return 0, false
	}
	return f, true
}

func (n *fileNode) number() (float64, string) {
	if n.kind != anInteger && n.kind != aFloat {
		return 0, "is " + n.kind.String() + ", not a number"
	}
	f, err := strconv.ParseFloat(strings.ReplaceAll(n.text, "_", ""), 64)
	if err != nil || math.IsNaN(f) || math.IsInf(f, 0) {
		return 0, fmt.Sprintf("%s is not a finite decimal number", visible(n.text))
	}
	return f, ""
}

// bounds of a quantity in its SI unit (nanoseconds for a time), and how a
// person reads them. They are chosen here so wide that only a slip of unit or
// digit passes them.
type bounds struct {
	least    float64
	leastSay string // empty: 0
	above    bool   // the least itself is refused
	most     float64
	mostSay  string
}

func (b bounds) reason(v float64) string {
	least := cmp.Or(b.leastSay, "0")
	switch {
	case b.above && v <= b.least:
		return "is not above " + least
	case v < b.least:
		return "is under " + least
	case v > b.most:
		return "is more than " + b.mostSay + ", the most taken here"
	}
	return ""
}

// quantity reads a text with number and unit, within bounds.
func quantity[Q ~float64 | ~int64](t *fileTable, a ask, parse func(string) (Q, error), b bounds) Q {
	v := t.get(a)
	if v == nil {
		return 0
	}
	key := t.key(a.name)
	if v.kind == anInteger || v.kind == aFloat {
		t.fail(a, visible(v.text)+" is a bare number without a unit")
		return 0
	}
	if v.kind != aString {
		t.fail(a, "is "+v.kind.String()+", not a quantity in quotes")
		return 0
	}
	q, err := parse(v.text)
	if err != nil {
		reason, want := err.Error(), a.want("write")
		if qe, ok := errors.AsType[*QuantityError](err); ok {
			reason = qe.Reason
			want += ", in " + strings.Join(qe.Units, ", ")
		}
		t.r.failAt(key, reason, want)
		return 0
	}
	if reason := b.reason(float64(q)); reason != "" {
		t.fail(a, shown(v.text)+" "+reason)
		return 0
	}
	return q
}

// load reads a force from a plate or a shackle, where lb and kg are forces,
// and notes what was taken how.
func (t *fileTable) load(a ask, b bounds) Force {
	return quantity(t, a, func(s string) (Force, error) {
		f, note, err := ParseLoadForce(s)
		if note != "" {
			t.r.note(t.key(a.name), shown(s)+": "+note)
		}
		return f, err
	}, b)
}

func (r *fileReader) note(key, text string) {
	r.notes = append(r.notes, fmt.Sprintf("%s:%d: %s: %s", escaped(r.file), r.lineOf(key), key, text))
}

// duration reads a time from least to most.
func (t *fileTable) duration(a ask, least, most time.Duration) time.Duration {
	return quantity(t, a, ParseDuration, bounds{
		least: float64(least), leastSay: FormatDuration(least), most: float64(most), mostSay: FormatDuration(most),
	})
}
