package dryrun

import (
	"fmt"
	"strings"
	"time"

	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
)

// playsAtMost is how long a scenario is played whose crew does not end it.
const playsAtMost = 3600 * second

// Played is a scenario played to its end.
type Played struct {
	Story   string // what was said and done, a line each, with its time
	Fault   string // what stopped the crew's script; "" nothing
	Alarms  int    // that rose
	Flood   int    // most of them in ten minutes
	Seconds float64
}

// told are the words of the fold that stand in a story: alarms, orders, stops
// refusals, depths and scopes, never phases.
var told = map[string]bool{"alarm-up": true, "alarm-less": true, "alarm-down": true, "stop-set": true, "stop-more": true, "stop-lifted": true, "stop-top": true,
	"end-reached": true, "order": true, "permit": true, "armed": true, "stage": true, "refused": true, "depth": true, "scope": true, "cell": true, "limit": true}

// Play plays a scenario with its own crew and its own trial file.
func Play(s *deck.Scenario, seed uint64) (*Played, error) {
	r, _, err := newRig(s, seed)
	if err != nil {
		return nil, err
	}
	var p Played
	var b strings.Builder
	var rises []int64
	r.onSay(func(say logfmt.Record) {
		what := say.Str("what")
		if what == "alarm-up" {
			p.Alarms++
			rises = append(rises, say.T)
		}
		if told[what] {
			fmt.Fprintf(&b, "%9.3f  %s\n", saidAt(say), say.Str("text"))
		}
	})
	people := crew.New(s.Crew)
	t := r.crewed(people, playsAtMost)
	p.Flood = mostInTen(rises)
	p.Story, p.Fault, p.Seconds = b.String(), people.Fault(), float64(t)/1e9
	return &p, nil
}

// Fold plays a scenario with its own crew into a fold that is fresh and began at
// that time of day, until the crew ends it. It returns the time of its last
// record, ns. What is kept of the records, dry says.
func Fold(dry *session.Dry, s *deck.Scenario, seed uint64, began time.Time) (end int64, err error) {
	r, err := join(dry, deck.NewSim(s, seed), began)
	if err != nil {
		return 0, err
	}
	people := crew.New(s.Crew)
	r.crewed(people, playsAtMost)
	if dry.Ending() == "" {
		return r.t, fmt.Errorf("the crew came to no end at %.1f s: step %s: %s", float64(r.t)/1e9, people.Step(), people.Fault())
	}
	return r.t, nil
}

// saidAt is when a word fell due, s.
func saidAt(say logfmt.Record) float64 {
	if at, ok := say.Ns("at"); ok {
		return float64(at) / 1e9
	}
	return float64(say.T) / 1e9
}
