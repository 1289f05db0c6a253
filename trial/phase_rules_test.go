package trial

import (
	"math"
	"strings"
	"testing"
)

// The template shows every threshold with its default, and each has a reason.
func TestPhaseRulesInTheTemplate(t *testing.T) {
	_, table, _ := strings.Cut(Template(), "\n[phases]\n")
	table, _, _ = strings.Cut(table, "\n[[")
	for i := range phaseThresholds {
		h := &phaseThresholds[i]
		if line := "\n" + h.key + " = " + h.text(h.value); !strings.Contains("\n"+table, line+" ") && !strings.Contains("\n"+table, line+"\n") {
			t.Errorf("the template does not say%s", line)
		}
		if h.why == "" || h.what == "" || !(h.least <= h.value && h.value <= h.most) {
			t.Errorf("%s lacks a reason, or its default %g is not between %g and %g", h.key, h.value, h.least, h.most)
		}
		if h.unit == "m" && strings.HasSuffix(h.key, "_length") && h.most > phaseWindow && h.key != "held_length" && h.key != "engaged_length" {
			t.Errorf("%s may be %g m, more than is remembered", h.key, h.most)
		}
	}
	if a, b := strings.Count(table, " = "), len(phaseThresholds); a != b {
		t.Errorf("%d keys in the template, %d thresholds", a, b)
	}
}

// Every threshold can be said in the file, reaches the rules and a log's head; what
// the file does not say is the default.
func TestPhaseRulesOfTheFile(t *testing.T) {
	head, rest, _ := strings.Cut(Template(), "\n[phases]\n")
	_, rest, _ = strings.Cut(rest, "\n# The anchors as measured")
	with := func(lines string) (*Trial, error) {
		return ParseTrial("t.toml", []byte(head+lines+"\n# The anchors as measured"+rest))
	}
	without, err := with("")
	if err != nil || without.Phases != DefaultPhaseRules() {
		t.Fatalf("without the table: %v, %+v; want the defaults", err, without)
	}
	for i := range phaseThresholds {
		h := &phaseThresholds[i]
		other := h.value * 0.99
		if h.key == "saw_count" {
			other = 4
		}
		if other < h.least {
			other = h.value * 1.01
		}
		tr, err := with("\n[phases]\n" + h.key + " = " + h.text(other) + "\n")
		if err != nil {
			t.Errorf("%s = %s: %v", h.key, h.text(other), err)
			continue
		}
		want := DefaultPhaseRules()
		h.set(&want, other)
		if tr.Phases != want || math.Abs(h.get(&tr.Phases)-other) > 1e-9 {
			t.Errorf("%s = %s gives %+v, want %+v", h.key, h.text(other), tr.Phases, want)
		}
		said := false
		for _, kv := range tr.SI() {
			said = said || kv.Key == h.si() && kv.Val == shortest(h.get(&tr.Phases))
		}
		if !said {
			t.Errorf("%s is not said in SI as %s", h.key, h.si())
		}
	}
}

// Rules out of bounds cannot reach the detector.
func TestPhaseRulesWithin(t *testing.T) {
	r := DefaultPhaseRules()
	r.PlateauLength, r.SlackLevel, r.Confirm, r.BreakLength = 1e9, math.NaN(), -1, Length(math.Inf(1))
	if got := NewPhaseDetector(scenarioLevels, r).rules; got != DefaultPhaseRules() {
		t.Errorf("rules out of bounds: %+v, want the defaults", got)
	}
	var zero PhaseRules
	if got := NewPhaseDetector(scenarioLevels, zero).rules; got != DefaultPhaseRules() {
		t.Errorf("no rules: %+v, want the defaults", got)
	}
}
