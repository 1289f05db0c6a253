package trial

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// near compares to the digits of a figure that was given rounded.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v to %v", what, got, want, tol)
	}
}

// oneRun is a trial of one pull, 10 m deep from the roller.
func oneRun(rode []Piece, payout Length, speed Speed, reaction, runOn time.Duration, rate Rate) *Trial {
	t := &Trial{
		Vessel:   Vessel{Fairlead: 1, KeepOut: 1},
		Rode:     rode,
		Gear:     []Gear{{Name: "swivel", WLL: 10e3, Source: "invented"}},
		Load:     LoadCell{Rate: rate},
		Stop:     StopOutput{Window: 300 * time.Millisecond},
		Winch:    Winch{Reaction: reaction, RunOn: runOn},
		Stations: []Station{{Name: "s", Depth: 9}},
		Runs:     []Run{{ID: "A1", Station: "s", Payout: payout, Speed: speed}},
	}
	t.Limits[Pull] = Limits{TensionStop: 8000}
	return t
}

// The slopes and overshoots of a snag as they are computed by hand from
// dT/dt = EA/L x speed, and overshoot = slope x time.
func TestOvershootByHand(t *testing.T) {
	const metreAMinute = 1.0 / 60
	tests := []struct {
		name            string
		rode            []Piece
		payout          Length
		speed           Speed
		reaction, runOn time.Duration
		rate            Rate
		slope, over     float64 // N/s, N
		tolSlope, tol   float64
	}{
		// Wire of EA 1.7 MN, 40 m, at 3 m/min: 2.1 kN/s; 1.5 s of it are 3.2 kN.
		{"wire", []Piece{{Length: 40, EA: 1.7e6, WLL: 20e3, Source: "x"}}, 40, 3 * metreAMinute, 800 * time.Millisecond, 500 * time.Millisecond, 10, 2.1e3, 3.2e3, 50, 50},
		// Nylon of 1.25 kN/m at 3 m/min: 0.06 kN/s.
		{"nylon", []Piece{{Length: 40, EA: 50e3, WLL: 20e3, Source: "x"}}, 40, 3 * metreAMinute, 800 * time.Millisecond, 500 * time.Millisecond, 10, 0.06e3, 0.09e3, 5, 5},
		// EA 400 kN, 44 m, at 2.4 m/min: 0.36 kN/s; a run-on of 1.2 s in all is 0.44 kN.
		{"the invented snag", []Piece{{Length: 80, EA: 400e3, WLL: 20e3, Source: "x"}}, 44, 2.4 * metreAMinute, 500 * time.Millisecond, 500 * time.Millisecond, 10, 0.36e3, 0.44e3, 5, 5},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tr := oneRun(tt.rode, tt.payout, tt.speed, tt.reaction, tt.runOn, tt.rate)
			all := tr.Overshoots()
			if len(all) != 1 {
				t.Fatalf("%d overshoots, want one", len(all))
			}
			s := all[0].Payout
			near(t, "slope", s.Slope, tt.slope, tt.tolSlope)
			near(t, "overshoot", float64(s.Hand.Over), tt.over, tt.tol)
			near(t, "top", float64(s.Hand.Top), 8000+float64(s.Hand.Over), 1e-9)
			near(t, "margin", float64(s.Hand.Margin), 2000-float64(s.Hand.Over), 1e-9)
		})
	}
}

func TestStopTimes(t *testing.T) {
	for _, tt := range []struct {
		rate    Rate
		confirm time.Duration
	}{
		{10, 200 * time.Millisecond},
		{50, 40 * time.Millisecond},
		{4, 500 * time.Millisecond},
		{2, 800 * time.Millisecond}, // the second sample comes later than 0.3 s after the first
		{1, 1300 * time.Millisecond},
		{0, 0},
	} {
		got := oneRun(nil, 1, 1, 1500*time.Millisecond, 500*time.Millisecond, tt.rate).StopTimes()
		if got.Confirm != tt.confirm || got.ByHand() != tt.confirm+2*time.Second || got.ByRelay() != tt.confirm+800*time.Millisecond {
			t.Errorf("at %v: %+v, by hand %v, by relay %v; want a confirmation of %v", tt.rate, got, got.ByHand(), got.ByRelay(), tt.confirm)
		}
	}
}

// What ends the haul first decides how little rode is out at the worst.
func TestLeastRodeOut(t *testing.T) {
	base := func(l Limits, gear ...Gear) *Trial {
		tr := oneRun([]Piece{{Length: 80, EA: 400e3, WLL: 20e3, Source: "x"}}, 60, 0.04, time.Second, time.Second, 10)
		l.TensionStop = 8000
		tr.Limits[Pull] = l
		tr.Gear = append(tr.Gear, gear...)
		return tr
	}
	shallow := base(Limits{ScopeMin: 4})
	shallow.Stations[0].DepthMin = 7
	tests := []struct {
		name  string
		trial *Trial
		want  Length
		why   string
	}{
		{"nothing ends it: straight under the roller", base(Limits{}), 10, "up and down"},
		{"haul", base(Limits{Haul: 35}), 25, "hauled"},
		{"scope", base(Limits{ScopeMin: 4}), 40, "scope 4"},
		{"scope in the least depth", shallow, 32, "scope 4"},
		{"scope before haul", base(Limits{Haul: 35, ScopeMin: 4}), 40, "scope 4"},
		{"haul before scope", base(Limits{Haul: 15, ScopeMin: 4}), 45, "hauled"},
		{"more to haul than is out", base(Limits{Haul: 90}), 10, "up and down"},
		{"a thing in the rode", base(Limits{Haul: 35}, Gear{Name: "joint", At: 30, HasAt: true}), 31, "joint"},
		{"a thing that passes", base(Limits{Haul: 35}, Gear{Name: "joint", At: 30, HasAt: true, Passes: true}), 25, "hauled"},
		{"a thing still on board", base(Limits{Haul: 35}, Gear{Name: "joint", At: 70, HasAt: true}), 25, "hauled"},
	}
	for _, tt := range tests {
		o := tt.trial.Overshoots()[0]
		if o.Least.Out != tt.want || !strings.Contains(o.Least.Why, tt.why) {
			t.Errorf("%s: least %v, %q; want %v, %q", tt.name, o.Least.Out, o.Least.Why, tt.want, tt.why)
		}
		near(t, tt.name+": stiffness", o.Least.Stiffness, 400e3/float64(tt.want), 1e-9)
		if o.Governs() != o.Least {
			t.Errorf("%s: governed by %+v, want the stiffer moment", tt.name, o.Governs())
		}
	}
}

// Each stage that hauls is reckoned from its own stop, and runs that are alike
// are told once.
func TestOvershootsOfTheTemplate(t *testing.T) {
	tr := parseTemplate(t)
	all := tr.Overshoots()
	if len(all) != 6 {
		t.Fatalf("%d overshoots, want preset, pull and recover of two kinds of run", len(all))
	}
	stops := map[Stage]Force{Preset: 8000, Pull: 8000, Recover: 5000}
	runs := 0
	for i, o := range all {
		if o.Stop != stops[o.Stage] || o.WLL != 10e3 || o.By.Key != "tension_stop" {
			t.Errorf("%v of %v: stop %v by %q, WLL %v", o.Stage, o.Runs, o.Stop, o.By.Key, o.WLL)
		}
		near(t, "slope at the payout", o.Payout.Slope, 400e3/60*0.04, 1e-9)
		if !o.Covered() {
			t.Errorf("%v of %v: the template's own limit leaves no room: %+v", o.Stage, o.Runs, o.Governs())
		}
		if i%3 == 0 {
			runs += len(o.Runs)
		}
	}
	if runs != len(tr.Runs) {
		t.Errorf("%d runs told, want all %d", runs, len(tr.Runs))
	}
	last := all[4]
	if last.Stage != Pull || !slices.Equal(last.Runs, []string{"B2", "B3", "A3", "A4"}) {
		t.Fatalf("fifth is %v of %v", last.Stage, last.Runs)
	}
	// 400 kN / 30 m x 0.04 m/s x 2.2 s, by hand.
	near(t, "overshoot at scope 4", float64(last.Least.Hand.Over), 1173.3, 0.05)
	near(t, "the same by the relay in 1.0 s", float64(last.Least.Relay.Over), 533.3, 0.05)
}

// The remedy holds: at the limit or the speed it names, the WLL is just not
// passed.
func TestRemedyIsEnough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr := oneRun([]Piece{{Length: 80, EA: Force(rapid.Float64Range(10e3, 1e8).Draw(t, "ea")), WLL: 20e3, Source: "x"}},
			Length(rapid.Float64Range(11, 80).Draw(t, "payout")), Speed(rapid.Float64Range(0.001, 2).Draw(t, "speed")),
			time.Duration(rapid.Int64Range(0, 5e9).Draw(t, "reaction")), time.Second, 10)
		tr.Limits[Pull].TensionStop = Force(rapid.Float64Range(1, 10e3).Draw(t, "stop"))
		o := tr.Overshoots()[0]
		if o.Covered() != (o.StopAtMost() >= o.Stop) {
			t.Fatalf("covered %v, stop %v, at most %v", o.Covered(), o.Stop, o.StopAtMost())
		}
		if most := o.StopAtMost(); most > 0 {
			tr.Limits[Pull].TensionStop = most * (1 - 1e-12)
			if again := tr.Overshoots()[0]; !again.Covered() {
				t.Fatalf("at %v, the most it allowed, it is not covered: %+v", most, again)
			}
		}
		if v := o.SpeedAtMost(); v > 0 {
			tr.Limits[Pull].TensionStop = o.Stop
			tr.Runs[0].Speed = v * (1 - 1e-9)
			if again := tr.Overshoots()[0]; !again.Covered() {
				t.Fatalf("at %v, the speed it allowed, it is not covered: %+v", v, again)
			}
		}
	})
}

func TestLimitsSaid(t *testing.T) {
	text := edited(t, "come_up = 1.0\n", "", `soon_warn = "3 s"`, "", "[limits.pull]\n", "[limits.pull]\ntension_end = \"6 kN\"\nsoon_stop = \"4 s\"\n")
	tr, err := ParseTrial("t.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	where := func(s Stage) map[string]string {
		out := map[string]string{}
		for _, l := range tr.LimitsSaid(s) {
			out[l.Key] = l.Text(tr.Show) + " | " + l.Where()
		}
		return out
	}
	for s, wants := range map[Stage]map[string]string{
		Pull: {
			"tension_stop": "8 kN | limits.tension_stop, inherited",
			"wll_stop":     "0.85 | limits.wll_stop, inherited",
			"tension_end":  "6 kN | limits.pull.tension_end",
			"haul":         "35 m | limits.pull.haul",
			"scope_min":    "4 | limits.scope_min, inherited",
			"duration":     "20 min | limits.pull.duration",
			"soon_stop":    "4 s | limits.pull.soon_stop",
			"soon_warn":    "8 s | default, common practice", // twice the stop's time, which is past the 3 s
			"come_up":      "1 | default, common practice",
			"silent_warn":  "1 s | limits.silent_warn, inherited",
		},
		Recover: {
			"tension_stop": "5 kN | limits.recover.tension_stop",
			"soon_warn":    "3 s | default, common practice",
			"soon_stop":    "", "come_up": "", "scope_min": "", "haul": "", "tension_end": "", "duration": "",
		},
		Preset: {"tension_end": "1.3 kN | limits.preset.tension_end", "scope_min": "", "haul": "4.5 m | limits.preset.haul", "come_up": "1 | default, common practice"},
		Done:   {"tension_stop": "8 kN | limits.tension_stop, inherited", "come_up": ""},
	} {
		got := where(s)
		for key, want := range wants {
			if got[key] != want {
				t.Errorf("%v %s: %q, want %q", s, key, got[key], want)
			}
		}
	}
	// Every limit that is in force is told.
	for s := range NumStages {
		n := 0
		for _, kv := range tr.SI() {
			if strings.HasPrefix(kv.Key, "limits_"+s.Key()+"_") {
				n++
			}
		}
		if got := len(tr.LimitsSaid(s)); got != n {
			t.Errorf("%v: %d limits told, %d in force", s, got, n)
		}
	}
	if got := tr.LimitsSaid(NumStages); got != nil {
		t.Errorf("limits of no stage: %v", got)
	}
}

// The lower of the two stops governs, by its own name.
func TestTensionStop(t *testing.T) {
	tr := oneRun(nil, 1, 1, 0, 0, 10)
	for _, tt := range []struct {
		limits Limits
		want   Force
		by     string
	}{
		{Limits{}, 0, ""},
		{Limits{TensionStop: 8000}, 8000, "tension_stop"},
		{Limits{WLLStop: 0.7}, 7000, "wll_stop"},
		{Limits{TensionStop: 8000, WLLStop: 0.7}, 7000, "wll_stop"},
		{Limits{TensionStop: 6000, WLLStop: 0.7}, 6000, "tension_stop"},
	} {
		tr.Limits[Pull] = tt.limits
		if f, by := tr.TensionStop(Pull); f != tt.want || by.Key != tt.by {
			t.Errorf("%+v: TensionStop = %v by %q; want %v by %q", tt.limits, f, by.Key, tt.want, tt.by)
		}
	}
}

// A box too slow to guard is told; slow_cell says that it is meant.
func TestSlowCell(t *testing.T) {
	const rate, no = "rate = \"10 Hz\"\n# Where", "slow_cell = false"
	slow := "rate = \"2 Hz\"\n# Where"
	// The template's silence times are too short for such a box.
	silence := []string{`silent_warn = "1 s"         #`, "#", `silent_stop = "2 s"         #`, "#"}
	for _, tt := range []struct {
		name  string
		edits []string
		notes int
		want  bool
	}{
		{"quick", nil, 0, false},
		{"slow", append([]string{rate, slow}, silence...), 1, false},
		{"slow and meant", append([]string{rate, slow, no, "slow_cell = true"}, silence...), 0, true},
		{"slow and unsaid", append([]string{rate, slow, no, ""}, silence...), 1, false},
	} {
		tr, err := ParseTrial("t.toml", []byte(edited(t, tt.edits...)))
		if err != nil {
			t.Fatalf("%s: refused:\n%v", tt.name, err)
		}
		if len(tr.Notes) != tt.notes || tr.Load.SlowCell != tt.want {
			t.Errorf("%s: notes %q, SlowCell %v; want %d and %v", tt.name, tr.Notes, tr.Load.SlowCell, tt.notes, tt.want)
		}
		if tt.notes == 1 && !strings.Contains(tr.Notes[0], "load.rate: 2 Hz is under 3 Hz") {
			t.Errorf("%s: note %q", tt.name, tr.Notes[0])
		}
	}
}

// What the file leaves out has its default.
func TestDefaultsOfGearAndWinch(t *testing.T) {
	text := cutTable(t, "[winch]")
	for _, l := range []string{"keep_out = \"1 m\"\n", "step = \"0.1 kgf\"\n", "slow_cell = false\n"} {
		text = strings.Replace(text, l, "", 1)
	}
	tr, err := ParseTrial("t.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	if want := (Winch{1500 * time.Millisecond, 500 * time.Millisecond, true}); tr.Winch != want {
		t.Errorf("winch %+v, want %+v", tr.Winch, want)
	}
	if tr.Vessel.KeepOut != 1 || tr.Load.Step != 0 || tr.Load.SlowCell {
		t.Errorf("vessel %+v, load %+v", tr.Vessel, tr.Load)
	}
	if s, _ := tr.Station("Heron Bar"); s.DepthMin != 0 || s.DepthMax != 0 {
		t.Errorf("station %+v, want no box", s)
	}
}
