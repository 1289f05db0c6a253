package trial

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func TestPhaseNames(t *testing.T) {
	want := []string{"unclear", "slack", "take-up", "embedding", "plateau", "saw-tooth", "decline", "relaxing", "weak engagement",
		"breakout", "re-setting", "re-set", "dragging", "not set", "anchor not moving", "snag", "short stay", "up and down",
		"breaking out", "aweigh", "phase(20)"}
	for i, w := range want {
		if got := Phase(i).String(); got != w {
			t.Errorf("Phase(%d) = %q, want %q", i, got, w)
		}
	}
	if got := []string{Undecided.String(), AnchorMoved.String(), VesselMoved.String(), Cause(9).String()}; !slices.Equal(got, []string{"undecided", "anchor", "vessel", "cause(9)"}) {
		t.Errorf("causes are called %q", got)
	}
	if got := []string{EventAweigh.String(), EventKind(9).String()}; !slices.Equal(got, []string{"aweigh", "event(9)"}) {
		t.Errorf("events are called %q", got)
	}
}

// No phase is called as a stage or an order is, nor by one of their words. (The
// "out" of pay out and breaking out, and the "up" and "by" of the like, are not
// what anybody listens for.)
func TestPhasesShareNoWord(t *testing.T) {
	taken := map[string]string{"stop": "an order", "ease": "an order", "abandon": "an order"}
	for s := range NumStages {
		for _, w := range strings.Fields(s.String()) {
			taken[w] = "the stage " + s.String()
		}
	}
	delete(taken, "out")
	delete(taken, "by")
	for p := range NumPhases {
		for _, w := range strings.Fields(p.String()) {
			if by, is := taken[w]; is {
				t.Errorf("the phase %q has the word %q of %s", p, w, by)
			}
		}
	}
}

// deckhand makes points by hand: hauling, standing, paying out.
type deckhand struct {
	t      int64
	x      float64
	stage  Stage
	out    float64 // m of rode out at x = 0; 0: not known
	height float64
	stiff  float64
	points []Point
}

// move hauls at 10 Hz while the tension goes from one to another.
func (h *deckhand) move(metres, metresPerMin, from, to float64) {
	steps := int(math.Abs(metres) / metresPerMin * 60 * 10)
	for i := range steps {
		h.t += 100e6
		h.x += metres / float64(steps)
		h.put(from + (to-from)*float64(i+1)/float64(steps))
	}
}

func (h *deckhand) stand(seconds, from, to float64) {
	n := int(seconds * 10)
	for i := range n {
		h.t += 100e6
		h.put(from + (to-from)*float64(i+1)/float64(n))
	}
}

func (h *deckhand) put(tension float64) {
	p := Point{T: h.t, Tension: Force(tension), X: Length(h.x), Stage: h.stage, Travel: Length(math.NaN()), Stiff: h.stiff}
	if h.out > 0 {
		p.RodeOut, p.Height = Length(h.out-h.x), Length(h.height)
	}
	h.points = append(h.points, p)
}

// feed gives what has been made to the detector and returns the phases named.
func (h *deckhand) feed(d *PhaseDetector) (out []Phase) {
	for _, n := range phasesOf(d, h.points) {
		out = append(out, n.phase)
	}
	h.points = nil
	return out
}

// onPlateau is a pull of 5 m at 3 kN, with its detector.
func onPlateau(t *testing.T) (*deckhand, *PhaseDetector) {
	t.Helper()
	h, d := &deckhand{stage: Pull}, newPhases()
	h.move(5, 2.4, 3000, 3000)
	h.feed(d)
	if d.Phase() != Plateau {
		t.Fatalf("after 5 m at 3 kN: %v, want plateau", d.Phase())
	}
	return h, d
}

func TestPhaseBreaks(t *testing.T) {
	tests := []struct {
		name string
		do   func(h *deckhand) // after 5 m of plateau at 3 kN
		want []Phase           // after the plateau was named
	}{
		{"winch stands for 3 s", func(h *deckhand) { h.stand(3, 3000, 2800); h.move(2, 2.4, 3000, 3000) }, nil},
		{"winch stands for 20 s, relaxing", func(h *deckhand) { h.stand(20, 3000, 2600); h.move(2, 2.4, 3000, 3000) }, []Phase{Relaxing, Plateau}},
		{"winch stands for 60 s, by half", func(h *deckhand) { h.stand(60, 3000, 1200) }, []Phase{Relaxing}},
		{"winch stands, level", func(h *deckhand) { h.stand(60, 3000, 3000) }, nil},
		{"winch stands, the vessel goes astern", func(h *deckhand) { h.stand(10, 3000, 3000); h.stand(20, 3000, 5000) }, []Phase{Unclear}},
		{"and comes back", func(h *deckhand) {
			h.stand(10, 3000, 3000)
			h.stand(20, 3000, 5000)
			h.stand(20, 5000, 1500)
		}, []Phase{Unclear, Relaxing}},
		{"winch stands, slack", func(h *deckhand) { h.stand(60, 3000, 50) }, []Phase{Relaxing, Slack}},
		{"one metre paid out", func(h *deckhand) { h.move(-1, 2.4, 3000, 3000) }, []Phase{Unclear}},
		{"eased a little, by half", func(h *deckhand) { h.move(-0.2, 1.2, 3000, 1200) }, []Phase{Unclear}},
		{"counter jitters by 5 mm", func(h *deckhand) {
			for range 100 {
				h.move(0.06, 2.4, 3000, 3000)
				h.x -= 0.005
				h.put(3000)
			}
		}, nil},
		{"counter leaps by 9 m", func(h *deckhand) { h.x += 9; h.move(1, 2.4, 3000, 3000) }, []Phase{Unclear}},
		{"line unknown", func(h *deckhand) { h.x = math.NaN(); h.stand(0.1, 3000, 3000) }, []Phase{Unclear}},
		{"line infinite", func(h *deckhand) { h.x = math.Inf(1); h.stand(0.1, 3000, 3000) }, []Phase{Unclear}},
		{"one bad tension", func(h *deckhand) { h.put(math.NaN()); h.move(1, 2.4, 3000, 3000) }, nil},
		{"tension bad for 6 s", func(h *deckhand) {
			for range 60 {
				h.t += 100e6
				h.put(math.Inf(1))
			}
		}, []Phase{Unclear}},
		{"nothing heard for 6 s", func(h *deckhand) { h.t += 6e9; h.stand(0.1, 3000, 3000) }, []Phase{Unclear}},
		{"stage hold with the winch running", func(h *deckhand) { h.stage = Hold; h.move(1, 2.4, 3000, 3000) }, nil},
		{"stage hold with the winch standing", func(h *deckhand) { h.stage = Hold; h.stand(60, 3000, 2800) }, []Phase{Relaxing}},
		{"stage stopped", func(h *deckhand) { h.stage = Stopped; h.stand(60, 3000, 2800) }, []Phase{Relaxing}},
		{"stage soak", func(h *deckhand) { h.stage = Soak; h.stand(0.1, 3000, 3000) }, []Phase{Unclear}},
		{"stage ease", func(h *deckhand) { h.stage = Ease; h.stand(0.1, 3000, 3000) }, []Phase{Unclear}},
		{"no plateau in recovery", func(h *deckhand) { h.stage = Recover; h.move(8, 2.4, 3000, 3000) }, []Phase{Unclear}},
		{"no dragging in recovery", func(h *deckhand) { h.stage = Recover; h.move(8, 2.4, 250, 250) }, []Phase{Unclear}},
		{"halves at once", func(h *deckhand) { h.move(0.11, 2.4, 1000, 1000) }, []Phase{Breakout}},
		{"one sample of zero", func(h *deckhand) { h.put(0); h.move(1, 2.4, 3000, 3000) }, nil},
		{"a wake of 0.7 s", func(h *deckhand) { h.move(0.028, 2.4, 6400, 6400); h.move(1, 2.4, 3000, 3000) }, nil},
		{"a jerk down of 0.7 s", func(h *deckhand) { h.move(0.028, 2.4, 400, 400); h.move(1, 2.4, 3000, 3000) }, nil},
		{"falls to slack", func(h *deckhand) { h.move(3, 2.4, 50, 50) }, []Phase{Breakout, Slack}},
		{"stops, and a swell shows that the sliding anchor hid", func(h *deckhand) {
			for range 4 {
				h.stand(1, 3000, 900)
				h.stand(2, 900, 900)
				h.stand(1, 900, 3000)
			}
		}, []Phase{Relaxing, Unclear, Relaxing, Unclear, Relaxing}}, // each rise is the vessel's
		{"stops as the anchor lets go", func(h *deckhand) { h.move(0.03, 2.4, 600, 600); h.stand(6, 600, 600) }, []Phase{Breakout}},
		{"jumps with the winch standing", func(h *deckhand) { h.stand(20, 3000, 2900); h.stand(3, 600, 600) }, []Phase{Relaxing, Breakout}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h, d := onPlateau(t)
			tt.do(h)
			if got := h.feed(d); !slices.Equal(got, tt.want) {
				t.Errorf("got %v, want %v", got, tt.want)
			}
		})
	}
}

func TestSlackWithTheWinchStanding(t *testing.T) {
	h, d := &deckhand{stage: Pull}, newPhases()
	h.move(1, 2.4, 50, 50)
	h.stand(60, 50, 50)
	if h.feed(d); d.Phase() != Slack {
		t.Errorf("a minute at 50 N after hauling slack: %v, want slack", d.Phase())
	}
	h.stand(3, 2000, 2000)
	if h.feed(d); d.Phase() != Unclear {
		t.Errorf("2 kN with the winch standing: %v, want unclear", d.Phase())
	}
}

// What a level is needed for is unclear without it, and no breakout is counted.
func TestPhaseWithoutLevels(t *testing.T) {
	nan := Force(math.NaN())
	needDead := []Phase{TakeUp, Plateau, SawTooth, Decline, WeakEngagement, Breakout, Resetting, Reset, Dragging, NotSet, NotMoving, Snagged}
	tests := []struct {
		name   string
		levels Levels
		never  []Phase
	}{
		{"none", Levels{}, append([]Phase{Slack}, needDead...)},
		{"said but not known", Levels{BareRode: 120, DeadWeight: 250}, append([]Phase{Slack}, needDead...)},
		{"not numbers", Levels{BareRode: nan, DeadWeight: nan, Known: true}, append([]Phase{Slack}, needDead...)},
		{"below zero", Levels{BareRode: -120, DeadWeight: -250, Known: true}, append([]Phase{Slack}, needDead...)},
		{"bare rode only", Levels{BareRode: 120, Known: true}, needDead},
		{"dead weight only", Levels{DeadWeight: 250, Known: true}, []Phase{Slack, TakeUp, Dragging, NotSet}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, s := range scenarios {
				d := NewPhaseDetector(tt.levels, DefaultPhaseRules())
				got := phasesOf(d, told(sampling{10, 2.4, true, 1}.points(s.shape), 3))
				for _, p := range tt.never {
					if got.has(p) {
						t.Errorf("%s: got %v; want no %v", s.name, got, p)
					}
				}
				if s.name[0] == '4' && !got.has(Embedding) {
					t.Errorf("%s: got %v; want embedding", s.name, got)
				}
				for _, e := range d.Events(nil) {
					if !(tt.levels.Known && tt.levels.DeadWeight > 0) && e.Kind != EventFall {
						t.Errorf("%s: %v without the dead-weight level", s.name, e.Kind)
					}
				}
			}
		})
	}
}

// The levels of a point come before those of the file.
func TestPhaseLevelsOfThePoint(t *testing.T) {
	points := sampling{10, 2.4, false, 0}.points(shape{{0, 80}, {1, 80}, {2, 700}, {10, 700}})
	if got := phasesOf(newPhases(), points); !got.has(Plateau) || got.has(NotSet) {
		t.Errorf("0.7 kN over D of 0.25 kN: %v, want a plateau", got)
	}
	for i := range points {
		points[i].Bare, points[i].Dead = 300, 600
	}
	if got := phasesOf(newPhases(), points); got.has(Plateau) || !got.has(NotSet) {
		t.Errorf("0.7 kN over D of 0.6 kN at that line: %v, want not set", got)
	}
}

func TestPhaseSeries(t *testing.T) {
	h := &deckhand{stage: Preset}
	h.move(4, 2.4, 80, 9000)
	h.stage = Soak
	h.stand(60, 100, 100)
	h.stage = Pull
	from := len(h.points)
	h.move(3, 2.4, 300, 900) // 0.2 kN/m, 2 % of the preset's 9 kN
	d := newPhases()
	phasesOf(d, h.points[:from])
	got := phasesOf(d, h.points[from:])
	if len(got) != 1 || got[0].phase != Embedding {
		t.Errorf("pull after a preset to 9 kN: got %v; want embedding alone, judged by the pull's own peak", got)
	}
	fresh := newPhases()
	if other := phasesOf(fresh, h.points[from:]); !slices.Equal(got, other) || !slices.Equal(d.Segments(), fresh.Segments()) {
		t.Errorf("after a preset %v, with a new detector %v; want the same", got, other)
	}
}

// A decline needs the scope, and enough of the fall in it.
func TestPhaseDecline(t *testing.T) {
	falling := shape{{0, 80}, {1, 80}, {5, 3000}, {9, 3000}, {17, 2200}} // 3 % and more a metre
	for _, tt := range []struct {
		name        string
		out, height float64 // when it begins, at 9 m
		want        bool
	}{
		{"scope 4.6 to 3.6", 37.5, 8, true},
		{"scope 20 to 19", 160, 8, false}, // nothing of it is the scope's
		{"scope 10 to 9", 80, 8, false},
		{"not known", 0, 8, false},
		{"height not known", 40, 0, false},
	} {
		points := sampling{10, 2.4, true, 1}.points(falling)
		for i := range points {
			if tt.out > 0 {
				points[i].RodeOut = Length(tt.out+9) - points[i].X
			}
			points[i].Height = Length(tt.height)
		}
		got := phasesOf(newPhases(), points)
		if got.has(Decline) != tt.want || got.has(Breakout) || !tt.want && got[len(got)-1].phase != Unclear {
			t.Errorf("%s: %v; decline wanted: %v, else unclear at last", tt.name, got, tt.want)
		}
	}
}

// The model of the decline against the rule of thumb it is made after.
func TestUpliftHolding(t *testing.T) {
	// Small-craft rule of thumb, share of what scope 10 holds; from memory.
	for scope, want := range map[float64]float64{10: 1, 7: 0.91, 5: 0.77, 4: 0.67} {
		u := DefaultPhaseRules().Uplift
		if got := upliftHolding(scope, u) / upliftHolding(10, u); math.Abs(got-want) > 0.02 {
			t.Errorf("scope %g: %.3f of scope 10, want %.2f", scope, got, want)
		}
	}
}

// A swing that keeps its time and not its length is no saw-tooth; nor is one that
// goes on with the winch stopped.
func TestSawToothFollowsTheLine(t *testing.T) {
	tooth := func(h *deckhand, speed, seconds float64) {
		h.move(speed*seconds*0.97/60, speed, 1800, 3000)
		h.move(speed*seconds*0.03/60+0.004, speed, 1800, 1800)
	}
	for _, tt := range []struct {
		name string
		do   func(h *deckhand)
		want bool
	}{
		{"half a metre, whatever the speed", func(h *deckhand) {
			for i := range 12 {
				speed := []float64{2, 4}[i%2]
				tooth(h, speed, 30/speed)
			}
		}, true},
		{"ten seconds, whatever the speed", func(h *deckhand) {
			for i := range 12 {
				tooth(h, []float64{1.5, 4}[i%2], 10)
			}
		}, false},
		{"winch standing", func(h *deckhand) {
			for range 12 {
				h.stand(12, 1800, 3000)
				h.stand(0.3, 3000, 1800)
			}
		}, false},
	} {
		h, d := &deckhand{stage: Pull}, newPhases()
		h.move(1, 2.4, 50, 50)
		h.move(3, 2.4, 50, 1800)
		tt.do(h)
		got := phases(phasesOf(d, h.points))
		if got.has(SawTooth) != tt.want || got.has(Breakout) {
			t.Errorf("%s: %v; saw-tooth wanted: %v, no breakout", tt.name, got, tt.want)
		}
	}
	d := newPhases()
	phasesOf(d, sampling{10, 2.4, true, 1}.points(sawn))
	segs := d.Segments()
	if s := segs[len(segs)-1]; s.Phase != SawTooth || math.Abs(float64(s.Wave)-0.5) > 0.03 || math.Abs(s.Swing-0.5) > 0.06 {
		t.Errorf("the saw-tooth of 1.8 to 3.0 kN every 0.5 m: %+v; want a wave of 0.5 m and a swing of 0.5", s)
	}
}
