package session

import (
	"cmp"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/trial"
)

// Opening is what the first lines of a log say of it.
type Opening struct {
	Path        string
	Started     time.Time
	Run         string    // "" for a log that captures no run, such as an addendum
	Of          trial.Run // what the head says of it beside: anchor, station, lane, kind
	Predecessor string    // base name of the log it goes on from, "" none
	PredSHA256  string
	Part        string // "addendum", "salvage": what other kind of log it is; "" a capture
}

const (
	openingRecords = 2000    // a head has a few hundred
	openingBytes   = 8 << 20 // and the trial file's text in it
)

// ReadOpening reads the head of a log. The error says that the file is no log,
// or none with a whole head.
func ReadOpening(path string) (Opening, error) {
	f, err := logfmt.Open(path)
	if err != nil {
		return Opening{}, err
	}
	defer f.Close()
	o := Opening{Path: path}
	ours := false
	r := logfmt.NewReader(io.LimitReader(f, openingBytes))
	for n := 0; n < openingRecords && r.Next(); n++ {
		rec := r.Record()
		if rec.Kind != logfmt.Head {
			break
		}
		switch part := rec.Str("part"); part {
		case "log":
			ours = true
			o.Started, _ = time.Parse(time.RFC3339Nano, rec.Str("started"))
		case "run":
			o.Run = rec.Str("id")
			o.Of = trial.Run{ID: o.Run, Anchor: rec.Str("anchor"), Station: rec.Str("station"), Kind: rec.Str("kind")}
		case chainPart:
			o.Predecessor, o.PredSHA256 = rec.Str("predecessor"), rec.Str("sha256")
		case addendumPart, "salvage":
			o.Part = part
		}
	}
	if err := r.Err(); err != nil {
		return o, fmt.Errorf("%s: %w", path, err)
	}
	if !ours {
		return o, fmt.Errorf("%s: no log of this program, or its head is damaged; 'hawse verify' tells more", path)
	}
	return o, nil
}

// openings reads those of all logs in the folders; what is no log is left out.
func openings(dirs ...string) (out []Opening) {
	var seen []os.FileInfo
	for _, dir := range dirs {
		files, _ := filepath.Glob(filepath.Join(globSafe(dir), "*.log"))
		away, _ := filepath.Glob(filepath.Join(globSafe(dir), "*.log"+packed))
		for _, path := range append(files, away...) {
			info, err := os.Stat(path)
			if err != nil || !info.Mode().IsRegular() || slices.ContainsFunc(seen, func(i os.FileInfo) bool { return os.SameFile(i, info) }) {
				continue
			}
			seen = append(seen, info)
			if o, err := ReadOpening(path); err == nil {
				out = append(out, o)
			}
		}
	}
	return out
}

// packed ends the name of a log that was packed when it was done. A log is
// named by what it was called before.
const packed = ".zst"

func baseOf(path string) string { return strings.TrimSuffix(filepath.Base(path), packed) }

// globSafe makes a folder's name one that matches only itself.
func globSafe(dir string) string {
	return strings.NewReplacer(`\`, `\\`, "*", `\*`, "?", `\?`, "[", `\[`).Replace(dir)
}

// FindUnfinished returns the newest log of a run in the folders if it has no
// end and nobody is writing it, "" if there is none: a run whose newest log was
// ended begins anew. Of a log and its copy the longer counts, then the one in
// the folder named first. owned says whether a program still has a log.
func FindUnfinished(dirs []string, run string, owned func(path string) bool) (string, error) {
	all := openings(dirs...)
	of := slices.DeleteFunc(slices.Clone(all), func(o Opening) bool { return o.Run != run || o.Part != "" || owned(o.Path) })
	if len(of) == 0 {
		return "", nil
	}
	newest := slices.MaxFunc(of, func(a, b Opening) int {
		return cmp.Or(a.Started.Compare(b.Started), cmp.Compare(sizeOf(a.Path), sizeOf(b.Path)))
	})
	for _, o := range all { // a clock that was set back does not make a pull go on twice
		if o.Predecessor == baseOf(newest.Path) {
			return "", nil
		}
	}
	if strings.HasSuffix(newest.Path, packed) {
		return "", nil // put away
	}
	ended, err := hasEnd(newest.Path)
	if err != nil || ended {
		return "", err
	}
	return newest.Path, nil
}

func sizeOf(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}

// endWithin is how far from its last byte the end of a log may begin.
const endWithin = 64 << 10

// hasEnd looks for the seal in the last lines of a log.
func hasEnd(path string) (bool, error) {
	end, err := endOf(path)
	return end != nil, err
}

// Unfinished is what is left of a log that was not ended.
type Unfinished struct {
	Handover
	Path    string
	Started time.Time
	LastT   int64 // of its last whole record, ns since its start
	Lost    uint64
	Damages []logfmt.Damage
	// KeptFault says why what was kept could not be used.
	KeptFault string
	// Before is the pull that far; BeforeFault says what of it is missing.
	Before      *Before
	BeforeFault string
}

// ReadUnfinished folds such a log and says what it hands over to one that goes
// on from it with the trial file next. Damaged lines cost themselves alone.
// keepDir is where its program kept what it had read (see [Config]); "" nowhere.
func ReadUnfinished(path string, next *trial.Trial, keepDir string) (*Unfinished, error) {
	f, err := logfmt.OpenFile(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	u := &Unfinished{Path: path}
	u.Predecessor = filepath.Base(path)
	before := make(chan error, 1) // read beside, so that the pull goes on as soon
	go func() {
		var err error
		u.Before, err = readBefore(path)
		before <- err
	}()
	defer func() {
		if err := <-before; err != nil {
			u.BeforeFault = strings.ReplaceAll(err.Error(), "\n", "; ")
		}
	}()
	sum := sha256.New()
	r := logfmt.NewReader(io.TeeReader(f, sum))
	core := Core{Plain: true}
	var step Step
	var judge *Judge
	tails := map[string]*tail{}
	for r.Next() {
		rec := r.Record()
		if rec.Kind == logfmt.Rx {
			tailOf(tails, &rec)
		}
		u.Records++
		u.LastT = max(u.LastT, rec.T)
		if err := core.Apply(&rec, &step); err != nil {
			return nil, fmt.Errorf("%s: record %d: %w", path, rec.N, err)
		}
		if judge == nil && core.Ready() {
			judge = NewJudge(core.Head())
		}
		if judge != nil && rec.Kind != logfmt.Say {
			for _, in := range step.Samples {
				judge.Apply(in, nil)
			}
		}
	}
	if err := r.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	u.SHA256 = fmt.Sprintf("%x", sum.Sum(nil))
	u.Damages = r.Damage()
	for _, d := range u.Damages {
		u.Lost += d.Lost
	}
	u.Started = core.head.Started
	if u.Carries, err = core.handOver(next); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	u.Used = core.used(next)
	if judge != nil && sameKeys(core.head.Trial, next, "line_", "rode", "vessel_") {
		if came, ok := judge.study.Travel().Came(); ok {
			u.Came = &came
		}
	}
	if judge != nil && sameKeys(core.head.Trial, next, "load_") && core.head.Trial.Load.Line == next.Load.Line {
		if phases, ok := judge.phase.Came(); ok {
			u.Phases = &phases
		}
	}
	if u.Kept, err = readKept(keepDir, path, tails); err != nil {
		u.KeptFault = err.Error()
	}
	return u, nil
}

// Text is what is left of the log, for people; fit to be shown.
func (u *Unfinished) Text() string {
	text := fmt.Sprintf("%s was not ended: %d records whole, to %.1f s", acquire.Visible([]byte(u.Predecessor)), u.Records, float64(u.LastT)/1e9)
	for i, d := range u.Damages {
		if i == 3 {
			return text + fmt.Sprintf("; and %d more damages, 'hawse verify' names them", len(u.Damages)-i)
		}
		text += "; " + d.String()
	}
	for _, k := range u.Kept {
		text += fmt.Sprintf("; %d bytes from the %s port were read and not yet in it: they go into the new log's head", len(k.Raw), k.Src)
	}
	if u.KeptFault != "" {
		text += "; " + acquire.Visible([]byte(u.KeptFault))
	}
	return text + u.beforeText()
}

// Part is one log of a pull that broke off and went on.
type Part struct {
	Opening
	// Fault is what is wrong with its place in the chain; "" nothing.
	Fault string
}

// mostParts bounds a chain: a ring of logs that name each other ends there.
const mostParts = 100

// Chain finds the parts of the pull that a log belongs to, in its own folder and
// in order: those it goes on from, itself, and those that go on from it. A log
// that stands alone is a chain of one.
func Chain(path string) ([]Part, error) {
	self, err := ReadOpening(path)
	if err != nil {
		return nil, err
	}
	dir := filepath.Dir(path)
	parts := []Part{{Opening: self}}
	taken := func(base string) bool {
		return slices.ContainsFunc(parts, func(p Part) bool { return baseOf(p.Path) == base })
	}
	for first := self; first.Predecessor != "" && len(parts) < mostParts; first = parts[0].Opening {
		base := first.Predecessor
		if base != filepath.Base(base) || taken(base) || strings.HasPrefix(base, ".") {
			parts[0].Fault = fmt.Sprintf("it names %q as the log before it, which cannot be", base)
			break
		}
		before, err := ReadOpening(filepath.Join(dir, base))
		if errors.Is(err, fs.ErrNotExist) {
			if p, perr := ReadOpening(filepath.Join(dir, base+packed)); perr == nil {
				before, err = p, nil
			}
		}
		if err != nil {
			parts[0].Fault = fmt.Sprintf("the log before it, %q, cannot be read: %v", base, err)
			break
		}
		parts = append([]Part{{Opening: before}}, parts...)
	}
	var all []Opening
	if self.Part == "" {
		all = openings(dir)
	}
	for grown := true; grown && len(parts) < mostParts; {
		grown = false
		last := baseOf(parts[len(parts)-1].Path)
		for _, o := range all {
			if o.Predecessor == last && !taken(baseOf(o.Path)) {
				parts = append(parts, Part{Opening: o})
				grown = true
				break
			}
		}
	}
	return parts, checkChain(parts)
}

// ChainOf is the chain of logs as they are listed, each held against the one
// before it.
func ChainOf(paths []string) ([]Part, error) {
	var parts []Part
	for _, p := range paths {
		o, err := ReadOpening(p)
		if err != nil {
			return nil, err
		}
		parts = append(parts, Part{Opening: o})
	}
	return parts, checkChain(parts)
}

// checkChain holds what each part says of the one before it against that file.
func checkChain(parts []Part) error {
	for i := 1; i < len(parts); i++ {
		p, before := &parts[i], &parts[i-1]
		switch sum, err := logfmt.SumFile(before.Path); {
		case err != nil:
			return err
		case p.Predecessor == "":
			p.Fault = "it says of no log that it goes on from it"
		case p.Predecessor != baseOf(before.Path):
			p.Fault = fmt.Sprintf("it goes on from %q, not from this one", p.Predecessor)
		case p.PredSHA256 != sum:
			p.Fault = fmt.Sprintf("%s is not as it was when this one went on from it: another SHA-256", before.Path)
		}
	}
	return nil
}

var errNoParts = errors.New("no log to fold")

// RefoldParts folds the parts of a pull, each with its own clock and head, and
// returns a fold a part and the damage of all. A part that was cut short is not
// held to words it had no time to write.
func RefoldParts(parts []Part, build string) (folds []*Fold, damage [][]logfmt.Damage, err error) {
	if len(parts) == 0 {
		return nil, nil, errNoParts
	}
	for _, p := range parts {
		f, err := logfmt.Open(p.Path)
		if err != nil {
			return folds, damage, err
		}
		fold, d, err := Refold(f, build)
		err = errors.Join(err, f.Close())
		if err != nil {
			return folds, damage, fmt.Errorf("%s: %w", p.Path, err)
		}
		folds, damage = append(folds, fold), append(damage, d)
	}
	return folds, damage, nil
}
