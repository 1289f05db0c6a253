package trial

import (
	"strings"
	"testing"
)

func TestDisclosure(t *testing.T) {
	if d := parseTemplate(t).Disclosure; d != (Disclosure{}) {
		t.Errorf("the template as it stands discloses %+v; want nothing said", d)
	}
	text := Template()
	at := strings.Index(text, "\n# [disclosure]\n") + 1
	end := strings.Index(text[at:], "\n\n") + at
	text = text[:at] + uncomment(text[at:end]) + text[end:]
	tr, err := ParseTrial("t.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	want := Disclosure{"who paid for the trial", "who supplied the anchors: bought, lent, picked, sharpened", "who chose the ground, and by what", "of the authors to makers or sellers"}
	if tr.Disclosure != want {
		t.Errorf("the template's table, taken into use: %+v; want %+v", tr.Disclosure, want)
	}
	if tr, err = ParseTrial("t.toml", []byte(strings.Replace(text, "ties = ", "tie = ", 1))); err == nil || !strings.Contains(err.Error(), "disclosure.tie") {
		t.Errorf("a misspelt key: %+v, %v; want an error that names disclosure.tie", tr, err)
	}
}
