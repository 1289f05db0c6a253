package safety

import (
	"math"
	"time"

	"pgregory.net/rapid"

	"hawse/trial"
)

// input is one input of any kind, dt after the one before.
type input struct {
	dt      int64
	kind    int
	v       float64
	over    bool
	lead    bool // inSample: a pin that feels v, and nobody knows the line's angle
	src     Source
	up      bool
	act     Act
	session uint32
	l       Line
	cause   Cause   // inFault
	limit   float64 // inFault
	latched Latched // inLatch
	used    Used    // inGoOn
}

const (
	inSample = iota
	inBad
	inHeard
	inCount
	inPort
	inRelay
	inAct
	inTick
	inSaid
	inMarked
	inFault
	inBehind
	inLatch
	inGoOn
	inCountedOn
)

func (g *Guard) feed(t int64, in input, ev *Events) {
	g.Advance(t, ev)
	switch in.kind {
	case inSample:
		if in.lead {
			g.SampleFelt(t, Felt{Tension: trial.Force(math.Inf(1)), Felt: trial.Force(in.v), Shown: trial.Force(in.v), NoAngle: true}, in.over, ev)
			return
		}
		g.Sample(t, trial.Force(in.v), in.over, ev)
	case inBad:
		g.BadFrame(t, in.src, ev)
	case inHeard:
		g.Heard(t, in.src)
	case inCount:
		g.Count(t, in.l, ev)
	case inPort:
		g.Port(t, in.src, in.up, ev)
	case inRelay:
		g.Relay(t, in.up, in.session, ev)
	case inAct:
		g.Do(t, in.act, ev)
	case inSaid:
		g.Said(t, in.l, ev)
	case inMarked:
		g.Marked(t, in.l, ev)
	case inFault:
		g.Fault(t, in.cause, in.up, in.v, in.limit, ev)
	case inBehind:
		g.Behind(t, int64(in.v), ev)
	case inLatch:
		g.Latch(t, in.latched, ev)
	case inGoOn:
		g.GoOn(t, in.used, ev)
	case inCountedOn:
		g.CountedOn(t, in.l, ev)
	}
}

// tensions hold all that is near a level, at it, past it, and all that is odd.
var tensions = []float64{0, 100, 199, 200, 1000, 1599, 1600, 4000, 5000, 6271, 6272, 6399, 6400, 6401, 7840, 7999, 8000, 8001, 9000, 9001,
	19999, 20000, 1e300, -1e300, -500, math.Inf(1), math.Inf(-1), math.NaN(), math.MaxFloat64, math.SmallestNonzeroFloat64}

// drawInput mostly draws what a deck at work brings, else anything.
func drawInput(t *rapid.T, longest int64) input {
	in := input{
		dt:   rapid.Int64Range(0, longest).Draw(t, "dt"),
		kind: rapid.SampledFrom([]int{inSample, inSample, inSample, inCount, inCount, inAct, inAct, inAct, inBad, inHeard, inPort, inRelay, inTick, inSaid, inMarked, inFault, inSample, inCount, inCountedOn}).Draw(t, "kind"),
	}
	switch in.kind {
	case inSample:
		in.v = rapid.SampledFrom(tensions).Draw(t, "v")
		if rapid.Bool().Draw(t, "usual") {
			in.v = rapid.Float64Range(0, 9500).Draw(t, "v")
		}
		in.over = rapid.IntRange(0, 30).Draw(t, "over") == 0
		in.lead = rapid.IntRange(0, 30).Draw(t, "lead") == 0
	case inFault:
		in.cause = Cause(rapid.IntRange(0, int(NumCauses)+1).Draw(t, "cause"))
		in.up = rapid.Bool().Draw(t, "there")
		in.v = rapid.SampledFrom(tensions).Draw(t, "value")
		in.limit = rapid.SampledFrom(tensions).Draw(t, "limit")
	case inCount, inSaid, inMarked, inCountedOn:
		in.l = lineAt(rapid.Float64Range(-1, 60).Draw(t, "x"))
		switch rapid.IntRange(0, 12).Draw(t, "odd") {
		case 0:
			in.l = Line{X: trial.Length(math.NaN()), RodeOut: trial.Length(math.Inf(1)), Scope: math.NaN(), HasX: true, HasS: true}
		case 1:
			in.l = Line{}
		case 2:
			in.l.HasS = false
		}
	case inBad, inHeard, inPort:
		in.src = Source(rapid.IntRange(0, int(NumSources)).Draw(t, "src"))
		in.up = rapid.IntRange(0, 3).Draw(t, "up") > 0
	case inRelay:
		in.up = rapid.IntRange(0, 5).Draw(t, "closed") > 0
		in.session = rapid.Uint32Range(0, 8).Draw(t, "session")
	case inAct:
		in.act = Act{
			What:  ActKind(rapid.IntRange(0, int(NumActs)).Draw(t, "act")),
			Who:   rapid.SampledFrom([]Who{Director, Director, Director, Nobody, WinchOperator, Logger, Watcher, Program}).Draw(t, "who"),
			Stage: trial.Stage(rapid.IntRange(0, int(trial.NumStages)).Draw(t, "stage")), Session: rapid.Uint32Range(1, 8).Draw(t, "session"),
		}
		switch in.act.What {
		case DoCheck:
			in.act.Check = Check(rapid.IntRange(0, int(NumChecks)+1).Draw(t, "check"))
			in.act.To = CheckState(rapid.IntRange(0, int(CheckWaived)+1).Draw(t, "to"))
		case Clear:
			in.act.Thing = rapid.SampledFrom([]int{0, 0, 1, 2, -1, 3, 31, 64, math.MaxInt}).Draw(t, "thing")
		case Lower:
			in.act.Limit = LimitKey(rapid.IntRange(0, int(NumLimits)+1).Draw(t, "limit"))
			in.act.Value = rapid.SampledFrom([]float64{3.5, 4, 4.5, 5, 25, 31, 4500, 6000, 7000, 7999, 8000, 8001, 0, -1,
				math.NaN(), math.Inf(1), math.Inf(-1), 1e300, math.SmallestNonzeroFloat64}).Draw(t, "value")
		}
	}
	return in
}

func drawInputs(t *rapid.T, longest int64) []input {
	ins := make([]input, rapid.IntRange(0, 120).Draw(t, "n"))
	for i := range ins {
		ins[i] = drawInput(t, longest)
	}
	return ins
}

// drawLatched and drawUsed are what a log that broke off may hand over, what
// cannot be included.
func drawLatched(t *rapid.T) Latched {
	return Latched{Cause: Cause(rapid.IntRange(0, int(NumCauses)+1).Draw(t, "cause")), Later: Cause(rapid.IntRange(0, int(NumCauses)+1).Draw(t, "later")),
		Value: rapid.SampledFrom(tensions).Draw(t, "value"), Limit: rapid.SampledFrom(tensions).Draw(t, "limit"),
		By: Who(rapid.IntRange(0, int(Program)+1).Draw(t, "by")), Order: Order(rapid.IntRange(0, int(OrderAbandon)+1).Draw(t, "order")),
		There: rapid.SampledFrom([]uint64{0, 0, math.MaxUint64, 1 << TensionLimit, 1 << VesselMoves, 1<<LoadUnchanged | 1<<LineJumped | 1<<PersonStop, 1<<LoadReversed | 1<<StopOutLost}).Draw(t, "there"),
		Armed: rapid.Bool().Draw(t, "armed")}
}

func drawUsed(t *rapid.T) Used {
	u := Used{Stage: rapid.SampledFrom([]trial.Stage{trial.Pull, trial.Pull, trial.Preset, trial.Hold, trial.Soak, trial.StandBy, trial.Recover}).Draw(t, "used stage"),
		For: rapid.Int64Range(0, 80*sec).Draw(t, "for"), Hauled: trial.Length(rapid.Float64Range(-2, 33).Draw(t, "hauled")),
		RodeOut: trial.Length(rapid.Float64Range(-1, 61).Draw(t, "rode out")), Moved: rapid.Float64Range(0, 2).Draw(t, "moved"),
		Stands: rapid.Uint64().Draw(t, "stands")}
	if rapid.Bool().Draw(t, "in a lane") {
		u.Lane, u.InLane = rapid.SampledFrom([]trial.Stage{trial.Pull, trial.Preset, trial.Hold}).Draw(t, "lane"), trial.Length(rapid.Float64Range(-1, 33).Draw(t, "in lane"))
	}
	switch rapid.IntRange(0, 9).Draw(t, "odd") {
	case 0:
		u.For, u.Hauled, u.InLane, u.ComeUp = math.MinInt64, trial.Length(math.NaN()), trial.Length(math.Inf(-1)), math.NaN()
	case 1:
		u.For, u.Hauled, u.RodeOut, u.Moved, u.Step = math.MaxInt64, 1e300, trial.Length(math.Inf(1)), math.Inf(1), trial.Force(math.NaN())
	case 2:
		u.ComeUp, u.Recover, u.Step = 5100, 5000, 1
	}
	return u
}

// goesOnFrom lets a guard that has seen nothing take over from a log that broke
// off, or not.
func goesOnFrom(t *rapid.T, feed func(input)) {
	if rapid.IntRange(0, 3).Draw(t, "goes on") > 0 {
		return
	}
	if rapid.Bool().Draw(t, "latched") {
		feed(input{kind: inLatch, latched: drawLatched(t)})
	}
	feed(input{kind: inGoOn, used: drawUsed(t)})
	for range rapid.IntRange(0, 3).Draw(t, "stages before the line is known") {
		stage := rapid.SampledFrom([]trial.Stage{trial.Pull, trial.Hold, trial.Ease, trial.Preset, trial.Recover}).Draw(t, "stage")
		feed(input{kind: inAct, act: Act{What: NextStage, Who: Director, Stage: stage}})
	}
	if rapid.Bool().Draw(t, "line said") {
		feed(input{kind: rapid.SampledFrom([]int{inSaid, inCountedOn}).Draw(t, "how"), l: lineAt(rapid.Float64Range(-1, 60).Draw(t, "x"))})
	}
}

// begun returns a guard that is mostly armed, in any stage.
func begun(t *rapid.T, c *Config) (g Guard, now int64) {
	c.Things, c.KeepOut = []trial.Joint{{Name: "cell", At: 20}, {Name: "anchor"}}, 1
	if rapid.Bool().Draw(t, "stiffness known") {
		c.Rode, c.Dead = []trial.Piece{{Length: 60, EA: 400e3}}, 250
	}
	if rapid.Bool().Draw(t, "rates known") {
		c.LoadHz, c.LineHz = 10, 10
	}
	l := &c.Limits[trial.Pull]
	l.SoonWarn, l.SoonStop, l.ComeUp = 3*time.Second, time.Second, 1
	c.Limits[trial.Preset].TensionEnd = 1300
	g = New(c)
	g.Advance(0, nil)
	goesOnFrom(t, func(in input) { g.feed(0, in, nil) })
	for now = 0; now < sec; now += 100 * ms {
		g.Sample(now, 1000, false, nil)
		g.Count(now, lineAt(0), nil)
	}
	for c := CheckZero; c <= ReadyDirector; c++ {
		g.Do(now, Act{What: DoCheck, Check: c, To: CheckPassed, Who: Director}, nil)
	}
	g.Sample(now, 1000, false, nil)
	g.Sample(now, 1000, false, nil)
	if rapid.IntRange(0, 5).Draw(t, "arm") > 0 {
		g.Do(now, Act{What: Arm, Who: Director, Session: 1}, nil)
	}
	g.Do(now, Act{What: NextStage, Who: Director, Stage: trial.Stage(rapid.IntRange(0, 9).Draw(t, "stage")), Session: 1}, nil)
	return g, now
}
