package trial

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Every tension and length here is invented.

func studyOf(t testing.TB, edit func(*Trial)) *Study {
	t.Helper()
	tr, err := ParseTrial("trial.toml", []byte(Template()))
	if err != nil {
		t.Fatal(err)
	}
	if edit != nil {
		edit(tr)
	}
	run, ok := tr.Run("A1")
	if !ok {
		t.Fatal("the template has no run A1")
	}
	return NewStudy(tr, run)
}

// given gives readings with 60 m out at 0, over 7.5 m.
func given(s *Study, in []Reading) (end int64) {
	last, some := StandBy, false
	for i := range in {
		r := in[i]
		if !some || r.Stage != last {
			s.Enter(r.T, r.Stage)
			last, some = r.Stage, true
		}
		if x := float64(r.X); !math.IsNaN(x) {
			r.RodeOut, r.Height = Length(60-x), 7.5
		}
		s.Add(&r)
		end = r.T
	}
	return end
}

func valueOf(t *testing.T, f Figures, q Quantity) float64 {
	t.Helper()
	v := f.Quantities[q].Read[0]
	if !v.Known {
		t.Fatalf("%s is not known: %s", q, v.Why)
	}
	return v.V
}

// ramp hauls from one tension to another over so many metres at 0.04 m/s, ten
// readings a second.
func ramp(t, x, metres float64, stage Stage, from, to float64) (out []Reading) {
	n := int(math.Round(metres / 0.004))
	for i := 1; i <= n; i++ {
		p := float64(i) / float64(n)
		out = append(out, reading(t+float64(i)/10, stage, from+(to-from)*p, x+metres*p))
	}
	return out
}

func after(in []Reading) (t, x float64) {
	l := in[len(in)-1]
	return float64(l.T) / 1e9, float64(l.X)
}

// Peaks over each window, by hand: a ramp of 1 kN a metre to a top, and back down.
func TestPeaksOverWindows(t *testing.T) {
	in := ramp(0, 0, 4, Pull, 0, 4)
	at, x := after(in)
	in = append(in, ramp(at, x, 3, Pull, 4, 1)...)
	s := studyOf(t, nil)
	f := s.Figures(given(s, in))
	// A tent of slope k over a window w, centred, has the mean top - k w/4.
	for q, want := range map[Quantity]float64{PeakInstant: 4000, Peak1s: 4000 - 40*1.0/4, Peak10s: 4000 - 40*10.0/4, Peak1m: 4000 - 1000*1.0/4} {
		if got := valueOf(t, f, q); math.Abs(got-want) > 1.5 {
			t.Errorf("%s is %.1f N, want %.1f", q, got, want)
		}
		if b := f.Quantities[q].Bound; b != "" {
			t.Errorf("%s is a lower bound: %s", q, b)
		}
	}
	if got, want := valueOf(t, f, WorkLine), 8000+7500.0; math.Abs(got-want) > 20 {
		t.Errorf("work %v J, want %v", got, want)
	}
	if got := valueOf(t, f, LineSpeed); math.Abs(got-0.04) > 1e-4 {
		t.Errorf("line speed %v m/s", got)
	}
	if got := valueOf(t, f, SampleRate); math.Abs(got-10) > 0.01 {
		t.Errorf("%v samples a second", got)
	}
	parts := s.travel.parts()
	if _, u, ok := s.travel.Now(); !ok || math.Abs(float64(u)-parts.budget().U()) > 1e-9 {
		t.Errorf("travel is known to %v m (%v), its budget gives %v", u, ok, parts.budget().U())
	}
	e := f.Quantities[EfficiencyInstant].Read[0].V
	if want := 4000 / (16 * 9.80665); math.Abs(e-want) > 1e-9 {
		t.Errorf("efficiency %v, want %v", e, want)
	}
}

// Each window is judged for itself: what has left its peak of a moment has not left
// that of a metre.
func TestEachWindowHasItsOwnBound(t *testing.T) {
	in := ramp(0, 0, 4, Pull, 0.5, 3)
	at, x := after(in)
	in = append(in, ramp(at, x, 0.5, Pull, 3, 2.6)...)
	s := studyOf(t, nil)
	f := s.Figures(given(s, in))
	for q, bound := range map[Quantity]bool{PeakInstant: false, Peak1s: false, Peak1m: true} {
		if got := f.Quantities[q].Bound != ""; got != bound {
			t.Errorf("%s: a lower bound is %v, want %v", q, got, bound)
		}
	}
}

// What cannot be had is missing, with its reason, in every reading.
func TestMissingSaysWhy(t *testing.T) {
	nan := Length(math.NaN())
	noLine := ramp(0, 0, 2, Pull, 0.5, 2)
	for i := range noLine {
		noLine[i].X = nan
	}
	slow := ramp(0, 0, 8, Pull, 0.5, 2)
	var thin []Reading
	for i := 0; i < len(slow); i += 12 {
		thin = append(thin, slow[i])
	}
	tests := []struct {
		name string
		in   []Reading
		edit func(*Trial)
		want map[Quantity]string
	}{
		{"nothing", nil, nil, map[Quantity]string{PeakInstant: whyNoPull, SetOrNot: whyNoPull, BreakoutForce: whyNoUp}},
		{"never in pull", ramp(0, 0, 2, Preset, 0.5, 1), nil, map[Quantity]string{PeakInstant: whyNoPull, Peak1m: whyNoPull}},
		{"one sample", ramp(0, 0, 2, Pull, 0.5, 1)[:1], nil, map[Quantity]string{Peak1s: "no such time", Peak1m: "no metre was hauled", LineSpeed: "did not haul", SetOrNot: "0 m hauled", Mean0to10m: "0 of its 10 m"}},
		{"no haul", stands(0, 0, Pull, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1), nil, map[Quantity]string{Peak1m: "no metre was hauled", LineSpeed: "did not haul"}},
		{"line not known", noLine, nil, map[Quantity]string{Peak1m: "line hauled", TravelEnd: "knee", HauledInPull: "line hauled", WorkLine: "line hauled", SetOrNot: "line hauled", BreakoutsAnchor: "line hauled"}},
		{"no levels", ramp(0, 0, 4, Pull, 0.5, 3), func(tr *Trial) { tr.Levels = Levels{} }, map[Quantity]string{SetOrNot: whyNoDead, BreakoutsAnchor: whyNoDead, Resets: whyNoDead}},
		{"too slow for a second", thin, nil, map[Quantity]string{Peak1s: "too slowly"}},
		{"no breakout", ramp(0, 0, 4, Pull, 0.5, 3), nil, map[Quantity]string{ResetRatio: whyNoBreak, Mean10to20m: "0 of its 10 m", Relaxed60s: whyNoStand, OvershootLine: whyNoStop}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := studyOf(t, tt.edit)
			f := s.Figures(given(s, tt.in))
			for q, want := range tt.want {
				v := f.Quantities[q].Read[0]
				if want != "" && (v.Known || !strings.Contains(v.Why, want)) {
					t.Errorf("%s: known %v, %q; want it missing for %q", q, v.Known, v.Why, want)
				}
			}
			eachSays(t, f)
		})
	}
}

// eachSays holds that no quantity is a guess: it is a finite number or a word, or
// says why not, and its uncertainty is what its budget gives.
func eachSays(t interface {
	Errorf(string, ...any)
}, f Figures) {
	for q := range NumQuantities {
		i, g := &Quantities[q], &f.Quantities[q]
		for j := range g.Read {
			v := &g.Read[j]
			switch {
			case j > 0 && !i.Loads:
			case !v.Known && v.Why == "":
				t.Errorf("%s, %s: neither a value nor a reason", q, Readings[j].Name)
			case !v.Known:
			case i.Unit == "word":
				if g.Word == "" {
					t.Errorf("%s: known, and no word", q)
				}
			case math.IsNaN(v.V) || math.IsInf(v.V, 0):
				t.Errorf("%s, %s: %v", q, Readings[j].Name, v.V)
			case len(v.Budget) > 0 && math.Abs(v.U-v.Budget.U()) > 1e-12*v.U:
				t.Errorf("%s: uncertainty %v, its budget gives %v", q, v.U, v.Budget.U())
			}
		}
	}
}

// Holes, pauses, stages in any order, nonsense: the study takes it all, its answer
// does not depend on being asked meanwhile, and nothing in it is a guess.
func TestStudyTakesAnything(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s, asked := studyOf(t, nil), studyOf(t, nil)
		at, x, load := int64(0), 0.0, 1000.0
		odd := []float64{math.NaN(), math.Inf(1), -5000, 1e300, 0}
		for range rapid.IntRange(1, 60).Draw(rt, "parts") {
			stage := Stage(rapid.IntRange(0, int(NumStages)).Draw(rt, "stage"))
			step := rapid.SampledFrom([]int64{0, 1e6, 1e8, 1e9, 7e9, 1e12}).Draw(rt, "step")
			by := rapid.SampledFrom([]float64{0, 0.004, 0.05, -0.01, 3, 1e12}).Draw(rt, "by")
			what := rapid.IntRange(0, 9).Draw(rt, "what")
			for range rapid.IntRange(1, 40).Draw(rt, "n") {
				at += step
				x += by
				load += rapid.Float64Range(-300, 320).Draw(rt, "d")
				r := Reading{Point: Point{T: at, Tension: Force(load), X: Length(x), Stage: stage, RodeOut: Length(60 - x), Height: 7.5}, Scope: (60 - x) / 7.5}
				switch what {
				case 0:
					r.Tension = Force(rapid.SampledFrom(odd).Draw(rt, "odd"))
				case 1:
					r.Over = true
				case 2:
					r.X, r.RodeOut, r.Scope = Length(math.NaN()), 0, math.NaN()
				case 3:
					r.Height = 0
				case 4:
					r.RodeOut += 5
				}
				again := r
				s.Add(&r)
				asked.Add(&again)
			}
			if what == 5 {
				s.Gap(at)
				asked.Gap(at)
			}
			if what == 6 {
				s.Stop(at)
				asked.Stop(at)
			}
			if what == 7 {
				x = 0
			}
			asked.Figures(at)
			asked.Events(nil)
		}
		got, again := s.Figures(at), asked.Figures(at)
		if fmt.Sprint(got) != fmt.Sprint(again) {
			rt.Fatalf("asked meanwhile:\n%+v\nnot asked:\n%+v", again, got)
		}
		eachSays(rt, got)
	})
}

// A sample allocates nothing, whatever it is.
func TestStudyAllocatesNothing(t *testing.T) {
	s := studyOf(t, nil)
	in := ramp(0, 0, 12, Pull, 0.2, 3)
	given(s, in[:len(in)/2])
	rest := in[len(in)/2:]
	i := 0
	if n := testing.AllocsPerRun(1000, func() {
		r := rest[i]
		r.RodeOut, r.Height = 60-r.X, 7.5
		s.Add(&r)
		i++
	}); n > 0.1 {
		t.Errorf("%v allocations a sample", n)
	}
}

// What was over range is in no mean and no greatest: every figure that misses it
// is a lower bound, and those of stretches it does not touch are none.
func TestOverRangeBoundsWhatItTouches(t *testing.T) {
	s := studyOf(t, nil)
	in := ramp(0, 0, 22, Pull, 2, 3)
	for i := range in {
		if x := float64(in[i].X); x > 14 && x < 14.02 {
			in[i].Over = true
		}
	}
	end := given(s, in)
	s.Stop(end)
	late := ramp(float64(end)/1e9, 22, 0.1, Stopped, 3, 3.2)
	for i := range late {
		late[i].Over = i == 3
		late[i].RodeOut, late[i].Height = 60-late[i].X, 7.5
		s.Add(&late[i])
		end = late[i].T
	}
	f := s.Figures(end)
	for q, want := range map[Quantity]bool{Mean0to10m: false, Mean10to20m: true, PeakInstant: true, WorkLine: true, OvershootTension: true} {
		if g := f.Quantities[q]; !g.Read[0].Known || (g.Bound == BoundOver) != want {
			t.Errorf("%s: known %v, bound %q; want over range %v", q, g.Read[0].Known, g.Bound, want)
		}
	}
	if n := f.Quantities[ScopeAtPeak].Note; !strings.Contains(n, "lower bound") {
		t.Errorf("the scope at a peak that is a lower bound says %q", n)
	}
	if v := valueOf(t, f, HeightAtPeak); v != 7.5 {
		t.Errorf("height at the peak %v m, want 7.5", v)
	}
	if b := s.Over(Stretch{From: 0, To: 13}).Bound; b != "" {
		t.Errorf("a stretch before it is %q", b)
	}
}
