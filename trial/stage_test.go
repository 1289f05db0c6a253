package trial

import (
	"strings"
	"testing"
)

func TestParseStage(t *testing.T) {
	tests := []struct {
		text string
		want Stage
		ok   bool
	}{
		{"stand by", StandBy, true}, {"standby", StandBy, true}, {"stand-by", StandBy, true}, {"Stand_By", StandBy, true},
		{"pay out", PayOut, true}, {"pay-out", PayOut, true}, {"payout", PayOut, true}, {"pay_out", PayOut, true},
		{"pull", Pull, true}, {"PULL", Pull, true}, {"recover", Recover, true}, {"stopped", Stopped, true}, {"done", Done, true},
		{"", 0, false}, {"tow", 0, false}, {"pull ease", 0, false}, {"\x1b[2J", 0, false},
	}
	for _, tt := range tests {
		got, err := ParseStage(tt.text)
		if got != tt.want || (err == nil) != tt.ok {
			t.Errorf("ParseStage(%q) = %v, %v; want %v, ok %v", tt.text, got, err, tt.want, tt.ok)
		}
		if err != nil && (!strings.Contains(err.Error(), "pay out") || strings.Contains(err.Error(), "\x1b")) {
			t.Errorf("ParseStage(%q): error %q does not list the stages, or is not safe to print", tt.text, err)
		}
	}
}

func TestStageTables(t *testing.T) {
	for s := range NumStages {
		for _, text := range []string{s.String(), s.Key()} {
			if got, err := ParseStage(text); got != s || err != nil {
				t.Errorf("ParseStage(%q) = %v, %v; want %v", text, got, err, s)
			}
		}
		if strings.Contains(s.Key(), " ") {
			t.Errorf("%v.Key() = %q is not one word", s, s.Key())
		}
		if next := s.Next(); next >= NumStages {
			t.Errorf("%v.Next() = %v", s, next)
		}
	}
	if got := NumStages.String(); got != "stage(10)" {
		t.Errorf("NumStages.String() = %q", got)
	}

	order := []Stage{StandBy, PayOut, Preset, Soak, Pull, Hold, Ease, Recover, Done, Done}
	for i, s := range order[:len(order)-1] {
		if got := s.Next(); got != order[i+1] {
			t.Errorf("%v.Next() = %v, want %v", s, got, order[i+1])
		}
	}
	if got := Stopped.Next(); got != Ease {
		t.Errorf("stopped.Next() = %v, want ease", got)
	}

	hauls := map[Stage]bool{Preset: true, Pull: true, Recover: true}
	byHaul := map[Stage]bool{Ease: true, Recover: true}
	for s := range NumStages {
		if s.Hauls() != hauls[s] {
			t.Errorf("%v.Hauls() = %v", s, s.Hauls())
		}
		if s.EndsByHaul() == byHaul[s] {
			t.Errorf("%v.EndsByHaul() = %v", s, s.EndsByHaul())
		}
		if s.RodeOut() == (s == Done) {
			t.Errorf("%v.RodeOut() = %v", s, s.RodeOut())
		}
	}
}
