package safety

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// sayConfig has every rule in force that a table can show.
func sayConfig() *Config {
	c := snagConfig()
	c.LoadHz, c.LineHz, c.HasStopOut = 10, 10, true
	c.Things, c.KeepOut = []trial.Joint{{Name: "cell", At: 5}, {Name: "anchor"}}, 1
	for i := range c.Limits {
		c.Limits[i].ComeUp = 1
	}
	c.Limits[trial.Preset].TensionEnd = 6300
	c.Limits[trial.Soak].Duration, c.Limits[trial.Pull].Duration = time.Minute, 2*time.Minute
	return c
}

// brink is a way to bring one cause about, with 1 kN and 10 Hz before it:
// either do, or the tension and line that follow, s seconds after it.
type brink struct {
	cause Cause
	warn  bool // look for the warning rather than the limit
	how   string
	do    func(r *rig)
	play  func(s float64) (kN, x float64)
	for_  time.Duration
}

func live(s float64) float64 { return 1e-4 * math.Mod(math.Round(10*s), 2) }

func fault(c Cause) func(r *rig) {
	return func(r *rig) { r.g.Fault(r.now, c, true, 2, 1, &r.ev) }
}

func lose(src Source) func(r *rig) {
	return func(r *rig) { r.g.Port(r.now, src, false, &r.ev) }
}

var brinks = []brink{
	{cause: TensionLimit, warn: true, how: "just past the warning", do: func(r *rig) { r.kN = 1.01e-3 * float64(r.g.cfg.Limits[r.g.s.Stage].TensionWarn) }, for_: time.Second},
	{cause: TensionLimit, how: "just past the limit", do: func(r *rig) { r.kN = 1.01e-3 * float64(r.g.cfg.Limits[r.g.s.Stage].TensionStop) }, for_: time.Second},
	{cause: WLLShare, warn: true, how: "7.1 kN, no other limit", do: func(r *rig) {
		for i := range r.g.cfg.Limits {
			r.g.cfg.Limits[i].TensionWarn, r.g.cfg.Limits[i].TensionStop = 0, 0
		}
		r.g.setLimits()
		r.kN = 7.1
	}, for_: time.Second},
	{cause: WLLShare, how: "9.1 kN", do: func(r *rig) { r.kN = 9.1 }, for_: time.Second},
	{cause: LimitSoon, warn: true, how: "1 kN, then 0.5 kN/s", play: func(s float64) (float64, float64) { return 1 + 0.5*s, 0.08 * s }, for_: 15 * time.Second},
	{cause: VesselMoves, how: "0.16 kN/s, no haul", play: func(s float64) (float64, float64) { return 1 + 0.16*s, 0 }, for_: 10 * time.Second},
	{cause: VesselMoves, warn: true, how: "the same, warned of", play: func(s float64) (float64, float64) { return 1 + 0.16*s, 0 }, for_: 10 * time.Second},
	{cause: LoadOverRange, how: "20 kN, the cell's range", do: func(r *rig) { r.kN = 20 }, for_: time.Second},
	{cause: LoadNotNumber, how: "infinite", do: func(r *rig) { r.kN = math.Inf(1) }, for_: time.Second},
	{cause: LoadAngle, how: "a pin, and no rode out", do: func(r *rig) {
		r.g.SampleFelt(r.now, Felt{Tension: trial.Force(math.Inf(1)), Felt: 300, NoAngle: true}, false, &r.ev)
	}, for_: time.Second},
	{cause: LoadSilent, warn: true, how: "no bytes from the load box", do: func(r *rig) { r.noLoad = true }, for_: 3 * time.Second},
	{cause: LoadSilent, how: "the same", do: func(r *rig) { r.noLoad = true }, for_: 3 * time.Second},
	{cause: LoadGarbled, how: "bytes that do not match", do: func(r *rig) { r.garble(3 * time.Second) }, for_: 0},
	{cause: LoadUnchanged, how: "one number, 0.04 m/s", play: func(s float64) (float64, float64) { return 1, 0.04 * s }, for_: 7 * time.Second},
	{cause: LoadReversed, warn: true, how: "-0.2 kN", do: func(r *rig) { r.kN = -0.2 }, for_: time.Second},
	{cause: LoadReversed, how: "-0.5 kN", do: func(r *rig) { r.kN = -0.5 }, for_: time.Second},
	{cause: LoadUnit, how: "1 s of 1 kN, then 2.2 times", do: func(r *rig) { r.run(time.Second); r.kN *= newtonsKgf / newtonsLbf }, for_: time.Second},
	{cause: LineSilent, warn: true, how: "nothing from the line box", do: func(r *rig) { r.noLine = true }, for_: 6 * time.Second},
	{cause: LineSilent, how: "the same", do: func(r *rig) { r.noLine = true }, for_: 6 * time.Second},
	{cause: LineJumped, how: "a count out of reach", do: fault(LineJumped), for_: time.Second},
	{cause: LineReversed, warn: true, how: "0.05 m/s out", play: func(s float64) (float64, float64) { return 1 + live(s), -0.05 * s }, for_: 22 * time.Second},
	{cause: LineReversed, how: "the same", play: func(s float64) (float64, float64) { return 1 + live(s), -0.05 * s }, for_: 22 * time.Second},
	{cause: PersonStop, how: "a call", do: func(r *rig) { r.do(CallStop, 0, Watcher) }, for_: time.Second},
	{cause: StoodStill, how: "no record for 0.3 s", do: func(r *rig) { r.tick(300 * time.Millisecond) }, for_: time.Second},
	{cause: HaulsOn, how: "stopped, 2.1 s later 0.6 m", do: func(r *rig) {
		r.do(CallStop, 0, Watcher)
		r.run(2100 * time.Millisecond)
		r.x += 0.6
	}, for_: time.Second},
	{cause: RelayStuck, how: "stopped, relay says closed", do: func(r *rig) {
		r.welded = true
		r.do(CallStop, 0, Watcher)
		r.run(1100 * time.Millisecond)
		r.g.Relay(r.now, true, r.g.s.Session, &r.ev)
	}, for_: time.Second},
	{cause: ZeroDue, how: "no load for 2.1 s, then load", do: func(r *rig) {
		r.noLoad = true
		r.run(2100 * time.Millisecond)
		r.noLoad = false
	}, for_: time.Second},
	{cause: RelayOpened, how: "relay says open", do: func(r *rig) { r.g.Relay(r.now, false, r.g.s.Session, &r.ev) }, for_: time.Second},
	{cause: StopOutLost, how: "port lost", do: lose(StopOut), for_: time.Second},
	{cause: ScreenGone, how: "screen lost", do: lose(Screen), for_: time.Second},
	{cause: Terminated, how: "told to end", do: func(r *rig) { r.do(Terminate, 0, Program) }, for_: time.Second},

	{cause: TensionReached, how: "6.3 kN, preset ends there", do: func(r *rig) { r.kN = 6.3 }, for_: time.Second},
	{cause: LineHauled, how: "hauled 32 m", do: func(r *rig) { r.x += 32 }, for_: time.Second},
	{cause: MinimumScope, how: "scope 3.9", do: func(r *rig) { r.x = 60 - 3.9*7.5 }, for_: time.Second},
	{cause: AtFairlead, how: "cell 0.9 m off", do: func(r *rig) { r.x = 54.1 }, for_: time.Second},
	{cause: StageDuration, how: "the stage's time is over", do: func(*rig) {}, for_: 121 * time.Second},

	{cause: LoadNeverFalls, how: "5 N a sample for a minute", play: func(s float64) (float64, float64) { return 1 + 0.005*10*s, 0.04 * s }, for_: 61 * time.Second},
	{cause: LoadNoisy, how: "noise of 1 kN", play: func(s float64) (float64, float64) { return 2 + normal(int(10*s)), 0.04 * s }, for_: 10 * time.Second},
	{cause: LoadSlow, how: "a line each 0.3 s", do: func(r *rig) { r.thin(12 * time.Second) }, for_: 0},
	{cause: ZeroMoved, how: "a zero check says so", do: fault(ZeroMoved), for_: time.Second},
	{cause: CellsDisagree, how: "two cells say so", do: fault(CellsDisagree), for_: time.Second},
	{cause: CellMissing, how: "one of several is silent", do: fault(CellMissing), for_: time.Second},
	{cause: LineContradicts, how: "a rode mark says so", do: fault(LineContradicts), for_: time.Second},
	{cause: LineReset, how: "count falls to zero", do: fault(LineReset), for_: time.Second},
	{cause: AnchorNotMoving, how: "7 kN/m from the start", play: func(s float64) (float64, float64) { return 1 + 7*0.04*s, 0.04 * s }, for_: 10 * time.Second},
	{cause: Snag, how: "1.5 m hauled level, 7 kN/m", play: func(s float64) (float64, float64) {
		return 1 + live(s) + 7*0.04*max(0, s-37.5), 0.04 * s
	}, for_: 45 * time.Second},
	{cause: MayNotComeUp, how: "5.1 kN, recovery stops at 5", do: func(r *rig) { r.kN = 5.1 }, for_: time.Second},
	{cause: DepthOutOfBox, how: "a depth is said", do: fault(DepthOutOfBox), for_: time.Second},
	{cause: RecordShort, how: "disk full in 12 min", do: func(r *rig) { r.g.Fault(r.now, RecordShort, true, 0, 0, &r.ev) }, for_: time.Second},
	{cause: RecordFailing, how: "disk full", do: lose(Record), for_: time.Second},
	{cause: ClockStepped, how: "clock set by 3 s", do: fault(ClockStepped), for_: time.Second},
	{cause: RelayStaysOpen, how: "relay says nothing", do: func(r *rig) {
		r.must(NextStage, trial.Ease)
		r.must(NextStage, trial.Recover)
	}, for_: 3 * time.Second},
	{cause: HornLost, how: "port lost", do: lose(Horn), for_: time.Second},
	{cause: JudgeGone, how: "judge gone", do: lose(Judge), for_: time.Second},
}

// garble lets frames come that do not match.
func (r *rig) garble(d time.Duration) {
	r.noLoad = true
	for range d / (100 * time.Millisecond) {
		r.run(100 * time.Millisecond)
		r.g.BadFrame(r.now, Load, &r.ev)
	}
}

// thin lets only each third line of the load box through.
func (r *rig) thin(d time.Duration) {
	for i := range d / (100 * time.Millisecond) {
		r.noLoad = i%3 != 0
		r.run(100 * time.Millisecond)
	}
}

// said is what the guard makes of a brink, and after how long.
func (b brink) said(r *rig) string {
	if b.cause == StageDuration && r.g.cfg.Limits[r.g.s.Stage].Duration == 0 {
		return "-"
	}
	if b.cause == RelayStaysOpen && (r.g.s.Stage != trial.Recover || !r.g.s.Armed) {
		return "" // one column shows it: it does not depend on the stage that hauls
	}
	r.said = nil
	start, x0 := r.now, r.x
	if b.do != nil {
		b.do(r)
		r.take()
	}
	word := b.word(r.said, start)
	for end := r.now + int64(b.for_); r.now < end && word == "-"; word = b.word(r.said, start) {
		if b.play != nil {
			kN, x := b.play(seconds(r.now + 100*ms - start))
			r.kN, r.x = kN, x0+x
		}
		r.run(100 * time.Millisecond)
	}
	return word
}

// word is what was said of the cause, and how long after start.
func (b brink) word(said []Event, start int64) string {
	var word string
	var at int64
	for _, e := range said {
		if e.Cause != b.cause {
			continue
		}
		switch {
		case e.What == AlarmUp && e.On != b.warn && word == "":
			word, at = e.Priority.String(), e.T
		case e.What == EndReached && word == "":
			word, at = "told", e.T
		case e.What == StopSet && !b.warn && e.Kind == Trip:
			word, at = "STOP", e.T
		case e.What == StopSet && !b.warn:
			word, at = "end", e.T
		case e.What == StopMore && word != "STOP":
			word, at = "later", e.T
		}
	}
	switch {
	case word == "":
		return "-"
	case word == "STOP" && b.cause.row().ease:
		word = "EASE"
	case word == "emergency":
		word = "emerg"
	case word == "warning":
		word = "warn"
	case word == "caution":
		word = "caut"
	}
	return fmt.Sprintf("%s %.1f", word, seconds(at-start))
}

// saidTable is what is said of each brink in each stage, and how many seconds
// after it came about.
func saidTable(start func(trial.Stage) *rig) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-18s %-27s", "cause", "brought about by")
	for stage := range trial.NumStages {
		fmt.Fprintf(&b, " %-10s", stage)
	}
	b.WriteString("\n")
	for _, br := range brinks {
		word := br.cause.String()
		if br.warn {
			word += " w"
		}
		fmt.Fprintf(&b, "%-18s %-27s", word, br.how)
		for stage := range trial.NumStages {
			fmt.Fprintf(&b, " %-10s", br.said(start(stage)))
		}
		b.WriteString("\n")
	}
	lines := strings.Split(b.String(), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n")
}

func sayArmed(t testing.TB) func(trial.Stage) *rig {
	return func(stage trial.Stage) *rig {
		r := sayReady(t)
		r.checkAll()
		r.must(Arm, 0)
		if stage != trial.StandBy {
			r.must(NextStage, stage)
		}
		if s := r.g.State(); s.Permit {
			r.g.Relay(r.now, true, s.Session, &r.ev)
			r.take()
		}
		return r
	}
}

func sayUnarmed(t testing.TB) func(trial.Stage) *rig {
	return func(stage trial.Stage) *rig {
		r := sayReady(t)
		if stage != trial.StandBy {
			r.must(NextStage, stage)
		}
		return r
	}
}

func sayReady(t testing.TB) *rig {
	r := newRig(t, sayConfig())
	r.g.Port(0, StopOut, true, &r.ev)
	r.run(time.Second)
	return r
}

// Every cause has a line in the table.
func TestEveryCauseIsShown(t *testing.T) {
	for c := NoCause + 1; c < NumCauses; c++ {
		shown := false
		for _, b := range brinks {
			shown = shown || b.cause == c && !b.warn
		}
		if !shown && c != LimitSoon { // it stops only where a trial says so
			t.Errorf("%v is nowhere in the table of what is said", c)
		}
	}
}

// The table for a reader holds every cause with all that is said of it.
func TestTable(t *testing.T) {
	text := Table()
	for c := NoCause + 1; c < NumCauses; c++ {
		for _, part := range []string{c.Title() + " (" + c.String() + ")", c.row().when, c.Consequence(), c.Advice()} {
			if part == "" || !strings.Contains(text, part) {
				t.Errorf("%v: the table does not say %q", c, part)
			}
		}
	}
}
