package session

import (
	"testing"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// TestActText: a line names the seat an act is done for and who did it; a login
// that is the seat's own name stands once.
func TestActText(t *testing.T) {
	for _, tt := range []struct {
		act  Act
		want string
	}{
		{Act{Who: safety.Logger, Name: "root", What: ActZero}, "logger (root): zeroes the load cell"},
		{Act{Who: safety.Director, Name: "director", What: ActStop}, "director: calls STOP"},
		{Act{Who: safety.WinchOperator, What: ActPass, Value: "50 m"}, "winch: mark at the fairlead, rode out 50 m"},
		{Act{Who: safety.WinchOperator, Name: "demo crew", What: ActReady, Value: "line clear"}, "winch (demo crew): ready: line clear"},
		{Act{Who: safety.Logger, Name: "root", What: ActNotReady}, "logger (root): NOT ready"},
		{Act{Who: safety.Director, Name: "root", What: ActRearm, Stage: trial.Recover}, "director (root): re-arm into recover"},
		{Act{Who: safety.Program, Name: "demo crew", What: ActNote, Value: "the script is over"}, "program (demo crew): the script is over"},
	} {
		r := logfmt.Record{Kind: logfmt.Act, Fields: actFields(tt.act, 1)}
		if got := actText(&r); got != tt.want {
			t.Errorf("%+v: %q, want %q", tt.act, got, tt.want)
		}
	}
}
