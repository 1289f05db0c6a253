package deck

import (
	"math"
	"math/rand/v2"
	"time"

	"hawse/trial"
)

// world is the deck without its ports: winch, rode, relay, faults and the
// winch operator's script. It is pure; time comes with each call.
type world struct {
	s     *Scenario
	t0, t int64

	relay     stopRelay
	relayWas  bool
	winch     winch
	ground    bottom
	ahead     bool         // the vessel has gone over the anchor
	aheadAt   trial.Length // line hauled when it did
	x         trial.Length
	step      int   // of the script, len(s.Winch) when it is over
	stepAt    int64 // when it began
	stepFresh bool  // it has not been looked at yet
	hand      bool  // a person has the lever
	scripted  order // the script's last word on the lever
	done      bool
	reached   map[string]bool // names of steps the script has come to
	fired     []bool          // faults that have begun
	box       [numInstruments]box
	listens   [numPorts]listener
	unplugged [numPorts]int64 // until when, 0 plugged in
	mute      [numPorts]int64 // half open until then, 0 not
	second    [numPorts]bool  // the port has its second name
	counter   counter
	rises     bool      // the count only rises
	risen     int64     // it then
	risenAt   int64     // the true one, when it was last looked at
	framed    byte      // running number of a binary frame
	epoch     time.Time // UTC at clock 0
	fix       fixes
	cell      string      // what the load cell carries: "rode", "free" or "hook"
	hung      trial.Force // the weight on the hook
	byHand    bool        // a person took it out of the rode, not the script
	zero      trial.Force
	zeros     [len(cellPorts)]wander // of further load cells
	bend      *bend                  // over the roller; nil nobody asks
	ran       int                    // +1 the winch last hauled, -1 paid out, 0 neither yet
	moves     []vesselMove
	moved     int // surges and drifts that have begun
	wake      struct {
		force    trial.Force
		at, ends int64
	}
	noise *rand.Rand
	line  []byte
}

// order is a place of the lever and the speed it gives.
type order struct {
	verb  string
	speed trial.Speed
}

// tick is the longest step of the world and the grid it steps on.
const tick = int64(10 * time.Millisecond)

func newWorld(s *Scenario, t int64, seed uint64) *world {
	w := &world{
		s: s, t0: t, t: t,
		relay: newStopRelay(s.Relay, t, s.Window),
		winch: winch{
			haulAt: s.Speed, easeAt: s.Speed, ramp: seconds(s.Ramp), runOn: seconds(s.RunOn),
			answer: int64(s.Answer), lever: leverStop, closedAt: t,
		},
		x: s.Start, stepAt: t, stepFresh: true, scripted: order{leverStop, 0},
		reached: map[string]bool{}, fired: make([]bool, len(s.faults)),
		counter: counter{base: s.Count, from: s.Start, perMetre: countsPerMetre},
		cell:    "rode",
		epoch:   inventedDay,
		noise:   rand.New(rand.NewPCG(seed, 1)),
	}
	if s.model != nil {
		w.ground = newModelGround(s, seed)
	} else {
		g := &ground{
			pull: s.pull, recovery: s.recovery, payout: s.Payout, ea: s.Stiffness, slack: s.Slack,
			relax: s.Relax, tau: seconds(s.RelaxIn),
		}
		g.pull.seed, g.recovery.seed = seed, seed
		w.ground = g
	}
	w.ground.start(w.x)
	w.bend = newBend(s)
	for i := range w.box {
		w.box[i].rng = rand.New(rand.NewPCG(seed, uint64(2+i)))
	}
	w.look()
	return w
}

// nextLook is when the world must be looked at again at the latest.
func (w *world) nextLook() int64 {
	next := w.t + tick - (w.t-w.t0)%tick
	if due := w.relay.Due(); due > w.t && due < next {
		next = due
	}
	return next
}

// advance lets time pass up to t.
func (w *world) advance(t int64) {
	for w.t < t {
		next := min(t, w.nextLook())
		dt := float64(next-w.t) / float64(time.Second)
		from := w.x
		w.x += w.winch.move(dt, w.relay.Closed())
		switch {
		case w.winch.v > 0:
			w.ran = 1
			if w.hand { // a person hauls while the script still has the cell off: it is put back first
				w.hang("rode", 0)
			}
		case w.winch.v < 0:
			w.ran = -1
		}
		if w.winch.v != 0 && w.byHand {
			w.hang("rode", 0)
		}
		w.x = min(w.x, w.s.Payout)
		if len(w.moves) > 0 {
			w.ground.shift(astern(w.moves, next))
		}
		w.ground.move(from, w.x, dt)
		w.t = next
		w.relay.Advance(next)
		w.look()
	}
}

// hear gives the relay bytes that arrived at w.t.
func (w *world) hear(p []byte) {
	w.relay.Feed(w.t, p)
	w.look()
}

// look is what happens at an instant: the winch learns of the relay, faults
// begin and end, the operator goes on with the script.
func (w *world) look() {
	if closed := w.relay.Closed(); closed != w.relayWas {
		w.relayWas = closed
		w.winch.relay(w.t, closed)
	}
	w.play()
	if !w.hand {
		w.winch.operate(w.t, w.relay.Closed())
	}
	for i := range w.s.faults {
		if f := &w.s.faults[i]; !w.fired[i] && w.due(f) {
			w.fired[i] = true
			w.begin(f)
		}
	}
	for _, ends := range [...]*[numPorts]int64{&w.unplugged, &w.mute} {
		for i, until := range ends {
			if until != 0 && w.t >= until {
				ends[i] = 0
			}
		}
	}
}

func (w *world) due(f *fault) bool {
	switch f.when {
	case "time":
		return float64(w.t-w.t0)/float64(time.Second) >= f.at
	case "x":
		return float64(w.x) >= f.at
	}
	return w.reached[f.step]
}

func (w *world) begin(f *fault) {
	until := w.t + int64(f.lasts)
	switch f.kind {
	case "unplug":
		w.unplugged[w.s.wiring.host(f.port)] = until
	case "rename":
		port := w.s.wiring.host(f.port)
		w.unplugged[port], w.second[port] = until, !w.second[port]
	case "hub-reset":
		for i := range w.unplugged {
			if w.s.wiring.has(i) {
				w.unplugged[i] = until
			}
		}
	case "half-open":
		w.mute[w.s.wiring.host(f.port)] = until
	case "wrap":
		w.counter.base, w.counter.from = w.counter.at(w.x)-wrap16, w.x
	case "one-way":
		w.rises, w.risen, w.risenAt = true, w.count(), w.counter.at(w.x)
	case "time-step":
		w.fix.step += time.Duration(f.value * 1e9)
	case "reset":
		w.counter.base, w.counter.from = 0, w.x
	case "reverse":
		w.counter.turn(w.x, -w.counter.perMetre)
	case "slip":
		w.counter.turn(w.x, math.Copysign(countsPerMetre*(1-f.value), w.counter.perMetre))
	case "zero":
		if i := w.s.wiring.cellOf(f.port); i >= 0 {
			w.zeros[i] = wander{w.zeros[i].now(w.t), trial.Force(f.value), w.t, until}
			return
		}
		w.zero = trial.Force(f.value)
	case "wake":
		w.wake.force, w.wake.at, w.wake.ends = trial.Force(f.value), w.t, until
	case "surge", "drift":
		w.moved++
		w.moves = append(w.moves, vesselMove{trial.Length(f.value), w.t, float64(f.lasts), f.kind == "surge"})
	case "snag":
		w.ground.snag()
	case "release":
		w.ground.release()
	case "weld":
		w.relay.weld(w.t)
	default:
		b := &w.box[f.port]
		if f.kind != "stuck" || f.port == portLoad {
			b = &w.box[w.s.wiring.box(f.port)]
		}
		b.begin(f.kind, w.t, until, f.value)
		b.word, b.held0 = f.word, w.count()
		b.inValue = w.s.wiring.ownPattern() && !isCell(f.port)
	}
}

// goAhead has the vessel go over the anchor. Where it lay before no longer
// matters.
func (w *world) goAhead() {
	w.ground.goAhead(w.x)
	w.aheadAt = w.x
	w.moves, w.ahead = nil, true
}

// hang says what the load cell carries, by the script or because line moves.
func (w *world) hang(on string, weight trial.Force) {
	w.cell, w.hung, w.byHand = on, weight, false
}

// tension is that of the rode outboard, or what hangs on the load cell.
func (w *world) tension() trial.Force {
	if w.cell != "rode" {
		return w.hung
	}
	t := w.ground.tension(w.x)
	if w.s.Swell > 0 {
		// A swell can take from a rode no more than it carries.
		swell := min(w.s.Swell, max(t-w.s.Slack, 0))
		t += swell * trial.Force(math.Sin(2*math.Pi*float64(w.t-w.t0)/float64(w.s.SwellEvery)))
	}
	if w.t < w.wake.ends {
		t += w.wake.force * trial.Force(math.Sin(math.Pi*float64(w.t-w.wake.at)/float64(w.wake.ends-w.wake.at)))
	}
	return t
}

// play goes on with the operator's script as far as it will go now.
func (w *world) play() {
	for !w.hand && w.step < len(w.s.Winch) {
		s := &w.s.Winch[w.step]
		if w.stepFresh {
			w.stepFresh, w.stepAt = false, w.t
		}
		switch s.Verb {
		case "haul", "ease":
			speed := w.s.Speed
			if len(s.Args) > 0 {
				speed = trial.Speed(s.SI)
			}
			w.scripted = order{s.Verb, speed}
			w.lever(s.Verb, speed)
		case "stop":
			w.scripted = order{leverStop, 0}
			w.lever(leverStop, 0)
		case "ahead":
			w.goAhead()
		case "cell":
			w.hang(s.Args[0], trial.Force(s.SI))
		case "step":
			w.reached[s.Args[0]] = true
		case "wait":
			if w.t-w.stepAt < int64(nsOf(s.SI)) {
				return
			}
		case "until":
			if !w.met(s) {
				return
			}
		case "done":
			w.step = len(w.s.Winch) - 1
		}
		w.step++
		w.stepFresh = true
	}
	w.done = w.step >= len(w.s.Winch)
}

func (w *world) lever(verb string, speed trial.Speed) {
	switch verb {
	case leverHaul:
		w.winch.haulAt = speed
	case leverEase:
		w.winch.easeAt = speed
	}
	w.winch.put(verb, w.relay.Closed())
}

// met reports whether what a step waits for is so. Places along the line are
// reached from the side the lever goes.
func (w *world) met(s *Step) bool {
	easing := w.winch.lever == leverEase
	switch s.Args[0] {
	case "relay":
		return w.relay.Closed() == (s.Args[1] == "closed")
	case "x":
		if easing {
			return float64(w.x) <= s.SI
		}
		return float64(w.x) >= s.SI
	case "rode out":
		out := float64(w.s.Payout - w.x)
		if easing {
			return out >= s.SI
		}
		return out <= s.SI
	}
	t := float64(w.tension())
	return (s.Args[1] == "below") == (t < s.SI)
}
