package deck

import (
	"math"
	"slices"
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
	talkers []talker
	next    []int64    // number of the next line of each
	heard   []hearing  // what the relay and the boxes are still to hear, in order
	asked   []question // what is still to be answered, in order
	echoes  []hearing  // what adapters have heard of themselves
	plugged func(port string, at int64, in bool)
	in      [numPorts]bool // the port is plugged in
	out     []byte         // what the relay has said and nobody has taken
	saying  []byte
}

// hearing is bytes on their way to the far end of a port.
type hearing struct {
	at   int64
	port int
	raw  []byte
}

// NewSim is the deck of s at time 0 of its own clock. The same seed gives the
// same noise.
func NewSim(s *Scenario, seed uint64) *Sim { return newSim(s, 0, seed) }

func newSim(s *Scenario, t int64, seed uint64) *Sim {
	m := &Sim{w: newWorld(s, t, seed), talkers: s.talkers()}
	m.next = make([]int64, len(m.talkers))
	for i := range m.in {
		m.in[i] = true
	}
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
	return max(min(m.first(line), m.w.relay.Due(), m.w.t+longest), m.w.t+1)
}

// Advance does everything that is due up to time t, in the order of its time.
// say gets the bytes that leave the boxes, with the name of their port, a message
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
func (m *Sim) Hear(t int64, raw []byte) { m.hearOn(portStop, t, raw) }

// Ask takes bytes that reach the boxes of a port at time t, as Hear does those to
// the relay. Boxes that are not asked do not hear them.
func (m *Sim) Ask(port string, t int64, raw []byte) {
	if i := slices.Index(portNames[:], port); i >= 0 {
		m.hearOn(i, t, raw)
	}
}

// Ports are the names of the ports this deck has.
func (m *Sim) Ports() []string { return m.w.s.Ports() }

func (m *Sim) hearOn(port int, t int64, raw []byte) {
	if t <= m.w.t {
		m.hear(port, raw)
		return
	}
	i, _ := slices.BinarySearchFunc(m.heard, t+1, func(h hearing, t int64) int {
		if h.at < t {
			return -1
		}
		return 1
	})
	m.heard = slices.Insert(m.heard, i, hearing{t, port, slices.Clone(raw)})
}

func (m *Sim) hear(port int, raw []byte) {
	switch {
	case m.w.unplugged[port] != 0:
	case port == portStop:
		m.w.hear(raw)
		m.out = m.w.relay.Take(m.out)
	case m.w.s.wiring.asks() && port != portDepth:
		qs, echo := m.w.ask(port, raw)
		if echo {
			m.echoes = append(m.echoes, hearing{m.w.t, port, slices.Clone(raw)})
		}
		for _, q := range qs {
			i, _ := slices.BinarySearchFunc(m.asked, q.at+1, func(a question, t int64) int {
				if a.at < t {
					return -1
				}
				return 1
			})
			m.asked = slices.Insert(m.asked, i, q)
		}
	}
}

// State is the deck as it is now. Of the ports it knows whether they are
// plugged in, and what a burst had no room for.
func (m *Sim) State() State {
	w := m.w
	log := w.relay.Log()
	s := State{
		T: w.t, X: w.x, L: w.s.Payout - w.x, Tension: w.tension(), Speed: w.winch.v,
		Lever: w.winch.lever, Hand: w.hand, Cell: w.cell,
		RelayClosed: w.relay.Closed(), RelayReason: w.relay.Reason(), RelaySince: log[len(log)-1].T,
		Session: w.relay.Session(), RelayLog: log, RelayBad: w.relay.Bad(),
		Load:  PortState{Plugged: m.in[portLoad], Dropped: w.box[portLoad].lost},
		Line:  PortState{Plugged: m.in[portLine], Dropped: w.box[portLine].lost},
		Stop:  PortState{Plugged: m.in[portStop]},
		Depth: PortState{Plugged: m.in[portDepth] && w.s.wiring.nmea, Dropped: w.box[portDepth].lost},
		Done:  w.done,
	}
	for i := range s.Cells {
		p := cellPorts[i]
		s.Cells[i] = PortState{Plugged: m.in[p] && w.s.wiring.has(p), Dropped: w.box[p].lost}
	}
	if w.step < len(w.s.Winch) {
		s.Step = w.s.Winch[w.step].Line
	}
	return s
}

// due is the time of a talker's next line. The grid begins with the deck and does
// not drift.
func (m *Sim) due(i int) int64 {
	k := &m.talkers[i]
	return m.w.t0 + int64(math.Round((float64(m.next[i])+k.phase)*float64(time.Second)/k.hz))
}

// line is who speaks next, and when; far away if nobody does of their own accord.
func (m *Sim) line() (who int, at int64) {
	at = math.MaxInt64
	for i := range m.talkers {
		if due := m.due(i); due < at {
			who, at = i, due
		}
	}
	return who, at
}

// first is the first of a time and of when something is heard or answered.
func (m *Sim) first(t int64) int64 {
	if len(m.heard) > 0 {
		t = min(t, m.heard[0].at)
	}
	if len(m.asked) > 0 {
		t = min(t, m.asked[0].at)
	}
	if len(m.echoes) > 0 {
		t = m.w.t
	}
	return t
}

// run is [Sim.Advance] with ports by number; say also gets what an unplugged
// port would have said.
func (m *Sim) run(t int64, say func(port int, raw []byte), plug func(port int, in bool)) {
	for t = max(t, m.w.t); ; {
		who, at := m.line()
		m.w.advance(m.first(min(t, at, m.w.nextLook())))
		for len(m.heard) > 0 && m.heard[0].at <= m.w.t {
			h := m.heard[0]
			m.heard = slices.Delete(m.heard, 0, 1)
			m.hear(h.port, h.raw)
		}
		for i, until := range m.w.unplugged {
			if in := until == 0; in != m.in[i] {
				m.in[i] = in
				plug(i, in)
			}
		}
		m.answer(say)
		switch {
		case len(m.echoes) > 0:
			e := m.echoes[0]
			m.echoes = slices.Delete(m.echoes, 0, 1)
			say(e.port, e.raw)
		case len(m.asked) > 0 && m.asked[0].at <= m.w.t:
			q := m.asked[0]
			m.asked = slices.Delete(m.asked, 0, 1)
			m.w.answer(q, m.onto(m.w.s.wiring.host(q.ins), say))
		case at <= m.w.t:
			m.next[who]++
			m.w.speak(m.talkers[who], m.onto(m.w.s.wiring.host(m.talkers[who].ins), say))
		default:
			if m.w.t >= t {
				return
			}
			continue
		}
		m.answer(say) // to what was heard from within say
	}
}

// onto is what gets a box's bytes onto a port; one that is half open lets none
// through.
func (m *Sim) onto(port int, say func(port int, raw []byte)) func([]byte) {
	return func(raw []byte) {
		if m.w.mute[port] == 0 {
			say(port, raw)
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
