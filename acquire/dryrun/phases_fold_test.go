package dryrun

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/logfmt"
	"hawse/trial"
)

// heard is what the Judge of a whole session said of a scenario: its own statics,
// levels, travel and marks are in it.
type heard struct {
	phases, events []string // each as it was said; an event with its cause and the metre it stands at
}

// foldOf plays a scenario with its crew. without leaves out the crew's marks that
// hold that word; "" none.
func foldOf(t *testing.T, name, without string) (o heard) {
	t.Helper()
	s, err := deck.Load(name)
	if err != nil {
		t.Fatal(err)
	}
	s.Crew = slices.DeleteFunc(slices.Clone(s.Crew), func(k deck.Step) bool {
		return without != "" && k.Verb == "act" && k.Args[0] == "mark" && strings.Contains(k.Args[1], without)
	})
	r, _, err := newRig(s, 1)
	if err != nil {
		t.Fatal(err)
	}
	r.dry.WithJudge = true
	r.onSay(func(say logfmt.Record) {
		switch say.Str("what") {
		case "phase":
			o.phases = append(o.phases, say.Str("phase"))
		case "event":
			x, _ := strconv.ParseFloat(say.Str("x_m"), 64)
			o.events = append(o.events, fmt.Sprintf("%s %s at %.0f m", say.Str("event"), say.Str("cause"), x))
		}
	})
	people := crew.New(s.Crew)
	r.crewed(people, playsAtMost)
	if why := people.Fault(); why != "" {
		t.Fatalf("the crew's script stopped: %s", why)
	}
	return o
}

// The nineteen scenarios of the made-up campaign, through the whole fold: what must
// be said of each, what must not, and its events. Unit, sign, a bad record and a
// welded relay have no phases of their own: what is said is what the pull was. The
// fourteenth, the recovery, is the end of the first.
func TestNineteenScenarios(t *testing.T) {
	list := func(s string) []string { return strings.FieldsFunc(s, func(r rune) bool { return r == ',' }) }
	for _, tt := range []struct {
		name    string
		phases  string // as they were said; unclear is said between them, and left out
		events  string
		without string // marks of the crew that are left out
	}{
		{"textbook", "slack,take-up,embedding,plateau,decline,slack,short stay,up and down,breaking out,aweigh", "aweigh anchor at 51 m", ""},
		{"too-good", "slack,embedding", "", ""},
		{"never-sets", "slack,take-up,not set", "not set undecided at 1 m", ""},
		{"breakout", "slack,take-up,embedding,breakout,re-setting,re-set,plateau,breakout", "breakout anchor at 11 m,re-set undecided at 15 m,breakout anchor at 21 m", ""},
		{"saw-tooth", "slack,take-up,embedding,saw-tooth", "saw-tooth undecided at 5 m", ""},
		{"rising-tide", "slack,take-up", "", ""},
		{"vessel-moves", "slack,take-up,embedding,relaxing,relaxing", "", ""},
		{"unplug", "slack,take-up,embedding", "", ""},
		{"snag", "slack,take-up,embedding,snag", "", ""},
		{"stuck", "slack,take-up,embedding", "", ""},
		{"wrong-unit", "slack,take-up,embedding", "", ""},
		{"reversed-line", "slack,slack,slack,slack", "", ""},
		{"over-range", "slack,take-up,embedding", "", ""},
		{"counter-wrong", "slack,take-up,embedding,embedding,plateau,plateau", "", ""},
		{"bad-record", "slack,take-up,embedding,relaxing,embedding,relaxing,embedding,plateau", "", ""},
		{"after-stop", "take-up,embedding", "", ""},
		{"vessel-or-anchor", "slack,take-up,embedding,plateau,plateau", "fall vessel at 13 m", ""},
		{"vessel-or-anchor", "slack,take-up,embedding,plateau,plateau", "fall vessel at 13 m", "thruster"},
		{"slow-breakout", "slack,take-up,embedding,breakout,re-set,plateau", "breakout undecided at 8 m,re-set undecided at 10 m", ""},
		{"weak", "slack,take-up,embedding,weak engagement,dragging", "", ""},
	} {
		t.Run(tt.name+" "+tt.without, func(t *testing.T) {
			t.Parallel()
			o := foldOf(t, tt.name, tt.without)
			phases := slices.DeleteFunc(o.phases, func(p string) bool { return p == trial.Unclear.String() })
			if !slices.Equal(phases, list(tt.phases)) || !slices.Equal(o.events, list(tt.events)) {
				t.Errorf("phases %s\nwant   %s\nevents %q, want %q", strings.Join(phases, ","), tt.phases, o.events, tt.events)
			}
		})
	}
}
