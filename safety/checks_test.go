package safety

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

func TestJudgeZero(t *testing.T) {
	c := testConfig() // range 20 kN: 0.5 % is 100 N, 2 % is 400 N
	at := func(mean trial.Force) Reading { return Reading{N: 10, Mean: mean, Low: mean - 10, High: mean + 10} }
	tests := []struct {
		name  string
		r     Reading
		last  trial.Force
		moved bool
		want  string // part of the refusal; "": taken
	}{
		{"at zero", at(0), 0, false, ""},
		{"0.5 % off the last one", at(100), 0, false, ""},
		{"more than 0.5 % off the last one", at(100.1), 0, true, ""},
		{"the same, below", at(-100.1), 0, true, ""},
		{"far off, but as the last one", at(300), 250, false, ""},
		{"2 % of the range", at(400), 400, false, ""},
		{"more than 2 % of the range", at(400.1), 400, false, "take the load off it first"},
		{"the same, below", at(-401), 0, false, "take the load off it first"},
		{"moving by 1 % of the range", Reading{N: 10, Mean: 0, Low: -100, High: 100}, 0, false, ""},
		{"moving by more", Reading{N: 10, Mean: 0, Low: -100, High: 100.1}, 0, false, "let it come to rest"},
		{"two samples", Reading{N: 2}, 0, false, "sent too little"},
		{"no number", at(trial.Force(math.NaN())), 0, false, "take the load off"},
		{"no number in the spread", Reading{N: 10, Low: trial.Force(math.NaN())}, 0, false, "come to rest"},
		{"infinite", at(trial.Force(math.Inf(-1))), 0, false, "take the load off"},
	}
	for _, tt := range tests {
		moved, refused := JudgeZero(tt.r, tt.last, c)
		if refused == "" != (tt.want == "") || !strings.Contains(refused, tt.want) || moved != tt.moved {
			t.Errorf("%s: JudgeZero(%+v, %v) = %v, %q; want %v, %q", tt.name, tt.r, tt.last, moved, refused, tt.moved, tt.want)
		}
	}
}

// Every factor by which a reading goes wrong is named, alone and with the sign
// reversed. Factors: units exact by definition.
func TestJudgeWeightNamesTheFactor(t *testing.T) {
	c := testConfig()
	const weight = 25 * 9.80665 * 10 // N: 250 kg, so that a thousandth is still a number
	tests := []struct {
		factor float64
		want   string
	}{
		{9.80665, "newtons are taken for kgf"},
		{1 / 9.80665, "kgf are taken for newtons"},
		{4.4482216152605, "newtons are taken for lbf"},
		{1 / 4.4482216152605, "lbf are taken for newtons"},
		{2.2046226218487757, "lb are taken for kg"},
		{1 / 2.2046226218487757, "kg are taken for lb"},
		{1000, "N are taken for kN"},
		{1.0 / 1000, "kN are taken for N"},
		{1, ""},
	}
	for _, tt := range tests {
		for _, sign := range []float64{1, -1} {
			for _, off := range []float64{0.991, 1, 1.009} {
				r := Reading{N: 10, Mean: trial.Force(sign * tt.factor * off * weight)}
				fault, tooLittle := JudgeWeight(r, 0, weight, c)
				if tooLittle {
					t.Fatalf("%v times: too little", sign*tt.factor)
				}
				named := 0
				for _, s := range slips {
					named += strings.Count(fault, s.large) + strings.Count(fault, s.small)
				}
				reversed := strings.Contains(fault, "the sign is reversed")
				switch {
				case tt.factor == 1 && sign == 1 && fault != "":
					t.Errorf("%v times: %q, want it to fit", off, fault)
				case tt.want != "" && (!strings.Contains(fault, tt.want) || named != 1):
					t.Errorf("%v times: %q, want %q and no other factor", sign*tt.factor*off, fault, tt.want)
				case tt.want == "" && named != 0:
					t.Errorf("%v times: %q, want no factor", sign*off, fault)
				case reversed != (sign < 0):
					t.Errorf("%v times: %q, want the sign named: %v", sign*tt.factor*off, fault, sign < 0)
				}
			}
		}
	}
}

func TestJudgeWeightBounds(t *testing.T) {
	c := testConfig() // 1 % of the range is 200 N
	tests := []struct {
		name         string
		mean, zero   trial.Force
		weight       trial.Force
		n            int
		fits, little bool
		want         string
	}{
		{"exact", 1000, 0, 1000, 3, true, false, ""},
		{"1 % more", 1010, 0, 1000, 3, true, false, ""},
		{"1 % less", 990, 0, 1000, 3, true, false, ""},
		{"just more than 1 %", 1010.1, 0, 1000, 3, false, false, "1.01 times"},
		{"just less than 1 %", 989.9, 0, 1000, 3, false, false, "0.99 times"},
		{"less the zero", 1100, 100, 1000, 3, true, false, ""},
		{"forgetting the zero", 1100, 0, 1000, 3, false, false, "1.1 times"},
		{"two samples", 1000, 0, 1000, 2, false, true, "sent too little"},
		{"a weight of 1 % of the range", 200, 0, 200, 3, true, false, ""},
		{"a smaller one says nothing", 199, 0, 199, 3, false, true, "hang on more"},
		{"no weight", 0, 0, 0, 3, false, true, "hang on more"},
		{"weight no number", 1000, 0, trial.Force(math.NaN()), 3, false, true, "hang on more"},
		{"reading no number", trial.Force(math.NaN()), 0, 1000, 3, false, false, "NaN"},
		{"nothing on it", 0, 0, 1000, 3, false, false, "0 times"},
		{"a factor of nothing known", 3000, 0, 1000, 3, false, false, "3 times"},
		{"reversed and wrong", -3000, 0, 1000, 3, false, false, "the sign is reversed; it is 3 times"},
	}
	for _, tt := range tests {
		fault, little := JudgeWeight(Reading{N: tt.n, Mean: tt.mean}, tt.zero, tt.weight, c)
		if fault == "" != tt.fits || little != tt.little || !strings.Contains(fault, tt.want) {
			t.Errorf("%s: JudgeWeight(%v, %v, %v) = %q, %v; want fits %v, too little %v, %q", tt.name, tt.mean, tt.zero, tt.weight, fault, little, tt.fits, tt.little, tt.want)
		}
	}
	// 25.0 kg hang on the hook; the box sends -55.1 without a unit, declared kgf.
	fault, _ := JudgeWeight(Reading{N: 10, Mean: -55.1 * 9.80665}, 0, 25*9.80665, c)
	if want := "the cell shows -0.5403 kN for 0.2452 kN: the sign is reversed; it is 2.204 times what hangs there: lb are taken for kg"; fault != want {
		t.Errorf("-55.1 for 25.0 kg: %q, want %q", fault, want)
	}
}

// The checklist: each line, left out, is named and keeps the director from
// arming; a waived one does not.
func TestChecklist(t *testing.T) {
	full := func() *Config {
		c := testConfig()
		c.HasHorn, c.HasStopOut, c.SlowCell, c.LoadHz, c.LineHz = true, true, true, 10, 10
		return c
	}
	start := func(c *Config) *rig {
		r := newRig(t, c)
		r.g.Port(0, StopOut, true, &r.ev)
		r.run(2 * time.Second)
		return r
	}
	stands := func(r *rig, c Check) (CheckItem, bool) {
		for _, l := range r.g.Checklist(nil) {
			if l.Check == c {
				return l, true
			}
		}
		return CheckItem{}, false
	}
	for c := CheckZero; c <= ReadyDirector; c++ {
		r := start(full())
		if c == CheckSlowCell {
			continue // below: only a slow cell has the line
		}
		r.checks()
		r.run(time.Second)
		r.check(c, CheckOpen, Director)
		if refused := r.do(Arm, 0, Director); !strings.Contains(refused, c.String()+": ") {
			t.Errorf("%v left out: refused %q, want it named", c, refused)
		}
		if l, ok := stands(r, c); !ok || l.Good() || l.State != CheckOpen || l.Text == "" {
			t.Errorf("%v left out: line %+v, want it open, with what to do", c, l)
		}
		r.check(c, CheckFailed, Director)
		if refused := r.do(Arm, 0, Director); !strings.Contains(refused, "it failed") {
			t.Errorf("%v failed: refused %q, want it to say so", c, refused)
		}
		if c == CheckZero || c == CheckWeight {
			if refused := r.g.Do(r.now, Act{What: DoCheck, Check: c, To: CheckWaived, Who: Director}, nil); !strings.Contains(refused, "it failed") {
				t.Errorf("%v failed and was waived: %q, want a refusal", c, refused)
			}
			r.check(c, CheckOpen, Director) // corrected
			r.check(c, CheckWaived, Director)
			r.run(time.Second)
			r.must(Arm, 0)
			continue
		}
		if refused := r.g.Do(r.now, Act{What: DoCheck, Check: c, To: CheckWaived, Who: Director}, nil); refused == "" {
			t.Errorf("%v was waived; only zero and known weight can be", c)
		}
		r.check(c, CheckPassed, Director)
		r.must(Arm, 0)
	}
	spoilt := []struct {
		check Check
		cfg   func(c *Config)
		spoil func(r *rig)
		want  string
	}{
		{CheckGear, func(c *Config) { c.Unrated = []string{"swivel"} }, nil, `"swivel" has no WLL`},
		{CheckGear, func(c *Config) { c.Unrated = []string{"swivel", "roller"} }, nil, `"swivel" and 1 more`},
		{CheckGear, func(c *Config) { c.WLL = 0 }, nil, "no WLL is known"},
		{CheckClock, nil, func(r *rig) { r.g.Port(r.now, WallClock, false, &r.ev) }, "clock is wrong or has stepped"},
		{CheckDisk, nil, func(r *rig) { r.g.Port(r.now, Record, false, &r.ev) }, "not reaching the disk"},
		{CheckLoad, nil, func(r *rig) { r.noLoad = true; r.run(1500 * time.Millisecond) }, "nothing valid from the load cell"},
		{CheckLoad, func(c *Config) { c.LoadHz = 20 }, nil, "the load box sends 10 lines a second, the trial file says 20"},
		{CheckLoad, func(c *Config) { c.LoadHz = 5 }, nil, "the load box sends 10 lines a second, the trial file says 5"},
		{CheckLine, func(c *Config) { c.LineHz = 20 }, nil, "the line box sends 10 lines a second, the trial file says 20"},
		{CheckLine, nil, func(r *rig) { r.noLine = true; r.run(2500 * time.Millisecond) }, "nothing valid from the line encoder"},
		{CheckStop, nil, func(r *rig) { r.g.Port(r.now, StopOut, false, &r.ev) }, "stop output is not open"},
	}
	for _, tt := range spoilt {
		c := full()
		if tt.cfg != nil {
			tt.cfg(c)
		}
		r := start(c)
		r.checks()
		r.run(time.Second)
		if tt.spoil != nil {
			tt.spoil(r)
			r.take()
		}
		l, ok := stands(r, tt.check)
		if !ok || l.State != CheckFailed || !strings.Contains(l.Text, tt.want) {
			t.Errorf("%v: line %+v, want it failed with %q", tt.check, l, tt.want)
		}
		if tt.check == CheckStop {
			r.must(Ack, 0)
		}
		if refused := r.do(Arm, 0, Director); refused == "" || r.g.State().Armed {
			t.Errorf("%v spoilt: armed; want a refusal", tt.check)
		}
	}
}

// A cell under 3 Hz guards only if the trial file allows it and the director
// accepts it.
func TestSlowCell(t *testing.T) {
	for _, allowed := range []bool{true, false} {
		c := testConfig()
		c.LoadHz, c.SlowCell = 2, allowed
		for i := range c.Limits {
			c.Limits[i].SilentWarn, c.Limits[i].SilentStop = 1500*time.Millisecond, 2500*time.Millisecond
		}
		r := newRig(t, c)
		for range 10 {
			for range 4 {
				r.tick(100 * time.Millisecond)
				r.g.Count(r.now, lineAt(0), &r.ev)
			}
			r.sample(100*time.Millisecond, 1)
		}
		for check := CheckZero; check <= ReadyDirector; check++ {
			if check != CheckSlowCell {
				r.check(check, CheckPassed, Director)
			}
		}
		r.sample(100*time.Millisecond, 1)
		if refused := r.do(Arm, 0, Director); !strings.Contains(refused, "slow cell accepted: a cell under 3 Hz misses peaks") {
			t.Errorf("2 Hz, allowed %v: refused %q, want it to name the slow cell", allowed, refused)
		}
		for _, who := range []Who{WinchOperator, Logger, Watcher} {
			if r.g.Do(r.now, Act{What: DoCheck, Check: CheckSlowCell, To: CheckPassed, Who: who}, nil) == "" {
				t.Errorf("the %v accepted a slow cell; only the director does", who)
			}
		}
		refused := r.g.Do(r.now, Act{What: DoCheck, Check: CheckSlowCell, To: CheckPassed, Who: Director}, nil)
		if (refused == "") != allowed {
			t.Errorf("accepting a slow cell, allowed %v in the trial file: %q", allowed, refused)
		}
		if refused := r.do(Arm, 0, Director); (refused == "") != allowed {
			t.Errorf("arming a slow cell, allowed %v: %q", allowed, refused)
		}
	}
}

// Who may say which check.
func TestWhoChecks(t *testing.T) {
	may := map[Check][]Who{
		CheckZero: {Director, Logger}, CheckWeight: {Director, Logger}, CheckHorn: {Director, Logger}, CheckSlowCell: {Director},
		CheckLimits: {Director}, ReadyWinch: {Director, WinchOperator}, ReadyLogger: {Director, Logger}, ReadyDirector: {Director},
	}
	c := testConfig()
	c.SlowCell = true
	for check := CheckZero; check <= NumChecks+1; check++ {
		for who := Nobody; who <= Program; who++ {
			want := fmt.Sprint(may[check])
			g := New(c)
			granted := g.Do(0, Act{What: DoCheck, Check: check, To: CheckPassed, Who: who}, nil) == ""
			if allowed := strings.Contains(want, who.String()); allowed != granted {
				t.Errorf("%v by %v: granted %v, want %v", check, who, granted, allowed)
			}
			if check <= CheckWeight {
				if waived := g.Do(0, Act{What: DoCheck, Check: check, To: CheckWaived, Who: who}, nil) == ""; waived != (who == Director) {
					t.Errorf("%v waived by %v: %v; only the director waives", check, who, waived)
				}
			}
			if g.Do(0, Act{What: DoCheck, Check: check, To: CheckWaived + 1, Who: who}, nil) == "" {
				t.Errorf("%v: an unknown outcome was taken", check)
			}
		}
	}
}

// After the run is done each says ready anew; zero and weight stay.
func TestReadyIsSaidAnew(t *testing.T) {
	r := armed(t, trial.Pull)
	r.must(NextStage, trial.Done)
	s := r.g.State()
	if s.Checks[ReadyWinch] != CheckOpen || s.Checks[ReadyLogger] != CheckOpen || s.Checks[ReadyDirector] != CheckOpen || s.Checks[CheckZero] != CheckPassed {
		t.Errorf("done: %+v, want the three to be said again, zero still done", s.Checks)
	}
}

// A zero says nothing of the tension until the next line has come.
func TestZeroTakesNoStopAway(t *testing.T) {
	r := armed(t, trial.Pull)
	r.kN = 8.5
	r.run(time.Second)
	r.must(Ack, 0)
	r.check(CheckZero, CheckPassed, Director)
	if refused := r.do(Rearm, trial.Pull, Director); !strings.Contains(refused, "wait for the next line") {
		t.Errorf("8.5 kN, zeroed, re-armed: %q, want to wait for the next line", refused)
	}
	r.run(time.Second)
	if refused := r.do(Rearm, trial.Pull, Director); !strings.Contains(refused, "at or above the stop limit") {
		t.Errorf("still 8.5 kN: %q, want a refusal", refused)
	}
}
