package trial

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Every tension and length here is invented.

// reading is a sample at t seconds.
func reading(t float64, stage Stage, kN, x float64) Reading {
	return Reading{Point: Point{T: int64(t * 1e9), Tension: Force(1000 * kN), X: Length(x), Stage: stage}, Scope: 8 - x/10}
}

// hauls makes ten readings a second at 2.4 m/min while the tension goes through
// the values, a second each.
func hauls(t, x float64, stage Stage, kN ...float64) (out []Reading) {
	for i, to := range kN {
		from := to
		if i > 0 {
			from = kN[i-1]
		}
		for j := range 10 {
			s := float64(i) + float64(j)/10
			out = append(out, reading(t+s, stage, from+(to-from)*float64(j+1)/10, x+s*0.04))
		}
	}
	return out
}

// stands is the same with the winch stopped.
func stands(t, x float64, stage Stage, kN ...float64) []Reading {
	out := hauls(t, x, stage, kN...)
	for i := range out {
		out[i].X = Length(x)
	}
	return out
}

func inTurn(parts ...[]Reading) (out []Reading) {
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}

func figuresOf(in []Reading) Figures {
	var f FigureFold
	end := int64(0)
	for _, r := range in {
		f.Add(r)
		end = r.T
	}
	return f.Figures(end)
}

func TestGreatestOfAPull(t *testing.T) {
	nan := math.NaN()
	over := reading(3, Pull, 9.7, 0.12)
	over.Over = true
	noNumber := reading(3, Pull, nan, 0.12)
	noNumber.Over = true
	lost := hauls(0, 0, Pull, 1, 2, 3, 2, 2, 2)
	for i := range lost {
		lost[i].X = Length(nan)
	}
	tests := []struct {
		name  string
		in    []Reading
		want  string // "" none
		bound Bound
		still bool
	}{
		{"nothing", nil, "", "", false},
		{"never in pull", hauls(0, 0, Preset, 1, 2, 1), "", "", false},
		{"hold without a pull", hauls(0, 0, Hold, 1, 2, 1), "", "", false},
		{"left while hauling", hauls(0, 0, Pull, 1, 3, 2.5, 2.5), "3.0 kN at 1.9 s", "", false},
		{"fallen by 9 %", hauls(0, 0, Pull, 1, 3, 2.73, 2.73), "3.0 kN at 1.9 s", BoundNotLeft, false},
		{"still rising", hauls(0, 0, Pull, 1, 2, 3), "3.0 kN at 2.9 s", BoundNotLeft, false},
		{"relaxes once the winch has stopped", inTurn(hauls(0, 0, Pull, 1, 3, 3), stands(3, 0.12, Pull, 2.5, 2, 2, 2, 2, 2, 2, 2)), "3.0 kN at 1.9 s", BoundNotLeft, false},
		{"relaxes in hold", inTurn(hauls(0, 0, Pull, 1, 3, 3), stands(3, 0.12, Hold, 2.5, 2, 2, 2, 2, 2, 2, 2)), "3.0 kN at 1.9 s", BoundNotLeft, false},
		{"relaxes in a pause, then is hauled on at the peak", inTurn(hauls(0, 0, Pull, 1, 3, 3), stands(3, 0.12, Pull, 2, 2, 2, 2, 2, 2, 2, 2, 2.9), hauls(12, 0.12, Pull, 2.95, 2.95, 2.95)), "3.0 kN at 1.9 s", BoundNotLeft, false},
		{"relaxes in a pause, then is hauled on lower", inTurn(hauls(0, 0, Pull, 1, 3, 3), stands(3, 0.12, Pull, 2, 2, 2, 2, 2, 2, 2, 2), hauls(11, 0.12, Pull, 2, 2, 2)), "3.0 kN at 1.9 s", "", false},
		{"the vessel loads it with the winch stopped", inTurn(hauls(0, 0, Pull, 1, 3, 2.5), stands(3, 0.12, Pull, 2, 2, 2, 2, 2, 2, 5)), "5.0 kN at 9.9 s", BoundNotLeft, true},
		{"over range, with the least it can be", inTurn(hauls(0, 0, Pull, 1, 3, 3), []Reading{over}, hauls(3.1, 0.12, Pull, 1, 1)), "9.7 kN at 3.0 s", BoundOver, false},
		{"over range, no number", inTurn(hauls(0, 0, Pull, 1, 3, 3), []Reading{noNumber}, hauls(3.1, 0.12, Pull, 1, 1)), "3.0 kN at 1.9 s", BoundOver, false},
		{"over range and nothing else", []Reading{noNumber}, "", BoundOver, false},
		{"not a number, not over range", []Reading{reading(0, Pull, nan, 0), reading(1, Pull, math.Inf(1), 0)}, "", "", false},
		{"line not known", lost, "3.0 kN at 2.9 s", BoundNoLine, false},
		{"in the second of two stays", inTurn(hauls(0, 0, Pull, 1, 2, 1), hauls(3, 0.1, Ease, 1), hauls(4, 0.1, Pull, 1, 2.5, 2)), "2.5 kN at 5.9 s", "", false},
		{"in the first of two stays", inTurn(hauls(0, 0, Pull, 1, 2, 1), hauls(3, 0.1, Ease, 1), hauls(4, 0.1, Pull, 1, 1.5, 1.5)), "2.0 kN at 1.9 s", "", false},
		{"below zero", hauls(0, 0, Pull, -2, -1, -1), "-1.0 kN at 1.9 s", BoundNotLeft, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			g := figuresOf(tt.in).Pull
			got := ""
			if g.Known {
				got = fmt.Sprintf("%.1f kN at %.1f s", float64(g.Value)/1000, float64(g.T)/1e9)
			}
			if got != tt.want || g.Bound != tt.bound || g.Still != tt.still || g.Window != Instant {
				t.Errorf("greatest %q, bound %q, still %v, window %q; want %q, %q, %v, instant", got, g.Bound, g.Still, g.Window, tt.want, tt.bound, tt.still)
			}
		})
	}
}

func TestFiguresOfAWholePull(t *testing.T) {
	var f FigureFold
	f.Enter(0, StandBy)
	for _, r := range inTurn(stands(0, 0, StandBy, 9)) { // before the pull: not after it
		f.Add(r)
	}
	f.Enter(1e9, Pull)
	for _, r := range hauls(1, 0.5, Pull, 1, 3, 2) {
		f.Add(r)
	}
	f.Break(4e9, 64e9)
	for _, r := range hauls(64, 0.62, Pull, 2, 2.2) {
		f.Add(r)
	}
	f.Enter(66e9, Ease)
	for _, r := range stands(66, 0.7, Ease, 1) {
		f.Add(r)
	}
	f.Enter(67e9, Recover)
	for _, r := range hauls(67, 0.7, Recover, 1.5, 1) {
		f.Add(r)
	}
	got := f.Figures(69e9)
	if got.Pull.Value != 3000 || got.Pull.Bound != "" || len(got.Hauls) != 1 || got.Lost != 60e9 {
		t.Errorf("pull %+v, %d hauls, lost %v; want 3 kN that stands, in one haul, and a minute lost", got.Pull, len(got.Hauls), got.Lost)
	}
	if got.After.Value != 1500 || got.After.Stage != Recover {
		t.Errorf("after the pull %+v, want 1.5 kN in recover", got.After)
	}
	if in := float64(got.InPull); math.Abs(in-0.196) > 1e-9 || math.Abs(float64(got.Hauled)-0.696) > 1e-9 {
		t.Errorf("hauled %v, in pull %v; want 0.696 and 0.196", got.Hauled, got.InPull)
	}
	for s, want := range map[Stage]int64{StandBy: 1e9, Pull: 5e9, Ease: 1e9, Recover: 2e9, Hold: 0} {
		if got.Stages[s].Time != want {
			t.Errorf("%v in %s, want %v", got.Stages[s].Time, s, want)
		}
	}
	if got.Stages[StandBy].Greatest.Value != 9000 || got.Stages[Hold].Greatest.Known {
		t.Errorf("by stage: stand by %+v, hold %+v", got.Stages[StandBy].Greatest, got.Stages[Hold].Greatest)
	}
}

// However often a pull is begun again, the memory is bounded and the greatest
// tension is still that of all.
func TestManyStaysInPull(t *testing.T) {
	var in []Reading
	for i := range 100 {
		at := float64(i * 10)
		in = append(in, hauls(at, float64(i), Pull, 1, 2+float64(i)/100, 1)...)
		in = append(in, stands(at+5, float64(i), Ease, 1)...)
	}
	f := figuresOf(in)
	if len(f.Hauls) != MostHauls || f.More != 100-MostHauls || math.Abs(float64(f.Pull.Value)-2990) > 1e-6 {
		t.Errorf("%d hauls and %d more, greatest %v; want %d, %d and 2990", len(f.Hauls), f.More, f.Pull.Value, MostHauls, 100-MostHauls)
	}
	if math.Abs(float64(f.InPull)-100*0.116) > 1e-6 {
		t.Errorf("%v in pull, want 11.6 m", f.InPull)
	}
}

// Whatever comes: the greatest is one of the readings, none in its stages is
// above it, times add up, and asking does not change what comes after.
func TestFiguresHold(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var f, asked FigureFold
		at, x, most := int64(0), 0.0, math.Inf(-1)
		began, stage, over := false, StandBy, false
		f.Enter(0, stage)
		asked.Enter(0, stage)
		for range rapid.IntRange(0, 80).Draw(rt, "readings") {
			at += rapid.Int64Range(0, 7e9).Draw(rt, "after")
			if rapid.IntRange(0, 5).Draw(rt, "enter") == 0 {
				stage = Stage(rapid.IntRange(0, int(NumStages)-1).Draw(rt, "stage"))
				f.Enter(at, stage)
				asked.Enter(at, stage)
			}
			x += rapid.Float64Range(-0.1, 0.3).Draw(rt, "x")
			r := Reading{Point: Point{T: at, Tension: Force(rapid.Float64Range(-500, 9000).Draw(rt, "T")), X: Length(x), Stage: stage}, Scope: 5,
				Over: rapid.IntRange(0, 20).Draw(rt, "over") == 0}
			if rapid.IntRange(0, 10).Draw(rt, "lost") == 0 {
				r.X = Length(math.NaN())
			}
			f.Add(r)
			asked.Add(r)
			asked.Figures(at)
			began = began || stage == Pull
			if began && (stage == Pull || stage == Hold) {
				most = max(most, float64(r.Tension))
				over = over || r.Over
			}
		}
		got, again := f.Figures(at), asked.Figures(at)
		if fmt.Sprint(got) != fmt.Sprint(again) {
			rt.Fatalf("asked meanwhile:\n%+v\nnot asked:\n%+v", again, got)
		}
		if got.Pull.Known != began || began && float64(got.Pull.Value) != most || over && got.Pull.Bound != BoundOver {
			rt.Fatalf("pull %+v; began %v, most %v, over %v", got.Pull, began, most, over)
		}
		sum := int64(0)
		for _, s := range got.Stages {
			sum += s.Time
		}
		if sum != at {
			rt.Fatalf("the stages took %d of %d ns", sum, at)
		}
	})
}
