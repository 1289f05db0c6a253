package main

import (
	"strings"
	"testing"

	"hawse/acquire/session"
)

func TestStatusForAPerson(t *testing.T) {
	some := func(v float64) *float64 { return &v }
	full := &session.Status{TimeS: 382, Run: "A1", Stage: "pull", Phase: "embedding", Order: "none", HaulOpen: true,
		TensionN: some(2730), TensionAge: some(0.1), HauledM: some(15.3), RodeOutM: some(44.7), Scope: some(5.96), PeakN: some(2910),
		Log: "a\x1b[2Jb.log", Records: 12, OnDisk: 11}
	lost := &session.Status{Run: "A1", Stage: "pull", Order: "STOP", StopCause: "LOAD CELL LOST", TensionAge: some(4.2),
		ToDo: []string{"zero (open): not zeroed", "weight (open): not tried"}, Log: "a.log", Ended: "the crew has ended it"}
	tests := []struct {
		name       string
		status     *session.Status
		want, deny []string
	}{
		{"a pull", full, []string{"run       A1, stage pull, phase embedding, at 6:22", "none; haul permitted", "2.73 kN, 0.1 s old",
			"15.3 m", "44.7 m", "5.96:1 with the fairlead's height", "peak      2.91 kN", "11 of 12 records on disk, 0 lost"}, []string{"\x1b", "unknown", "to do", "ended"}},
		{"load lost", lost, []string{"STOP; haul not permitted", "stop      LOAD CELL LOST", "unknown: treat the line as loaded, 4.2 s old",
			"hauled    unknown", "to do     zero (open): not zeroed\n          weight (open)", "ended     the crew has ended it"}, []string{"kN", "scope"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var b strings.Builder
			writeStatus(&b, tt.status)
			for _, want := range tt.want {
				if !strings.Contains(b.String(), want) {
					t.Errorf("no %q in\n%s", want, b.String())
				}
			}
			for _, deny := range tt.deny {
				if strings.Contains(b.String(), deny) {
					t.Errorf("%q stands in\n%q", deny, b.String())
				}
			}
		})
	}
}
