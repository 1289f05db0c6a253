package export

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/logfmt"
)

// Format says how a table is written.
type Format string

// The formats.
const (
	CSV     Format = "csv"
	Parquet Format = "parquet"
)

// Options say what is wanted of a log.
type Options struct {
	Of   Of
	To   Format
	Name string // the log's base name, for the table's own record of where it comes from
	Tool string // program and version, likewise
}

// Result is what became of a log.
type Result struct {
	Rows    uint64
	Records uint64
	Lost    uint64 // records that are not there, as far as the numbers tell
	Damage  []logfmt.Damage
	Sealed  bool // it has its end; else it was cut short
	Seal    logfmt.Seal
	Broken  error  // why it could not be read to its end
	Caption string // what the log says of itself, visible: "invented data"
	SHA256  string // of the log's own bytes
}

// Whole says that nothing is missing of the log and its seal holds.
func (r *Result) Whole() bool {
	return r.Sealed && r.Seal.Good && r.Broken == nil && len(r.Damage) == 0
}

// SealText says in words whether the log's seal holds; fit to be shown.
func (r *Result) SealText() string {
	switch {
	case !r.Seal.There:
		return "no seal: the log has no end"
	case !r.Seal.Good:
		return "its seal does not hold: " + r.Seal.Fault
	}
	return "its seal holds"
}

// Why a log gives no table.
var (
	ErrNotLog   = errors.New("no whole record in it: not a log of this program, or cut short at its very start; 'hawse verify' tells more")
	ErrNoHead   = errors.New("no whole head in it, so its samples cannot be understood; 'hawse verify' tells more, and its frames can be exported")
	ErrAddendum = errors.New("an addendum: it comments on another log and holds no samples or frames of its own")
)

// Check says whether there are such a table and format.
func (o Options) Check() error {
	if o.Of != Samples && o.Of != Frames && o.Of != Cells {
		return fmt.Errorf("no table %q; choose %s, %s or %s", o.Of, Samples, Cells, Frames)
	}
	if o.To != CSV && o.To != Parquet {
		return fmt.Errorf("no format %q; choose %s or %s", o.To, CSV, Parquet)
	}
	return nil
}

// Write makes a table of the log in r, which may be packed, and writes it to w.
// Nothing is written before the first record that can be made use of. The error
// is one of writing, of a log that cannot be understood, or one of [ErrNotLog],
// [ErrNoHead] and [ErrAddendum]; damage and a log that cannot be read to its end
// are in the result, and what was read is in the table.
func Write(w io.Writer, r io.Reader, o Options) (*Result, error) {
	if err := o.Check(); err != nil {
		return nil, err
	}
	src := logfmt.NewSource(r)
	defer src.Close()
	e := &exporter{o: o, w: w}
	read := logfmt.NewReader(src)
	read.CheckSeal()
	for read.Next() {
		rec := read.Record()
		if err := e.take(&rec); err != nil {
			return &e.res, err
		}
	}
	e.res.Damage, e.res.Broken = read.Damage(), read.Err()
	e.res.Seal, e.res.SHA256 = read.Seal(), read.SHA256()
	return &e.res, e.finish()
}

// exporter makes the rows of one log.
type exporter struct {
	o   Options
	w   io.Writer
	res Result
	out sink // nil until there is something to write
	row []value

	place   place
	wall    wallClock
	head    []logfmt.Record
	last    uint64 // greatest number so far
	sampler session.Sampler
}

// take folds one record in and writes the rows that it makes.
func (e *exporter) take(r *logfmt.Record) error {
	e.res.Records++
	if r.N > e.last {
		e.place.lost += r.N - e.last - 1
		e.res.Lost += r.N - e.last - 1
		e.last = r.N
	}
	e.res.Sealed = r.Kind == logfmt.End
	e.wall.take(r)
	if r.Kind == logfmt.Head {
		if err := e.takeHead(r); err != nil {
			return err
		}
	}
	e.place.n, e.place.t = r.N, r.T
	e.place.wall, e.place.wallKnown = e.wall.at(r.T)
	if e.o.Of == Frames {
		return e.frame(r)
	}
	return e.folded(r)
}

// takeHead keeps what the log says of itself.
func (e *exporter) takeHead(r *logfmt.Record) error {
	switch r.Str("part") {
	case "log":
		if v := r.Str("format"); v != strconv.Itoa(session.FormatVersion) {
			return fmt.Errorf("log format %s: this program reads format %d; use the version that wrote it",
				acquire.Visible([]byte(v)), session.FormatVersion)
		}
		e.place.mode, e.res.Caption = cell(r.Str("mode")), acquire.Visible([]byte(r.Str("caption")))
	case "run":
		e.place.run = cell(r.Str("id"))
	case "addendum":
		return ErrAddendum
	}
	if len(e.head) < mostHead {
		e.head = append(e.head, *r)
	}
	return nil
}

// mostHead is more than a head has; a log of nothing else needs no more memory.
const mostHead = 10000

func (e *exporter) fold(r *logfmt.Record) ([]session.Sampled, error) {
	taken, err := e.sampler.Apply(r)
	if err != nil && r.Kind == logfmt.Head && !e.sampler.Ready() {
		return nil, fmt.Errorf("%w (%w)", ErrNoHead, err)
	}
	return taken, err
}

func (e *exporter) frame(r *logfmt.Record) error {
	if err := e.begin(); err != nil {
		return err
	}
	raw, ok := r.Get("raw")
	if !ok {
		return nil
	}
	f := frameRow{place: e.place, kind: string(r.Kind), src: cell(r.Str("src")), cut: cell(r.Str("cut")), raw: cell(raw)}
	f.t0, f.hasT0 = r.Ns("t0")
	f.at, f.hasAt = r.Ns("at")
	f.chunk, f.hasChunk = r.Int("chunk")
	fill(e.row, frameColumns, &f)
	return e.write()
}

func (e *exporter) write() error {
	e.res.Rows++
	e.place.lost = 0
	return e.out.row(e.row)
}

func (e *exporter) begin() error {
	if e.out != nil {
		return nil
	}
	cols, err := Columns(e.o.Of)
	if err != nil {
		return err
	}
	e.row = make([]value, len(cols))
	if e.o.To == Parquet {
		e.out = newParquet(e.w, e.o.Of, cols)
		return nil
	}
	e.out, err = newCSV(e.w, cols)
	return err
}

// finish ends the table, or says why there is none.
func (e *exporter) finish() error {
	switch {
	case e.out != nil:
		return e.out.close(e.notes)
	case e.res.Broken != nil:
		return e.res.Broken
	case e.res.Records == 0:
		return ErrNotLog
	}
	return ErrNoHead
}

// notes are what the table says of the log it was made of.
func (e *exporter) notes() []note {
	var trial, head, damage strings.Builder
	for i := range e.head {
		r := e.head[i]
		if r.Str("part") == "trial" {
			trial.Reset()
			trial.WriteString(strings.ToValidUTF8(r.Str("text"), "\uFFFD"))
			r.Fields = slices.DeleteFunc(slices.Clone(r.Fields), func(f logfmt.Field) bool { return f.Key == "text" })
		}
		head.Write(appendJSON(nil, &r, nil))
		head.WriteByte('\n')
	}
	for _, d := range e.res.Damage {
		damage.WriteString(d.String() + "\n")
	}
	if e.res.Broken != nil {
		damage.WriteString(acquire.Visible([]byte(e.res.Broken.Error())) + "\n")
	}
	if !e.res.Sealed {
		damage.WriteString("cut short: the log has no end\n")
	}
	return []note{
		{"table", string(e.o.Of)}, {"tool", e.o.Tool},
		{"log", acquire.Visible([]byte(e.o.Name))}, {"log_sha256", e.res.SHA256},
		{"run", e.place.run}, {"mode", e.place.mode}, {"caption", e.res.Caption},
		{"whole", strconv.FormatBool(e.res.Whole())}, {"seal", e.res.SealText()}, {"damage", damage.String()},
		{"trial", trial.String()}, {"head", head.String()},
	}
}
