package session

import (
	"fmt"
	"math"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
)

// TestCountsThatCannotFollow: the template's encoder gives 1000 counts a metre.
// From a count of 26 m hauled at 0.04 m/s, one odd count.
func TestCountsThatCannotFollow(t *testing.T) {
	tests := []struct {
		name  string
		from  int           // count when the rode out is said
		quiet time.Duration // without a count before the odd one
		next  int
		x     float64 // hauled afterwards; NaN unknown
		alarm safety.Cause
	}{
		{"as fast as any winch", 0, 0, 26700, 26.7, safety.NoCause},
		{"faster than any", 0, 0, 27000, math.NaN(), safety.LineJumped},
		{"backwards", 0, 0, 20000, math.NaN(), safety.LineJumped},
		{"after a silence it may have moved so far", 0, 800 * time.Millisecond, 28000, 28, safety.NoCause},
		{"begins anew at nothing", 0, 0, 0, 26, safety.LineReset},
		{"begins anew, and has counted a little", 0, 0, -400, 26, safety.LineReset},
		{"begins anew after a long silence", 0, 3 * time.Second, 100, math.NaN(), safety.LineJumped},
		{"begins anew after a silence that would allow it", 0, 12 * time.Second, 100, math.NaN(), safety.LineJumped},
		{"runs over 16 bits", 39400, 0, 65420 - 65536, 26.02, safety.LineReset},
		{"runs over 16 bits, signed", 6600, 0, 32650 - 65536, 26.05, safety.LineReset},
		{"runs under 16 bits", -26000 - 60, 0, 65536 + 20, 26.08, safety.LineReset},
		{"as large as 64 bits hold", 0, 0, math.MaxInt64, math.NaN(), safety.LineJumped},
		{"as small as 64 bits hold", 0, 0, math.MinInt64, math.NaN(), safety.LineJumped},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h := byHand(t)
			h.count(tt.from)
			h.run(time.Second)
			h.must(safety.Director, ActPayout, "60 m")
			h.haul(tt.from+26000, 200)
			h.at += int64(tt.quiet)
			h.at += 50e6
			h.count(tt.next)
			s := h.d.Snapshot()
			got := float64(s.Haul.X)
			if math.Abs(got-tt.x) > 1e-9 || math.IsNaN(got) != math.IsNaN(tt.x) {
				t.Errorf("count %d after %d: hauled %v m, want %v", tt.next, tt.from+26000, got, tt.x)
			}
			for _, c := range []safety.Cause{safety.LineJumped, safety.LineReset} {
				if up := s.Guard.Alarms[c].State != safety.Normal; up != (c == tt.alarm) {
					t.Errorf("count %d after %d: %s told %v", tt.next, tt.from+26000, c, up)
				}
			}
			if known := !math.IsNaN(tt.x); s.Guard.Line.HasX != known {
				t.Errorf("the guard takes the line for known: %v, want %v", s.Guard.Line.HasX, known)
			}
			if tt.alarm == safety.LineReset {
				h.at += 50e6
				h.count(tt.next + 40)
				if s := h.d.Snapshot(); math.Abs(float64(s.Haul.X)-tt.x-0.04) > 1e-9 || s.Guard.Alarms[safety.LineReset].Standing() {
					t.Errorf("the next count: hauled %v, want %v; alarm %+v, want it gone", s.Haul.X, tt.x+0.04, s.Guard.Alarms[safety.LineReset])
				}
			}
			h.end()
		})
	}
}

// TestWrapMovesAllThatIsCountedFrom: a box of 16 bits runs over between a rode
// mark and the next count. How far the rode out may be off is told by the line
// since the mark, and what came in since the stage began by the line since then:
// neither has become 65 m longer.
func TestWrapMovesAllThatIsCountedFrom(t *testing.T) {
	for _, anew := range []bool{false, true} {
		h := byHand(t)
		from := 60000 // 16 bits end at 65535
		h.count(from)
		h.run(time.Second)
		h.must(safety.Director, ActPayout, "60 m")
		h.must(safety.Director, ActStage, "pay out")
		h.haul(from+4500, 60) // 4.5 m by the count at the mark of 5 m: 10 % short
		h.must(safety.Director, ActPass, "55 m")
		h.haul(from+5500, 20)
		doubt := float64(h.d.Snapshot().Haul.MarkDoubt)
		if math.Abs(doubt-0.1) > 1e-9 {
			t.Fatalf("a metre after a mark that was 10 %% off: rode out may be %v m off, want 0.1", doubt)
		}
		in, said := h.d.core.haul.way.in, h.d.core.haul.way.told
		h.at += 50e6
		next := from + 5540 - 65536
		if anew {
			next = 20
		}
		h.count(next)
		s := h.d.Snapshot()
		if got := float64(s.Haul.MarkDoubt); math.Abs(got-doubt) > 0.01 {
			t.Errorf("count %d after %d: rode out may be %v m off, want about %v", next, from+5500, got, doubt)
		}
		if w := h.d.core.haul.way; w.in-in > 0.1 || w.out || w.told != said {
			t.Errorf("count %d after %d: %+v; it has come in by the same line as before, %v m", next, from+5500, w, in)
		}
		h.end()
	}
}

// TestJumpTripsAndIsMended: rode out stays unknown until it is said again or a
// mark passes.
func TestJumpTripsAndIsMended(t *testing.T) {
	for _, mend := range []struct {
		what, value string
		x           float64
	}{{ActPayout, "50 m", 0}, {ActPass, "50 m", 10}} {
		h := byHand(t)
		h.run(3 * time.Second)
		h.pulling()
		h.haul(9500, 40)
		h.at += 50e6
		h.count(4000)
		g := h.d.State()
		if g.Permit || g.Stop.Cause != safety.LineJumped {
			t.Fatalf("a count that jumps back: permit %v, stop %+v; want a trip", g.Permit, g.Stop)
		}
		h.run(2 * time.Second)
		h.must(safety.Director, ActAck, "")
		h.refused(safety.Director, ActRearm, "pull", "not re-armed")
		h.must(safety.Director, mend.what, mend.value)
		if s := h.d.Snapshot(); s.Haul.RodeOut != 50 || float64(s.Haul.X) != mend.x || !s.Haul.Known {
			t.Errorf("%s 50 m: rode out %v, hauled %v; want 50 m and %v", mend.what, s.Haul.RodeOut, s.Haul.X, mend.x)
		}
		h.run(time.Second)
		h.must(safety.Director, ActRearm, "pull")
		h.end()
	}
}

// TestMarksGovernTheCount is a measuring wheel that slips when wet: the marks 50,
// 40 and 30 m are seen at 9.2, 18.0 and 26.5 m by the count, 60 m having been
// out. Least scope 4.0, with 7.5 m under the roller, comes at the 30 m mark.
func TestMarksGovernTheCount(t *testing.T) {
	h := byHand(t)
	h.run(3 * time.Second)
	h.refused(safety.WinchOperator, ActPass, "50 m", "say the rode out first")
	h.pulling()
	for _, tt := range []struct{ value, want string }{{"", "rode mark not taken"}, {"50", "unit"}, {"0 m", "above zero"}, {"500 m", "500.00 m is more than the whole rode, which is 80.00 m long"}} {
		h.refused(safety.WinchOperator, ActPass, tt.value, tt.want)
	}
	h.refused(safety.Watcher, ActPass, "50 m", "read-only")
	if doubt := float64(h.d.Snapshot().Haul.MarkDoubt); !math.IsNaN(doubt) {
		t.Errorf("no mark has passed, and rode out is doubted by %v m", doubt)
	}
	marks := []struct {
		counts       int
		mark         string
		out          float64
		off          float64
		before, next float64 // rode out by the count, just before and 1 m of count later
	}{
		{9200, "50 m", 50, 0.08, 50.8, 49},
		{18000, "40 m", 40, 0.12, 41.2, 40 - 10/8.8},
		{26500, "30 m", 30, 0.15, 40 - 85./8.8, 30 - 10/8.5},
	}
	for _, m := range marks {
		h.haul(m.counts, 40)
		before := float64(h.d.Snapshot().Haul.RodeOut)
		h.must(safety.WinchOperator, ActPass, m.mark)
		s := h.d.Snapshot()
		if math.Abs(before-m.before) > 1e-9 || math.Abs(float64(s.Haul.RodeOut)-m.out) > 1e-9 || s.Haul.MarkDoubt != 0 {
			t.Errorf("mark %s at count %d: rode out %v before and %v after, want %v and %v", m.mark, m.counts, before, s.Haul.RodeOut, m.before, m.out)
		}
		a := s.Guard.Alarms[safety.LineContradicts]
		if !a.Standing() || math.Abs(h.d.core.haul.marks.off-m.off) > 1e-9 || !h.said(fmt.Sprintf("%.1f %% short of the marks", 100*m.off)) {
			t.Errorf("mark %s: alarm %+v, off %v, want it told and %v", m.mark, a, h.d.core.haul.marks.off, m.off)
		}
		if m.out == 30 {
			break
		}
		h.haul(m.counts+1000, 40)
		if s := h.d.Snapshot(); math.Abs(float64(s.Haul.RodeOut)-m.next) > 1e-9 || math.Abs(float64(s.Haul.MarkDoubt)-m.off) > 1e-9 {
			t.Errorf("1 m of count after the mark %s: rode out %v, doubt %v; want %v and %v", m.mark, s.Haul.RodeOut, s.Haul.MarkDoubt, m.next, m.off)
		}
	}
	h.run(300 * time.Millisecond)
	if g := h.d.State(); g.Stop.Cause != safety.MinimumScope || g.Permit {
		t.Errorf("at the mark 30 m: permit %v, stop %+v; want the planned end at scope 4.0", g.Permit, g.Stop)
	}
	h.at += 50e6
	h.count(0) // and now the box begins anew
	if s := h.d.Snapshot(); s.Haul.RodeOut != 30 || !s.Guard.Alarms[safety.LineReset].Standing() {
		t.Errorf("the box began anew: rode out %v; want 30 m still, and told", s.Haul.RodeOut)
	}
	h.end()
}

// TestMarksThatSayLittle: what lies closer than two metres, or goes the other
// way, changes no scale; saying the rode out begins anew.
func TestMarksThatSayLittle(t *testing.T) {
	h := byHand(t)
	h.run(time.Second)
	h.must(safety.Director, ActPayout, "60 m")
	h.must(safety.Logger, ActPass, "59 m")
	h.haul(1000, 100)
	h.must(safety.Logger, ActPass, "58 m")
	scale := func() float64 { return h.d.core.haul.marks.scale }
	if got := scale(); got != 1 || h.d.State().Alarms[safety.LineContradicts].Standing() {
		t.Errorf("marks a metre apart: scale %v", got)
	}
	h.haul(2000, 100)
	h.must(safety.Logger, ActPass, "57.2 m") // 1.8 m from the mark 59 m, 2 m by the count
	h.haul(2200, 100)
	h.must(safety.Logger, ActPass, "57 m") // 2 m for a count of 2.2 m
	if got := scale(); math.Abs(got-2/2.2) > 1e-9 || !h.said("10.0 % over the marks") {
		t.Errorf("2 m for 2.2 m counted: scale %v, want %v; said %v", got, 2/2.2, h.d.Said())
	}
	h.must(safety.Logger, ActPass, "40 m") // 17 m with no count at all
	if got := scale(); math.Abs(got-2/2.2) > 1e-9 {
		t.Errorf("a mark with no count between: scale %v, want it as it was", got)
	}
	h.haul(2300, 100)
	h.must(safety.Logger, ActPass, "30 m") // 10 m for 0.1 m
	if got := scale(); got != scaleMost {
		t.Errorf("10 m for 0.1 m counted: scale %v, want the most, %v", got, scaleMost)
	}
	h.must(safety.Director, ActPayout, "30 m")
	h.haul(3300, 100)
	if s := h.d.Snapshot(); math.Abs(float64(s.Haul.X)-1) > 1e-9 || s.Guard.Alarms[safety.LineContradicts].Standing() || !math.IsNaN(float64(s.Haul.MarkDoubt)) {
		t.Errorf("said anew: hauled %v, doubt %v; want 1 m by the count and no doubt", s.Haul.X, s.Haul.MarkDoubt)
	}
	h.end()
}

// TestWhoSaysRodeOut: rode out is the zero of line hauled, so only two seats say
// it, never more than there is, and never while the winch may haul.
func TestWhoSaysRodeOut(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	for _, what := range []string{ActDepth, ActPayout} {
		h.refused(safety.WinchOperator, what, "40 m", what+" not taken: not this seat's to say; ask the director")
		h.refused(safety.Program, what, "40 m", "not this seat's")
		h.refused(safety.Watcher, what, "40 m", "read-only")
		h.must(safety.Logger, what, "6 m")
	}
	h.refused(safety.Director, ActPayout, "80.5 m", "payout not taken: 80.50 m is more than the whole rode, which is 80.00 m long")
	h.must(safety.Director, ActPayout, "80 m")
	h.pulling()
	h.haul(1000, 40)
	h.refused(safety.Logger, ActPayout, "60 m", "payout not taken: hauling is permitted; say another stage first, or call the rode mark (pass)")
	if s := h.d.Snapshot(); math.Abs(float64(s.Haul.X)-1) > 1e-9 {
		t.Errorf("a refused payout: hauled %v, want 1 m as before", s.Haul.X)
	}
	h.must(safety.Director, ActDepth, "6.2 m")
	h.must(safety.WinchOperator, ActPass, "59 m")
	h.must(safety.Director, ActStage, "hold")
	h.must(safety.Director, ActPayout, "59 m")
	if s := h.d.Snapshot(); s.Haul.X != 0 || s.Haul.RodeOut != 59 {
		t.Errorf("said in hold: hauled %v, rode out %v; want 0 and 59 m", s.Haul.X, s.Haul.RodeOut)
	}
	h.end()
}

func TestClockThatSteps(t *testing.T) {
	start := time.Date(2026, 4, 12, 9, 2, 11, 0, time.FixedZone("", 7200))
	type at struct{ own, wall time.Duration }
	tests := []struct {
		name  string
		scale float64
		clock []at
		told  bool
	}{
		{"runs", 1, []at{{0, 0}, {1e9, 1e9}, {2e9, 2e9}}, false},
		{"drifts a little", 1, []at{{0, 0}, {1e9, 1900e6}, {2e9, 2800e6}, {3e9, 2900e6}}, false},
		{"an hour back", 1, []at{{0, 0}, {1e9, -time.Hour}}, true},
		{"two seconds on", 1, []at{{0, 0}, {1e9, 3100e6}}, true},
		{"centuries", 1, []at{{0, 0}, {1e9, math.MinInt64}}, true},
		{"stands still while time passes", 1, []at{{0, 0}, {3e9, 1e9}}, true},
		{"six times as fast, by design", 6, []at{{0, 0}, {6e9, 1e9}, {12e9, 2e9}}, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			head := testHead(t)
			head.Scale = tt.scale
			d, err := NewDry(head)
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range tt.clock {
				d.Clock(int64(c.own), start.Add(c.wall))
			}
			if got := d.State().Alarms[safety.ClockStepped].Standing(); got != tt.told {
				t.Errorf("clock stepped: told %v, want %v", got, tt.told)
			}
			clock := func() bool {
				for _, l := range d.Snapshot().Checklist {
					if l.Check == safety.CheckClock {
						return l.Good()
					}
				}
				return false
			}
			if clock() == tt.told {
				t.Errorf("the check of the clock stands at %v", clock())
			}
			if last := tt.clock[len(tt.clock)-1]; tt.told {
				d.Clock(int64(last.own+1e9), start.Add(last.wall).Add(time.Second))
				if d.State().Alarms[safety.ClockStepped].Standing() || clock() {
					t.Error("a clock that runs again: want the alarm gone, and the check failed still")
				}
			}
			d.input(20e9, logfmt.Clock, []logfmt.Field{{Key: "wall", Val: "yesterday"}})
		})
	}
}

func TestComputerWithoutAClock(t *testing.T) {
	head := testHead(t)
	head.Started = time.Date(1970, 1, 1, 0, 0, 5, 0, time.UTC)
	d, err := NewDry(head)
	if err != nil {
		t.Fatal(err)
	}
	d.Port(1e6, SrcLoad, acquire.StateOpen, "")
	for _, l := range d.Snapshot().Checklist {
		if l.Check == safety.CheckClock && l.Good() {
			t.Error("a computer that starts in 1970 passes for one with a clock")
		}
	}
}
