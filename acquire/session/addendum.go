package session

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"

	"hawse/logfmt"
	"hawse/trial"
)

// Addendum is what was learnt of a log after it was ended: a small sealed log of
// its own beside it. The log itself is never changed.
type Addendum struct {
	Path    string // of the addendum; "" while it is not written
	Of      string // base name of the log it comments on
	SHA256  string // of that file, as it lay then
	Run     string
	Written time.Time
	Who     string // the seat
	Name    string // the person
	Tool    string // program and version
	Build   string

	Kind  AddendumKind
	Text  string // what was said; may be empty for a weight or a correction
	About Place  // of a moment of the pull; zero: of the whole

	// AddendumWeight: a known weight hung on the cell afterwards, and what the
	// cell showed for it, less its zero.
	Weight, Shown trial.Force
	// AddendumCorrect: tension is Factor times the recorded one plus Offset.
	Factor float64
	Offset trial.Force
	// AddendumCameUp: what the anchor came up with.
	CameUp trial.CameUp

	// Only of one that was read: whether it is whole, and whether the log beside
	// it is still the one it comments on.
	Whole   bool
	Matches bool
}

// Place is a moment in a log.
type Place struct {
	N    uint64       // the record; 0 none
	T    int64        // its time in that log, ns
	X    trial.Length // m hauled then, as the pull counts it, if HasX
	HasX bool
}

// AddendumKind is the word in the record; it never changes.
type AddendumKind string

// What can be learnt afterwards.
const (
	AddendumRemark  AddendumKind = "remark"
	AddendumDoubt   AddendumKind = "doubt"
	AddendumWeight  AddendumKind = "weight"
	AddendumCorrect AddendumKind = "correct"
	AddendumCameUp  AddendumKind = ActCameUp
)

const addendumPart = "addendum"

// Off is by what share the cell shows too much; NaN for other kinds.
func (a *Addendum) Off() float64 {
	if a.Kind != AddendumWeight || a.Weight == 0 {
		return math.NaN()
	}
	return float64(a.Shown/a.Weight) - 1
}

// check says what cannot be written.
func (a *Addendum) check() error {
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	switch a.Kind {
	case AddendumRemark, AddendumDoubt:
		if strings.TrimSpace(a.Text) == "" {
			return fmt.Errorf("a %s needs its words", a.Kind)
		}
	case AddendumWeight:
		if !(a.Weight > 0) || !finite(float64(a.Weight)) || !finite(float64(a.Shown)) {
			return errors.New("a known weight is above zero, and what the cell showed is a number")
		}
	case AddendumCorrect:
		if !finite(a.Factor) || a.Factor == 0 || !finite(float64(a.Offset)) {
			return errors.New("a correction has a factor that is not zero, and an offset")
		}
	case AddendumCameUp:
		if err := a.CameUp.Check(); err != nil {
			return err
		}
	default:
		return fmt.Errorf("unknown kind of addendum %q", a.Kind)
	}
	if strings.TrimSpace(a.Name) == "" {
		return errors.New("an addendum names who wrote it")
	}
	return nil
}

// errNoRun says that a file is no log of a pull.
var errNoRun = errors.New("no log of a pull; an addendum comments on one")

// WriteAddendum writes what was learnt of the log at path into a new sealed log
// beside it, and returns it as it was written. A log that has no end may be
// commented on too, once nobody writes it: its SHA-256 is that of the file now.
func WriteAddendum(path string, a Addendum, o logfmt.Options) (Addendum, error) {
	if err := a.check(); err != nil {
		return a, err
	}
	of, err := ReadOpening(path)
	switch {
	case err != nil:
		return a, err
	case of.Run == "" || of.Part != "":
		return a, fmt.Errorf("%s: %w", path, errNoRun)
	}
	if a.SHA256, err = logfmt.SumFile(path); err != nil {
		return a, err
	}
	a.Of, a.Run = baseOf(path), of.Run
	if a.Path, err = addendumPath(path, a.Written); err != nil {
		return a, err
	}
	log, err := logfmt.Create(a.Path, o)
	if err != nil {
		return a, err
	}
	var n uint64
	for _, r := range a.records() {
		n++
		r.N = n
		log.Put(r)
	}
	if err := log.Seal(logfmt.Record{N: n + 1, Kind: logfmt.End, Fields: []logfmt.Field{{Key: "reason", Val: "addendum"}}}); err != nil {
		return a, errors.Join(err, log.Close())
	}
	a.Whole, a.Matches = true, true
	return a, nil
}

// addendumPath is LOG-addendum-TIME.log, with a number behind when that exists.
func addendumPath(path string, at time.Time) (string, error) {
	stem := strings.TrimSuffix(strings.TrimSuffix(path, packed), ".log") + "-addendum-" + at.UTC().Format("20060102T150405Z")
	for i := 1; i < 1000; i++ {
		name := stem + ".log"
		if i > 1 {
			name = stem + "-" + strconv.Itoa(i) + ".log"
		}
		_, err := os.Lstat(name)
		if errors.Is(err, os.ErrNotExist) {
			return name, nil
		}
		if err != nil {
			return "", err
		}
	}
	return "", fmt.Errorf("%s: a thousand addenda in one second", path)
}

func (a *Addendum) records() []logfmt.Record {
	f := func(k, v string) logfmt.Field { return logfmt.Field{Key: k, Val: v} }
	num := func(k string, v float64) logfmt.Field { return f(k, logfmt.FormatFloat(v)) }
	said := []logfmt.Field{f("who", a.Who), f("name", a.Name), f("act", string(a.Kind))}
	switch a.Kind {
	case AddendumWeight:
		said = append(said, num("weight_n", float64(a.Weight)), num("shown_n", float64(a.Shown)))
	case AddendumCorrect:
		said = append(said, num("factor", a.Factor), num("offset_n", float64(a.Offset)))
	case AddendumCameUp:
		for _, kv := range a.CameUp.Fields() {
			said = append(said, f(kv.Key, kv.Val))
		}
	}
	if a.About.N > 0 {
		said = append(said, f("about_n", strconv.FormatUint(a.About.N, 10)), f("about_t", logfmt.FormatNs(a.About.T)))
		if a.About.HasX {
			said = append(said, num("x_m", float64(a.About.X)))
		}
	}
	if a.Text != "" {
		said = append(said, f("value", a.Text))
	}
	return []logfmt.Record{
		{Kind: logfmt.Head, Fields: []logfmt.Field{f("part", "log"), f("format", strconv.Itoa(FormatVersion)), f("tool", a.Tool), f("build", a.Build),
			f("platform", runtime.GOOS+"/"+runtime.GOARCH), f("started", a.Written.Format(time.RFC3339Nano)), f("mode", "addendum"), f("caption", "")}},
		{Kind: logfmt.Head, Fields: []logfmt.Field{f("part", addendumPart), f("of", a.Of), f("sha256", a.SHA256), f("run_id", a.Run)}},
		{Kind: logfmt.Act, Fields: said},
	}
}

// ReadAddendum reads one addendum.
func ReadAddendum(path string) (Addendum, error) {
	a := Addendum{Path: path}
	f, err := logfmt.OpenFile(path)
	if err != nil {
		return a, err
	}
	defer f.Close()
	const most = 4 << 20 // an addendum is a few lines
	rep, err := logfmt.Verify(io.LimitReader(f, most))
	if err != nil {
		return a, fmt.Errorf("%s: %w", path, err)
	}
	a.Whole = rep.Whole
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return a, err
	}
	is := false
	var unread error // what the form says
	r := logfmt.NewReader(io.LimitReader(f, most))
	for r.Next() {
		rec := r.Record()
		num := func(key string) float64 {
			v, ok := rec.Float(key)
			if !ok {
				return math.NaN()
			}
			return v
		}
		switch {
		case rec.Kind == logfmt.Head && rec.Str("part") == "log":
			a.Tool, a.Build = rec.Str("tool"), rec.Str("build")
			a.Written, _ = time.Parse(time.RFC3339Nano, rec.Str("started"))
		case rec.Kind == logfmt.Head && rec.Str("part") == addendumPart:
			is = true
			a.Of, a.SHA256, a.Run = rec.Str("of"), rec.Str("sha256"), rec.Str("run_id")
		case rec.Kind == logfmt.Act && is && a.Kind == "":
			a.Kind, a.Who, a.Name, a.Text = AddendumKind(rec.Str("act")), rec.Str("who"), rec.Str("name"), rec.Str("value")
			switch a.Kind {
			case AddendumWeight:
				a.Weight, a.Shown = trial.Force(num("weight_n")), trial.Force(num("shown_n"))
			case AddendumCorrect:
				a.Factor, a.Offset = num("factor"), trial.Force(num("offset_n"))
			case AddendumCameUp:
				a.CameUp, unread = trial.CameUpFrom(rec.Str)
			}
			a.About = placeOf(&rec)
		}
	}
	switch {
	case r.Err() != nil:
		return a, r.Err()
	case !is:
		return a, fmt.Errorf("%s: no addendum", path)
	case unread != nil:
		return a, fmt.Errorf("%s: %w", path, unread)
	}
	if err := a.check(); err != nil {
		return a, fmt.Errorf("%s: %w", path, err)
	}
	return a, nil
}

// placeOf is the moment an addendum names. One that cannot be read is none.
func placeOf(r *logfmt.Record) (p Place) {
	n, err := strconv.ParseUint(r.Str("about_n"), 10, 64)
	t, ok := r.Ns("about_t")
	if err != nil || n == 0 || !ok || t < 0 {
		return Place{}
	}
	p = Place{N: n, T: t}
	if x, ok := r.Float("x_m"); ok && !math.IsNaN(x) && !math.IsInf(x, 0) {
		p.X, p.HasX = trial.Length(x), true
	}
	return p
}

// Addenda reads all addenda to the log at path that lie beside it, in the order
// in which they were written. One that cannot be read is in the error, which
// does not keep the others from being returned.
func Addenda(path string) ([]Addendum, error) {
	dir, base := filepath.Dir(path), baseOf(path)
	var out []Addendum
	var faults error
	sum := ""
	for _, o := range openings(dir) {
		if o.Part != addendumPart {
			continue
		}
		a, err := ReadAddendum(o.Path)
		switch {
		case a.Of != base:
			continue
		case err != nil:
			faults = errors.Join(faults, err)
			continue
		}
		if sum == "" {
			if sum, err = logfmt.SumFile(path); err != nil {
				return nil, err
			}
		}
		a.Matches = a.SHA256 == sum
		out = append(out, a)
	}
	slices.SortStableFunc(out, func(a, b Addendum) int {
		return cmp.Or(a.Written.Compare(b.Written), cmp.Compare(len(a.Path), len(b.Path)), cmp.Compare(a.Path, b.Path))
	})
	return out, faults
}
