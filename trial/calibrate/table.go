package calibrate

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Bounds of what is read. A calibration has tens of readings.
const (
	maxBytes = 8 << 20
	maxRows  = 20_000
	maxText  = 60
)

// Direction is whether the load rose or fell to a reading.
type Direction int8

const (
	Unsaid Direction = iota
	Up
	Down
)

func (d Direction) String() string { return [...]string{"unsaid", "up", "down"}[d] }

// Row is one reading: what was indicated and what was applied.
type Row struct {
	Line      int // of the file, from 1
	X, Y      float64
	Run       string
	Direction Direction

	x, y *big.Float // as written
}

// Table is the readings of one calibration, in the order of the file.
type Table struct {
	Rows         []Row
	XUnit, YUnit string // as the header says them; empty where it does not
	HasRun       bool   // there is a column run
	HasDirection bool   // there is a column direction
}

// Error is a fault in a file, with the line it stands on.
type Error struct {
	File   string
	Line   int // from 1
	Reason string
	Want   string
}

// Error is one line: file:line: what is wrong; what to do.
func (e *Error) Error() string {
	return fmt.Sprintf("%s:%d: %s; %s", plain(e.File), e.Line, e.Reason, e.Want)
}

// sheet is a CSV file: one row of names, then rows of cells.
type sheet struct {
	file    string
	columns map[string]int
	units   map[string]string
	names   []string
	rows    [][]string
	lines   []int
}

func (s *sheet) fail(line int, want, format string, a ...any) error {
	return &Error{File: s.file, Line: line, Reason: fmt.Sprintf(format, a...), Want: want}
}

// headerText is a name with a unit behind it: "x", "x [kgf]", "x (kgf)", "x kgf".
var headerText = regexp.MustCompile(`^([A-Za-z][A-Za-z0-9_]*)(?:\s*[\[(]\s*([^\])]*?)\s*[\])]|\s+(\S+))?$`)

// readSheet splits a file at commas, semicolons or tabs, whichever the first
// row has most of.
func readSheet(name string, text []byte) (*sheet, error) {
	s := &sheet{file: name, columns: map[string]int{}, units: map[string]string{}}
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	switch {
	case len(text) > maxBytes:
		return nil, s.fail(1, "give the readings alone", "is %d bytes long, more than the %d taken here", len(text), maxBytes)
	case !utf8.Valid(text):
		return nil, s.fail(1, "save it as CSV in UTF-8", "is not UTF-8 text")
	case len(bytes.TrimSpace(text)) == 0:
		return nil, s.fail(1, "give a header x,y and a row for each reading", "is empty")
	}
	first, _, _ := bytes.Cut(bytes.TrimLeft(text, "\r\n \t"), []byte("\n"))
	r := csv.NewReader(bytes.NewReader(text))
	r.FieldsPerRecord, r.TrimLeadingSpace, r.ReuseRecord = -1, true, false
	for _, sep := range []rune{';', '\t'} {
		if bytes.Count(first, []byte(string(sep))) > bytes.Count(first, []byte(string(r.Comma))) {
			r.Comma = sep
		}
	}
	for {
		cells, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			line := 1
			if bad, ok := errors.AsType[*csv.ParseError](err); ok {
				line, err = bad.Line, bad.Err
			}
			return nil, s.fail(line, "mend the line", "is no CSV: %v", err)
		}
		line, _ := r.FieldPos(0)
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		if s.names == nil {
			if err := s.header(line, cells); err != nil {
				return nil, err
			}
			continue
		}
		if strings.Join(cells, "") == "" {
			continue
		}
		if len(cells) > len(s.names) {
			return nil, s.fail(line, "check the separators, and write numbers with a decimal point", "has %d cells under %d columns", len(cells), len(s.names))
		}
		if len(s.rows) == maxRows {
			return nil, s.fail(line, "give fewer", "is past the %d readings taken here", maxRows)
		}
		s.rows, s.lines = append(s.rows, cells), append(s.lines, line)
	}
	return s, nil
}

func (s *sheet) header(line int, cells []string) error {
	s.names = cells
	for i, c := range cells {
		m := headerText.FindStringSubmatch(c)
		if m == nil {
			continue // a column that is not ours
		}
		name := strings.ToLower(m[1])
		if _, twice := s.columns[name]; twice {
			return s.fail(line, "rename one", "has two columns %s", name)
		}
		s.columns[name] = i
		if unit := m[2] + m[3]; unit != "" {
			s.units[name] = unit
		}
	}
	if _, err := strconv.ParseFloat(cells[0], 64); err == nil {
		return s.fail(line, "write a first row that names the columns: x,y", "begins with a number, so its columns have no names")
	}
	return nil
}

// need finds a column.
func (s *sheet) need(name, what string) (int, error) {
	i, have := s.columns[name]
	if !have {
		names := make([]string, 0, len(s.names))
		for _, n := range s.names {
			names = append(names, plain(n))
		}
		return 0, s.fail(1, fmt.Sprintf("name the column with %s %q in the first row", what, name),
			"has no column %s; its columns are %s", name, strings.Join(names, ", "))
	}
	return i, nil
}

func (s *sheet) cell(row, column int) string {
	if column < len(s.rows[row]) {
		return s.rows[row][column]
	}
	return ""
}

var numberText = regexp.MustCompile(`^[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?$`)

// number reads a cell as written: no digit of a decimal is lost.
func (s *sheet) number(row, column int, name string) (*big.Float, float64, error) {
	c := s.cell(row, column)
	fail := func(want, format string, a ...any) (*big.Float, float64, error) {
		return nil, 0, s.fail(s.lines[row], want, format, a...)
	}
	switch {
	case c == "":
		return fail("write the reading, or take the row out", "column %s is empty", name)
	case len(c) > maxText || !numberText.MatchString(c):
		if strings.Contains(c, ",") {
			return fail("write a decimal point and nothing between the digits", "column %s: %s has a comma", name, quoted(c))
		}
		return fail("write a plain number; the unit belongs in the header, as in x [kgf]", "column %s: %s is no number", name, quoted(c))
	}
	f, _, err := big.ParseFloat(c, 10, precision, big.ToNearestEven)
	if err != nil {
		return fail("write a plain number", "column %s: %s is no number", name, quoted(c))
	}
	v, _ := f.Float64()
	if a := math.Abs(v); a > 1e30 || a != 0 && a < 1e-30 || a == 0 && f.Sign() != 0 {
		return fail("check its exponent", "column %s: %s is out of all bounds", name, quoted(c))
	}
	return f, v, nil
}

// Read reads the readings of a load cell: a CSV file with a header, columns x
// (what the box showed) and y (what was applied), and, where they are there,
// run and direction ("up" or "down"). Other columns are left alone. name is what
// errors call the file; it is not opened.
func Read(name string, text []byte) (*Table, error) {
	s, err := readSheet(name, text)
	if err != nil {
		return nil, err
	}
	x, err := s.need("x", "what the box showed")
	if err != nil {
		return nil, err
	}
	y, err := s.need("y", "what was applied")
	if err != nil {
		return nil, err
	}
	t := &Table{XUnit: s.units["x"], YUnit: s.units["y"]}
	run, hasRun := s.columns["run"]
	way, hasWay := s.columns["direction"]
	t.HasRun, t.HasDirection = hasRun, hasWay
	if len(s.rows) == 0 {
		return nil, s.fail(1, "write a row for each reading", "has no readings under its header")
	}
	for i := range s.rows {
		r := Row{Line: s.lines[i]}
		if r.x, r.X, err = s.number(i, x, "x"); err != nil {
			return nil, err
		}
		if r.y, r.Y, err = s.number(i, y, "y"); err != nil {
			return nil, err
		}
		if hasRun {
			r.Run = s.cell(i, run)
		}
		if hasWay {
			if r.Direction, err = s.direction(i, way); err != nil {
				return nil, err
			}
		}
		t.Rows = append(t.Rows, r)
	}
	return t, nil
}

// directions are the words of the column direction.
var directions = map[string]Direction{"": Unsaid, "up": Up, "rising": Up, "increasing": Up, "loading": Up,
	"down": Down, "falling": Down, "decreasing": Down, "unloading": Down}

func (s *sheet) direction(row, column int) (Direction, error) {
	c := s.cell(row, column)
	d, ok := directions[strings.ToLower(c)]
	if !ok {
		return 0, s.fail(s.lines[row], `write "up" or "down", or leave it empty`, "column direction: %s is neither", quoted(c))
	}
	return d, nil
}

// quoted and plain make a text from a file fit to print anywhere.
func quoted(s string) string { return strconv.Quote(clip(s)) }

func plain(s string) string {
	q := strconv.Quote(clip(s))
	return q[1 : len(q)-1]
}

func clip(s string) string {
	for i := range s {
		if i >= maxText {
			return s[:i] + "..."
		}
	}
	return s
}
