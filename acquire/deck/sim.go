package deck

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hawse/trial"
)

// Sim is the deck without ports and without a clock: the winch, the rode, the
// boxes and the relay of one scenario, as pure as its scenario. It runs as fast
// as it is asked to, and the same calls give the same bytes. It belongs to one
// goroutine.
//
// Whoever drives it advances it to [Sim.Next], takes what the boxes say, and
// gives the relay what it is to hear:
//
//	m := deck.NewSim(s, 1)
//	for t := int64(0); t < end; t = m.Next() {
//		m.Advance(t, func(port string, at int64, raw []byte) { ... m.Hear(at, words) ... })
//	}
type Sim struct {
	w       *world
	next    [2]int64  // number of the next line of load and line
	heard   []hearing // what the relay is still to hear, in order
	plugged func(port string, at int64, in bool)
	in      [numPorts]bool // the port is plugged in
	out     []byte         // what the relay has said and nobody has taken
	saying  []byte
}

// hearing is bytes on their way to the relay.
type hearing struct {
	at  int64
	raw []byte
}

// NewSim is the deck of s at time 0 of its own clock. The same seed gives the
// same noise.
func NewSim(s *Scenario, seed uint64) *Sim { return newSim(s, 0, seed) }

func newSim(s *Scenario, t int64, seed uint64) *Sim {
	m := &Sim{w: newWorld(s, t, seed), in: [numPorts]bool{true, true, true}}
	m.out = m.w.relay.Take(nil)
	return m
}

// OnPlug has f called, from within [Sim.Advance], when a port is unplugged and
// when it is back, in the order of time with what the boxes say.
func (m *Sim) OnPlug(f func(port string, at int64, in bool)) { m.plugged = f }

// Now is the time the deck has come to, in ns.
func (m *Sim) Now() int64 { return m.w.t }

// Next is when something is due: a line, the relay, bytes on their way to it,
// or a look at the script and the faults. It is [Sim.Now] when the relay has an
// answer waiting, and later otherwise.
func (m *Sim) Next() int64 {
	const longest = 5 * tick // the script and the faults are looked at this often
	if len(m.out) > 0 {
		return m.w.t
	}
	_, line := m.line()
	next := min(line, m.w.relay.Due(), m.w.t+longest)
	if len(m.heard) > 0 {
		next = min(next, m.heard[0].at)
	}
	return max(next, m.w.t+1)
}

// Advance does everything that is due up to time t, in the order of its time.
// say gets the bytes that leave the boxes, as "load", "line" or "stop", a line
// a call; raw is the callee's for the length of the call. An unplugged port
// says nothing. say may call [Sim.Hear] and [Sim.State]. A t before now counts
// as now.
func (m *Sim) Advance(t int64, say func(port string, at int64, raw []byte)) {
	m.run(t, func(port int, raw []byte) {
		if m.in[port] {
			say(portNames[port], m.w.t, raw)
		}
	}, func(port int, in bool) {
		if m.plugged != nil {
			m.plugged(portNames[port], m.w.t, in)
		}
	})
}

// Hear takes bytes that reach the relay at time t: at once if the deck has come
// to t, otherwise when it gets there. While the stop port is unplugged they are
// lost. The relay's answer is said by the next [Sim.Advance].
func (m *Sim) Hear(t int64, raw []byte) {
	if t <= m.w.t {
		m.hear(raw)
		return
	}
	i, _ := slices.BinarySearchFunc(m.heard, t+1, func(h hearing, t int64) int {
		if h.at < t {
			return -1
		}
		return 1
	})
	m.heard = slices.Insert(m.heard, i, hearing{t, slices.Clone(raw)})
}

func (m *Sim) hear(raw []byte) {
	if m.w.unplugged[portStop] == 0 {
		m.w.hear(raw)
		m.out = m.w.relay.Take(m.out)
	}
}

// Order is a person's order to the winch, as [Deck.Order].
func (m *Sim) Order(order string) error {
	w := m.w
	word, said, _ := strings.Cut(order, " ")
	speed := w.s.Speed
	if said != "" && (word == leverHaul || word == leverEase) {
		v, err := trial.ParseSpeed(said)
		switch {
		case err != nil:
			return fmt.Errorf("deck: %s at %s: %w", word, quoted(said), err)
		case !(v > 0 && v <= mostOrdered):
			return fmt.Errorf("deck: %s at %s: above 0 and at most %s", word, quoted(said), mostOrdered)
		}
		speed, said = v, ""
	}
	switch {
	case said != "":
		return fmt.Errorf("deck: %s takes no %s behind it; a speed goes with haul and ease alone", quoted(word), quoted(said))
	case !slices.Contains(Orders, word):
		return fmt.Errorf("deck: %s is no order to the winch; say haul, stop, ease, ahead or script", quoted(word))
	case word == "script":
		if w.hand {
			w.hand = false
			w.lever(w.scripted.verb, w.scripted.speed)
		}
	case word == "ahead" && len(w.s.recovery.rows) == 0 && w.s.model == nil:
		return errors.New("deck: this scenario has no recovery table; the vessel stays where it is")
	case word == "ahead":
		w.goAhead()
	default:
		w.hand = true
		w.lever(word, speed)
	}
	return nil
}

// mostOrdered is the fastest a person orders the winch: common practice, no source.
const mostOrdered = trial.Speed(1)

// State is the deck as it is now. Of the ports it knows whether they are
// plugged in, and what a burst had no room for.
func (m *Sim) State() State {
	w := m.w
	log := w.relay.Log()
	s := State{
		T: w.t, X: w.x, L: w.s.Payout - w.x, Tension: w.tension(), Speed: w.winch.v,
		Lever: w.winch.lever, Hand: w.hand,
		RelayClosed: w.relay.Closed(), RelayReason: w.relay.Reason(), RelaySince: log[len(log)-1].T,
		Session: w.relay.Session(), RelayLog: log, RelayBad: w.relay.Bad(),
		Load: PortState{Plugged: m.in[portLoad], Dropped: w.box[portLoad].lost},
		Line: PortState{Plugged: m.in[portLine], Dropped: w.box[portLine].lost},
		Stop: PortState{Plugged: m.in[portStop]},
		Done: w.done,
	}
	if w.step < len(w.s.Winch) {
		s.Step = w.s.Winch[w.step].Line
	}
	return s
}

// due is the time of the next line of a port. The grid begins with the deck
// and does not drift; the line box speaks half a period after the load box.
func (m *Sim) due(port int) int64 {
	hz, at := m.w.s.LoadHz, float64(m.next[port])
	if port == portLine {
		hz, at = m.w.s.LineHz, at+0.5
	}
	return m.w.t0 + int64(math.Round(at*float64(time.Second)/hz))
}

// line is the port that speaks next, and when.
func (m *Sim) line() (port int, at int64) {
	if load, line := m.due(portLoad), m.due(portLine); line < load {
		return portLine, line
	} else {
		return portLoad, load
	}
}

// run is [Sim.Advance] with ports by number; say also gets what an unplugged
// port would have said.
func (m *Sim) run(t int64, say func(port int, raw []byte), plug func(port int, in bool)) {
	for t = max(t, m.w.t); ; {
		port, at := m.line()
		next := min(t, at, m.w.nextLook())
		if len(m.heard) > 0 {
			next = min(next, m.heard[0].at)
		}
		m.w.advance(next)
		for len(m.heard) > 0 && m.heard[0].at <= m.w.t {
			raw := m.heard[0].raw
			m.heard = slices.Delete(m.heard, 0, 1)
			m.hear(raw)
		}
		for i, until := range m.w.unplugged {
			if in := until == 0; in != m.in[i] {
				m.in[i] = in
				plug(i, in)
			}
		}
		m.answer(say)
		if at <= m.w.t {
			m.next[port]++
			m.w.say(port, func(raw []byte) { say(port, raw) })
			m.answer(say) // to what was heard from within say
		} else if m.w.t >= t {
			return
		}
	}
}

// answer says what the relay has to say.
func (m *Sim) answer(say func(port int, raw []byte)) {
	m.out = m.w.relay.Take(m.out)
	for len(m.out) > 0 { // say may have it hear, and so answer, more
		m.out, m.saying = m.saying[:0], m.out
		for rest := m.saying; len(rest) > 0; {
			n := len(rest)
			if m.w.s.Relay != trial.StopModbus { // whose frames may hold a line end
				n = lineEnd(rest)
			}
			say(portStop, rest[:n])
			rest = rest[n:]
		}
	}
}
