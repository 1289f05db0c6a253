package safety

import "hawse/trial"

// Next is the stage that usually follows the present one at time t. What ended a
// stage may hold in the next one too, so that it cannot be entered: a pull that came
// to its least scope has no hold at that scope. Then it is ease.
func (g *Guard) Next(t int64) trial.Stage {
	next := g.s.Stage.Next()
	if g.s.Stop.Kind == PlannedEnd && next < trial.Ease {
		if c, _, _ := g.ended(t, next, false); c != NoCause {
			return trial.Ease
		}
	}
	return next
}
