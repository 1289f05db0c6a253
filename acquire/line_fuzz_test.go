package acquire

import (
	"strconv"
	"strings"
	"testing"

	"hawse/trial"
)

// Whatever a box sends, and whatever pattern is set: a reading is the number that
// stands there, or none with a reason that is fit to be shown.
func FuzzLineDecoder(f *testing.F) {
	for _, s := range []string{"12345", " -  42 ", "+7", "9223372036854775808", "12.5", "\x00\xff"} {
		f.Add([]byte(s), "")
	}
	f.Add([]byte("C=-1042;"), `C=(?P<counts>-?\d+);`)
	f.Add([]byte("--"), `(?P<counts>\S+)(?P<status>.*)`)
	f.Fuzz(func(t *testing.T, frame []byte, line string) {
		d, err := NewLineDecoder(trial.Encoder{Line: line})
		if err != nil {
			return
		}
		r := d.Decode(frame)
		switch r.Kind {
		case Good:
			if r.Why != "" {
				t.Errorf("Decode(%q) with %q is good: %+v", frame, line, r)
			}
			plain := strings.NewReplacer(" ", "", "\t", "").Replace(string(frame))
			if n, err := strconv.ParseInt(plain, 10, 64); line == "" && (err != nil || n != r.Counts) {
				t.Errorf("Decode(%q) is %d, the number there is %d, %v", frame, r.Counts, n, err)
			}
		case Garbled:
			if r.Counts != 0 || r.Why == "" {
				t.Errorf("Decode(%q) with %q is garbled and says %+v", frame, line, r)
			}
		default:
			t.Errorf("Decode(%q) with %q is of kind %v", frame, line, r.Kind)
		}
		for _, c := range []byte(r.Why) {
			if c < 0x20 || c > 0x7e {
				t.Errorf("Decode(%q): reason %q is not fit to be shown", frame, r.Why)
			}
		}
	})
}
