package session

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"hawse/trial"
)

// What the anchor had come stands in the head of the log that goes on, and is
// read from it to the bit.
func TestCameInTheHead(t *testing.T) {
	tr, err := trial.ParseTrial("t.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	want := trial.Came{Stage: trial.Pull, At: [6]float64{58.123456789012345, 2, 0.01, 0.13, 0.3, 7.5}, Last: [6]float64{50, 10.1, 0.02, 0.15, 0.4, 7.5}, Leapt: 0.25}
	head := Head{Trial: tr, Run: tr.Runs[2], After: &Handover{Predecessor: "a.log", Came: &want}}
	var h headOf
	for _, r := range head.Records() {
		if err := h.take(&r); err != nil {
			t.Fatal(err)
		}
	}
	if h.After == nil || h.After.Came == nil {
		t.Fatal("not read from the head")
	}
	if diff := cmp.Diff(want, *h.After.Came); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	j := NewJudge(h.Head)
	if _, _, ok := j.study.Travel().Now(); ok {
		t.Error("travel known before a sample")
	}
	j.Apply(JudgeInput{T: 1, Tension: 3000, X: 10.2, RodeOut: 49.8, Height: 7.5, Stage: trial.Pull}, nil)
	if got, _, ok := j.study.Travel().Now(); !ok || got < 7.5 || got > 8.5 {
		t.Errorf("travel %v, %v; want about the 8.1 m it had come", got, ok)
	}
}
