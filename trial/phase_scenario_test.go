package trial

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

// expected is a phase and the stretch, in metres hauled, in which it is named.
type expected struct {
	phase    Phase
	from, to float64
}

func (e expected) String() string { return fmt.Sprintf("%v at %g-%g", e.phase, e.from, e.to) }

// The scenarios are those of our invented campaign, at Alder Flat, Heron Bar and
// Cobble Neck. Phases are named later than they begin, by up to their rule's
// length and the settling: the stretches say by how much.
var (
	textbook = allOf(shape{{0, 80}, {2, 80}, {3, 160}}, curved(knot{4, 400}, knot{18, 3100}),
		wavy(18.1, 24, 2900, 150, 0.7), shape{{30, 2300}})
	tooGood   = shape{{0, 80}, {2, 80}, {6, 8000}}
	neverSets = allOf(shape{{0, 80}, {2, 80}, {3.5, 275}}, wavy(3.6, 14, 275, 75, 0.4))
	breakouts = shape{{0, 80}, {1.5, 80}, {3, 400}, {11, 3800}, {11.016, 600},
		{16, 3000}, {21, 3000}, {21.016, 500}, {22, 300}, {28, 300}}
	sawn    = allOf(shape{{0, 80}, {1, 80}}, sawtooth(3, 20, 1800, 3000, 0.5))
	snagged = shape{{0, 80}, {2, 80}, {3, 400}, {6, 1400}, {16, 2000}, {16.66, 8000}}
	surged  = shape{{0, 80}, {2, 80}, {6, 2800}, {9, 3000}, {12, 3000}, {12.24, 800}, {12.84, 2900}, {13, 3000}, {18, 3000}}
	slowOut = shape{{0, 80}, {2, 80}, {8, 2200}, {9, 400}, {9.8, 2100}, {16, 2100}}
	weak    = shape{{0, 80}, {1, 80}, {3, 500}, {3.5, 1300}, {4, 420}, {14, 420}, {15, 250}, {22, 250}}
)

var scenarios = []struct {
	name   string
	shape  shape
	want   []expected // exactly these changes, in this order: anything more is flicker
	events []string
	then   []Phase // the segments afterwards
	swell  []Phase // must be among the phases now with a swell on it
}{
	{"1, textbook", textbook, []expected{
		{Slack, 0.5, 0.9},     // 0.5 m of it
		{TakeUp, 2.2, 2.8},    // rises from 2
		{Embedding, 4.2, 4.8}, // above 1.5 D at 4, the rise over 2 m
		{Unclear, 18, 19},     // the rise is over, no level stretch yet
		{Plateau, 18.6, 21.2}, // 3 m
		{Decline, 25.5, 27.2}, // sinks from 24 by 0.1 kN/m
	}, nil, []Phase{Slack, TakeUp, Embedding, Plateau, Decline}, []Phase{Embedding, Plateau, Decline}},
	{"2, too good", tooGood, []expected{
		{Slack, 0.5, 0.9},
		{Embedding, 2.1, 2.7},
	}, nil, []Phase{Slack, Embedding}, []Phase{Embedding}},
	{"3, never sets", neverSets, []expected{
		{Slack, 0.5, 0.9},
		{TakeUp, 2.1, 2.6},
		{Unclear, 3.6, 4.3},
		{NotSet, 5, 6.2}, // 3 m; at 0.75 B at 2.1
	}, []string{"not set undecided"}, []Phase{Slack, TakeUp, NotSet}, []Phase{NotSet}},
	{"4, breakout, re-set, dragging", breakouts, []expected{
		{Slack, 0.5, 0.9},
		{TakeUp, 1.7, 2.1},
		{Embedding, 2.9, 3.7},
		{Breakout, 11.02, 11.2}, // a second
		{Resetting, 11.5, 12},
		{Reset, 15, 15.5}, // 0.7 of 3.8 kN at 15.3
		{Plateau, 18.3, 19.3},
		{Breakout, 21.02, 21.4},
		{Unclear, 22.5, 23}, // 1.5 m after it fell
		{Dragging, 24, 25.2},
	}, []string{"breakout", "re-set undecided", "breakout"},
		[]Phase{Slack, TakeUp, Embedding, Breakout, Resetting, Reset, Plateau, Breakout, Dragging}, []Phase{Breakout, Reset, Plateau, Dragging}},
	{"5, saw-tooth", sawn, []expected{
		{Slack, 0.5, 0.9},
		{TakeUp, 1.1, 1.6},
		{Unclear, 1.6, 2.1},
		{Embedding, 2, 2.4},
		{Unclear, 3.8, 4.8},
		{SawTooth, 5, 5.4}, // three waves
	}, []string{"saw-tooth undecided"}, []Phase{Slack, TakeUp, Embedding, SawTooth}, nil},
	{"9, snag", snagged, []expected{
		{Slack, 0.5, 0.9},
		{TakeUp, 2.2, 2.6},
		{Embedding, 3.2, 3.8},
		{Snagged, 16.1, 16.35}, // 0.2 m
	}, nil, []Phase{Slack, TakeUp, Embedding, Snagged}, []Phase{Snagged}},
	{"17, vessel or anchor", surged, []expected{
		{Slack, 0.5, 0.9},
		{TakeUp, 2.1, 2.5},
		{Embedding, 2.6, 3.2},
		{Unclear, 7.5, 10},
		{Plateau, 9, 10.4},
		{Unclear, 12.16, 12.5}, // by half
		{Plateau, 12.7, 13},    // back: it goes on
	}, []string{"fall undecided"}, []Phase{Slack, TakeUp, Embedding, Plateau, Unclear, Plateau}, []Phase{Embedding, Plateau}},
	{"18, slow breakout and quick re-set", slowOut, []expected{
		{Slack, 0.5, 0.9},
		{TakeUp, 2.1, 2.6},
		{Embedding, 2.8, 3.6},
		{Unclear, 8.3, 8.7},
		{Breakout, 9.2, 9.75}, // not back within 0.6 m
		{Reset, 9.5, 9.8},     // 0.7 of 2.2 kN at 9.54
		{Plateau, 12.3, 13.2},
	}, []string{"breakout undecided", "re-set undecided"}, []Phase{Slack, TakeUp, Embedding, Breakout, Reset, Plateau}, []Phase{Breakout, Reset, Plateau}},
	{"19, weak engagement", weak, []expected{
		{Slack, 0.5, 0.9},
		{TakeUp, 1.1, 1.6},
		{Embedding, 2.5, 3.4},
		{Unclear, 3.9, 4.3},
		{WeakEngagement, 4.3, 4.8}, // a moment is not a set
		{Unclear, 14.5, 15.5},
		{Dragging, 16.5, 18},
	}, nil, []Phase{Slack, TakeUp, Embedding, WeakEngagement, Dragging}, []Phase{WeakEngagement, Dragging}},
	{"bare rode alone", shape{{0, 20}, {1, 20}, {1.6, 120}, {12, 120}}, []expected{
		{Slack, 0.5, 0.9},
		{TakeUp, 1.1, 1.5},
		{Slack, 1.7, 3.0}, // the rode's own level is below 1.5 B
		{NotSet, 4, 4.8},
	}, []string{"not set undecided"}, []Phase{Slack, NotSet}, []Phase{NotSet}},
}

// moreSeeds repeats what is cheap to repeat with other noise.
func moreSeeds(in []sampling) (out []sampling) {
	for _, how := range in {
		out = append(out, how)
		for seed := uint64(100); how.noise && how.rate < 100 && seed < 102; seed++ {
			how.seed = seed
			out = append(out, how)
		}
	}
	return out
}

func newPhases() *PhaseDetector { return NewPhaseDetector(scenarioLevels, DefaultPhaseRules()) }

func TestPhaseScenarios(t *testing.T) {
	for _, tt := range scenarios {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			for _, how := range moreSeeds(samplings) {
				d := newPhases()
				got := phasesOf(d, told(how.points(tt.shape), 3))
				if how.rate == 2 { // a noise of 6 % a sample flickers here and there
					checkOrder(t, how, got, tt.want)
				} else {
					checkNow(t, how, got, tt.want)
				}
				checkAfter(t, how, d, tt.events, tt.then)
			}
		})
	}
}

func checkNow(t *testing.T, how sampling, got phases, want []expected) {
	t.Helper()
	bad := len(got) != len(want)
	for i := 0; !bad && i < len(got); i++ {
		w := want[i]
		bad = got[i].phase != w.phase || got[i].x < w.from || got[i].x > w.to
	}
	if bad {
		t.Errorf("%v, seed %d:\ngot  %v\nwant %v", how, how.seed, got, want)
	}
}

// checkOrder wants each phase but unclear to be said in order, whatever else is.
func checkOrder(t *testing.T, how sampling, got phases, want []expected) {
	t.Helper()
	at := 0
	for _, w := range want {
		if w.phase == Unclear || w.phase == TakeUp {
			continue
		}
		for at < len(got) && got[at].phase != w.phase {
			at++
		}
	}
	if at == len(got) {
		t.Errorf("%v, seed %d:\ngot  %v\nwant in this order %v", how, how.seed, got, want)
	}
}

func checkAfter(t *testing.T, how sampling, d *PhaseDetector, events []string, then []Phase) {
	t.Helper()
	got := stamps(d.Events(nil))
	if how.rate == 2 { // it can miss a fall of 3 s, and see a saw-tooth begin twice
		got = slices.DeleteFunc(slices.Compact(got), func(s string) bool { return s == "fall undecided" })
		events = slices.DeleteFunc(slices.Clone(events), func(s string) bool { return s == "fall undecided" })
	}
	same := len(got) == len(events)
	for i := 0; same && i < len(got); i++ {
		same = got[i] == events[i] || events[i] == "breakout" && (got[i] == "breakout anchor" || got[i] == "breakout undecided")
	}
	if !same {
		t.Errorf("%v, seed %d: events %q, want %q", how, how.seed, got, events)
	}
	var segs []Phase
	for _, s := range d.Segments() {
		if s.X1-s.X0 >= 0.2 || s.Phase == Breakout {
			segs = append(segs, s.Phase)
		}
	}
	if how.rate > 2 && !slices.Equal(segs, then) {
		t.Errorf("%v, seed %d: segments %v, want %v", how, how.seed, segs, then)
	}
}

// Swell of 6 s and ±0.4 kN must make neither breakouts nor a saw-tooth, nor hide
// what a pull is about.
func TestPhaseOfSwell(t *testing.T) {
	for _, tt := range scenarios {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			for _, how := range samplings {
				d := newPhases()
				got := phasesOf(d, told(swelling(how.points(tt.shape), 400), 3))
				for _, p := range tt.swell {
					if !got.has(p) {
						t.Errorf("%v: got %v; want a %v too", how, got, p)
					}
				}
				var kinds, want []EventKind
				for _, e := range d.Events(nil) {
					kinds = append(kinds, e.Kind)
				}
				for _, e := range tt.events {
					switch {
					case len(e) > 7 && e[:8] == "breakout":
						want = append(want, EventBreakout)
					case e == "re-set undecided":
						want = append(want, EventReset)
					case e == "not set undecided":
						want = append(want, EventNotSet)
					}
				}
				kinds = slices.DeleteFunc(kinds, func(k EventKind) bool { return k == EventFall || k == EventSawTooth && tt.name[0] == '5' })
				if !slices.Equal(kinds, want) {
					t.Errorf("%v: events %v, want %v", how, kinds, want)
				}
			}
		})
	}
}

// The shape of a pull against line hauled does not depend on its speed, so the
// phases stand at the same X, but for what a second or two makes in metres.
func TestPhasesAtHalfSpeed(t *testing.T) {
	for _, tt := range scenarios {
		full := phasesOf(newPhases(), told(sampling{rate: 10, speed: 4}.points(tt.shape), 3))
		half := phasesOf(newPhases(), told(sampling{rate: 10, speed: 2}.points(tt.shape), 3))
		same := len(full) == len(half)
		for i := 0; same && i < len(full); i++ {
			same = full[i].phase == half[i].phase && math.Abs(full[i].x-half[i].x) <= 0.6+1e-9
		}
		if !same {
			t.Errorf("%s:\n4 m/min %v\n2 m/min %v\nwant the same within 0.6 m", tt.name, full, half)
		}
	}
}

// Where the rode's figures are not known, what needs them is unclear, and all else
// is as it was.
func TestPhasesOfBarePoints(t *testing.T) {
	for _, tt := range scenarios {
		with := phasesOf(newPhases(), told(sampling{rate: 10, speed: 2.4}.points(tt.shape), 3))
		bare := phasesOf(newPhases(), sampling{rate: 10, speed: 2.4}.points(tt.shape))
		for _, p := range []Phase{Decline, Snagged, NotMoving} {
			if bare.has(p) {
				t.Errorf("%s without the rode's figures: %v; want no %v", tt.name, bare, p)
			}
		}
		for _, n := range with {
			if n.phase != Decline && n.phase != Snagged && n.phase != NotMoving && !bare.has(n.phase) {
				t.Errorf("%s without the rode's figures: %v; want %v too", tt.name, bare, n.phase)
			}
		}
	}
}

// An anchor that only scratches along is not set by 5 m whatever the scratches
// are, and stays so; while the slack is coming in the phase may change a few
// times, not all the time.
func TestPhaseOfScratches(t *testing.T) {
	for seed := range uint64(60) {
		s := allOf(shape{{0, 80}, {1, 80}}, scratchy(seed, 1.5, 14, 200, 350))
		got := phasesOf(newPhases(), sampling{10, 2.4, true, seed}.points(s))
		last := got[len(got)-1]
		if last.phase != NotSet || last.x > 5 || len(got) > 8 || got.has(Plateau) || got.has(Breakout) || got.has(SawTooth) {
			t.Errorf("scratches %d: got %v; want not set by 5 m in at most 8 changes, no plateau, no breakout", seed, got)
		}
	}
}

// A box too slow for the speed leaves it unclear.
func TestPhaseOfASlowBox(t *testing.T) {
	d := newPhases()
	if got := phasesOf(d, told(sampling{rate: 0.5, speed: 5}.points(breakouts), 3)); len(got) > 2 || len(got) > 0 && got[0].phase != Slack {
		t.Errorf("0.5 Hz at 5 m/min: got %v, want unclear throughout but for the slack", got)
	}
	if e := d.Events(nil); len(e) > 0 {
		t.Errorf("0.5 Hz at 5 m/min: events %v, want none", e)
	}
}
