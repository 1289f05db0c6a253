package safety

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"hawse/trial"
)

// pair is a guard and its twin, fed alike.
type pair struct {
	t     *rapid.T
	g     Guard
	w     *twin
	now   int64
	n     int
	ev    Events
	stops []twinStop // as the guard said them
	seen  map[Cause]bool
}

func newPair(t *rapid.T, c *Config) *pair {
	p := &pair{t: t, g: New(c), seen: map[Cause]bool{}}
	p.w = newTwin(p.g.cfg)
	p.feed(input{kind: inTick})
	return p
}

func (p *pair) feed(in input) {
	p.n++
	p.now += in.dt
	p.g.Advance(p.now, &p.ev)
	refused := ""
	if in.kind == inAct {
		before := p.g.State()
		refused = p.g.Do(p.now, in.act, &p.ev)
		if in.act.What == Rearm && refused == "" {
			p.mayLift(in, before)
		}
	} else {
		p.g.feed(p.now, in, &p.ev)
	}
	for _, e := range p.ev.All() {
		if e.What == StopSet {
			p.stops = append(p.stops, twinStop{e.Kind, e.Cause, e.T})
		}
	}
	p.ev.Reset()
	p.w.feed(p.now, in, refused)
	p.compare(in)
}

// mayLift checks by the twin's reckoning that a trip was lifted rightly.
func (p *pair) mayLift(in input, before State) {
	if p.w.stop != Trip || !before.Stop.Acked || in.act.Who != Director {
		p.t.Fatalf("input %d: re-armed from %+v by %v", p.n, before.Stop, in.act.Who)
	}
	for c := NoCause + 1; c < TensionReached; c++ {
		switch c {
		case TensionLimit, WLLShare, LoadSilent, LoadGarbled, LineSilent: // by the limits of the stage entered
			continue
		}
		warns := c == VesselMoves && (in.act.Stage == trial.Ease || in.act.Stage == trial.Recover)
		if p.w.level[c] == 2 && p.w.judged(c, in.act.Stage) && !warns {
			p.t.Fatalf("input %d: re-armed into %v although %v is there", p.n, in.act.Stage, c)
		}
	}
}

func (p *pair) compare(in input) {
	s, w := p.g.State(), p.w
	fail := func(what string, got, want any) {
		p.t.Fatalf("input %d at %v, %+v: %s %v, by the whole history %v\nguard: stop %+v order %v stage %v\ntwin:  stop %v %v at %v",
			p.n, time.Duration(p.now), in, what, got, want, s.Stop, s.Order, s.Stage, w.stop, w.cause, time.Duration(w.at))
	}
	for c := NoCause + 1; c <= StageDuration; c++ {
		if int(s.present[c]) != w.level[c] {
			fail(c.String()+" is at level", s.present[c], w.level[c])
		}
		if s.present[c] == atLimit {
			p.seen[c] = true
		}
		if !w.isEnd(c) && int(s.shown[c]) != w.shown[c] {
			fail(c.String()+" is shown as", s.shown[c], w.shown[c])
		}
	}
	if int(s.shown[LoadNoisy])/2 != w.shown[LoadNoisy] || int(s.present[LoadNoisy])/2 != w.level[LoadNoisy] {
		fail("noise is at level", []level{s.present[LoadNoisy], s.shown[LoadNoisy]}, []int{w.level[LoadNoisy], w.shown[LoadNoisy]})
	}
	if s.present[LoadNoisy] == atLimit {
		p.seen[LoadNoisy] = true
	}
	switch {
	case s.Stop.Kind != w.stop || s.Stop.Cause != w.cause || s.Stop.At != w.at:
		fail("stop", s.Stop, []any{w.stop, w.cause, w.at})
	case s.Order != w.order:
		fail("order", s.Order, w.order)
	case s.Permit != w.permit():
		fail("permit", s.Permit, w.permit())
	}
	if diff := cmp.Diff(w.stops, p.stops, cmp.AllowUnexported(twinStop{})); diff != "" {
		p.t.Fatalf("input %d: stops set (- by the whole history, + by the guard):\n%s", p.n, diff)
	}
}

func twinConfig(t *rapid.T) *Config {
	c := testConfig()
	c.Things, c.KeepOut = []trial.Joint{{Name: "cell", At: 20}, {Name: "anchor"}}, 1
	if rapid.Bool().Draw(t, "stiffness known") {
		c.Rode, c.Dead = []trial.Piece{{Length: 60, EA: 400e3}}, 250
	}
	c.Step = 1
	for i := range c.Limits {
		c.Limits[i].SoonWarn = 3 * time.Second
	}
	c.Limits[trial.Pull].SoonStop = 1200 * time.Millisecond
	c.Limits[trial.Preset].TensionEnd = 1334
	c.Limits[trial.Soak].Duration = 7 * time.Second
	c.Limits[trial.Pull].Duration = 70 * time.Second
	c.Limits[trial.Hold].SilentWarn, c.Limits[trial.Hold].SilentStop = 500*time.Millisecond, 900*time.Millisecond
	c.Limits[trial.Ease].SilentWarn, c.Limits[trial.Ease].SilentStop = 2*time.Second, 3*time.Second
	c.Limits[trial.Recover].WLLWarn, c.Limits[trial.Recover].WLLStop = 0.3, 0.45
	return c
}

// start checks, arms and goes into a stage that mostly hauls.
func (p *pair) start() {
	goesOnFrom(p.t, p.feed)
	for range 12 {
		p.feed(input{kind: inSample, dt: 100 * ms, v: 1000})
		p.feed(input{kind: inCount, l: lineAt(0)})
	}
	for c := CheckZero; c <= ReadyDirector; c++ {
		p.feed(input{kind: inAct, act: Act{What: DoCheck, Check: c, To: CheckPassed, Who: Director}})
	}
	p.feed(input{kind: inSample, dt: 100 * ms, v: 1000.5})
	p.feed(input{kind: inSample, dt: 50 * ms, v: 1000.1})
	if rapid.IntRange(0, 9).Draw(p.t, "arm") > 0 {
		p.feed(input{kind: inAct, act: Act{What: Arm, Who: Director, Session: 1}})
	}
	stage := rapid.SampledFrom([]trial.Stage{trial.Pull, trial.Pull, trial.Preset, trial.Recover, trial.Soak, trial.Hold, trial.Ease}).Draw(p.t, "stage")
	p.feed(input{kind: inAct, act: Act{What: NextStage, Who: Director, Stage: stage, Session: 1}})
}

// The guard agrees with its twin on any inputs whatever.
func TestTwin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := newPair(t, twinConfig(t))
		p.start()
		longest := rapid.SampledFrom([]int64{50 * ms, 200 * ms, 600 * ms}).Draw(t, "longest")
		for _, in := range drawInputs(t, longest) {
			p.feed(in)
		}
		p.feed(input{kind: inTick, dt: 12 * sec})
	})
}

// The guard agrees with its twin on pulls as decks bring them: tension and line
// run evenly for a while, boxes fail for a while, people do something, again.
func TestTwinOnDeck(t *testing.T) {
	seen := map[Cause]bool{}
	rapid.Check(t, func(t *rapid.T) {
		p := newPair(t, twinConfig(t))
		p.start()
		kN, x := 1.0, 0.0
		for range rapid.IntRange(1, 8).Draw(t, "spells") {
			p.spell(&kN, &x)
		}
		for c := range p.seen {
			seen[c] = true
		}
	})
	for c := NoCause + 1; c <= StageDuration; c++ {
		if !seen[c] {
			t.Logf("%v never came to its limit", c)
		}
	}
	if !seen[LoadNoisy] {
		t.Logf("%v was never said", LoadNoisy)
	}
}

func (p *pair) spell(kN, x *float64) {
	t := p.t
	slope := rapid.SampledFrom([]float64{0, 0, 0.02, 0.09, 0.17, 0.36, 0.9, 2.2, -0.3, -2}).Draw(t, "kN/s")
	speed := rapid.SampledFrom([]float64{0, 0, 0.04, 0.04, 0.1, 1.5, -0.05, -0.3}).Draw(t, "m/s")
	fault := rapid.SampledFrom([]string{"", "", "", "", "stuck", "no load", "garbled", "no line", "no bytes", "over", "negative", "spikes", "depth lost", "rode lost", "slow cell", "other unit", "other unit", "noisy"}).Draw(t, "fault")
	unit := rapid.SampledFrom([]float64{2.2046226, 1 / 2.2046226, 4.4482216, 1 / 4.4482216, 1 / 9.80665, 9.80665, 1.0 / 1000}).Draw(t, "unit")
	wild := rapid.SampledFrom([]float64{60, 300, 900}).Draw(t, "noise")
	tenths := rapid.IntRange(2, 90).Draw(t, "tenths")
	if fault == "noisy" {
		tenths += 60 // it is judged over five seconds
	}
	for i := range tenths {
		*kN = max(0.05, min(*kN+slope/10, 9.8))
		*x = max(-2, min(*x+speed/10, 58))
		v := *kN*1000 + 7*math.Sin(float64(p.n)*1.7)
		l := lineAt(*x)
		switch fault {
		case "stuck":
			v = 2413
		case "negative":
			v = -300 - 40*float64(i%5)
		case "spikes":
			if i%4 == 0 {
				v += 5000
			}
		case "other unit":
			v *= unit
		case "noisy":
			v += wild * scatter(p.n)
		case "depth lost":
			l.HasS = false
		case "rode lost":
			l = Line{}
		}
		p.feed(input{kind: inTick, dt: 37 * ms})
		switch {
		case fault == "no load" || fault == "no bytes" || fault == "slow cell" && i%6 != 0:
		case fault == "garbled":
			p.feed(input{kind: inBad, src: Load, dt: 13 * ms})
		default:
			p.feed(input{kind: inSample, dt: 13 * ms, v: v, over: fault == "over" && i%3 == 0})
		}
		if fault != "no line" && fault != "no bytes" {
			p.feed(input{kind: inCount, dt: 10 * ms, l: l})
		}
		rest := 100*ms - (p.now % (100 * ms))
		p.feed(input{kind: inTick, dt: rest})
	}
	for range rapid.IntRange(0, 3).Draw(t, "acts") {
		p.feed(p.drawAct())
	}
}

// scatter is noise that is the same in every run, from -0.5 to 0.5.
func scatter(n int) float64 { return rand.New(rand.NewPCG(7, uint64(n))).Float64() - 0.5 }

// drawAct is what people do, mostly something that is granted.
func (p *pair) drawAct() input {
	t, s := p.t, p.g.State()
	if rapid.IntRange(0, 4).Draw(t, "odd") == 0 {
		in := drawInput(t, 60*ms)
		return in
	}
	stage := rapid.SampledFrom([]trial.Stage{trial.Pull, trial.Preset, trial.Recover, trial.Ease, trial.Stopped, trial.Hold, trial.Soak}).Draw(t, "to")
	a := Act{Who: Director, Stage: stage, Session: uint32(p.n)}
	switch {
	case s.Stop.Kind == Trip && !s.Stop.Acked:
		a.What = rapid.SampledFrom([]ActKind{Ack, Ack, NextStage, CallStop}).Draw(t, "act")
	case s.Stop.Kind == Trip:
		a.What = rapid.SampledFrom([]ActKind{Rearm, Rearm, Rearm, NextStage, Ack, Abandon}).Draw(t, "act")
	default:
		a.What = rapid.SampledFrom([]ActKind{NextStage, NextStage, CallStop, TakeCellOff, TakeCellBack, Clear, Lower, DoCheck, Terminate, Arm}).Draw(t, "act")
	}
	switch a.What {
	case DoCheck:
		a.Check, a.To = rapid.SampledFrom([]Check{CheckZero, CheckWeight}).Draw(t, "check"), rapid.SampledFrom([]CheckState{CheckPassed, CheckPassed, CheckWaived}).Draw(t, "how")
	case Lower:
		a.Limit = rapid.SampledFrom([]LimitKey{LimitTensionStop, LimitTensionWarn, LimitHaul, LimitScopeMin}).Draw(t, "limit")
		a.Value = map[LimitKey]float64{LimitTensionStop: 7001, LimitTensionWarn: 5003, LimitHaul: 4.7, LimitScopeMin: 4.4}[a.Limit]
	case Clear:
		a.Thing = rapid.IntRange(0, 1).Draw(t, "thing")
	}
	return input{kind: inAct, dt: 5 * ms, act: a}
}
