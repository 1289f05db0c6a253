package safety

import (
	"fmt"
	"strings"
	"time"

	"hawse/trial"
)

// TensionKnown says whether the last word of the load cell is a number, in
// range and not too old.
func (s *State) TensionKnown() bool {
	return s.Load.At >= 0 && !s.Load.Over && s.present[LoadNotNumber] == absent &&
		s.present[LoadSilent] == absent && s.present[LoadGarbled] == absent
}

// Loaded says whether the rode must be treated as loaded: tension at or above
// the slack level, or unknown.
func (s *State) Loaded(cfg *Config) bool {
	return !s.TensionKnown() || !(s.Load.Tension < cfg.Slack)
}

// standing returns a trip whose cause is there whatever the stage.
func (g *Guard) standing() Cause {
	for _, c := range [...]Cause{LoadOverRange, LoadNotNumber, PersonStop, StoodStill, RelayOpened, StopOutLost, ScreenGone, Terminated} {
		if g.s.present[c] == atLimit {
			return c
		}
	}
	return NoCause
}

// against says, in one line, what stands against going into a stage: kept says
// that the present stage goes on rather than begins anew. It is judged by the
// limits of that stage. "" is nothing.
func (g *Guard) against(t int64, stage trial.Stage, kept bool) string {
	s, l := &g.s, &g.cfg.Limits[stage]
	if c := g.standing(); c != NoCause {
		if c.row().moment {
			return c.Title() + " is not acknowledged; acknowledge it first"
		}
		return c.Title() + "; " + c.Advice()
	}
	if s.Load.At < 0 {
		return "the load cell has sent nothing valid yet; see its port and its line pattern"
	}
	if age := t - s.timers.loadWord; age >= int64(l.SilentWarn) {
		return fmt.Sprintf("nothing valid from the load cell for %.1f s; %s", seconds(age), LoadSilent.Advice())
	}
	if high := g.highest(); high >= g.cfg.stopN(stage) {
		return fmt.Sprintf("tension %s is at or above the stop limit of %s, %s; ease first", g.force(high), stage, g.force(g.cfg.stopN(stage)))
	}
	if g.cfg.watchesLine(stage) {
		if reason := g.lineAgainst(t, stage); reason != "" {
			return reason
		}
	}
	if c, value, limit := g.ended(t, stage, kept); c != NoCause {
		show := g.cfg.Show
		return fmt.Sprintf("%s of %s is reached, %s (limit %s); say another stage", strings.ToLower(c.Title()), stage,
			measured(c, value, show), limitText(c, limit, show))
	}
	if !stage.Hauls() {
		return ""
	}
	switch {
	case !(g.cfg.WLL > 0):
		return "no WLL is known; name the gear with its WLL in the trial file"
	case g.cfg.HasStopOut && s.links[StopOut] != linkUp:
		return "the stop output is not open; " + StopOutLost.Advice()
	case s.present[RecordFailing] == atLimit && stage != trial.Recover:
		// The anchor must come up all the same.
		return "the record is not reaching the disk; free or change the disk first"
	}
	return ""
}

// lineAgainst is the line encoder's part in it.
func (g *Guard) lineAgainst(t int64, stage trial.Stage) string {
	s := &g.s
	if s.Line.At < 0 {
		return "the line encoder has sent nothing valid yet; see its port and its line pattern"
	}
	if gap := g.lineGap(stage); gap != "" {
		return gap
	}
	if age := t - s.timers.lineWord; age >= int64(g.cfg.Limits[stage].LineSilentWarn) {
		return fmt.Sprintf("nothing valid from the line encoder for %.1f s; %s", seconds(age), LineSilent.Advice())
	}
	return ""
}

// lineGap says which number a stage's limits need and the line does not have.
func (g *Guard) lineGap(stage trial.Stage) string {
	s, l := &g.s, &g.cfg.Limits[stage]
	switch {
	case (l.Haul > 0 || l.ScopeMin > 0) && !s.Line.HasX:
		return "rode out is unknown; say it (key o) or call payout"
	case l.ScopeMin > 0 && !s.Line.HasS:
		return "water depth is unknown, so scope is too; say it (key d) or call depth"
	}
	return ""
}

// highest is the higher of the last two good samples: both must be below a
// limit for its cause to be gone.
func (g *Guard) highest() float64 {
	c := &g.s.tensionWas
	if c.n < 2 || c.alone {
		return c.cur
	}
	return max(c.prev, c.cur)
}

// nextHaul is the present stage if it hauls, else the one the crew comes to.
func (g *Guard) nextHaul() trial.Stage {
	stage := g.s.Stage
	for i := 0; i < int(trial.NumStages) && !stage.Hauls(); i++ {
		stage = stage.Next()
	}
	return stage
}

func (g *Guard) force(n float64) string { return forceText(n, g.cfg.Show) }

// againstEnd is why the program should not end now; "" is nothing.
func (g *Guard) againstEnd() string {
	s := &g.s
	switch {
	case !s.Loaded(g.cfg):
		return ""
	case !s.TensionKnown():
		return "tension is unknown, so the rode counts as loaded"
	}
	return fmt.Sprintf("tension %s is not under the slack level, %s", g.force(float64(s.Load.Tension)), g.force(float64(g.cfg.Slack)))
}

const endAgainText = int(endAgain / int64(time.Second))
