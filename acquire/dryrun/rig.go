package dryrun

import (
	"fmt"
	"time"

	"hawse/acquire"
	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// rig is a deck and a fold, joined.
type rig struct {
	sim   *deck.Sim
	dry   *session.Dry
	began time.Time
	t     int64 // of the last record
	clock int64 // of the last clock record
	acts  uint32

	asks  map[string]*acquire.Asking // of the ports that are asked and plugged in
	all   map[string]*acquire.Asking
	ports []string

	record func()                                    // after every record
	heard  func(port string, at int64, raw []byte)   // before it, for bytes
	plug   func(port string, at int64, plugged bool) // for ports
}

// longest is how long a rig leaves the fold without a record, as a live capture
// does; second is how often it says the time.
const (
	longest = int64(50 * time.Millisecond)
	second  = int64(time.Second)
)

// began is the day the invented campaign plays on.
var began = time.Date(2026, 4, 12, 9, 0, 0, 0, time.UTC)

func newRig(s *deck.Scenario, seed uint64) (*rig, *trial.Trial, error) { return rigOf(s, seed, false) }

// rigOf is newRig; keep: with all its records, as a log of it has them.
func rigOf(s *deck.Scenario, seed uint64, keep bool) (*rig, *trial.Trial, error) {
	t, err := trial.ParseTrial("trial.toml", []byte(s.TrialFile()))
	if err != nil {
		return nil, nil, fmt.Errorf("the trial file of %s: %w", s.Title, err)
	}
	id := s.Run
	if id == "" {
		id = t.Runs[0].ID
	}
	run, ok := t.Run(id)
	if !ok {
		return nil, nil, fmt.Errorf("%s plays run %q, which its trial file does not have", s.Title, id)
	}
	dry, err := session.NewDry(session.Head{Tool: "dry run", Build: "dry run", Started: began, Mode: "simulated",
		Caption: s.Caption, Scale: 1, Trial: t, File: "trial.toml", Run: run})
	if err != nil {
		return nil, nil, err
	}
	dry.Keep, dry.WithJudge = keep, keep
	r, err := join(dry, deck.NewSim(s, seed), began)
	return r, t, err
}

// join joins a deck and a fold, whose ports open at once.
func join(dry *session.Dry, sim *deck.Sim, began time.Time) (*rig, error) {
	r := &rig{sim: sim, dry: dry, began: began, asks: map[string]*acquire.Asking{}, all: map[string]*acquire.Asking{}}
	r.sim.OnPlug(func(port string, at int64, in bool) {
		r.upTo(at)
		if r.plug != nil {
			r.plug(port, at, in)
		}
		state := acquire.StateOpen
		if !in {
			state = acquire.StateLost
		}
		r.dry.Port(at, port, state, "")
		r.after(at)
		if delete(r.asks, port); in && r.all[port] != nil {
			r.asks[port] = r.all[port]
			r.asks[port].Reset(at)
		}
	})
	r.ports = r.sim.Ports()
	t := dry.Snapshot().Trial
	for _, port := range r.ports {
		r.dry.Port(0, port, acquire.StateOpen, "")
		a, err := acquire.AskingOf(t, port)
		if err != nil {
			return nil, err
		}
		if a != nil {
			a.Reset(0)
			r.asks[port], r.all[port] = a, a
		}
	}
	r.dry.Port(0, session.SrcScreen, "attached", "")
	r.dry.Port(0, session.SrcRecord, "ok", "")
	return r, nil
}

// crewed plays on with these people until they are done or have ended it, or for
// so long, ns. It returns the time it would go on from.
func (r *rig) crewed(people *crew.Crew, most int64) (t int64) {
	for ; t < most && !people.Over() && r.dry.Ending() == ""; t += second / 10 {
		r.advance(t)
		for {
			a, now := people.Next(t, r.dry.Snapshot())
			if !now {
				break
			}
			people.Answer(r.act(a))
		}
	}
	return t
}

// advance plays the deck up to time t.
func (r *rig) advance(t int64) {
	for now := r.sim.Now(); len(r.asks) > 0 && now < t; now = r.sim.Now() {
		next := min(t, r.sim.Next())
		for _, port := range r.ports {
			a := r.asks[port]
			if a == nil {
				continue
			}
			q, again := a.Due(now)
			if q >= 0 {
				r.ask(port, a, q, now)
			}
			next = min(next, max(again, now+1))
		}
		r.play(next)
	}
	r.play(t)
	r.upTo(t)
}

// play lets the deck go on to time t.
func (r *rig) play(t int64) {
	r.sim.Advance(t, func(port string, at int64, raw []byte) {
		r.upTo(at)
		if r.heard != nil {
			r.heard(port, at, raw)
		}
		if a := r.asks[port]; a != nil {
			a.Bytes(at, raw, func(string, []byte, string) {})
		}
		r.dry.Rx(at, port, raw)
		r.after(at)
	})
}

// ask sends a question, as the owner of a port does.
func (r *rig) ask(port string, a *acquire.Asking, q int, t int64) {
	raw := a.Ask(q)
	a.Asked(t, raw)
	r.upTo(t)
	r.dry.Sent(t, port, raw)
	r.after(t)
	r.sim.Ask(port, t, raw)
}

// upTo makes the records that time alone makes before t.
func (r *rig) upTo(t int64) {
	for {
		next := min(r.t+longest, r.clock+second, max(r.dry.Next(), r.t+1))
		if next >= t {
			return
		}
		if next == r.clock+second {
			r.clock = next
			r.dry.Clock(next, r.began.Add(time.Duration(next)))
		} else {
			r.dry.Tick(next)
		}
		r.after(next)
	}
}

// onSay gives each word of the fold once, after the record that made it say it.
func (r *rig) onSay(told func(say logfmt.Record)) {
	n := uint64(0)
	r.record = func() {
		for _, say := range r.dry.Said() {
			if say.N > n {
				n = say.N
				told(say)
			}
		}
	}
}

// after hands on what a record made the fold say to the relay.
func (r *rig) after(t int64) {
	r.t = t
	if out := r.dry.Out(); len(out) > 0 {
		r.sim.Hear(t, out)
	}
	if r.record != nil {
		r.record()
	}
}

func (r *rig) act(a session.Act) session.Outcome {
	r.acts++
	o := r.dry.Act(r.t, a, r.acts)
	r.after(r.t)
	return o
}

func (r *rig) state() safety.State { return r.dry.State() }
