package deck

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hawse/trial"
)

// stiff is a scenario with a level tension and nothing that blurs it.
func stiff(t testing.TB, payout, ea, speed, kn float64, rest string) *Scenario {
	t.Helper()
	return mustParse(t, fmt.Sprintf(`[facts]
title Stiff
caption Invented data
depth 6 m
fairlead 1.5 m
payout %g m
speed %g m/s
ramp 0 s
run-on 1.2 s
stiffness %g kN
slack 0.08 kN
relax 0 %% in 10 s
[tension]
x 0 m %g kN
%s`, payout, speed, ea, kn, rest))
}

// TestSnagSlope: on a snag the tension rises with EA/L times the speed.
func TestSnagSlope(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		payout := rapid.Float64Range(20, 200).Draw(rt, "payout, m")
		at := payout * rapid.Float64Range(0.01, 0.5).Draw(rt, "share hauled")
		ea := rapid.Float64Range(20, 3000).Draw(rt, "EA, kN")
		speed := rapid.Float64Range(0.01, 0.1).Draw(rt, "speed, m/s")
		s := stiff(t, payout, ea, speed, 2, "[faults]\nat 0 s: snag\n")
		s.Start = trial.Length(at)
		h := haulingWorld(s)
		h.hand = true
		h.arm()
		h.lever(leverHaul, s.Speed)
		from, x := h.tension(), h.x
		h.run(t, time.Minute, func() bool { return h.t >= 5e9 })
		length := payout - float64(x+h.x)/2
		got, want := float64(h.tension()-from)/5, ea*1000/length*speed
		if math.Abs(got-want) > 0.01*want {
			rt.Fatalf("L %.1f m: %.1f N/s, want EA/L x speed = %.1f N/s", length, got, want)
		}
	})
}

// TestRunOnAfterTheStop: x 16 m, L 44 m, EA 400 kN; the winch runs on for 1.2 s,
// so that 8.0 kN become 8.44. The figures are the invented campaign's.
func TestRunOnAfterTheStop(t *testing.T) {
	s := stiff(t, 60, 400, 0.04, 2, "[faults]\nat x 16 m: snag\n")
	s.Start = 15.99
	h := haulingWorld(s)
	h.pace = 10 * ms
	h.hand = true
	h.arm()
	h.lever(leverHaul, s.Speed)
	h.run(t, time.Minute, func() bool { return h.x >= 16 })
	from := h.t
	h.run(t, time.Minute, func() bool { return h.tension() >= 8000 })
	if took := float64(h.t-from) / 1e9; math.Abs(took-16.5) > 0.3 {
		t.Errorf("2.0 to 8.0 kN took %.2f s, want 16.5 s", took)
	}
	h.open()
	h.run(t, time.Minute, func() bool { return h.winch.v == 0 })
	if got := float64(h.tension()) / 1000; math.Abs(got-8.44) > 0.01 {
		t.Errorf("the top is %.3f kN, want 8.44 kN", got)
	}
}

func TestSnagLetsGo(t *testing.T) {
	snagged := func() *hauling {
		h := haulingWorld(stiff(t, 60, 400, 0.04, 2, "[faults]\nat 0 s: snag\n"))
		h.hand = true
		h.arm()
		h.lever(leverHaul, h.s.Speed)
		h.run(t, time.Minute, func() bool { return h.tension() > 4000 })
		return h
	}
	h := snagged()
	h.ground.release()
	from := h.t
	h.run(t, time.Second, func() bool { return h.tension() < 2150 })
	if h.run(t, time.Minute, func() bool { return h.x > 2 }); math.Abs(float64(h.tension())-2000) > 1 || h.t-from < 100*ms {
		t.Errorf("after the snag has let go %.0f N at x %.2f m, want the table's 2000 N", h.tension(), h.x)
	}
	h = snagged()
	top := h.x
	h.open()
	h.lever(leverEase, h.s.Speed)
	h.run(t, time.Minute, func() bool { return h.tension() <= 80 })
	h.arm()
	h.lever(leverHaul, h.s.Speed)
	h.run(t, time.Minute, func() bool { return h.x > top+0.5 })
	if got := h.tension(); math.Abs(float64(got)-2000) > 1 {
		t.Errorf("eased to slack and hauled again past the snag %.0f N, want the table's 2000 N", got)
	}
}

// TestSurgeByTheStiffness: with the winch stopped the tension changes by EA/L
// times the vessel's way; 0.22 m at L 45 m with EA 400 kN is 8.9 kN/m, 1.96 kN.
func TestSurgeByTheStiffness(t *testing.T) {
	check := func(t interface{ Fatalf(string, ...any) }, s *Scenario, by, takes float64, back bool) {
		w := newWorld(s, 0, 1)
		rest := w.tension()
		w.advance(int64(takes * 1e9))
		want := rest + s.Stiffness/trial.Force(s.Payout-s.Start)*trial.Force(by)
		if want = max(want, s.Slack); math.Abs(float64(w.tension()-want)) > 1e-6*float64(want) || w.x != s.Start {
			t.Fatalf("%.3f m astern: %.1f N at x %v, want %.1f N", by, w.tension(), w.x, want)
		}
		w.advance(int64(2 * takes * 1e9))
		if back {
			want = rest
		}
		if math.Abs(float64(w.tension()-want)) > 1e-6*float64(want) {
			t.Fatalf("in as much time again: %.1f N, want %.1f N", w.tension(), want)
		}
	}
	s := stiff(t, 60, 400, 0.04, 2.4, "[faults]\nat 0 s: surge 0.22 m in 20 s\n")
	s.Start = 15
	check(t, s, 0.22, 20, true)
	w := newWorld(s, 0, 1)
	w.advance(20e9)
	if got := float64(w.tension()) / 1000; math.Abs(got-4.36) > 0.005 {
		t.Errorf("at its top %.3f kN, want 2.4 and 1.96 kN", got)
	}
	rapid.Check(t, func(rt *rapid.T) {
		kind := rapid.SampledFrom([]string{"surge", "drift"}).Draw(rt, "kind")
		by := rapid.Float64Range(0.01, 2).Draw(rt, "by, m")
		takes := float64(rapid.IntRange(1, 12).Draw(rt, "takes, s"))
		word := ""
		if rapid.Bool().Draw(rt, "ahead") {
			word = "ahead "
		}
		s := stiff(t, rapid.Float64Range(20, 100).Draw(rt, "payout"), rapid.Float64Range(20, 2000).Draw(rt, "EA"), 0.04, 2.4,
			fmt.Sprintf("[faults]\nat 0 s: %s %s%.17g m in %g s\n", kind, word, by, takes))
		if word != "" {
			by = -by
		}
		check(rt, s, by, takes, kind == "surge")
	})
}

// TestSurgeRelaxes: what the vessel's way has put on comes off again, and more:
// 3.0 kN have relaxed to 2.4, go to 4.4 and come back as 1.9.
func TestSurgeRelaxes(t *testing.T) {
	w := newWorld(mustParse(t, strings.NewReplacer("relax 4 % in 10 s", "relax 20 % in 20 s", "x 0 m 0.08 kN", "x 0 m 3.0 kN",
		"payout 60 m", "payout 45 m").Replace(ramped)+"[faults]\nat 60 s: surge 0.22 m in 20 s\n"), 0, 1)
	for _, want := range []struct {
		at int64 // s
		kn float64
	}{{60, 2.4}, {80, 4.36}, {160, 1.92}} {
		w.advance(want.at * 1e9)
		if got := float64(w.tension()) / 1000; math.Abs(got-want.kn) > 0.02 {
			t.Errorf("at %d s %.3f kN, want %.2f kN", want.at, got, want.kn)
		}
	}
}

// TestSwell: its amplitude and period, and no more than the rode carries.
func TestSwell(t *testing.T) {
	for _, tt := range []struct{ rode, lo, hi float64 }{{2, 1.6, 2.4}, {0.3, 0.08, 0.52}, {0.08, 0.08, 0.08}, {0.05, 0.05, 0.05}} {
		s := stiff(t, 60, 400, 0.04, tt.rode, "")
		s.Swell, s.SwellEvery = 400, 6*time.Second
		w := newWorld(s, 0, 1)
		lo, hi := math.Inf(1), math.Inf(-1)
		for at := int64(0); at < 12e9; at += 50 * ms {
			w.advance(at)
			v := float64(w.tension()) / 1000
			lo, hi = min(lo, v), max(hi, v)
		}
		if math.Abs(lo-tt.lo) > 0.005 || math.Abs(hi-tt.hi) > 0.005 {
			t.Errorf("%.2f kN in a swell of 0.4 kN: %.3f to %.3f kN, want %.2f to %.2f", tt.rode, lo, hi, tt.lo, tt.hi)
		}
	}
}

func TestCellOffTheRode(t *testing.T) {
	w := newWorld(stiff(t, 60, 400, 0.04, 2, "[winch]\ncell free\nwait 1 s\ncell hook 25 kg\nwait 1 s\ncell rode\n"), 0, 1)
	for _, want := range []trial.Force{0, 25 * kgf, 2000} {
		if got := w.tension(); got != want {
			t.Errorf("at %d ms %v, want %v", w.t/ms, got, want)
		}
		w.advance(w.t + 1010*ms)
	}
}

// TestCounterFaults: what the line box says of 1 m hauled after 2 m.
func TestCounterFaults(t *testing.T) {
	for _, tt := range []struct {
		faults   []string
		at2, at3 int64
	}{
		{nil, 2500, 3500}, {[]string{"slip line 8 %"}, 2500, 3420}, {[]string{"reverse line"}, 2500, 1500},
		{[]string{"reset count"}, 0, 1000}, {[]string{"reverse line", "slip line 10 %"}, 2500, 1600},
		{[]string{"slip line 50 %", "slip line 0 %"}, 2500, 3500},
	} {
		text := "[faults]\n"
		for _, f := range tt.faults {
			text += "at step there: " + f + "\n"
		}
		s := stiff(t, 60, 400, 0.04, 2, text+"[winch]\nuntil relay closed\nstep there\n")
		s.Count, s.Start = 500, 2
		w := newWorld(s, 0, 1)
		w.counter.base += 2000 // as if hauled from 0
		w.hear([]byte(say("ARM 1")))
		if got := w.counter.at(2); got != tt.at2 {
			t.Errorf("%q: count %d at 2 m, want %d", tt.faults, got, tt.at2)
		}
		if got := w.counter.at(3); got != tt.at3 {
			t.Errorf("%q: count %d at 3 m, want %d", tt.faults, got, tt.at3)
		}
	}
}

func TestScenarioTrialFiles(t *testing.T) {
	for _, name := range Names() {
		s := mustLoad(t, name)
		file, err := trial.ParseTrial("trial.toml", []byte(s.TrialFile()))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		run, ok := file.Run(s.Run)
		if !ok || run.Speed != s.Speed && name != "short" || file.Vessel.Fairlead != s.Fairlead {
			t.Errorf("%s plays run %q (%v) at %v under a roller of %v; the trial file has %v and %v", name, s.Run, ok, s.Speed, s.Fairlead,
				run.Speed, file.Vessel.Fairlead)
		}
		if name == "slow-cell" && (!file.Load.SlowCell || file.Load.Rate != 2) {
			t.Errorf("%s: slow cell %v at %v, want the script's true at 2 Hz", name, file.Load.SlowCell, file.Load.Rate)
		}
	}
	s := mustParse(t, least+"[trial]\nname = \"Other\"\nlimits.soak.duration = \"9 min\"\nlimits.pull.haul = \"7 m\"\nextra = 1\n")
	text := s.TrialFile()
	for _, want := range []string{"\nname = \"Other\"\n", "\n[limits.soak]\nduration = \"9 min\"\n", "\nhaul = \"7 m\"\n", "extra = 1\n"} {
		if strings.Count(text, want) != 1 {
			t.Errorf("%d times %q in the trial file, want once", strings.Count(text, want), want)
		}
	}
}
