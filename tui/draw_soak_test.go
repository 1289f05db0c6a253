package tui

import (
	"strings"
	"testing"

	"hawse/safety"
	"hawse/trial"
)

// What the tide has made of a soak stands with what comes next, and not where the
// scope is not known.
func TestPayOutInTheSoak(t *testing.T) {
	s := base(trial.Soak, 60e9, nil)
	s.Guard.EverArmed, s.Guard.Armed, s.Guard.Stop = true, true, safety.Stop{}
	s.Haul.ScopeOK, s.Haul.PayOut, s.Haul.SoakScope = true, 6.4, 8
	m := model{snap: s}
	if key, _, missing := m.nextStep(); !strings.Contains(key, "PULL") || missing != "pay out 6.4 m: scope 8.00:1 again" {
		t.Errorf("%q, %q", key, missing)
	}
	s.Haul.ScopeOK = false
	if _, _, missing := m.nextStep(); strings.Contains(missing, "pay out") {
		t.Errorf("scope not known: %q", missing)
	}
}
