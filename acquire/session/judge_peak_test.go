package session

import (
	"testing"

	"hawse/trial"
)

// The peak that a screen shows is a lower bound once the cell was over range in the
// pull, as in the figures; what comes in ease is none of it.
func TestPeakOverRangeIsALowerBound(t *testing.T) {
	tr, err := trial.ParseTrial("t.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	in := func(t int64, n trial.Force, over bool, stage trial.Stage) JudgeInput {
		return JudgeInput{T: t * 1e8, Tension: n, Over: over, X: 11, RodeOut: 49, Height: 7.5, Scope: 6.53, Stage: stage, LateFrom: -1}
	}
	for _, pulled := range []bool{true, false} {
		j := NewJudge(Head{Trial: tr, Run: tr.Runs[2]})
		stage := trial.Pull
		if !pulled {
			stage = trial.Ease
		}
		for _, s := range []JudgeInput{in(1, 9000, false, trial.Pull), in(2, 9700, false, trial.Pull), in(3, 9806, true, stage), in(4, 2000, false, trial.Pull)} {
			j.Apply(s, nil)
		}
		p := j.Peak()
		if want := trial.Force(9806); pulled && (p.Value != want || p.Left || p.At != 3e8 || p.Scope != 6.53) {
			t.Errorf("over range in the pull: %+v; want at least %v at the third sample", p, want)
		}
		if !pulled && (p.Value == 9806 || !p.Known) {
			t.Errorf("over range in ease: %+v; want none of the pull's", p)
		}
	}
}
