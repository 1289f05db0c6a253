package safety

import (
	"math"

	"hawse/trial"
	"hawse/trial/rode"
)

// Guard judges one pull. Its methods are the inputs; each takes the time of the
// record that brings it and appends what it has to say to ev, which may be nil.
// A time before the last one counts as the last one. None allocates, except an
// act that is refused.
//
// A Guard may be copied: the copy goes on by itself.
type Guard struct {
	cfg *Config
	now inForce // follows from cfg and s.Lowered
	s   State

	rode *rode.Rode // to be solved; nil where it cannot be, as one that floats
}

// New returns a guard in stage stand by that has seen nothing. Zeros in cfg
// that would mean "unlimited" take their defaults in the guard's own copy.
func New(cfg *Config) Guard {
	c := *cfg
	c.fill()
	g := Guard{cfg: &c}
	g.rode, _ = rode.New(1, c.Statics)
	g.s.Load.At, g.s.Load.HeardAt, g.s.Line.At, g.s.RelayAt = -1, -1, -1, -1
	g.s.timers.under, g.s.timers.endAsked, g.s.timers.lastLoad = -1, -1, -1
	g.s.word.slow, g.s.word.soon, g.s.noise.since = -1, -1, -1
	g.s.Missing = 1<<len(c.Cells) - 1 // none has told one yet
	g.setLimits()
	return g
}

// State returns a copy of the whole state.
func (g *Guard) State() State { return g.s }

// Advance fires every deadline at or before t. It is called first for every
// record, ticks included.
func (g *Guard) Advance(t int64, ev *Events) { g.advance(t, ev) }

func (g *Guard) advance(t int64, ev *Events) int64 {
	s := &g.s
	if !s.timers.started {
		t = max(t, 0)
		s.timers.started = true
		s.T, s.StageSince, s.timers.loadWord, s.timers.lineWord = t, t, t, t
		return t
	}
	was := s.T
	if t <= was {
		t = was
	}
	g.fire(t, ev)
	s.T = t
	if t-was > g.cfg.Stall {
		g.raise(t, StoodStill, atLimit, seconds(t-was), seconds(g.cfg.Stall), Nobody, ev)
	}
	return t
}

// Behind says that what is judged now had waited for by ns: the guard was blind
// for that long, whatever the clock of the records says.
func (g *Guard) Behind(t, by int64, ev *Events) {
	t = g.advance(t, ev)
	g.raise(t, StoodStill, atLimit, seconds(by), seconds(g.cfg.Stall), Nobody, ev)
}

// Heard says that bytes of any kind came from a port.
func (g *Guard) Heard(t int64, src Source) {
	if src == Load {
		g.s.Load.HeardAt = max(t, g.s.T)
	}
}

// BadFrame says that a whole frame came that does not match. It is no news of
// the tension: it neither confirms nor resets, and the silence goes on.
func (g *Guard) BadFrame(t int64, src Source, ev *Events) {
	t = g.advance(t, ev)
	if src == Load {
		g.s.Load.HeardAt = t
		if g.s.Load.BadSince < math.MaxUint32 {
			g.s.Load.BadSince++
		}
	}
}

// Sample takes a frame of the load cell that decoded. Over: the box says over
// range, then tension means nothing.
func (g *Guard) Sample(t int64, tension trial.Force, over bool, ev *Events) {
	g.sample(t, Felt{Tension: tension, Felt: tension, Shown: tension}, over, ev)
}

// Felt is what a cell tells whose number is not the tension itself, by its zero, its
// calibration or as a pin in the roller.
type Felt struct {
	Tension trial.Force // the greatest with which it can feel that
	Felt    trial.Force // range, sign and a number that stands still are judged by it
	Shown   trial.Force // what the box shows, without calibration and zero: a changed unit is told by it
	NoAngle bool        // Tension is unknown, for nobody knows how the line leads over the roller
}

// SampleFelt is Sample for such a cell.
func (g *Guard) SampleFelt(t int64, f Felt, over bool, ev *Events) { g.sample(t, f, over, ev) }

func (g *Guard) sample(t int64, f Felt, over bool, ev *Events) {
	t = g.advance(t, ev)
	s, v, felt := &g.s, float64(f.Tension), float64(f.Felt)
	s.Load.HeardAt, s.Load.BadSince = t, 0
	if s.zeroDue {
		s.zeroDue = false
		g.raise(t, ZeroDue, atLimit, 0, 0, Nobody, ev)
	}
	learn(&s.Load.Period, s.timers.lastLoad, t)
	s.timers.loadWord, s.timers.lastLoad = t, t
	g.lower(t, LoadSilent, absent, 0, ev)
	g.lower(t, LoadGarbled, absent, 0, ev)

	number := !math.IsNaN(felt) && !math.IsInf(felt, 0)
	beyond := number && g.cfg.Range > 0 && math.Abs(felt) >= float64(g.cfg.Range)
	if number && !over && !beyond {
		g.judgeLeap(t, float64(f.Shown), ev)
	} else {
		s.leap.forget()
		s.noise.forget()
	}
	s.Load.NoAngle = f.NoAngle && number && !over && !beyond
	if !s.Load.NoAngle {
		number = number && !math.IsNaN(v) && !math.IsInf(v, 0)
	}
	if !over && !beyond && number && !s.Load.NoAngle {
		was, had := float64(s.Load.Felt), s.Load.At >= 0
		s.Load.Tension, s.Load.Felt, s.Load.At, s.Load.Over = f.Tension, f.Felt, t, false
		s.tensionWas.push(t, v)
		s.tension.add(t, v)
		if !g.knowsHaul() {
			s.rise.reset()
		}
		closed := s.rise.add(t, v, float64(s.Line.X))
		if s.Stop.Kind != NoStop {
			s.Stop.Top = max(s.Stop.Top, f.Tension)
		}
		g.judgeGood(t, ev)
		stood := g.doubt(t, was, felt, had, ev)
		if stood { // what it stood at says nothing of what it comes to
			s.rise.reset()
			s.rise.add(t, v, float64(s.Line.X))
		} else if closed {
			g.judgeRise(t, ev)
		}
		g.judgeNoise(t, felt, ev)
		return
	}
	s.tensionWas.push(t, math.Inf(1))
	s.tension.reset()
	s.rise.reset()
	s.Load.Over = over || beyond
	if s.Stop.Kind != NoStop { // more than any number that comes
		s.Stop.Top = trial.Force(math.Inf(1))
	}
	switch {
	case s.Load.NoAngle:
		if s.EverArmed { // before, the rode out and the depth are still to be said
			g.raise(t, LoadAngle, atLimit, 0, 0, Nobody, ev)
		}
	case !s.Load.Over:
		g.raise(t, LoadNotNumber, atLimit, 0, 0, Nobody, ev)
	case beyond:
		g.raise(t, LoadOverRange, atLimit, math.Abs(felt), float64(g.cfg.Range), Nobody, ev)
	default:
		g.raise(t, LoadOverRange, atLimit, 0, float64(g.cfg.Range), Nobody, ev)
	}
	g.judgeWinch(t, ev)
}

// judgeGood judges after a good sample, or after one has stood alone.
func (g *Guard) judgeGood(t int64, ev *Events) {
	if _, hi := g.s.tensionWas.bounds(); !math.IsInf(hi, 1) {
		g.lower(t, LoadOverRange, absent, g.s.tensionWas.cur, ev)
		g.lower(t, LoadNotNumber, absent, 0, ev)
		g.lower(t, LoadAngle, absent, 0, ev)
	}
	g.judgeTension(t, false, ev)
	g.judgeSoon(t, ev)
	g.judgeComeUp(t, ev)
	g.judgeWinch(t, ev)
}

// Count takes a valid frame of the line encoder. Once the director has armed, a
// count that leaves a limit of the stage without its number (rode out or depth
// unknown, a value that is not finite) does not end the encoder's silence.
func (g *Guard) Count(t int64, l Line, ev *Events) {
	t = g.advance(t, ev)
	s := &g.s
	learn(&s.Line.Period, s.Line.At, t)
	s.Line.At = t
	g.take(l)
	if s.Line.HasX {
		if !s.HasStageX {
			g.tie(t, false, ev)
		}
		s.hauled = s.Line.X - s.StageX
		s.haul.add(t, float64(s.Line.X))
	}
	if !s.EverArmed || g.lineGap(s.Stage) == "" {
		s.timers.lineWord = t
		g.lower(t, LineSilent, absent, 0, ev)
	}
	g.outAgain(t, ev)
	g.judgeLine(t, false, ev)
	g.judgeOut(t, ev)
	g.judgeIn(t, ev)
	g.judgeSlope(t, ev)
}

// Said takes the line as it is after a person has said the rode out or the
// water depth. What X changes here is its zero, not the line: line hauled in
// the stage stays what it was.
func (g *Guard) Said(t int64, l Line, ev *Events) { g.said(t, l, false, ev) }

func (g *Guard) said(t int64, l Line, counted bool, ev *Events) {
	t = g.advance(t, ev)
	s := &g.s
	g.take(l)
	if s.Line.HasX {
		g.tie(t, counted, ev)
	}
	s.lineAnew()
	if s.Line.HasX {
		g.lower(t, LineJumped, absent, 0, ev)
	}
	g.judgeLine(t, true, ev)
}

// lineAnew lets all that compares one line reading with another begin anew.
func (s *State) lineAnew() {
	s.haul.reset()
	s.rise.reset()
	s.rode.forget()
	s.word.sinceX, s.word.resting = float64(s.Line.X), false
}

func (g *Guard) take(l Line) {
	s := &g.s
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	had := s.Line.HasX
	s.Line.HasX = l.HasX && finite(float64(l.X)) && finite(float64(l.RodeOut))
	s.Line.HasS = s.Line.HasX && l.HasS && finite(l.Scope)
	s.Line.X, s.Line.RodeOut, s.Line.Scope = 0, 0, 0
	if s.Line.HasX {
		s.Line.X, s.Line.RodeOut = l.X, l.RodeOut
	}
	if s.Line.HasS {
		s.Line.Scope = l.Scope
	}
	if s.Line.HasX != had { // X begins anew: no line was hauled by that
		s.lineAnew()
	}
}

// Port says whether a port is open, or a part of the program is there: up false
// means lost, stalled, failing or gone.
func (g *Guard) Port(t int64, src Source, up bool, ev *Events) {
	t = g.advance(t, ev)
	s := &g.s
	if src >= NumSources {
		return
	}
	s.links[src] = linkDown
	if up {
		s.links[src] = linkUp
	}
	var c Cause
	switch src {
	case Load:
		s.Load.Up = up // what is lost with the port shows as silence
	case LineEncoder:
		s.Line.Up = up
	case StopOut:
		c = StopOutLost
	case Record:
		c = RecordFailing
	case Screen:
		c = ScreenGone
	case Judge:
		c = JudgeGone
	case Horn:
		c = HornLost
	}
	switch {
	case c == NoCause:
	case up:
		g.lower(t, c, absent, 0, ev)
	default:
		g.raise(t, c, atLimit, 0, 0, Nobody, ev)
	}
}

// Relay takes what the relay at the other end of the stop output says of
// itself. Once it has said closed for the session in force, any word that it is
// open while hauling is permitted is a stop, whichever session it names: a
// relay that lost its supply has forgotten the number.
func (g *Guard) Relay(t int64, closed bool, session uint32, ev *Events) {
	t = g.advance(t, ev)
	s := &g.s
	s.RelayAt = t
	was := s.RelayOn
	s.RelayOn = closed && s.EverArmed && session == s.Session
	switch {
	case !closed:
		g.lower(t, RelayStuck, absent, 0, ev)
	case !s.Permit && t-s.timers.permitAt >= int64(g.patient(relayOpens)):
		g.raise(t, RelayStuck, atLimit, 0, 0, Nobody, ev)
	}
	if was && !closed && s.Permit {
		g.raise(t, RelayOpened, atLimit, 0, 0, Nobody, ev)
	}
	if s.RelayOn {
		g.lower(t, RelayStaysOpen, absent, 0, ev)
	}
}
