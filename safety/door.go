package safety

import (
	"fmt"
	"math"
	"time"

	"hawse/trial"
)

// TensionKnown says whether the last word of the load cell is a number, in
// range, not too old and to be believed.
func (s *State) TensionKnown() bool {
	return s.Load.At >= 0 && !s.Load.Over && !s.Load.NoAngle && s.Cell == CellOn && s.present[LoadNotNumber] == absent && s.present[LoadAngle] == absent &&
		s.present[LoadSilent] == absent && s.present[LoadGarbled] == absent &&
		s.present[LoadUnchanged] == absent && s.present[LoadReversed] != atLimit && s.present[LoadUnit] != atLimit
}

// Loaded says whether the rode must be treated as loaded: tension at or above
// the slack level, or unknown.
func (s *State) Loaded(cfg *Config) bool {
	return !s.TensionKnown() || !(s.Load.Tension < cfg.Slack)
}

// standing returns a trip whose cause is there and would trip in the stage too,
// whatever that stage's limits are.
func (g *Guard) standing(stage trial.Stage) Cause {
	for c := NoCause + 1; c < NumCauses; c++ {
		row := c.row()
		there := g.s.present[c] == atLimit || g.onlyWarns(c) && g.s.present[c] == warned
		judged := row.in.has(stage) || row.keeps && stage.Hauls()
		if !there || row.does != trips || !judged || row.warnIn.has(stage) {
			continue
		}
		switch c {
		case TensionLimit, WLLShare, LoadSilent, LoadGarbled, LineSilent: // by the limits of the stage, below
		default:
			return c
		}
	}
	return NoCause
}

// against says, in one line, what stands against going into a stage: kept says
// that the present stage goes on rather than begins anew. It is judged by the
// limits of that stage. "" is nothing.
func (g *Guard) against(t int64, stage trial.Stage, kept bool) string {
	s, l := &g.s, g.limits(stage)
	if c := g.standing(stage); c != NoCause {
		if c.row().moment {
			return c.Title() + " is not acknowledged; acknowledge it first"
		}
		return c.Title() + "; " + c.Advice()
	}
	switch {
	case s.Cell != CellOn && seating.has(stage):
		return "the load cell is " + s.Cell.String() + "; put it in and zero it first"
	case s.Cell != CellOn:
		return g.againstRest(t, stage, kept) // tension not measured: treat as loaded
	case s.Load.At < 0:
		return "the load cell has sent nothing valid yet; see its port and its line pattern"
	}
	if age := t - s.timers.loadWord; age >= int64(l.SilentWarn) {
		return fmt.Sprintf("nothing valid from the load cell for %.1f s; %s", seconds(age), LoadSilent.Advice())
	}
	if s.EverArmed && g.slow() && stage.Hauls() && s.Checks[CheckSlowCell] != CheckPassed {
		return fmt.Sprintf("the load cell sends a line each %.1f s, too slow to guard unless the director accepts it", s.Load.Period)
	}
	if g.s.tensionWas.n == 0 {
		return "nothing from the load cell since its zero was taken; wait for the next line"
	}
	if w := &s.word; LoadUnchanged.row().in.has(stage) && g.unchanged(w.at) {
		return LoadUnchanged.Title() + "; " + LoadUnchanged.Advice()
	}
	high := g.highest()
	if math.IsInf(high, 1) {
		return "the tension was unknown until now; wait for the next readings"
	}
	if high >= g.stopN(stage) {
		return fmt.Sprintf("tension %s is at or above the stop limit of %s, %s; ease first", g.force(high), stage, g.force(g.stopN(stage)))
	}
	return g.againstRest(t, stage, kept)
}

// againstRest is what stands against it beside the tension.
func (g *Guard) againstRest(t int64, stage trial.Stage, kept bool) string {
	s := &g.s
	if g.watchesLine(stage) {
		if reason := g.lineAgainst(t, stage); reason != "" {
			return reason
		}
	}
	if c, value, limit := g.ended(t, stage, kept); c != NoCause {
		show, do := g.cfg.Show, "say another stage"
		if c == TensionReached && !s.EverArmed {
			do = "is the known weight still on the load cell? Take it off, or " + do
		}
		return fmt.Sprintf("%s of %s is reached, %s (limit %s); %s", c.end(), stage,
			measured(c, value, show), limitText(c, limit, show), do)
	}
	if !stage.Hauls() {
		return ""
	}
	switch {
	case g.ratingsAgainst() != "":
		return g.ratingsAgainst()
	case g.cfg.HasStopOut && g.stopOutAgainst() != "":
		return g.stopOutAgainst()
	case stage != trial.Recover: // the anchor must come up all the same
		return g.diskAgainst()
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
	if age := t - s.timers.lineWord; age >= int64(g.limits(stage).LineSilentWarn) {
		return fmt.Sprintf("nothing valid from the line encoder for %.1f s; %s", seconds(age), LineSilent.Advice())
	}
	return ""
}

// lineGap says which number a stage's limits need and the line does not have.
func (g *Guard) lineGap(stage trial.Stage) string {
	s, l := &g.s, g.limits(stage)
	switch {
	case (l.Haul > 0 || l.ScopeMin > 0 || stage.Hauls()) && !s.Line.HasX:
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

func (g *Guard) nextHaul() trial.Stage { return g.s.NextHaul() }

// NextHaul is the present stage if it hauls, else the one the crew comes to.
func (s *State) NextHaul() trial.Stage {
	stage := s.Stage
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
