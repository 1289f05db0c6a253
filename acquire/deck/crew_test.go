package deck

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"hawse/trial"
)

// crewRun plays the crew's steps against the world with a guard of the fewest
// words: planned end at scope 4.0, trip at 8.0 kN and when no good load line
// has come for 2 s. It shows that each script fits its own winch.
type crewRun struct {
	*hauling
	stage   string
	order   string
	loadAt  int64
	shown   float64 // N
	over    bool
	ended   bool
	asked   int64 // when the end was last asked for
	maxOver int
}

func (c *crewRun) line(p []byte) {
	var v float64
	switch text := string(p); {
	case text == "OL\r\n":
		c.over, c.loadAt = true, c.t
		c.maxOver++
	case strings.HasSuffix(text, " kgf\r\n"):
		if _, err := fmt.Sscanf(text, "%f kgf\r\n", &v); err == nil && !math.IsNaN(v) {
			c.shown, c.over, c.loadAt = v*9.80665, false, c.t
		}
	}
}

func (c *crewRun) guard() {
	hauls := c.stage == "pull" || c.stage == "recover"
	scope := float64(c.s.Payout-c.x) / float64(c.s.Depth+c.s.Fairlead)
	switch {
	case c.over || c.shown >= 8000 || c.t-c.loadAt > 2e9 || (c.stage == "pull" && scope <= 4):
		if hauls {
			c.order = "stop"
		}
	}
	if (!hauls || c.order != "") && c.on {
		c.open()
	}
}

func (c *crewRun) met(s Step) bool {
	switch s.Args[0] {
	case "order":
		return c.order == s.Args[1]
	case "x":
		return float64(c.x) >= s.SI
	case "rode out":
		return float64(c.s.Payout-c.x) <= s.SI
	case "haul":
		return c.winch.v == 0
	case "load":
		return c.loadAt > 0 && c.t-c.loadAt < 1e9
	case "log":
		return true
	}
	return c.t-c.loadAt < 1e9 && !c.over && (s.Args[1] == "below") == (c.shown < s.SI)
}

func (c *crewRun) act(s Step) {
	switch s.Args[0] {
	case "stage", "rearm":
		c.stage, c.order = s.Args[1], ""
		if c.stage == "pull" || c.stage == "recover" {
			c.arm()
		}
	case "end":
		// Under load it has to be asked for twice within 10 s.
		c.ended = c.shown < 180 || c.t-c.asked < 10e9
		c.asked = c.t
	}
}

func TestEveryScenarioPlaysToItsEnd(t *testing.T) {
	type result struct {
		x       trial.Length // line hauled when the pull was over
		changes int          // of the relay
	}
	want := map[string]result{
		"textbook": {30, 5}, "short": {0.5, 5}, "too-good": {6, 3}, "never-sets": {12, 3}, "breakout": {24, 3},
		"saw-tooth": {20, 3}, "unplug": {9.1, 3}, "stuck": {10, 3}, "over-range": {11, 3}, "bad-record": {21, 7},
	}
	for _, name := range Names() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := mustLoad(t, name)
			c := &crewRun{hauling: haulingWorld(s), asked: -10e9}
			step, since := 0, int64(0)
			var pulled trial.Length
			var top float64
			for next := int64(0); !c.ended || !c.done; next += 100 * ms {
				if next > 40*60e9 {
					t.Fatalf("not over after 40 min: crew at line %d, winch at line %d, x %.2f m, %.0f N, stage %s, order %q",
						s.Crew[min(step, len(s.Crew)-1)].Line, s.Winch[min(c.step, len(s.Winch)-1)].Line, c.x, c.tension(), c.stage, c.order)
				}
				c.advance(next)
				if c.unplugged[portLoad] == 0 {
					c.say(portLoad, c.line)
				}
				c.guard()
				if c.on {
					c.beat()
				}
				if c.stage == "pull" {
					pulled, top = c.x, max(top, c.shown)
				}
				for step < len(s.Crew) {
					now := s.Crew[step]
					if now.Verb == "wait" && float64(c.t-since) < now.SI*1e9 || now.Verb == "until" && !c.met(now) {
						break
					}
					if now.Verb == "act" {
						c.act(now)
					}
					step, since = step+1, c.t
				}
			}
			w := want[name]
			if math.Abs(float64(pulled-w.x)) > 0.1 {
				t.Errorf("the pull ended at x %.2f m, want %.2f", pulled, w.x)
			}
			if got := len(c.relay.Log()); got != w.changes {
				t.Errorf("%d changes of the relay, want %d: %+v", got, w.changes, c.relay.Log())
			}
			if step != len(s.Crew) {
				t.Errorf("the crew stands at line %d", s.Crew[step].Line)
			}
			if name == "textbook" {
				if math.Abs(top/1000-3.10) > 0.02 {
					t.Errorf("peak of the pull %.3f kN, want 3.10", top/1000)
				}
				if out := s.Payout - c.x; out < 7.3 || out > 7.5 {
					t.Errorf("recovered to %.2f m of rode out, want about 7.5", out)
				}
			}
			if name == "over-range" && c.maxOver < 2 {
				t.Errorf("%d lines over range, want 2 or more", c.maxOver)
			}
			if name == "short" && c.t > 25e9 {
				t.Errorf("it took %.1f s, want about 20 s", float64(c.t)/1e9)
			}
			t.Logf("%.0f s, peak %.3f kN, pull to x %.2f m, rode out at the end %.2f m", float64(c.t)/1e9, top/1000, pulled, s.Payout-c.x)
		})
	}
}
