package session

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/logfmt"
	"hawse/safety"
)

// broken is the log of a hand's run as a crash leaves it, half a line at its end.
func (h *hand) broken(t *testing.T, name string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, append(logOf(h.d), "t=99.0000"...), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// after begins a run that goes on from the log at path, a minute later.
func after(t *testing.T, path string, edits ...string) *hand {
	t.Helper()
	h := byHand(t, edits...)
	head := h.d.core.Head()
	u, err := ReadUnfinished(path, head.Trial, "")
	if err != nil {
		t.Fatal(err)
	}
	head.After, head.Started = &u.Handover, head.Started.Add(time.Minute)
	d, err := NewDry(head)
	if err != nil {
		t.Fatal(err)
	}
	d.Keep = true
	for _, src := range []string{SrcLoad, SrcLine, SrcStop} {
		d.Port(0, src, "open", "")
	}
	h.d = d
	return h
}

func items(cs []Carried) (out []string) {
	for _, c := range cs {
		out = append(out, fmt.Sprintf("%s %s: %s", c.Item, c.Text, c.State))
	}
	return out
}

// crashed is a pull with all there is to carry, broken off in the middle.
func crashed(t *testing.T) (*hand, string) {
	t.Helper()
	h := byHand(t)
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.pulling()
	h.haul(2000, 50)
	h.must(safety.Director, ActLower, "tension_stop 6.0 kN")
	h.d.Clock(h.at, time.Date(2026, 4, 12, 9, 3, 0, 0, time.UTC))
	return h, h.broken(t, "A1-1.log")
}

func TestGoesOnAfterACrash(t *testing.T) {
	was, path := crashed(t)
	h := after(t, path)
	h.load, h.counts = was.load, was.counts+40
	h.run(2 * time.Second)
	s := h.d.Snapshot()
	want := []string{"stage pull: open", "depth 6.00 m: open", "haul rode out " + h.d.core.length(was.d.core.haul.rodeOut) + " at count 2000: open",
		"zero " + h.d.core.force(was.d.core.tension.zero.Force) + ": open", "lower tension_stop 6 kN: open"}
	if diff := cmp.Diff(want, items(s.Carried)); diff != "" {
		t.Fatalf("proposals (-want +got):\n%s", diff)
	}
	if s.After != "A1-1.log" || s.Haul.Known || s.Zero.Known || s.Haul.DepthOK || s.Guard.Lowered.TensionStop != 0 {
		t.Errorf("before anything is confirmed: after %q, haul %v, zero %v, depth %v, lowered %v; want only proposals",
			s.After, s.Haul.Known, s.Zero.Known, s.Haul.DepthOK, s.Guard.Lowered)
	}
	h.refused(safety.WinchOperator, ActCarry, "all", "only the director and the logger")
	h.refused(safety.Director, ActArm, "", "is not confirmed")
	h.refused(safety.Director, ActCarry, "zero 5 kN", "not open as that")
	h.must(safety.Logger, ActCarry, "zero "+s.Carried[3].Text)
	h.refused(safety.Logger, ActCarry, "lower tension_stop", "only the director changes a limit")
	h.must(safety.Director, ActCarry, "all")
	if !h.said("carried over: haul") {
		t.Error("the haul zero is carried over in silence")
	}
	s = h.d.Snapshot()
	for _, c := range s.Carried {
		if c.State != CarryTaken {
			t.Errorf("%s %s: %s, want it carried", c.Item, c.Text, c.State)
		}
	}
	core := &h.d.core
	wantOut := float64(was.d.core.haul.rodeOut) - core.counted(2000, 2040)
	if got := float64(s.Haul.RodeOut); !s.Haul.Known || got < wantOut-1e-9 || got > wantOut+1e-9 {
		t.Errorf("rode out %v, want %v: 40 counts hauled meanwhile", got, wantOut)
	}
	if s.Zero.Force != was.d.core.tension.zero.Force || s.Haul.Depth != 6 || s.Guard.Stage.String() != "pull" || s.Guard.Lowered.TensionStop != 6000 {
		t.Errorf("zero %v, depth %v, stage %s, lowered %+v; want what was in force", s.Zero, s.Haul.Depth, s.Guard.Stage, s.Guard.Lowered)
	}
	if s.Guard.Permit || s.Guard.Armed {
		t.Error("hauling is permitted by what was carried over alone")
	}
	h.refused(safety.Director, ActCarry, "all", "nothing that was taken over is open")
	h.must(safety.Director, ActWaive, "weight done before the crash")
	h.must(safety.Director, ActRead, "")
	for _, who := range []safety.Who{safety.WinchOperator, safety.Logger, safety.Director} {
		h.must(who, ActReady, "all live")
	}
	h.run(time.Second)
	h.must(safety.Director, ActArm, "")
	if !h.d.State().Permit {
		t.Error("armed in the stage pull, and hauling is not permitted")
	}
	h.end()
}

func TestALatchedStopStaysLatched(t *testing.T) {
	was, _ := crashed(t)
	was.must(safety.Watcher, ActStop, "")
	path := was.broken(t, "A1-1.log")
	h := after(t, path)
	h.counts = was.counts
	h.run(2 * time.Second)
	s := h.d.Snapshot()
	if s.Guard.Stop.Kind != safety.Trip || s.Guard.Order != safety.OrderStop {
		t.Fatalf("stop %+v, order %v; want it latched again", s.Guard.Stop, s.Guard.Order)
	}
	if s.Carried[0].Item != CarryStop || s.Carried[0].State != CarryLatched || !strings.Contains(s.Carried[0].Text, "STOP CALLED") {
		t.Errorf("carried %+v, want the stop first, latched", s.Carried[0])
	}
	h.must(safety.Director, ActCarry, "all") // but for the stage
	if got := h.d.Snapshot().Carried[1]; got.Item != CarryStage || got.State != CarryOpen {
		t.Errorf("stage %+v under a stop, want it open", got)
	}
	h.refused(safety.Director, ActArm, "", "a stop is in force")
	h.run(time.Second)
	h.must(safety.Director, ActAck, "")
	h.must(safety.Director, ActRearm, "pull")
	s = h.d.Snapshot()
	if s.Carried[0].State != CarryLifted || s.Carried[1].State != CarrySaid || s.Guard.Stop.Kind != safety.NoStop || s.Guard.Permit {
		t.Errorf("re-armed: %v, stop %v, permit %v; want it lifted, and not yet permitted", items(s.Carried), s.Guard.Stop.Kind, s.Guard.Permit)
	}
	h.end()

	// Broken off a second time with nothing confirmed: all is handed on.
	h = after(t, path)
	h.run(time.Second)
	third := after(t, h.broken(t, "A1-2.log"))
	third.run(time.Second)
	if diff := cmp.Diff(items(h.d.Snapshot().Carried), items(third.d.Snapshot().Carried)); diff != "" {
		t.Errorf("handed on a second time (-first +second):\n%s", diff)
	}
}

// Where the numbers may not be what they were, a person says them anew.
func TestCarriedHaulThatCannotBe(t *testing.T) {
	_, path := crashed(t)
	for _, tt := range []struct {
		name   string
		counts int
		want   string
	}{
		{"the box began anew", 0, "counts from zero again"},
		{"more than a winch hauls", 2000 + 100_000, "rode out would be"},
		{"before it counts", -1, "said nothing of late"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := after(t, path)
			if tt.counts >= 0 {
				h.counts = tt.counts
				h.run(2 * time.Second)
			}
			h.refused(safety.Director, ActCarry, "haul", tt.want)
			if got := h.d.Snapshot().Carried[2].State; got != CarryOpen {
				t.Errorf("haul refused and %s, want it open", got)
			}
			h.must(safety.Director, ActDrop, "haul")
			if got := h.d.Snapshot().Carried[2].State; got != CarryDropped {
				t.Errorf("haul %s, want it dropped", got)
			}
			h.end()
		})
	}
	h := after(t, path)
	h.counts = 2000
	h.run(2 * time.Second)
	h.must(safety.Director, ActPayout, "50 m")
	h.must(safety.Director, ActDepth, "6.5 m")
	h.must(safety.Director, ActWaive, "zero the rode is loaded")
	for _, c := range h.d.Snapshot().Carried[1:4] {
		if c.State != CarrySaid {
			t.Errorf("%s: %s, want it said anew", c.Item, c.State)
		}
	}
}

// A load cell that is set otherwise in the trial file has no zero to carry.
func TestOtherTrialFileCarriesLess(t *testing.T) {
	_, path := crashed(t)
	h := after(t, path, `range = "`, `range = "1`)
	for _, c := range h.d.Snapshot().Carried {
		if c.Item == CarryZero {
			t.Error("a zero is carried over to another load cell")
		}
	}
}

func TestFindUnfinished(t *testing.T) {
	dir := t.TempDir()
	h, src := crashed(t)
	cut, err := os.ReadFile(src)
	if err != nil {
		t.Fatal(err)
	}
	put := func(name string, b []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	none := func(string) bool { return false }
	find := func(run string, owned func(string) bool) string {
		t.Helper()
		got, err := FindUnfinished([]string{dir, dir, "/nowhere"}, run, owned)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	put("noise.log", []byte("\x00\x01\x1b[31m\n"))
	put("empty.log", nil)
	if got := find("A1", none); got != "" {
		t.Errorf("found %q among noise", got)
	}
	one := put("A1-1.log", cut)
	if got := find("A1", none); got != one {
		t.Errorf("found %q, want %q", got, one)
	}
	if got := find("A2", none); got != "" {
		t.Errorf("for another run found %q", got)
	}
	if got := find("A1", func(p string) bool { return p == one }); got != "" {
		t.Errorf("found %q, which somebody writes", got)
	}
	// The one that goes on from it is unfinished too, then ended.
	next := after(t, one)
	next.run(time.Second)
	two := put("A1-2.log", logOf(next.d))
	if got := find("A1", none); got != two {
		t.Errorf("found %q, want the newest %q", got, two)
	}
	next.must(safety.Director, ActEnd, "over")
	next.d.End(next.at)
	put("A1-2.log", logOf(next.d))
	if got := find("A1", none); got != "" {
		t.Errorf("found %q though the newest log of the run was ended", got)
	}

	parts, err := Chain(one)
	if err != nil || len(parts) != 2 || parts[0].Path != one || parts[1].Path != two || parts[1].Fault != "" {
		t.Errorf("chain of the first: %+v, %v; want both", parts, err)
	}
	if parts, err = Chain(two); err != nil || len(parts) != 2 {
		t.Errorf("chain of the second: %+v, %v; want both", parts, err)
	}
	folds, _, err := RefoldParts(parts, "test")
	if err != nil || len(folds) != 2 || len(folds[0].Diffs)+len(folds[1].Diffs) != 0 {
		t.Errorf("both folded: %v, %v", folds, err)
	}
	put("A1-1.log", bytes.Replace(cut, []byte("kgf"), []byte("kgg"), 1))
	if parts, err = Chain(two); err != nil || !strings.Contains(parts[1].Fault, "another SHA-256") {
		t.Errorf("a first part that was changed: %+v, %v; want it told", parts, err)
	}
	_ = h
}

// A log that was read without its chain is no worse for it, and a chain whose
// head is nonsense is told and not followed.
func TestChainOfNonsense(t *testing.T) {
	dir := t.TempDir()
	for _, before := range []string{"../../etc/passwd", "self.log", ".hidden.log", "gone.log", "a\x1b[31m\nb"} {
		head := testHead(t)
		head.After = &Handover{Predecessor: before, SHA256: "no", Carries: []Carry{{Item: CarryHaul}, {Item: CarryZero, Fields: []logfmt.Field{{Key: "value_n", Val: "NaN"}}},
			{Item: "clear nothing here"}, {Item: "lower nothing"}, {Item: "\x1b"}, {Item: CarryStage, Fields: []logfmt.Field{{Key: "stage", Val: "adrift"}}}}}
		d, err := NewDry(head)
		if err != nil {
			t.Fatal(err)
		}
		d.Tick(1e6)
		for _, c := range d.Snapshot().Carried {
			if c.State != CarryUnread || strings.Contains(c.Item, "\x1b") {
				t.Errorf("nonsense %+v; want it not for here", c)
			}
		}
		path := filepath.Join(dir, "self.log")
		if err := os.WriteFile(path, logOf(d), 0o644); err != nil {
			t.Fatal(err)
		}
		parts, err := Chain(path)
		if err != nil || len(parts) != 1 || parts[0].Fault == "" {
			t.Errorf("goes on from %q: %+v, %v; want it told", before, parts, err)
		}
	}
}

func TestReadUnfinishedOfNoLog(t *testing.T) {
	tr, _ := testTrial(t)
	path := filepath.Join(t.TempDir(), "a.log")
	for _, text := range []string{"", "not a log\n", "t=0.000000000 n=1 k=tick prev=00000000 crc=00000000\n"} {
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadUnfinished(path, tr, ""); err == nil {
			t.Errorf("%q was read as a log to go on from", text)
		}
	}
}

// Of a log and its copy on another disk the longer one is gone on from.
func TestFindUnfinishedTakesTheLongerOfTwo(t *testing.T) {
	_, src := crashed(t)
	text, err := os.ReadFile(src)
	if err != nil {
		t.Fatal(err)
	}
	a, b := t.TempDir(), t.TempDir()
	for _, tt := range []struct {
		na, nb int // bytes cut off
		want   string
	}{{0, 0, a}, {100, 0, b}, {0, 100, a}} {
		for dir, n := range map[string]int{a: tt.na, b: tt.nb} {
			if err := os.WriteFile(filepath.Join(dir, "A1.log"), text[:len(text)-n], 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if got, err := FindUnfinished([]string{a, b}, "A1", func(string) bool { return false }); err != nil || filepath.Dir(got) != tt.want {
			t.Errorf("%d and %d bytes cut off: %q, %v; want the one in %s", tt.na, tt.nb, got, err, tt.want)
		}
	}
}

// Whatever a log holds, what is read from it to go on by is no worse than
// nothing, and a capture can begin with it.
func FuzzHandover(f *testing.F) {
	h := byHand(&testing.T{})
	h.run(2 * time.Second)
	h.do(safety.Director, ActDepth, "6 m")
	h.do(safety.Director, ActPayout, "60 m")
	log := logOf(h.d)
	f.Add(log[len(log)/2:], "zero", "value_n", "NaN")
	f.Add([]byte("k=head part=carry"), "haul", "payout_m", "1e300")
	f.Add([]byte{}, "lower tension_stop", "value", "-1")
	path := filepath.Join(f.TempDir(), "a.log")
	tr, _ := testTrial(f)
	f.Fuzz(func(t *testing.T, tail []byte, item, key, value string) {
		if err := os.WriteFile(path, append(bytes.Clone(log), tail...), 0o644); err != nil {
			t.Fatal(err)
		}
		u, err := ReadUnfinished(path, tr, "")
		if err != nil {
			return
		}
		u.Carries = append(u.Carries, Carry{Item: item, Fields: []logfmt.Field{{Key: key, Val: value}}})
		head := testHead(t)
		head.After = &u.Handover
		d, err := NewDry(head)
		if err != nil {
			t.Fatal(err)
		}
		d.Keep = true
		d.Rx(1e8, SrcLine, []byte("N +0000010\r\n"))
		d.Act(1e8, Act{Who: safety.Director, Name: "test", What: ActCarry, Value: CarryAll}, 1)
		d.Snapshot()
		fold, _, err := Refold(bytes.NewReader(logOf(d)), "test")
		if err != nil || len(fold.Diffs) > 0 {
			t.Errorf("replay of what went on: %v, %v", err, fold.Diffs)
		}
	})
}
