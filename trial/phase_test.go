package trial

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestPhaseNames(t *testing.T) {
	want := []string{"unclear", "slack", "loading", "plateau", "falling", "at the bare-rode level", "phase(6)"}
	for i, w := range want {
		if got := Phase(i).String(); got != w {
			t.Errorf("Phase(%d) = %q, want %q", i, got, w)
		}
	}
	for p := range NumPhases {
		for s := range NumStages {
			if p.String() == s.String() {
				t.Errorf("%q is both a phase and a stage", p)
			}
		}
	}
}

// deckhand makes points by hand: hauling, standing, paying out.
type deckhand struct {
	t      int64
	x      float64
	stage  Stage
	points []Point
}

func (h *deckhand) move(metres, metresPerMin, tension float64) {
	steps := int(math.Abs(metres) / metresPerMin * 60 * 10)
	for range steps {
		h.t += 100e6
		h.x += metres / float64(steps)
		h.put(tension)
	}
}

func (h *deckhand) stand(seconds, tension float64) {
	for range int(seconds * 10) {
		h.t += 100e6
		h.put(tension)
	}
}

func (h *deckhand) put(tension float64) {
	h.points = append(h.points, Point{T: h.t, Tension: Force(tension), X: Length(h.x), Stage: h.stage})
}

func TestPhaseBreaks(t *testing.T) {
	tests := []struct {
		name string
		do   func(h *deckhand) // after 5 m of plateau at 3 kN
		want []Phase           // after the plateau was named
	}{
		{"winch stands for 3 s", func(h *deckhand) { h.stand(3, 2800); h.move(2, 2.4, 3000) }, nil},
		{"winch stands for 10 s, relaxing", func(h *deckhand) { h.stand(10, 1000); h.move(2, 2.4, 3000) }, []Phase{Unclear}},
		{"winch stands, then 3.5 m more", func(h *deckhand) { h.stand(10, 1000); h.move(3.5, 2.4, 3000) }, []Phase{Unclear, Plateau}},
		{"one metre paid out", func(h *deckhand) { h.move(-1, 2.4, 3000) }, []Phase{Unclear}},
		{"counter jitters by 5 mm", func(h *deckhand) {
			for range 100 {
				h.move(0.06, 2.4, 3000)
				h.x -= 0.005
				h.put(3000)
			}
		}, nil},
		{"counter leaps by 9 m", func(h *deckhand) { h.x += 9; h.move(1, 2.4, 3000) }, []Phase{Unclear}},
		{"line unknown", func(h *deckhand) { h.x = math.NaN(); h.stand(0.1, 3000) }, []Phase{Unclear}},
		{"line infinite", func(h *deckhand) { h.x = math.Inf(1); h.stand(0.1, 3000) }, []Phase{Unclear}},
		{"one bad tension", func(h *deckhand) { h.stand(0.1, math.NaN()); h.move(1, 2.4, 3000) }, nil},
		{"tension bad for 6 s", func(h *deckhand) { h.stand(6, math.Inf(1)) }, []Phase{Unclear}},
		{"nothing heard for 6 s", func(h *deckhand) { h.t += 6e9; h.stand(0.1, 3000) }, []Phase{Unclear}},
		{"stage hold with the winch running", func(h *deckhand) { h.stage = Hold; h.move(1, 2.4, 3000) }, nil},
		{"stage hold with the winch standing", func(h *deckhand) { h.stage = Hold; h.stand(60, 2900) }, []Phase{Unclear}},
		{"stage stopped", func(h *deckhand) { h.stage = Stopped; h.stand(0.1, 3000) }, []Phase{Unclear}},
		{"stage soak", func(h *deckhand) { h.stage = Soak; h.stand(0.1, 3000) }, []Phase{Unclear}},
		{"no plateau in recovery", func(h *deckhand) { h.stage = Recover; h.move(8, 2.4, 3000) }, []Phase{Unclear}},
		{"no bare-rode level in recovery", func(h *deckhand) { h.stage = Recover; h.move(8, 2.4, 250) }, []Phase{Unclear}},
		{"halves at once", func(h *deckhand) { h.move(0.11, 2.4, 1000) }, []Phase{Falling}},
		{"one sample of zero", func(h *deckhand) { h.stand(0.1, 0); h.move(1, 2.4, 3000) }, nil},
		{"falls to slack", func(h *deckhand) { h.move(3, 2.4, 50) }, []Phase{Falling, Slack}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h := &deckhand{stage: Pull}
			h.move(5, 2.4, 3000)
			d := NewPhaseDetector(scenarioLevels)
			phasesOf(d, h.points)
			if d.Phase() != Plateau {
				t.Fatalf("after 5 m at 3 kN: %v, want plateau", d.Phase())
			}
			h.points = nil
			tt.do(h)
			var got []Phase
			for _, n := range phasesOf(d, h.points) {
				got = append(got, n.phase)
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

func TestSlackWithTheWinchStanding(t *testing.T) {
	h := &deckhand{stage: Pull}
	h.move(1, 2.4, 50)
	h.stand(60, 50)
	d := NewPhaseDetector(scenarioLevels)
	phasesOf(d, h.points)
	if d.Phase() != Slack {
		t.Errorf("a minute at 50 N after hauling slack: %v, want slack", d.Phase())
	}
	h.points = nil
	h.stand(0.1, 2000)
	phasesOf(d, h.points)
	if d.Phase() != Unclear {
		t.Errorf("2 kN with the winch standing: %v, want unclear", d.Phase())
	}
}

func TestPhaseWithoutLevels(t *testing.T) {
	nan := Force(math.NaN())
	tests := []struct {
		name   string
		levels Levels
		never  []Phase
	}{
		{"none", Levels{}, []Phase{Slack, Plateau, AtBareRode}},
		{"said but not known", Levels{BareRode: 120, DeadWeight: 250}, []Phase{Slack, Plateau, AtBareRode}},
		{"not numbers", Levels{BareRode: nan, DeadWeight: nan, Known: true}, []Phase{Slack, Plateau, AtBareRode}},
		{"below zero", Levels{BareRode: -120, DeadWeight: -250, Known: true}, []Phase{Slack, Plateau, AtBareRode}},
		{"bare rode only", Levels{BareRode: 120, Known: true}, []Phase{Plateau, AtBareRode}},
		{"dead weight only", Levels{DeadWeight: 250, Known: true}, []Phase{Slack, AtBareRode}},
		{"both", scenarioLevels, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := phasesOf(NewPhaseDetector(tt.levels), sampling{10, 2.4, true, 1}.points(breakouts))
			for p := Slack; p < NumPhases; p++ {
				if want := !slices.Contains(tt.never, p); got.has(p) != want {
					t.Errorf("%v named: %v, want %v; all: %v", p, !want, want, got)
				}
			}
		})
	}
	t.Run("no fall out of noise", func(t *testing.T) {
		got := phasesOf(NewPhaseDetector(Levels{}), sampling{10, 2.4, true, 1}.points(shape{{0, 0}, {20, 0}}))
		if len(got) != 0 {
			t.Errorf("noise about zero, no levels: got %v, want unclear throughout", got)
		}
	})
}

func TestPhaseSeries(t *testing.T) {
	h := &deckhand{stage: Preset}
	h.move(1.5, 1, 50)
	h.move(5, 2.4, 9000)
	h.stage = Soak
	h.stand(60, 100)
	h.stage = Pull
	from := len(h.points)
	for i := range 30 {
		h.move(0.1, 2.4, 300+float64(i)*20) // 0.2 kN/m, 2 % of the preset's 9 kN
	}
	d := NewPhaseDetector(scenarioLevels)
	phasesOf(d, h.points[:from])
	got := phasesOf(d, h.points[from:])
	if len(got) != 1 || got[0].phase != Loading {
		t.Errorf("pull after a preset to 9 kN: got %v; want loading alone, judged by the pull's own peak", got)
	}
	fresh := phasesOf(NewPhaseDetector(scenarioLevels), h.points[from:])
	if !slices.Equal(got, fresh) {
		t.Errorf("after a preset %v, with a new detector %v; want the same", got, fresh)
	}
}

// Whatever comes in, the detector neither panics nor grows, gives the same phases
// twice, and names none without line hauled in a hauling stage.
func TestPhaseOfAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := NewPhaseDetector(scenarioLevels), NewPhaseDetector(scenarioLevels)
		at, x := int64(0), 0.0
		for range rapid.IntRange(1, 300).Draw(t, "points") {
			at += rapid.SampledFrom([]int64{0, 1, 1e8, 1e9, 7e9, 1e18}).Draw(t, "dt")
			x += rapid.SampledFrom([]float64{0, 0.001, 0.04, 0.2, -0.01, -0.3, 50, 1e300}).Draw(t, "dx")
			p := Point{T: at, X: Length(x), Stage: Stage(rapid.ByteRange(0, 12).Draw(t, "stage")), Tension: Force(rapid.Float64().Draw(t, "tension"))}
			if rapid.IntRange(0, 9).Draw(t, "odd") == 0 {
				p.X = Length(math.NaN())
			}
			if rapid.Bool().Draw(t, "steady") {
				p.Stage = Pull
			}
			got, changed := a.Add(p)
			again, _ := b.Add(p)
			if got != again || got != a.Phase() || got >= NumPhases {
				t.Fatalf("%+v: got %v (%v), a second detector %v", p, got, changed, again)
			}
			if got != Unclear && (!inSeries(p.Stage) || math.IsNaN(float64(p.X))) {
				t.Fatalf("%+v: got %v, want unclear", p, got)
			}
		}
	})
}

func TestPhaseAllocatesNothing(t *testing.T) {
	d := NewPhaseDetector(scenarioLevels)
	points := sampling{10, 5, true, 1}.points(breakouts)
	if n := testing.AllocsPerRun(1, func() { phasesOf(d, points[:0]) }); n != 0 {
		t.Fatalf("the test itself allocates %v", n)
	}
	n := testing.AllocsPerRun(5, func() {
		for _, p := range points {
			d.Add(p)
		}
	})
	if n != 0 {
		t.Errorf("%d points: %v allocations, want 0", len(points), n)
	}
}

func BenchmarkPhaseAdd(b *testing.B) {
	d := NewPhaseDetector(scenarioLevels)
	points := sampling{100, 2.4, true, 1}.points(textbook)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		d.Add(points[i%len(points)])
	}
}
