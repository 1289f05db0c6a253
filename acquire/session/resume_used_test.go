package session

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// wallNow is the computer's clock of a hand's run.
func (h *hand) wallNow() time.Time { return h.d.core.head.Started.Add(time.Duration(h.at)) }

// later begins a run that goes on from the log at path at that wall time.
func later(t *testing.T, path string, wall time.Time, edits ...string) *hand {
	t.Helper()
	h := byHand(t, edits...)
	head := h.d.core.Head()
	u, err := ReadUnfinished(path, head.Trial, "")
	if err != nil {
		t.Fatal(err)
	}
	return begins(t, h, head, &u.Handover, wall)
}

func begins(t *testing.T, h *hand, head Head, after *Handover, wall time.Time) *hand {
	t.Helper()
	head.After, head.Started = after, wall
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

// fieldsOf are fields from keys and values by turns.
func fieldsOf(kv ...string) (out []logfmt.Field) {
	for i := 0; i < len(kv); i += 2 {
		out = append(out, logfmt.Field{Key: kv[i], Val: kv[i+1]})
	}
	return out
}

// A pull that goes on after a crash, all confirmed, has the margins of one that
// was never broken off, also of a stage or a lane, after a second crash, and
// when nobody saw line and time go on.
func TestMarginsAfterACrash(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a := byHand(t)
		a.run(2 * time.Second)
		a.must(safety.Logger, ActZero, "")
		a.pulling()
		both := []*hand{a}
		lines := 0
		spell := func() {
			step := rapid.SampledFrom([]int{0, 40, 100, 200}).Draw(rt, "counts a line")
			for range rapid.IntRange(25, 50).Draw(rt, "lines") {
				lines++
				next := a.counts
				if a.d.State().Permit {
					next += step
				}
				for _, h := range both {
					h.load, h.counts = fmt.Sprintf("+%06.1f kgf", 1+float64(lines%3)/10), next
					h.run(100 * time.Millisecond)
				}
			}
		}
		say := func() {
			stage := rapid.SampledFrom([]string{"pull", "hold", "ease", "stopped", "recover"}).Draw(rt, "stage")
			if a.do(safety.Director, ActStage, stage) == "" && len(both) > 1 {
				both[1].must(safety.Director, ActStage, stage)
			}
		}
		for range rapid.IntRange(1, 3).Draw(rt, "spells before") {
			spell()
			say()
			spell()
		}
		var b *hand
		breaks := rapid.IntRange(1, 2).Draw(rt, "times broken off")
		for range breaks {
			was := a
			if b != nil {
				was = b
			}
			was.d.Clock(was.at, a.wallNow())
			path := was.broken(t, fmt.Sprintf("A1-%d.log", len(both)))
			both = both[:1]
			if rapid.Bool().Draw(rt, "nobody saw") {
				spell()
			}
			b = later(t, path, a.wallNow())
			b.load, b.counts = a.load, a.counts
			b.t, both = a.t, []*hand{a, b}
			spell()
		}
		for _, item := range rapid.Permutation([]string{"haul", "depth", "zero"}).Draw(rt, "order") {
			b.must(safety.Logger, ActCarry, item)
		}
		if stage := a.d.State().Stage; stage != trial.StandBy {
			b.must(safety.Director, ActCarry, "stage")
		}
		spell()
		for range rapid.IntRange(0, 2).Draw(rt, "spells after") {
			sameMargins(rt, a, b)
			say()
			spell()
		}
		sameMargins(rt, a, b)
		b.end()
	})
}

func sameMargins(t *rapid.T, a, b *hand) {
	want, got := a.d.Snapshot().Margins, b.d.Snapshot().Margins
	near := func(p, q float64) bool {
		return math.IsNaN(p) && math.IsNaN(q) || math.Abs(p-q) <= 1e-9*max(1, math.Abs(p))
	}
	if len(want) != len(got) {
		t.Fatalf("margins %+v, unbroken %+v", got, want)
	}
	for i, p := range want {
		if q := got[i]; p.Cause != q.Cause || !near(p.Now, q.Now) || !near(p.Left, q.Left) || !near(p.Share, q.Share) || !near(p.Limit, q.Limit) {
			t.Fatalf("in %v, broken off: margin %+v, unbroken %+v", b.d.State().Stage, q, p)
		}
	}
}

// What counts of 20 m hauled in pull, 300 s ago, by what is said of it. A person
// who confirms less has no more room for it.
func TestUsedAfterACrash(t *testing.T) {
	was := byHand(t)
	was.run(2 * time.Second)
	was.must(safety.Logger, ActZero, "")
	was.pulling()
	was.haul(20000, 100)
	was.d.Clock(was.at, was.wallNow())
	path := was.broken(t, "A1-1.log")
	since := was.at - was.d.State().StageSince
	type step struct {
		who         safety.Who
		what, value string
	}
	d, l := safety.Director, safety.Logger
	for _, tt := range []struct {
		name   string
		steps  []step
		hauled float64 // in pull, with 1 m more on the count
		lasts  bool
		told   string
	}{
		{"all confirmed", []step{{d, ActCarry, "all"}}, 21, true, "21.00 m of 35.0 m"},
		{"haul first", []step{{l, ActCarry, "haul"}, {d, ActCarry, "stage"}}, 21, true, "21.00 m of 35.0 m"},
		{"stage said instead", []step{{l, ActCarry, "haul"}, {d, ActStage, "pull"}}, 21, true, ""},
		{"stage left behind, said after all", []step{{l, ActCarry, "haul"}, {d, ActDrop, "stage"}, {d, ActStage, "pull"}}, 21, true, ""},
		{"by way of hold", []step{{l, ActCarry, "haul"}, {d, ActStage, "hold"}, {d, ActStage, "pull"}}, 21, false, ""},
		{"haul said anew, by less rode", []step{{d, ActCarry, "stage"}, {l, ActPayout, "37 m"}}, 23, true, "23.00 m of 35.0 m"},
		{"haul said anew, by more rode", []step{{d, ActCarry, "stage"}, {l, ActPayout, "55 m"}}, 20, true, "20.00 m of 35.0 m"},
		{"haul left behind, then said", []step{{l, ActDrop, "haul"}, {l, ActPayout, "38 m"}, {d, ActStage, "pull"}}, 22, true, "22.00 m of 35.0 m"},
		{"all left behind, then said", []step{{d, ActDrop, "all"}, {l, ActPayout, "38 m"}, {l, ActDepth, "6 m"}, {d, ActStage, "pull"}}, 22, true, ""},
		{"another lane", []step{{l, ActCarry, "haul"}, {d, ActStage, "pay out"}, {d, ActStage, "pull"}}, 0, false, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := later(t, path, was.wallNow().Add(5*time.Minute))
			h.load, h.counts = was.load, was.counts+1000
			h.run(2 * time.Second)
			for _, s := range tt.steps {
				h.must(s.who, s.what, s.value)
			}
			s := h.d.Snapshot()
			if got := float64(s.Haul.InStage); s.Guard.Stage != trial.Pull || math.Abs(got-tt.hauled) > 1e-9 {
				t.Errorf("in %v %.3f m hauled, want %.3f in pull", s.Guard.Stage, got, tt.hauled)
			}
			lasted := s.T - s.Guard.StageSince
			if want := since + int64(5*time.Minute) + h.at; tt.lasts && lasted != want || !tt.lasts && lasted != 0 {
				t.Errorf("the stage has lasted %v, want %v", time.Duration(lasted), time.Duration(want))
			}
			told := slices.ContainsFunc(h.d.Records, func(r logfmt.Record) bool {
				return r.Str("what") == "used" && strings.HasSuffix(r.Str("text"), tt.told)
			})
			if !told {
				t.Errorf("nothing says %q", tt.told)
			}
			h.end()
		})
	}

	// Line that ran out meanwhile, by the count, is not hauled.
	h := later(t, path, was.wallNow().Add(time.Minute))
	h.load, h.counts = was.load, was.counts-3000
	h.run(2 * time.Second)
	h.must(safety.Director, ActCarry, "all")
	if got := h.d.Snapshot().Haul.InStage; math.Abs(float64(got)-17) > 1e-9 {
		t.Errorf("3 m ran out meanwhile: %v hauled in pull, want 17 m", got)
	}

	// 16 m more than the lane has left are not hauled: arming goes, the stage not.
	h = later(t, path, was.wallNow())
	h.load, h.counts = was.load, was.counts
	h.run(2 * time.Second)
	h.must(safety.Logger, ActCarry, "haul")
	h.must(safety.Director, ActCarry, "depth")
	h.haul(31000, 100)
	h.must(safety.Director, ActDepth, "2 m") // so that scope is not what ends it
	h.haul(35500, 100)
	h.refused(safety.Director, ActArm, "", "zero")
	h.must(safety.Director, ActCarry, "all")
	h.run(300 * time.Millisecond)
	h.refused(safety.Director, ActArm, "", "line hauled of pull is reached")
	h.end()

	// A limit said beside the computer's clock: without one, the time the program
	// was away does not count, and a clock that fell back takes nothing away.
	for _, wall := range []time.Time{was.wallNow().Add(-time.Hour), {}} {
		h := later(t, path, wall)
		h.run(time.Second)
		h.must(safety.Director, ActStage, "pull")
		if got := h.at - h.d.State().StageSince; got != since+h.at {
			t.Errorf("started %v: pull has lasted %v, want %v", wall, time.Duration(got), time.Duration(since+h.at))
		}
	}
}

// What the guard must not forget beside line and time.
func TestWarningsAfterACrash(t *testing.T) {
	was := byHand(t)
	was.run(2 * time.Second)
	was.must(safety.Logger, ActZero, "")
	was.load = "+0008.0 kgf"
	was.run(2 * time.Second)
	was.must(safety.Logger, ActZero, "") // it has moved
	was.pulling()
	for n := range 240 { // to 5.3 kN, which recovery may not pull
		was.load = fmt.Sprintf("+%06.1f kgf", 8+float64(n)*2.2+float64(n%2))
		was.haul(was.counts+50, 50)
	}
	g := was.d.State()
	if !g.Alarms[safety.ZeroMoved].Standing() || !g.Alarms[safety.MayNotComeUp].Standing() || g.Stop.Kind != safety.NoStop {
		t.Fatalf("zero moved %v, may not come up %v, stop %+v", g.Alarms[safety.ZeroMoved], g.Alarms[safety.MayNotComeUp], g.Stop)
	}
	path := was.broken(t, "A1-1.log")
	h := later(t, path, was.wallNow())
	h.load, h.counts = was.load, was.counts
	h.run(2 * time.Second)
	h.must(safety.Director, ActCarry, "all")
	if g := h.d.State(); !g.Alarms[safety.ZeroMoved].Standing() || !g.Alarms[safety.MayNotComeUp].Standing() {
		t.Errorf("after the crash: zero moved %+v, may not come up %+v; want both to stand", g.Alarms[safety.ZeroMoved], g.Alarms[safety.MayNotComeUp])
	}
	h.end()

	// A zero taken anew is held against the one before the crash.
	h = later(t, path, was.wallNow())
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "") // 1 kgf, it was 8
	if !h.said("it was 0.07845 kN") || !h.d.State().Alarms[safety.ZeroMoved].Standing() {
		t.Error("a zero that has moved over the crash is not told")
	}
	h.end()
}

// Nothing that a person leaves behind makes a limit laxer unless the director
// does it, and no re-arm is judged before what was taken over is answered.
func TestStrictAboutWhatIsOpen(t *testing.T) {
	was, _ := crashed(t)
	was.must(safety.Watcher, ActStop, "")
	path := was.broken(t, "A1-1.log")
	h := later(t, path, was.wallNow().Add(time.Minute))
	h.load, h.counts = was.load, was.counts
	h.run(2 * time.Second)
	h.refused(safety.Logger, ActDrop, "lower tension_stop", "only the director may")
	h.must(safety.Director, ActAck, "")
	h.refused(safety.Director, ActRearm, "pull", "not re-armed: depth")
	h.must(safety.Director, ActCarry, "all")
	h.run(300 * time.Millisecond)
	h.must(safety.Director, ActRearm, "pull")
	h.refused(safety.Director, ActRearm, "pull", "no stop is in force")
	h.must(safety.Watcher, ActStop, "")
	if s := h.d.Snapshot(); s.Carried[0].State != CarryLifted || s.Guard.Stop.Taken {
		t.Errorf("another stop: %+v, %+v; want the old one to stay lifted", s.Carried[0], s.Guard.Stop)
	}
	h.end()
}

// By how much rode out may be wrong, as the marks on the rode last said, is
// carried over with it.
func TestMarkDoubtAfterACrash(t *testing.T) {
	was := byHand(t)
	was.run(2 * time.Second)
	was.must(safety.Logger, ActZero, "")
	was.pulling()
	for _, mark := range []string{"55 m", "50 m"} {
		was.haul(was.counts+5100, 100)
		was.must(safety.Director, ActPass, mark)
	}
	was.haul(was.counts+1000, 100)
	want := was.d.Snapshot().Haul
	h := later(t, was.broken(t, "A1-1.log"), was.wallNow())
	h.load, h.counts = was.load, was.counts
	h.run(time.Second)
	h.must(safety.Director, ActCarry, "all")
	if got := h.d.Snapshot().Haul; !(want.MarkDoubt > 0) || got.MarkDoubt != want.MarkDoubt || math.Abs(float64(got.RodeOut-want.RodeOut)) > 1e-9 {
		t.Errorf("%v out, in doubt by %v; it was %v, by %v", got.RodeOut, got.MarkDoubt, want.RodeOut, want.MarkDoubt)
	}
	h.end()
}

// What was used up is part of the state, and a part of the head that cannot be
// read is told and taken for none.
func TestUsedInTheHead(t *testing.T) {
	f := fieldsOf
	run := func(used []logfmt.Field) *Dry {
		head := testHead(t)
		head.After = &Handover{Predecessor: "A1-1.log", Used: used}
		d, err := NewDry(head)
		if err != nil {
			t.Fatal(err)
		}
		d.Keep = true
		d.Tick(1e6)
		return d
	}
	told := func(d *Dry, want string) bool {
		return slices.ContainsFunc(d.Records, func(r logfmt.Record) bool { return strings.Contains(r.Str("text"), want) })
	}
	digests := map[uint64]string{}
	for _, used := range [][]logfmt.Field{
		nil,
		f("stage", "pull", "for", "1.000000000"),
		f("stage", "pull", "for", "2.000000000"),
		f("stage", "pull", "for", "1.000000000", "hauled_m", "3"),
		f("stage", "pull", "for", "1.000000000", "lane", "pull", "lane_m", "3"),
		f("stage", "pull", "for", "1.000000000", "out_m", "30"),
		f("stage", "pull", "for", "1.000000000", "moved_m", "3"),
		f("stage", "pull", "for", "1.000000000", "come_up_n", "5000"),
		f("stage", "pull", "for", "1.000000000", "stands", "zero-due"),
	} {
		d := run(used)
		if was, twice := digests[d.core.Digest()]; twice {
			t.Errorf("%v has the digest of %s", used, was)
		}
		digests[d.core.Digest()] = fmt.Sprint(used)
		if told(d, "cannot be read") {
			t.Errorf("%v was not read", used)
		}
	}
	for _, used := range [][]logfmt.Field{
		f("stage", "adrift", "for", "1.000000000"), f("for", "1.000000000"), f("stage", "pull"), f("stage", "pull", "for", "soon"),
		f("stage", "pull", "for", "-1.000000000"), f("stage", "pull", "for", "1.000000000", "hauled_m", "NaN"),
		f("stage", "pull", "for", "1.000000000", "lane", "nowhere"), f("stage", "pull", "for", "1.000000000", "out_m", "1e300"),
	} {
		d := run(used)
		if g := d.State(); !told(d, "cannot be read") || g.Lane != trial.StandBy {
			t.Errorf("%v was taken over: lane %v", used, g.Lane)
		}
	}
	head := testHead(t)
	head.After = &Handover{Predecessor: "A1-1.log", Used: f("stage", "pull", "for", "1.000000000", "stands", "zero-due"), Carries: []Carry{{CarryZero, f("value_n", "10")}}}
	due, err := NewDry(head)
	if err != nil {
		t.Fatal(err)
	}
	due.Tick(1e6)
	due.Act(1e6, Act{Who: safety.Director, Name: "test", What: ActCarry, Value: "zero"}, 1)
	if s := due.Snapshot(); !s.Zero.Known || !s.Guard.Alarms[safety.ZeroDue].Standing() {
		t.Errorf("a zero that is to be checked was taken over: %+v, %+v; want it still to be checked", s.Zero, s.Guard.Alarms[safety.ZeroDue])
	}
	d := run(f("stage", "pull", "for", "9223372036.854775807", "wall", "0001-01-01T00:00:01Z", "hauled_m", "-999999"))
	d.Act(2e6, Act{Who: safety.Director, Name: "test", What: ActStage, Stage: trial.Pull}, 1)
	if g := d.State(); g.Stage != trial.Pull || g.T-g.StageSince <= 0 {
		t.Errorf("for ever in pull: %+v", g.StageSince)
	}
}

// A log that goes on by the head of before there was `used`, written by the
// program of then, says now what it said then.
func TestOldHandoverIsReadAsItWas(t *testing.T) {
	text, err := os.ReadFile("testdata/resumed-format1.log")
	if err != nil {
		t.Fatal(err)
	}
	f, damage, err := Refold(bytes.NewReader(text), "test")
	if err != nil || len(damage) > 0 {
		t.Fatal(err, damage)
	}
	for _, d := range f.Diffs {
		if !strings.Contains(d.Then+d.Now, `src="judge"`) {
			t.Errorf("said then is not judged now: %v", d)
		}
	}
	if s := f.Snapshot(); s.After == "" || s.Carried[0].State != CarryLifted || s.Guard.Stop.Kind != safety.NoStop || s.Haul.InStage != 0 {
		t.Errorf("at its end: after %q, %v, stop %+v, %v hauled in the stage", s.After, items(s.Carried), s.Guard.Stop, s.Haul.InStage)
	}
}
