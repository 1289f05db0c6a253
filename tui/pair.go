package tui

import (
	"context"
	"fmt"
	"math"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"hawse/acquire/session"
	"hawse/trial"
)

// pairAxis is what two pulls are laid side by side along.
type pairAxis uint8

const (
	pairHauled pairAxis = iota // m hauled
	pairTime                   // s since hauling began
	pairTravel                 // m travelled by the anchor
	numPairAxes
)

var pairAxisNames = [numPairAxes]string{"line hauled", "time", "travel of the anchor"}

// duo is two pulls played together: one place along one axis for both. The zero
// value is none.
type duo struct {
	open   bool
	alone  bool // there is no replay to go back to
	sides  [2]*session.Course
	axis   pairAxis
	at     float64 // along the axis: m or s
	paused bool
	speed  float64
	last   time.Time // when it was moved on
}

func pairOf(a, b *session.Course, speed float64, now time.Time) duo {
	p := duo{open: true, sides: [2]*session.Course{a, b}, speed: speed, last: now}
	p.at, _ = p.span()
	return p
}

// along is a pull's envelope along the axis; nil where nothing is known.
func (p duo) along(i int) *trial.Envelope {
	s := &p.sides[i].Pull
	switch p.axis {
	case pairTime:
		return s.ByTime
	case pairTravel:
		return s.ByTravel
	}
	return s.ByHaul
}

// span is where the axis begins and ends for both.
func (p duo) span() (from, to float64) {
	from, to = math.Inf(1), math.Inf(-1)
	for i := range p.sides {
		if e := p.along(i); e.Len() > 0 {
			from, to = math.Min(from, e.Least()), math.Max(to, e.Most())
		}
	}
	if from > to {
		return 0, 10
	}
	if from > 0 && from <= 2 {
		from = 0
	}
	return from, math.Max(to, from+1)
}

// stamp is how a pull stood at the present place; ok is false before its start and
// behind its end.
func (p duo) stamp(i int) (session.Stamp, bool) {
	s, e := &p.sides[i].Pull, p.along(i)
	if e.Len() == 0 || p.at > e.Most()+0.05 || p.at < e.Least()-0.05 {
		return session.Stamp{}, false
	}
	switch p.axis {
	case pairTime:
		return s.AtTime(s.T0 + int64(p.at*1e9))
	case pairTravel:
		return s.AtTravel(trial.Length(p.at))
	}
	return s.AtHaul(trial.Length(p.at))
}

// place is where a moment of a pull lies along the axis; NaN nowhere.
func (p duo) place(i int, t int64) float64 {
	s := &p.sides[i].Pull
	if t < s.T0 || t > s.T1 {
		return math.NaN()
	}
	if p.axis == pairTime {
		return float64(t-s.T0) / 1e9
	}
	k, ok := s.AtTime(t)
	switch {
	case !ok:
		return math.NaN()
	case p.axis == pairTravel:
		return float64(k.Travel)
	}
	return float64(k.X)
}

// moved has the time that has passed act on the place.
func (p duo) moved(now time.Time) duo {
	if !p.open {
		return p
	}
	dt := now.Sub(p.last).Seconds()
	p.last = now
	from, to := p.span()
	if p.paused || !(dt > 0) {
		return p
	}
	rate := 1.0 // s of the pull a second
	if p.axis != pairTime {
		if rate = float64(p.sides[0].Head.Run.Speed); !(rate > 0) {
			rate = 0.04 // m/s, a winch at 2.4 m/min: common practice, no source
		}
	}
	if p.at = math.Max(p.at, from) + math.Min(dt, 1)*p.speed*rate; p.at >= to {
		p.at, p.paused = to, true
	}
	return p
}

// shifted moves the place by hand, and pauses there.
func (p duo) shifted(by float64) duo {
	from, to := p.span()
	p.at, p.paused = math.Min(math.Max(p.at+by, from), to), true
	return p
}

// steps are how far one key goes: a step, and a scrub.
func (p duo) steps() (step, scrub float64) {
	if p.axis == pairTime {
		return 1, 10
	}
	return 0.1, 1
}

// jumped goes to the next point of a kind in either pull, or the last one before,
// and says what it is; to an end where there is none.
func (p duo) jumped(kind session.PointKind, back bool) (duo, string) {
	from, to := p.span()
	best, text := to, "the end: no more behind it"
	if back {
		best, text = from, "the start: nothing before it"
	}
	const near = 1e-6
	found := false
	for i, c := range p.sides {
		for _, k := range c.Points {
			at := p.place(i, k.T)
			if !k.Is(kind) || math.IsNaN(at) {
				continue
			}
			if !back && at > p.at+near && (!found || at < best) || back && at < p.at-near && (!found || at > best) {
				best, text, found = at, fmt.Sprintf("%c: %s", 'A'+i, k.Text), true
			}
		}
	}
	p.at, p.paused = best, true
	return p, text
}

// pressPair takes a key while two pulls are shown.
func (m model) pressPair(key string) (model, tea.Cmd) {
	if m.helpPage > 0 {
		m.helpPage = 0
		return m, nil
	}
	p := m.pair
	step, scrub := p.steps()
	switch in := intentOf(key, played); in {
	case callStop:
		return m.say("two logs: there is nothing to stop"), nil
	case leave, compare:
		if p.alone {
			if in == compare {
				return m, nil
			}
			return m, tea.Quit
		}
		m.pair = duo{}
		return m.measure(), nil
	case pause:
		if from, to := p.span(); p.paused && p.at >= to {
			p.at = from // once more
		}
		p.paused = !p.paused
	case faster:
		p.speed = math.Min(p.speed*2, 10000)
	case slower:
		p.speed = math.Max(p.speed/2, 0.125)
	case oneStep:
		p = p.shifted(step)
	case scrubBack:
		p = p.shifted(-scrub)
	case scrubOn:
		p = p.shifted(scrub)
	case jumpEvent, jumpPhase, jumpMark, jumpAlarm, jumpBack, jumpEventBack, jumpPhaseBack, jumpMarkBack, jumpAlarmBack:
		kind, back := pointOf(in)
		var text string
		p, text = p.jumped(kind, back)
		m = m.say(text)
	case switchAxis:
		share := p.share()
		p.axis = (p.axis + 1) % numPairAxes
		from, to := p.span()
		p.at = from + share*(to-from)
		m = m.say("along " + pairAxisNames[p.axis])
	case switchLight:
		m.light = (m.light + 1) % numLights
		m.st = m.lights[m.light]
		m = m.say("light: " + m.light.String())
	case showHelp:
		m.helpPage = 1
	default:
		switch key {
		case "left":
			p = p.shifted(-step)
		case "home", "f":
			from, _ := p.span()
			p.at = from
		case "end":
			_, to := p.span()
			p = p.shifted(to - p.at)
		}
	}
	m.pair = p
	return m, nil
}

// share is how much of the axis has been played.
func (p duo) share() float64 {
	from, to := p.span()
	return math.Min(math.Max((p.at-from)/(to-from), 0), 1)
}

// openPair lays the pull of a replay beside the earlier one that lies beneath its
// trace.
func (m model) openPair() model {
	p := m.earlierPulls()
	list := m.chosen()
	switch {
	case p == nil:
		return m.say("no folder of earlier pulls here; 'hawse replay A B' compares two")
	case p.Fault != "":
		return m.say("not beside another: " + p.Fault)
	case p.Whole == nil && !p.Done:
		return m.say("this pull is still being read; in a moment")
	case p.Whole == nil || p.Whole.Pull.Empty():
		return m.say("this log cannot be laid beside another: it is not whole, or nothing was hauled in it")
	case len(list) == 0 && p.Anchor != nil:
		list = []*session.Course{p.Anchor}
	case len(list) == 0:
		return m.say("no earlier pull to compare with; w shows what there is")
	}
	m.player.SetPaused(true)
	m.note = ""
	m.pair = pairOf(p.Whole, list[0], math.Max(m.player.Speed(), 1), m.now())
	return m
}

// stillView is a view of a pull that only stands there: two pulls side by side
// ask it for nothing.
type stillView struct{ snap session.Snapshot }

func (v stillView) Snapshot() *session.Snapshot {
	s := v.snap
	s.Made = time.Now()
	return &s
}
func (stillView) Trace(session.TraceQuery, []trial.Col) []trial.Col { return nil }
func (stillView) Segments() []trial.Segment                         { return nil }
func (stillView) Do(session.Act)                                    {}

// RunPair shows two pulls side by side until the person leaves or ctx ends, as
// [Run] does.
func RunPair(ctx context.Context, a, b *session.Course, speed float64, o Options) error {
	o = o.filled()
	o.pair = pairOf(a, b, speed, o.Now())
	o.pair.alone = true
	return Run(ctx, stillView{snapshotOf(a)}, o)
}

// snapshotOf is what is needed of a snapshot to draw a pull that was read whole.
func snapshotOf(c *session.Course) session.Snapshot {
	s := session.Snapshot{Mode: "replay", Speed: 1, Trial: c.Head.Trial, Run: c.Head.Run, Config: c.Config, Caption: c.Head.Caption,
		T: c.Length, Peak: c.Peak}
	s.Guard.Stage = trial.Pull
	return s
}
