package trial

import (
	"math"
	"strings"
	"testing"
)

// Burial at up and down: what the trial file says of roller and shank is taken
// off, what it does not say is in the uncertainty and told.
func TestBurialTakesOffWhatIsSaid(t *testing.T) {
	band := math.Sqrt(0.2*0.2+0.3*0.3+0.2*0.2) / 2
	unsaid := func(most float64) float64 { return most / math.Sqrt(12) }
	for _, tt := range []struct {
		name     string
		keys     [2]string // lines of the template, and what takes their place
		deep, u  float64
		note     []string
		resolved bool
	}{
		{"nothing said", [2]string{}, 1.4, math.Hypot(band, math.Hypot(unsaid(0.3), unsaid(1))), []string{"roller not in the trial file", "shank not in the trial file"}, true},
		{"both said", [2]string{`roller = "0.1 m"`, `shank = "0.6 m"`}, 0.7, band, nil, true},
		{"counted to the shackle", [2]string{`roller = "0.2 m"`, `shank = "0 m"`}, 1.2, band, nil, true},
		{"a long shank", [2]string{`roller = "0.1 m"`, `shank = "1 m"`}, 0.3, band, []string{"not resolved"}, false},
		{"the roller alone", [2]string{`roller = "0 m"`, ""}, 1.4, math.Hypot(band, unsaid(1)), []string{"shank not in"}, true},
	} {
		text := Template()
		for i, of := range []string{`# roller = "0.1 m"`, `# shank = "0.6 m"`} {
			if !strings.Contains(text, of) {
				t.Fatalf("the template has no %q", of)
			}
			if tt.keys[i] != "" {
				text = strings.Replace(text, of, tt.keys[i], 1)
			}
		}
		tr, err := ParseTrial("trial.toml", []byte(text))
		if err != nil {
			t.Fatal(tt.name, err)
		}
		run, _ := tr.Run("A1")
		s := NewStudy(tr, run)
		got := s.pull.burial(&recoveryFold{out: 8.9, height: 7.5})
		v := got.Read[0]
		if math.Abs(v.V-tt.deep) > 1e-9 || math.Abs(v.U-tt.u) > 1e-9 || strings.Contains(got.Note, "not resolved") == tt.resolved {
			t.Errorf("%s: %.3f m, u %.3f m, %q; want %.3f m, u %.3f m, resolved %v", tt.name, v.V, v.U, got.Note, tt.deep, tt.u, tt.resolved)
		}
		for _, n := range tt.note {
			if !strings.Contains(got.Note, n) {
				t.Errorf("%s: note %q, want %q in it", tt.name, got.Note, n)
			}
		}
	}
}
