package session

import (
	"strings"
	"testing"

	"hawse/trial"
)

// Without levels in the trial file the head says what the statics put in their
// place, and that it is assumed.
func TestHeadSaysTheLevelInUse(t *testing.T) {
	text := trial.Template()
	i := strings.Index(text, "[levels]")
	none := text[:i] + text[i+strings.Index(text[i:], "[[anchor]]"):]
	for _, c := range []struct{ name, text, source string }{{"as the file says", text, "assumed"}, {"none in the file", none, "assumed, from the friction in the trial file, at the payout"}} {
		tr, err := trial.ParseTrial("t.toml", []byte(c.text))
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, r := range (Head{Trial: tr, Run: tr.Runs[2]}).Records() {
			if r.Str("part") == "level" && r.Str("name") == "bare-rode" {
				v, _ := r.Float("value_n")
				found = true
				if r.Str("source") != c.source || v < 50 || v > 130 {
					t.Errorf("%s: level %v N, source %q; want 50 to 130 N, %q", c.name, v, r.Str("source"), c.source)
				}
			}
		}
		if !found {
			t.Errorf("%s: no bare-rode level in the head", c.name)
		}
	}
}
