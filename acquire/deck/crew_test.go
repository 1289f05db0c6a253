package deck

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"hawse/trial"
)

// crewRun plays the crew's steps against the deck with a guard of the fewest
// words. It shows that each script fits its own winch, and what it does can be
// seen on the screen.
type crewRun struct {
	*Sim
	s       *Scenario
	session uint32
	beats   int
	on      bool

	stage, order string
	acked        bool
	orderAt      int64
	loadAt       int64
	text         string // the load box's last line
	since        int64  // it has been the same since
	sinceX       float64
	shown        float64 // N
	was          []float64
	sign, unit   float64
	over         bool
	x, x0        float64 // line hauled by the count, m
	zeroed       []float64
	slow, weight bool // they stand against arming
	ended        bool
	asked        int64 // when the end was last asked for
	maxOver      int
	refusals     int
}

func (c *crewRun) line(port string, at int64, p []byte) {
	var v float64
	text := string(p)
	switch {
	case port == "line":
		if _, err := fmt.Sscanf(text, "N %f\r\n", &v); err == nil && strings.HasSuffix(text, "\r\n") {
			c.x = v/1000 - c.x0
		}
	case port != "load":
	case text == "OL\r\n":
		c.over, c.loadAt = true, at
		c.maxOver++
	case strings.HasSuffix(text, "\r\n"):
		if _, err := fmt.Sscanf(text, "%f", &v); err == nil && !math.IsNaN(v) {
			c.shown, c.over, c.loadAt = v*c.unit*c.sign, false, at
			c.was = append(c.was, c.shown)
			if text != c.text {
				c.text, c.since, c.sinceX = text, at, c.x
			}
		}
	}
}

func (c *crewRun) guard() {
	t := c.Now()
	hauls := c.stage == "preset" || c.stage == "pull" || c.stage == "recover"
	scope := (float64(c.s.Payout) - c.x) / float64(c.s.Depth+c.s.Fairlead)
	haul := 35.0
	for _, set := range c.s.Trial {
		if set.Key == "haul" {
			fmt.Sscanf(set.Value, `"%f m"`, &haul)
		}
	}
	mean := func(back int) (sum float64) {
		for _, v := range c.was[len(c.was)-back-60:][:60] {
			sum += v / 60
		}
		return sum
	}
	switch {
	case c.over || c.shown >= 8000 || t-c.loadAt > 2e9 || c.stage == "pull" && (scope <= 4 || c.x >= haul || c.x <= -1),
		c.stage == "pull" && c.shown > 20 && t-c.since >= 5e9 && c.x-c.sinceX >= 0.2-1e-9:
		if hauls && c.order == "" {
			c.order, c.orderAt = "stop", t
		}
	}
	rising := c.s.LoadHz == 10 && len(c.was) > 200 && mean(0)-mean(70) >= 800 && !hauls
	late := c.order == "stop" && t-c.orderAt > 3e9 && c.shown >= 8000
	if stopped := c.order != "" || c.stage == "hold"; stopped && (rising || late) {
		c.order = "ease"
	}
	if (!hauls || c.order != "") && c.on {
		c.on = false
		c.Hear(t, []byte(say("OPEN %d", c.session)))
	}
	if c.on {
		c.beats++
		c.Hear(t, []byte(say("BEAT %d %d", c.session, c.beats)))
	}
}

func (c *crewRun) met(s Step) bool {
	live := c.loadAt > 0 && c.Now()-c.loadAt < 1e9
	switch s.Args[0] {
	case "order":
		return c.order == s.Args[1] || c.order == "ease" && s.Args[1] == "stop"
	case "x":
		return c.x >= s.SI
	case "rode out":
		return float64(c.s.Payout)-c.x <= s.SI
	case "haul":
		return c.State().Speed == 0
	case "load":
		return live
	case "log":
		return true
	}
	return live && !c.over && (s.Args[1] == "below") == (c.shown < s.SI)
}

// act does what a step says, or tells why not.
func (c *crewRun) act(s Step) (refused string) {
	switch s.Args[0] {
	case "arm":
		if c.slow || c.weight {
			return "something stands against it"
		}
	case "accept":
		c.slow = false
	case "zero":
		c.zeroed = append(c.zeroed, float64(c.State().Tension))
	case "weight":
		if c.weight = math.Abs(c.shown-s.SI) > 0.01*s.SI; c.weight {
			return "it does not fit"
		}
	case "correct":
		if s.Args[1] == "sign" {
			c.sign = -1
		} else {
			u, _ := trial.ForceUnitNamed(s.Args[2])
			c.unit = u.N
		}
	case "payout":
		c.x0, c.x = c.x0+c.x, 0
	case "stop":
		c.order, c.orderAt = "stop", c.Now()
	case "ack":
		c.acked = true
	case "stage", "rearm":
		if s.Args[0] == "rearm" && (!c.acked || c.Now()-c.loadAt > 1e9) {
			return "not acknowledged, or the cause still stands"
		}
		c.stage, c.order, c.acked = s.Args[1], "", c.acked && s.Args[1] == "ease"
		if c.stage == "preset" || c.stage == "pull" || c.stage == "recover" {
			c.session++
			c.beats, c.on = 0, true
			c.Hear(c.Now(), []byte(say("ARM %d", c.session)))
		}
	case "end":
		// Under load it has to be asked for twice within 10 s.
		c.ended = c.shown < 190 || c.Now()-c.asked < 10e9
		c.asked = c.Now()
	}
	return ""
}

func TestEveryScenarioPlaysToItsEnd(t *testing.T) {
	type result struct {
		x        trial.Length // line hauled when the pull was over
		changes  int          // of the relay
		refusals int
		top      float64 // kN, the most shown in the whole play; 0: not of interest
		tol      float64
	}
	// The tops are the invented campaign's; where a limit stops the winch, as
	// much more as the confirmation takes.
	want := map[string]result{
		"textbook": {30, 5, 0, 3.10, 0.02}, "short": {x: 0.5, changes: 5}, "too-good": {6, 3, 0, 8.02, 0.03},
		"never-sets": {12, 3, 0, 0.35, 0.02}, "breakout": {24, 3, 0, 3.8, 0.02}, "saw-tooth": {20, 3, 0, 3.0, 0.02},
		"unplug": {x: 9.1, changes: 3}, "stuck": {x: 7.2, changes: 3}, "over-range": {x: 11, changes: 3},
		"bad-record":   {21, 7, 0, 3.1, 0.02},
		"vessel-moves": {15, 3, 0, 4.36, 0.05}, "snag": {16.65, 3, 0, 8.48, 0.05}, "after-stop": {4, 3, 0, 8.1, 0.1},
		"wrong-unit": {3, 3, 2, 1.0, 0.05}, "swell": {30, 3, 0, 3.5, 0.05}, "two-alarms": {4, 3, 2, 1.97, 0.02},
		"cobble-neck": {6.5, 3, 0, 2.7, 0.05}, "called-stop": {12, 5, 1, 2.33, 0.02}, "early-ack": {12, 5, 1, 2.33, 0.02}, "never-falls": {6.8, 3, 0, 1.85, 0.05},
		"reversed-line": {1, 3, 0, 0.08, 0.02}, "slow-cell": {5, 3, 1, 1.42, 0.03},
		"weld": {4, 2, 0, 1.77, 0.03}, "model": {30, 5, 0, 3.04, 0.05},
		"vessel-or-anchor": {17, 3, 0, 3.0, 0.02}, "slow-breakout": {16, 3, 0, 2.2, 0.02}, "weak": {23, 3, 0, 1.3, 0.02},
		"rising-tide": {1.5, 3, 0, 0.3, 0.02}, "counter-wrong": {24, 3, 0, 2.5, 0.02},
	}
	for _, name := range Names() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := mustLoad(t, name)
			c := &crewRun{Sim: NewSim(s, 1), s: s, asked: -10e9, sign: 1, unit: float64(kgf), slow: s.LoadHz < 3}
			step, since := 0, int64(0)
			var pulled trial.Length
			var top float64
			for next := int64(0); !c.ended || !c.State().Done; next += 100 * ms {
				now := c.State()
				if next > 40*60e9 {
					t.Fatalf("not over after 40 min: crew at line %d, winch at line %d, x %.2f m, %.0f N, stage %s, order %q",
						s.Crew[min(step, len(s.Crew)-1)].Line, now.Step, now.X, now.Tension, c.stage, c.order)
				}
				c.Advance(next, c.line)
				c.guard()
				if c.stage == "preset" || c.stage == "pull" {
					pulled = now.X
				}
				if c.stage != "" {
					top = max(top, c.shown/1000)
				}
				for step < len(s.Crew) && !c.ended {
					now := s.Crew[step]
					if now.Verb == "wait" && float64(next-since) < now.SI*1e9 || now.Verb == "until" && !c.met(now) {
						break
					}
					switch now.Verb {
					case "act":
						if why := c.act(now); why != "" {
							t.Errorf("line %d, %s: refused, %s", now.Line, now, why)
						}
					case "refused":
						c.refusals++
						if c.act(now) == "" {
							t.Errorf("line %d, %s: granted", now.Line, now)
						}
					}
					step, since = step+1, next
				}
			}
			w, now := want[name], c.State()
			if math.Abs(float64(pulled-w.x)) > 0.1 {
				t.Errorf("the pull ended at x %.2f m, want %.2f", pulled, w.x)
			}
			if got := len(now.RelayLog); got != w.changes {
				t.Errorf("%d changes of the relay, want %d: %+v", got, w.changes, now.RelayLog)
			}
			if step != len(s.Crew) || c.refusals != w.refusals {
				t.Errorf("the crew stands at step %d of %d with %d refusals, want the end and %d", step, len(s.Crew), c.refusals, w.refusals)
			}
			if w.top > 0 && math.Abs(top-w.top) > w.tol {
				t.Errorf("the most shown is %.3f kN, want %.3f +- %.3f", top, w.top, w.tol)
			}
			if len(c.zeroed) == 0 || slices.Max(c.zeroed) > 0.001 {
				t.Errorf("zeroed with %v N on the cell, want it free", c.zeroed)
			}
			if out := s.Payout - now.X; name == "textbook" && (out < 7.3 || out > 7.5) {
				t.Errorf("recovered to %.2f m of rode out, want about 7.5", out)
			}
			if name == "over-range" && c.maxOver < 2 {
				t.Errorf("%d lines over range, want 2 or more", c.maxOver)
			}
			if name == "short" && now.T > 25e9 {
				t.Errorf("it took %.1f s, want about 20 s", float64(now.T)/1e9)
			}
			t.Logf("%.0f s, most %.3f kN, pull to x %.2f m, rode out at the end %.2f m", float64(now.T)/1e9, top, pulled, s.Payout-now.X)
		})
	}
}
