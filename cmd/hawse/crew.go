package main

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync/atomic"
	"time"

	"hawse/acquire"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// crew plays the demo's people: it does what its script says against what the
// screen shows, each act in its own name, until a person takes over.
type crew struct {
	steps []deck.Step
	clock acquire.Clock
	alone bool // headless: nobody can take over
	taken atomic.Bool
	fault atomic.Pointer[string] // the first act that was refused
}

const crewName = "demo crew"

// takeOver ends the script: from here on a person is in charge.
func (k *crew) takeOver() { k.taken.Store(true) }

// run works through the script. It returns when it is through, ctx ends, or a
// person takes over.
func (k *crew) run(ctx context.Context, c *session.Capture) {
	for _, s := range k.steps {
		if !k.step(ctx, c, s) {
			break
		}
	}
	select {
	case <-c.Done():
		return
	case <-ctx.Done():
		return
	default:
	}
	note := session.Act{Who: safety.Director, Name: crewName, What: session.ActNote, Value: "a person has taken over; the script ends here"}
	if f := k.fault.Load(); f != nil {
		note.Value = "the script has stopped, you are in charge: " + *f
	} else if !k.taken.Load() {
		note.Value = "the script is over; what is left is yours"
	}
	c.Do(note)
	if k.alone {
		// Nobody is there to end it, so it ends: asked twice, since it may be
		// loaded.
		end := session.Act{Who: safety.Program, Name: crewName, What: session.ActEnd, Value: note.Value}
		c.Do(end)
		c.Do(end)
	}
}

func (k *crew) step(ctx context.Context, c *session.Capture, s deck.Step) bool {
	switch s.Verb {
	case "wait":
		until := k.clock.Now() + int64(s.SI*1e9)
		return k.until(ctx, c, func(*session.Snapshot) bool { return k.clock.Now() >= until })
	case "until":
		cond, err := condition(s)
		if err != nil {
			return k.fail(s, err.Error())
		}
		return k.until(ctx, c, cond)
	case "say":
		c.Do(session.Act{Who: safety.Director, Name: crewName, What: session.ActNote, Value: strings.Join(s.Args, " ")})
	case "act":
		return k.act(ctx, c, s)
	}
	return true
}

// until waits for a condition on what the screen shows.
func (k *crew) until(ctx context.Context, c *session.Capture, cond func(*session.Snapshot) bool) bool {
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for !cond(c.Snapshot()) {
		select {
		case <-tick.C:
		case <-ctx.Done():
			return false
		case <-c.Done():
			return false
		}
		if k.taken.Load() {
			return false
		}
	}
	return !k.taken.Load()
}

func (k *crew) act(ctx context.Context, c *session.Capture, s deck.Step) bool {
	a := session.Act{Who: safety.Director, Name: crewName, What: s.Args[0], Value: strings.Join(s.Args[1:], " ")}
	if a.What == session.ActStage || a.What == session.ActRearm {
		stage, err := trial.ParseStage(a.Value)
		if err != nil {
			return k.fail(s, err.Error())
		}
		a.Stage, a.Value = stage, ""
	}
	o, err := c.DoWait(ctx, a)
	if err != nil {
		return false
	}
	// An end under load is refused once; the script, like a person, asks again.
	if o.Refused != "" && a.What != session.ActEnd {
		return k.fail(s, o.Refused)
	}
	return true
}

func (k *crew) fail(s deck.Step, why string) bool {
	text := fmt.Sprintf("script line %d: %s %s: %s", s.Line, s.Verb, strings.Join(s.Args, " "), why)
	k.fault.CompareAndSwap(nil, &text)
	return false
}

// condition reads what an `until` waits for.
func condition(step deck.Step) (func(*session.Snapshot) bool, error) {
	words := strings.Join(step.Args, " ")
	force, length := trial.Force(step.SI), trial.Length(step.SI)
	switch {
	case strings.HasPrefix(words, "order "):
		order, ok := map[string]safety.Order{"stop": safety.OrderStop, "ease": safety.OrderEase,
			"abandon": safety.OrderAbandon, "none": safety.NoOrder}[step.Args[len(step.Args)-1]]
		if !ok {
			return nil, fmt.Errorf("unknown order %q", words)
		}
		return func(s *session.Snapshot) bool { return s.Guard.Order == order }, nil
	case words == "load live":
		return func(s *session.Snapshot) bool { return s.Tension.Known && s.Line.Good > 0 && s.Stop.State == "open" }, nil
	case words == "log on disk":
		return func(s *session.Snapshot) bool { return s.Log.OnDisk > 0 && s.Log.Fault == "" }, nil
	case words == "haul stopped":
		return func(s *session.Snapshot) bool { return s.Haul.Known && math.Abs(float64(s.Haul.Speed)) < 0.002 }, nil
	case strings.HasPrefix(words, "tension below "):
		return func(s *session.Snapshot) bool { return s.Tension.Known && s.Tension.Now < force }, nil
	case strings.HasPrefix(words, "tension above "):
		return func(s *session.Snapshot) bool { return s.Tension.Known && s.Tension.Now > force }, nil
	case strings.HasPrefix(words, "x "):
		return func(s *session.Snapshot) bool { return s.Haul.Known && s.Haul.X >= length }, nil
	case strings.HasPrefix(words, "rode out "):
		return func(s *session.Snapshot) bool { return s.Haul.Known && s.Haul.RodeOut <= length }, nil
	}
	return nil, fmt.Errorf("unknown condition %q", words)
}
