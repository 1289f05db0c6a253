package trial

import (
	"encoding/binary"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// anyShape draws a pull: rises, levels, falls and teeth, in kN.
func anyShape(t *rapid.T) shape {
	s := shape{{0, 80}, {1, 80}}
	for range rapid.IntRange(1, 8).Draw(t, "parts") {
		last := s[len(s)-1]
		x := last.x + rapid.SampledFrom([]float64{0.016, 0.2, 0.6, 1, 2, 4, 8}).Draw(t, "dx")
		v := rapid.SampledFrom([]float64{50, 120, 250, 300, 420, 600, 1800, 3000, 3100, 8000}).Draw(t, "to")
		if rapid.IntRange(0, 5).Draw(t, "teeth") == 0 {
			s = append(s, sawtooth(last.x+0.01, x+2, max(v/2, 100), max(v, 200), 0.5)...)
			continue
		}
		s = append(s, knot{x, v})
	}
	return s
}

func anyPull(t *rapid.T) []Point {
	how := sampling{
		rate:  rapid.SampledFrom([]float64{2, 4, 10, 20}).Draw(t, "rate"),
		speed: rapid.SampledFrom([]float64{1, 2.4, 5}).Draw(t, "speed"),
		noise: rapid.Bool().Draw(t, "noise"), seed: rapid.Uint64Range(0, 9).Draw(t, "seed"),
	}
	points := how.points(anyShape(t))
	if rapid.Bool().Draw(t, "swell") {
		points = swelling(points, 400)
	}
	if rapid.Bool().Draw(t, "figures") {
		points = told(points, 3)
	}
	return points
}

// outcome is all a detector says.
type outcome struct {
	now    phases
	events []PhaseEvent
	segs   []Segment
}

func outcomeOf(l Levels, points []Point) (o outcome) {
	d := NewPhaseDetector(l, DefaultPhaseRules())
	o.now = phasesOf(d, points)
	o.events, o.segs = d.Events(nil), d.Segments()
	return o
}

func (o outcome) phases() (out []Phase) {
	for _, n := range o.now {
		out = append(out, n.phase)
	}
	return out
}

func (o outcome) same(p outcome) bool {
	return slices.Equal(o.now, p.now) && slices.Equal(o.events, p.events) && slices.Equal(o.segs, p.segs)
}

// Whatever the pull, what is said of it is in order.
func TestPhasesAreInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points := anyPull(t)
		o := outcomeOf(scenarioLevels, points)
		if !o.same(outcomeOf(scenarioLevels, points)) {
			t.Fatal("the same points give another outcome")
		}
		checkLegal(t.Fatalf, o)
	})
}

func checkLegal(fail func(string, ...any), o outcome) {
	breakouts, broken, at := 0, false, int64(-1)
	for _, e := range o.events {
		if e.SaidT < e.T {
			fail("%+v is said before it happened", e)
		}
		switch e.Kind {
		case EventBreakout:
			breakouts, broken, at = breakouts+1, true, e.T
			if rode := min(scenarioLevels.BareRode, e.From); e.To-rode >= (e.From-rode)/2+1 {
				fail("%+v is no fall by half of what is above the rode's own", e)
			}
		case EventReset:
			if !broken {
				fail("re-set without a breakout: %+v", o.events)
			}
			broken = false
		case EventFall:
			broken = broken && e.T != at // taken back
		}
	}
	for _, n := range o.now {
		if (n.phase == Breakout || n.phase == Resetting || n.phase == Reset) && breakouts == 0 {
			fail("%v without a breakout: %v", n.phase, o.now)
		}
	}
	// A breakout may be told and over within one point, so that nobody saw its phase.
	first := math.Inf(1)
	for _, e := range o.events {
		if e.Kind == EventBreakout {
			first = min(first, float64(e.SaidX))
		}
	}
	for _, n := range o.now {
		if n.x < first-1e-9 && (n.phase == Resetting || n.phase == Reset) {
			fail("%v before any breakout: %v", n.phase, o.now)
		}
	}
	if len(o.segs) > segmentsMost {
		fail("%d segments", len(o.segs))
	}
	for i, s := range o.segs {
		if s.T1 < s.T0 || i > 0 && s.T0 != o.segs[i-1].T1 {
			fail("segment %d of %+v does not follow", i, o.segs)
		}
	}
}

// All forces and levels by a factor leave the phases as they are: exactly for a
// power of two.
func TestPhasesOfScaledForces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points, by := anyPull(t), rapid.SampledFrom([]float64{1.0 / 64, 0.5, 4, 1024}).Draw(t, "factor")
		scaled := slices.Clone(points)
		for i := range scaled {
			scaled[i].Tension *= Force(by)
			scaled[i].Stiff *= by
		}
		l := scenarioLevels
		l.BareRode *= Force(by)
		l.DeadWeight *= Force(by)
		a, b := outcomeOf(scenarioLevels, points), outcomeOf(l, scaled)
		if !slices.Equal(a.now, b.now) {
			t.Fatalf("by %g: %v\nbefore: %v", by, b.now, a.now)
		}
	})
}

// A pull an hour later is the same pull an hour later.
func TestPhasesOfLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points, by := anyPull(t), rapid.Int64Range(0, 36e12).Draw(t, "later")
		later := slices.Clone(points)
		for i := range later {
			later[i].T += by
		}
		a, b := outcomeOf(scenarioLevels, points), outcomeOf(scenarioLevels, later)
		for i := range b.events {
			b.events[i].T -= by
			b.events[i].SaidT -= by
		}
		for i := range b.segs {
			b.segs[i].T0 -= by
			b.segs[i].T1 -= by
		}
		if !a.same(b) {
			t.Fatalf("%d ns later: %v %+v\nbefore: %v %+v", by, b.now, b.events, a.now, a.events)
		}
	})
}

// Ticks, which carry no tension, change nothing; nor do marks that do not speak of
// the vessel.
func TestPhasesWithTicks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points := anyPull(t)
		d, o := newPhases(), outcome{}
		for i, p := range points {
			phase, changed := d.Add(p)
			if changed {
				o.now = append(o.now, named{phase, float64(p.X)})
			}
			tick := p
			tick.Tension = Force(math.NaN())
			if i+1 < len(points) {
				tick.T += (points[i+1].T - p.T) / 2
			}
			if phase, changed := d.Add(tick); changed {
				t.Fatalf("a tick made it %v", phase)
			}
			d.Mark(p.T, false)
		}
		o.events, o.segs = d.Events(nil), d.Segments()
		if want := outcomeOf(scenarioLevels, points); !o.same(want) {
			t.Fatalf("with ticks: %v\nwithout: %v", o.now, want.now)
		}
	})
}

// Each sample given twice leaves the phases as they are, and where they are.
func TestPhasesOfSplitSamples(t *testing.T) {
	for _, s := range scenarios {
		for _, how := range []sampling{{10, 2.4, false, 0}, {20, 5, false, 0}} {
			points := told(how.points(s.shape), 3)
			var split []Point
			for _, p := range points {
				split = append(split, p, p)
			}
			a, b := outcomeOf(scenarioLevels, points), outcomeOf(scenarioLevels, split)
			same := slices.Equal(a.phases(), b.phases())
			for i := 0; same && i < len(a.now); i++ {
				same = math.Abs(a.now[i].x-b.now[i].x) < 0.15
			}
			if !same {
				t.Errorf("%s, %v: once %v\ntwice %v", s.name, how, a.now, b.now)
			}
		}
	}
}

// Whatever comes in, the detector neither panics nor grows, gives the same phases
// twice, and names none without line hauled in a stage that has them.
func TestPhaseOfAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := newPhases(), newPhases()
		at, x := int64(0), 0.0
		var events []PhaseEvent
		for range rapid.IntRange(1, 300).Draw(t, "points") {
			at += rapid.SampledFrom([]int64{0, 1, 1e8, 1e9, 7e9, 1e15, -1e9}).Draw(t, "dt")
			x += rapid.SampledFrom([]float64{0, 0.001, 0.04, 0.2, -0.01, -0.3, 50, 1e300}).Draw(t, "dx")
			p := Point{T: at, X: Length(x), Stage: Stage(rapid.ByteRange(0, 12).Draw(t, "stage")), Tension: Force(rapid.Float64().Draw(t, "tension")),
				RodeOut: Length(rapid.Float64().Draw(t, "out")), Height: 7.5, Stiff: rapid.Float64().Draw(t, "stiff"), Dead: Force(rapid.Float64().Draw(t, "dead"))}
			if rapid.IntRange(0, 9).Draw(t, "odd") == 0 {
				p.X, p.Stiff, p.RodeOut, p.Travel = Length(math.NaN()), math.NaN(), Length(math.Inf(1)), Length(math.NaN())
			}
			if rapid.Bool().Draw(t, "steady") {
				p.Stage = Pull
			}
			got, changed := a.Add(p)
			again, _ := b.Add(p)
			if got != again || got != a.Phase() || got >= NumPhases {
				t.Fatalf("%+v: got %v (%v), a second detector %v", p, got, changed, again)
			}
			if got != Unclear && (!inPhases(p.Stage) || math.IsNaN(float64(p.X))) {
				t.Fatalf("%+v: got %v, want unclear", p, got)
			}
			a.Mark(at+rapid.SampledFrom([]int64{0, 5e9, -20e9}).Draw(t, "mark"), rapid.Bool().Draw(t, "vessel"))
			b.Mark(a.marks[max(a.nmarks-1, 0)%len(a.marks)], a.nmarks > b.nmarks)
			events = a.Events(events)
		}
		for _, e := range events {
			if !finite(float64(e.From)) || !finite(float64(e.To)) {
				t.Fatalf("%+v is no number", e)
			}
		}
	})
}

// Ten hours of swings, breakouts and stages stay within the same memory.
func TestPhaseMemoryIsBounded(t *testing.T) {
	h, d := &deckhand{stage: Pull}, newPhases()
	h.move(3, 2.4, 80, 3000)
	for range 400 { // 400 m and more
		h.move(4, 5, 3000, 3000)
		h.move(0.016, 2.4, 3000, 500)
		h.move(3, 5, 500, 3000)
	}
	h.feed(d)
	segs := d.Segments()
	if len(segs) > segmentsMost || len(segs) < segmentsMost/2 || !slices.ContainsFunc(segs, func(s Segment) bool { return s.Merged }) {
		t.Errorf("%d segments of some 1600, want at most %d, some of them merged", len(segs), segmentsMost)
	}
	checkLegal(func(f string, a ...any) { t.Errorf(f, a...) }, outcome{segs: segs})
	if events := d.Events(nil); len(events) != eventsMost {
		t.Errorf("%d events wait, want the latest %d", len(events), eventsMost)
	}
}

func TestPhaseAllocatesNothing(t *testing.T) {
	d := newPhases()
	points := told(sampling{10, 5, true, 1}.points(breakouts), 3)
	events := make([]PhaseEvent, 0, eventsMost)
	n := testing.AllocsPerRun(5, func() {
		for _, p := range points {
			d.Add(p)
			d.Mark(p.T, p.T%7 == 0)
		}
		events = d.Events(events[:0])
	})
	if n != 0 {
		t.Errorf("%d points: %v allocations, want 0", len(points), n)
	}
}

// FuzzPhaseAdd gives raw bytes as points.
func FuzzPhaseAdd(f *testing.F) {
	f.Add([]byte("0123456789abcdef0123456789abcdef"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		d, at, x := newPhases(), int64(0), 0.0
		for len(raw) >= 8 {
			w := binary.LittleEndian.Uint64(raw)
			raw = raw[8:]
			at += int64(w % 5e8)
			x += float64(int8(w>>8)) / 2000
			p := Point{T: at, X: Length(x), Tension: Force(int16(w >> 16)), Stage: Stage(w >> 60), RodeOut: Length(w>>32&63) / 2, Height: 7.5,
				Stiff: float64(w >> 48 & 0xfff), Travel: Length(x)}
			if w>>40&31 == 0 {
				p.Tension = Force(math.Float64frombits(w))
			}
			if phase, _ := d.Add(p); phase >= NumPhases {
				t.Fatalf("%+v: %v", p, phase)
			}
			d.Mark(at-int64(w>>20&0xff)*1e8, w>>33&1 == 1)
		}
		var o outcome
		o.events, o.segs = d.Events(nil), d.Segments()
		for i, s := range o.segs {
			if s.T1 < s.T0 || i > 0 && s.T0 != o.segs[i-1].T1 {
				t.Fatalf("segment %d of %+v does not follow", i, o.segs)
			}
		}
	})
}

func BenchmarkPhaseAdd(b *testing.B) {
	for _, how := range []sampling{{2, 5, true, 1}, {10, 2.4, true, 1}, {100, 2.4, true, 1}} {
		b.Run(how.String(), func(b *testing.B) {
			d := newPhases()
			points := told(how.points(textbook), 3)
			span := points[len(points)-1]
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				p := points[i%len(points)]
				p.T += int64(i/len(points)) * (span.T + 1e8)
				p.X += Length(i/len(points)) * span.X
				d.Add(p)
			}
		})
	}
}
