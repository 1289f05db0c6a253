package session

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// put writes a hand's run as a log in dir.
func (h *hand) put(t *testing.T, dir, name string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, logOf(h.d), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// sealed is the same with an end that fits.
func (h *hand) sealed(t *testing.T, dir, name string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	log, err := logfmt.Create(path, logfmt.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range h.d.Records {
		log.Put(r)
	}
	if err := log.Seal(logfmt.Record{T: h.at, N: h.d.n + 1, Fields: []logfmt.Field{{Key: "reason", Val: "test"}}}); err != nil {
		t.Fatal(err)
	}
	return path
}

// inTwo is a pull in two logs: 0 to 0.8 m hauled up to 300 kgf, a crash, a minute
// later what was known is confirmed, and to 1.6 m up to 250 kgf.
func inTwo(t *testing.T) (dir, one, two string) {
	t.Helper()
	dir = t.TempDir()
	h := byHand(t)
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.pulling()
	h.load = "+0100.0 kgf"
	h.haul(400, 20)
	h.load = "+0300.0 kgf"
	h.haul(800, 20)
	h.must(safety.Logger, ActMark, "before the crash")
	one = h.put(t, dir, "A1-1.log")
	at := h.at
	g := after(t, one)
	g.load, g.counts = "+0120.0 kgf", h.counts
	g.run(2 * time.Second)
	g.must(safety.Director, ActCarry, "all")
	g.must(safety.Director, ActWaive, "weight done before the crash")
	g.must(safety.Director, ActRead, "")
	for _, who := range []safety.Who{safety.WinchOperator, safety.Logger, safety.Director} {
		g.must(who, ActReady, "all live")
	}
	g.run(time.Second)
	g.must(safety.Director, ActArm, "")
	g.load = "+0250.0 kgf"
	g.haul(1200, 20)
	g.load = "+0200.0 kgf"
	g.haul(1600, 20)
	g.must(safety.Logger, ActMark, "after it")
	g.must(safety.Director, ActStage, "recover")
	g.run(time.Second)
	two = g.sealed(t, dir, "A1-2.log")
	if at < 5e9 || at > 59e9 {
		t.Fatalf("the first part lasts %d ns; the second begins a minute after its start", at)
	}
	return dir, one, two
}

func resultOf(t *testing.T, named ...string) *Result {
	t.Helper()
	pulls, faults := FindPulls(named, nil)
	if len(faults) > 0 || len(pulls) != 1 {
		t.Fatalf("%q: %d pulls, %v; want one", named, len(pulls), faults)
	}
	return ReadResult(pulls[0])
}

func TestResultOfAChain(t *testing.T) {
	_, one, two := inTwo(t)
	want := resultOf(t, one)
	for _, named := range [][]string{{two}, {one, two}, {two, one, one}} {
		got := resultOf(t, named...)
		if a, b := fmt.Sprintf("%+v", got.Figures), fmt.Sprintf("%+v", want.Figures); a != b || len(got.Parts) != 2 || got.Parts[0].Path != one {
			t.Errorf("named %q: %d parts, another result\n%s\n%s", named, len(got.Parts), a, b)
		}
	}
	f := want.Figures
	if !near(f.Pull.Value, 299*kgf) || f.Pull.Bound != "" || len(f.Hauls) != 1 || f.Pull.Stage != trial.Pull {
		t.Errorf("greatest %+v in %d hauls; want 299 kgf of the first part, left in the second, in one haul", f.Pull, len(f.Hauls))
	}
	if x := float64(f.Hauled); math.Abs(x-1.6) > 1e-9 || math.Abs(float64(f.InPull)-1.6) > 1e-9 || f.Pull.X < 0.4 || f.Pull.X > 0.45 {
		t.Errorf("hauled %v, in pull %v, greatest at %v; want 1.6, 1.6 and 0.42", f.Hauled, f.InPull, f.Pull.X)
	}
	j := want.Parts[1].Join
	if j.To != 60e9 || f.Lost != j.To-j.From || j.Note != "" || want.Length != 60e9+int64(5*time.Second)+int64(4*time.Second) && want.Length < 60e9 {
		t.Errorf("join %+v, lost %d, length %d; want the second part from 60 s on", j, f.Lost, want.Length)
	}
	if want.Holds() || want.Parts[0].State() != "cut short" || want.Parts[1].State() != "whole" || want.Parts[1].Fault != "" {
		t.Errorf("parts %s and %s; want a cut one and a whole one", want.Parts[0].State(), want.Parts[1].State())
	}
	sum := int64(0)
	for _, s := range f.Stages {
		sum += s.Time
	}
	if sum+f.Lost != want.Length || f.Stages[trial.Preset].Time != 0 || f.Stages[trial.Recover].Time != 1e9 {
		t.Errorf("the stages take %d of %d ns, %d lost", sum, want.Length, f.Lost)
	}
	// Nobody has said "stand by" in the second part.
	if got := f.Stages[trial.StandBy].Time; got > 5e9 {
		t.Errorf("%d ns in stand by; want what came before the pull alone", got)
	}
}

// Played, the parts are one: one time, one trace, one peak, one count of line.
func TestReplayOfAChainIsOnePull(t *testing.T) {
	_, one, two := inTwo(t)
	parts, err := Chain(two)
	if err != nil {
		t.Fatal(err)
	}
	r, err := OpenReplayParts(parts, "test", 10000)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
	for i, f := range r.Folds() {
		if len(f.Diffs) > 0 {
			t.Errorf("part %d: %v", i+1, f.Diffs)
		}
	}
	s, want := r.Snapshot(), resultOf(t, one)
	if s.T != want.Length || s.Peak.Value != want.Figures.Pull.Value || s.Peak.At != want.Figures.Pull.T || s.Peak.X != want.Figures.Pull.X || !s.Peak.Left {
		t.Errorf("at %d with peak %+v; want %d and %+v", s.T, s.Peak, want.Length, want.Figures.Pull)
	}
	if s.Span.Series != 2 || s.Span.First > 2e8 || s.Span.Last < 60e9 { // the pull, then recover
		t.Errorf("span %+v; want all of the pull", s.Span)
	}
	cols := r.Trace(TraceQuery{From: 0, To: 70e9, Cols: 70}, nil)
	var gap, drawn []int
	for i, c := range cols {
		if c.Gap && i > 0 { // the port was opened in the first
			gap = append(gap, i)
		}
		if c.N > 0 {
			drawn = append(drawn, i)
		}
	}
	from := int(want.Parts[1].Join.From / 1e9)
	if len(gap) == 0 || gap[0] != from || gap[len(gap)-1] != 60 || drawn[0] != 0 || drawn[len(drawn)-1] < 65 {
		t.Errorf("gap in columns %v, samples in %v; want the gap from %d to 60 s", gap, drawn, from)
	}
	if s.Guard.StageSince < 60e9 || s.Haul.At < 60e9 || s.Load.LastAt < 60e9 {
		t.Errorf("times in the snapshot are of the part alone: stage since %d, line at %d", s.Guard.StageSince, s.Haul.At)
	}
	if m := s.Marks; len(m) != 2 || m[0].Text != "before the crash" || m[0].T > 59e9 || math.Abs(float64(m[0].X)-0.8) > 1e-9 || m[1].T < 60e9 || math.Abs(float64(m[1].X)-1.6) > 1e-9 {
		t.Errorf("marks %+v; want those of both parts, by the time and line of the pull", m)
	}
	last := int64(math.MaxInt64)
	for _, n := range s.News { // newest first
		if n.T > last {
			t.Errorf("news %q at %d after %d", n.Text, n.T, last)
		}
		last = n.T
	}
	again, err := OpenReplayParts(parts[:1], "test", 10000)
	if err != nil {
		t.Fatal(err)
	}
	if err := again.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
	if again.judge != again.fold.judge || again.Snapshot().T != again.fold.last.T {
		t.Error("a log alone is not played by its own fold")
	}
}

// addend writes an addendum to the log at path.
func addend(t *testing.T, path string, a Addendum) Addendum {
	t.Helper()
	a.Name, a.Who = "test", "logger"
	if a.Written.IsZero() {
		a.Written = time.Date(2026, 4, 12, 18, 0, 0, 0, time.UTC)
	}
	out, err := WriteAddendum(path, a, logfmt.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestCorrections(t *testing.T) {
	evening := time.Date(2026, 4, 12, 18, 0, 0, 0, time.UTC)
	_, one, two := inTwo(t)
	if r := resultOf(t, one); r.Corrected != nil {
		t.Fatal("corrected without a correction")
	}
	// On the second part alone: its 249 kgf become more than the first part's 299.
	addend(t, two, Addendum{Kind: AddendumCorrect, Factor: 1.5, Offset: 10, Text: "first thought", Written: evening})
	newest := addend(t, two, Addendum{Kind: AddendumCorrect, Factor: 2, Offset: -5, Written: evening.Add(time.Hour)})
	addend(t, two, Addendum{Kind: AddendumRemark, Text: "weed on the anchor"})
	addend(t, one, Addendum{Kind: AddendumDoubt, Text: "the rode chafed"})
	r := resultOf(t, one)
	if got := r.Figures.Pull.Value; !near(got, 299*kgf) {
		t.Errorf("recorded %v, want 299 kgf as before", got)
	}
	if r.Corrected == nil || !near(r.Corrected.Pull.Value, 2*249*kgf-5) || r.Corrected.Pull.T < 60e9 {
		t.Fatalf("corrected %+v, want that of the second part", r.Corrected)
	}
	if got := r.Corrected.Stages[trial.StandBy].Greatest; got.Value != r.Figures.Stages[trial.StandBy].Greatest.Value {
		t.Errorf("a sample of the first part was corrected: %+v", got)
	}
	if c := r.Correction(1); c == nil || c.Path != newest.Path || r.Correction(0) != nil {
		t.Errorf("corrections that hold: %+v, %+v", r.Correction(0), c)
	}
	var told []string
	for _, c := range r.Addenda {
		told = append(told, fmt.Sprintf("%d %s %v %s", c.Part, c.Kind, c.Applied, strings.ReplaceAll(c.Why, filepath.Base(newest.Path), "NEWEST")))
	}
	want := []string{"0 doubt true ", "1 correct false a newer correction holds: NEWEST", "1 remark true ", "1 correct true "}
	if diff := cmp.Diff(want, told); diff != "" {
		t.Errorf("addenda (-want +got):\n%s", diff)
	}
	if len(r.Doubts) != 1 || r.Doubts[0].Kind != DoubtSaid || !strings.Contains(r.Doubts[0].Text, "chafed") {
		t.Errorf("doubts %+v", r.Doubts)
	}

	// The newest is changed: it is not whole, and the one before it holds.
	text, err := os.ReadFile(newest.Path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(newest.Path, bytes.Replace(text, []byte("reason=addendum"), []byte("reason=Addendum"), 1), 0o644); err != nil {
		t.Fatal(err)
	}
	r = resultOf(t, one)
	if r.Holds() || !near(r.Corrected.Pull.Value, 1.5*249*kgf+10) {
		t.Errorf("with the newest damaged: corrected %v, holds %v", r.Corrected.Pull.Value, r.Holds())
	}
	last := r.Addenda[len(r.Addenda)-1]
	if last.Applied || !strings.Contains(last.Why, "not whole") {
		t.Errorf("the damaged one: applied %v, %q", last.Applied, last.Why)
	}
	// The log is changed: nothing said of it is applied.
	log, err := os.ReadFile(two)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(two, append(log, '\n'), 0o644); err != nil {
		t.Fatal(err)
	}
	r = resultOf(t, one)
	if r.Corrected != nil || r.Holds() {
		t.Errorf("the log was changed: corrected %+v, holds %v", r.Corrected, r.Holds())
	}
	for _, c := range r.Addenda[1:] {
		if c.Applied || c.Why == "" {
			t.Errorf("%s of the changed log: applied %v, %q", c.Kind, c.Applied, c.Why)
		}
	}
}

// A correction that turns the sign round has another greatest, not the same one
// negative.
func TestCorrectionTurnsTheSign(t *testing.T) {
	_, one, _ := inTwo(t)
	addend(t, one, Addendum{Kind: AddendumCorrect, Factor: -1})
	r := resultOf(t, one)
	if got := r.Corrected.Pull.Value; !near(got, 249*kgf) { // the second part has none
		t.Errorf("corrected %v, want that of the second part, which is not turned", got)
	}
}

func TestStopsAndChecks(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.load = "+0026.0 kgf" // 25 hang there
	h.run(2 * time.Second)
	h.refused(safety.Logger, ActWeight, "24.0 kg", "the cell shows")
	h.must(safety.Logger, ActWeight, "25.0 kg")
	h.load = "+0008.0 kgf"
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "") // 7 kgf of 1000: moved
	h.must(safety.Director, ActWaive, "zero the rode hangs on it")
	h.load = "+0001.0 kgf"
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.pulling()
	h.haul(400, 20)
	h.must(safety.WinchOperator, ActStop, "")
	h.load = "OL"
	h.run(2 * time.Second)
	h.load = "+0001.0 kgf"
	h.run(12 * time.Second)
	h.must(safety.Director, ActAck, "")
	h.must(safety.Director, ActRearm, "recover")
	h.run(time.Second)
	r := resultOf(t, h.sealed(t, t.TempDir(), "a.log"))
	if !r.Holds() {
		t.Errorf("not whole: %+v", r.Parts[0])
	}
	var got []string
	for i := range r.Checks {
		c := &r.Checks[i]
		got = append(got, strings.ReplaceAll(fmt.Sprintf("%s %s %s %.1f/%.1f %.1f<%.1f %v %s", c.Check, c.State, c.Who, float64(c.Shown)/kgf, float64(c.Want)/kgf,
			float64(c.Zero)/kgf, float64(c.Before)/kgf, c.Moved, strings.SplitAfterN(c.Text, ":", 2)[0]), "NaN", "-"))
	}
	want := []string{
		"zero done logger -/- 1.0<- false ",
		"known weight failed logger 25.0/24.0 -<- false known weight not taken:",
		"known weight done logger 25.0/25.0 -<- false ",
		"zero done logger -/- 8.0<1.0 true ",
		"zero waived director -/- -<- false the rode hangs on it",
		"zero done logger -/- 1.0<8.0 true ",
	}
	if diff := cmp.Diff(want, got[:min(len(got), len(want))]); diff != "" {
		t.Errorf("checks (-want +got):\n%s", diff)
	}
	if len(r.Stops) != 1 {
		t.Fatalf("stops %+v, want one", r.Stops)
	}
	s := r.Stops[0]
	if s.Cause != "person-stop" || s.Kind != "trip" || s.Name != "test" || s.Who != "winch-operator" || s.Lifted < s.T || s.By != "director" || len(s.Also) == 0 {
		t.Errorf("stop %+v; want the winch operator's, lifted by the director, and over range told of it", s)
	}
	if f := r.Figures; f.Pull.Bound != trial.BoundOver || math.Abs(float64(f.Pull.Value)/kgf-999) > 1e-6 {
		t.Errorf("greatest %+v; want at least the range less the zero, 999 kgf", f.Pull)
	}
}

// Damage is named with what it costs, and costs itself alone.
func TestResultOfDamage(t *testing.T) {
	made := func(t *testing.T) (path string, lines [][]byte) {
		h := byHand(t)
		h.run(2 * time.Second)
		h.must(safety.Logger, ActZero, "")
		h.pulling()
		h.haul(400, 20)
		path = h.sealed(t, t.TempDir(), "a.log")
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return path, bytes.SplitAfter(text, []byte("\n"))
	}
	lineWith := func(lines [][]byte, what string) int {
		for i := len(lines) - 1; i >= 0; i-- {
			if bytes.Contains(lines[i], []byte(what)) {
				return i
			}
		}
		t.Fatalf("no line with %q", what)
		return 0
	}
	for _, tt := range []struct {
		name  string
		harm  func(lines [][]byte) [][]byte
		state string
		ready bool
		want  string // in the damage, the seal's fault or what is broken
	}{
		{"nothing", func(l [][]byte) [][]byte { return l }, "whole", true, ""},
		{"a line lost", func(l [][]byte) [][]byte { i := lineWith(l, "src=load"); return append(l[:i:i], l[i+1:]...) }, "damaged", true, "is gone; cost: 1 record"},
		{"no end", func(l [][]byte) [][]byte { return l[:len(l)-2] }, "cut short", true, ""},
		{"torn", func(l [][]byte) [][]byte { return append(l[:40:40], l[40][:20]) }, "not read", false, "no whole head"},
		{"the trial file in its head", func(l [][]byte) [][]byte {
			i := lineWith(l, "part=trial")
			l[i] = bytes.Replace(l[i], []byte("CAMPAIGN"), []byte("campaign"), 1)
			return l
		}, "not read", false, "no trial file before it"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path, lines := made(t)
			if err := os.WriteFile(path, bytes.Join(tt.harm(lines), nil), 0o644); err != nil {
				t.Fatal(err)
			}
			r := ReadResult(PullLogs{Parts: []Part{{Opening: Opening{Path: path}}}})
			p := &r.Parts[0]
			if said := fmt.Sprint(p.Damage, p.Seal.Fault, p.Broken); p.State() != tt.state || r.Ready != tt.ready || !strings.Contains(said, tt.want) || r.Holds() != (tt.state == "whole") {
				t.Errorf("%s, ready %v, holds %v, %s; want %s, %v and %q", p.State(), r.Ready, r.Holds(), said, tt.state, tt.ready, tt.want)
			}
			if tt.ready && !r.Figures.Pull.Known {
				t.Error("the pull is not told")
			}
		})
	}
}

// Whatever a log holds, its result can be read and told.
func FuzzReadResult(f *testing.F) {
	h := byHand(&testing.T{})
	h.run(time.Second)
	h.do(safety.Director, ActDepth, "6 m")
	h.do(safety.Director, ActPayout, "60 m")
	h.do(safety.Logger, ActZero, "")
	log := logOf(h.d)
	f.Add(0, []byte("act who=logger act=weight value=\"25.0 kg\""))
	f.Add(100, []byte("say src=core by=1 what=stop-set at=9223372036.854775807 value_n=NaN"))
	f.Add(100, []byte("say src=core by=1 what=check check=zero to=done"))
	f.Add(40, []byte("head part=log started=x"))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, cut int, tail []byte) {
		lines := bytes.SplitAfter(log, []byte("\n"))
		text := bytes.Join(lines[:min(max(cut, 0), len(lines))], nil)
		// A record that proves itself, whatever it says.
		if kind, rest, ok := strings.Cut(string(tail), " "); ok {
			r := logfmt.Record{T: int64(len(tail)) * 1e9, N: uint64(cut) + 1, Kind: logfmt.Kind(kind)}
			for _, pair := range strings.Fields(rest) {
				if k, v, ok := strings.Cut(pair, "="); ok {
					r.Fields = append(r.Fields, logfmt.Field{Key: k, Val: v})
				}
			}
			line, _ := logfmt.AppendRecord(nil, &r, 0)
			text = append(text, line...)
		}
		path := filepath.Join(dir, "a.log")
		if err := os.WriteFile(path, append(text, tail...), 0o644); err != nil {
			t.Fatal(err)
		}
		pulls, _ := FindPulls([]string{path}, nil)
		for _, p := range pulls {
			r := ReadResult(p)
			MarkDrift([]*Result{r})
			if r.Holds() {
				t.Errorf("a log without an end holds: %+v", r.Parts)
			}
		}
	})
}
