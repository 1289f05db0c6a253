package safety

import (
	"testing"

	"hawse/trial"
)

// TestNextCanBeEntered: the stage that is offered after a planned end is one that
// what ended the stage leaves open.
func TestNextCanBeEntered(t *testing.T) {
	for _, tt := range []struct {
		name  string
		stage trial.Stage
		end   func(*rig)
		cause Cause
		want  trial.Stage
	}{
		{"least scope: no hold there", trial.Pull, (*rig).toScope, MinimumScope, trial.Ease},
		{"nothing has ended it", trial.Pull, func(*rig) {}, NoCause, trial.Hold},
		{"a trip", trial.Pull, func(r *rig) { r.do(CallStop, 0, Logger) }, PersonStop, trial.Hold},
		{"stand by", trial.StandBy, func(*rig) {}, NoCause, trial.PayOut},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := armed(t, tt.stage)
			tt.end(r)
			s := r.g.State()
			if s.Stop.Cause != tt.cause {
				t.Fatalf("stopped by %v, want %v", s.Stop.Cause, tt.cause)
			}
			got := r.g.Next(r.now)
			if got != tt.want {
				t.Errorf("next is %v, want %v", got, tt.want)
			}
			if s.Stop.Kind == PlannedEnd {
				r.must(NextStage, got)
			}
		})
	}
}
