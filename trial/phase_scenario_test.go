package trial

import (
	"fmt"
	"math"
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
	textbook = join(shape{{0, 80}, {2, 80}}, curved(knot{4, 400}, knot{18, 3100}),
		wavy(18.1, 24, 2900, 150, 0.7), shape{{30, 2300}})
	tooGood   = shape{{0, 80}, {2, 80}, {6, 8000}}
	neverSets = join(shape{{0, 80}, {2, 80}, {3.5, 275}}, wavy(3.6, 14, 275, 75, 0.4))
	breakouts = shape{{0, 80}, {1.5, 80}, {3, 400}, {11, 3800}, {11.016, 600},
		{16, 3000}, {21, 3000}, {21.016, 500}, {22, 300}, {28, 300}}
)

var scenarios = []struct {
	name  string
	shape shape
	want  []expected // exactly these changes, in this order: anything more is flicker
}{
	{"scenario 1, textbook", textbook, []expected{
		{Slack, 0.5, 0.9},     // 0.5 m of it
		{Loading, 2.6, 3.5},   // over 1.5 B from 2.6
		{Unclear, 18, 19},     // the rise is over, no level stretch yet
		{Plateau, 18.7, 21.2}, // 3 m
		{Falling, 25.5, 27.2}, // sinks from 24 by 0.1 kN/m
	}},
	{"scenario 2, too good", tooGood, []expected{
		{Slack, 0.5, 0.9},
		{Loading, 2.1, 2.7},
	}},
	{"scenario 3, never sets", neverSets, []expected{
		{Slack, 0.5, 0.9},
		{Loading, 2.9, 3.7}, // take-up, over 1.5 B from 2.8
		{Unclear, 4.2, 4.8},
		{AtBareRode, 5.3, 6.5}, // 3 m; at B at 2.3
	}},
	{"scenario 4, breakout, re-set, dragging", breakouts, []expected{
		{Slack, 0.5, 0.9},
		{Loading, 2.2, 2.8},
		{Falling, 11.03, 11.2}, // two cells
		{Unclear, 11.8, 12.6},  // rising again, no 2 m yet
		{Loading, 13, 13.5},
		{Unclear, 16.7, 18},
		{Plateau, 18.3, 19.3},
		{Falling, 21.03, 21.2},
		{Unclear, 22.5, 23}, // 1.5 m after the fall
		{AtBareRode, 24.5, 25.8},
	}},
	{"scenario 5, saw-tooth is no breakout", join(shape{{0, 80}, {1, 80}}, sawtooth(3, 20, 1800, 3000, 0.5)), []expected{
		{Slack, 0.5, 0.9},
		{Unclear, 1.4, 1.8},
		{Loading, 2.1, 2.4},
		{Unclear, 3.8, 4.8}, // for good: neither level nor falling
	}},
	{"scenario 18, slow breakout and quick re-set", shape{{0, 80}, {2, 80}, {8, 2200}, {9, 400}, {9.8, 2100}, {16, 2100}}, []expected{
		{Slack, 0.5, 0.9},
		{Loading, 2.5, 3},
		{Unclear, 8.2, 8.6},
		{Falling, 8.6, 8.9}, // half of 2.2 kN at 8.61
		{Unclear, 9.1, 9.5},
		{Plateau, 12.3, 13.2}, // the rise of 0.8 m is shorter than any slope rule
	}},
	{"scenario 19, weak engagement is no plateau", shape{{0, 80}, {1, 80}, {3, 500}, {3.5, 1300}, {4, 420}, {14, 420}, {15, 250}, {22, 250}}, []expected{
		{Slack, 0.5, 0.9},
		{Loading, 2.1, 2.4},
		{Falling, 3.8, 4.2},
		{Unclear, 5.3, 6}, // between 1.5 D and 2 D: no name for it yet
		{Falling, 14.4, 14.9},
		{Unclear, 15.3, 15.7},
		{AtBareRode, 17, 17.5},
	}},
	{"bare rode alone", shape{{0, 20}, {1, 20}, {2, 120}, {12, 120}}, []expected{
		{Slack, 0.5, 0.9},
		{AtBareRode, 4, 5.2},
	}},
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

func TestPhaseScenarios(t *testing.T) {
	for _, tt := range scenarios {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			for _, how := range moreSeeds(samplings) {
				got := phasesOf(NewPhaseDetector(scenarioLevels), how.points(tt.shape))
				bad := len(got) != len(tt.want)
				for i := 0; !bad && i < len(got); i++ {
					w := tt.want[i]
					bad = got[i].phase != w.phase || got[i].x < w.from || got[i].x > w.to
				}
				if bad {
					t.Errorf("%v, seed %d:\ngot  %v\nwant %v", how, how.seed, got, tt.want)
				}
			}
		})
	}
}

// The shape of a pull against line hauled does not depend on its speed, so the
// phases stand at the same X.
func TestPhasesAtHalfSpeed(t *testing.T) {
	for _, tt := range scenarios {
		full := phasesOf(NewPhaseDetector(scenarioLevels), sampling{rate: 10, speed: 4}.points(tt.shape))
		half := phasesOf(NewPhaseDetector(scenarioLevels), sampling{rate: 10, speed: 2}.points(tt.shape))
		same := len(full) == len(half)
		for i := 0; same && i < len(full); i++ {
			same = full[i].phase == half[i].phase && math.Abs(full[i].x-half[i].x) <= 0.1+1e-9
		}
		if !same {
			t.Errorf("%s:\n4 m/min %v\n2 m/min %v\nwant the same within 0.1 m", tt.name, full, half)
		}
	}
}

// An anchor that only scratches along is at the bare-rode level by 4.5 m whatever
// the scratches are, and stays there; while the slack is coming in the phase may
// change a few times, not all the time.
func TestPhaseOfScratches(t *testing.T) {
	for seed := range uint64(60) {
		s := join(shape{{0, 80}, {1, 80}}, scratchy(seed, 1.5, 14, 200, 350))
		got := phasesOf(NewPhaseDetector(scenarioLevels), sampling{10, 2.4, true, seed}.points(s))
		last := got[len(got)-1]
		if last.phase != AtBareRode || last.x > 4.6 || len(got) > 8 || got.has(Plateau) || got.has(Falling) {
			t.Errorf("scratches %d: got %v; want at the bare-rode level by 4.6 m in at most 8 changes, no plateau, no fall", seed, got)
		}
	}
}

// Swell of 6 s and ±0.4 kN on the textbook pull must not be read as a breakout,
// nor hide the plateau. (At 2 Hz and 5 m/min a swell of half the tension is read
// as a fall: a cell then holds one sample.)
func TestPhaseOfSwell(t *testing.T) {
	for _, how := range samplings {
		if how.rate == 2 && how.speed == 5 || how.rate == 100 {
			continue
		}
		points := how.points(textbook)
		for i, p := range points {
			taut := min(1, float64(p.Tension)/1000)
			points[i].Tension += Force(400 * taut * math.Sin(2*math.Pi*float64(p.T)/6e9))
		}
		got := phasesOf(NewPhaseDetector(scenarioLevels), points)
		if !got.has(Plateau) || got.has(Falling) && got[len(got)-1].phase != Falling || len(got) > 7 {
			t.Errorf("%v: got %v; want a plateau, no fall before it, at most 7 changes", how, got)
		}
	}
}
