package acquire

import (
	"math"
	"strings"
	"testing"

	"hawse/trial"
)

func TestLineDecoder(t *testing.T) {
	tests := []struct {
		name, line, frame string
		kind              ReadingKind
		want              int64
		why               string
	}{
		{"plain", "", "12345", Good, 12345, ""},
		{"plain, signed and padded", "", " -  42 ", Good, -42, ""},
		{"plus", "", "+7", Good, 7, ""},
		{"leading zeros", "", "000123", Good, 123, ""},
		{"least", "", "-9223372036854775808", Good, math.MinInt64, ""},
		{"too large", "", "9223372036854775808", Garbled, 0, "does not fit in 64 bits"},
		{"far too long", "", strings.Repeat("9", 60), Garbled, 0, "too long"},
		{"not whole", "", "12.5", Garbled, 0, "does not match"},
		{"empty", "", "", Garbled, 0, "does not match"},
		{"own pattern", `C=(?P<counts>-?\d+);`, "C=-1042;", Good, -1042, ""},
		{"tail of a line", `C=(?P<counts>-?\d+);`, "42;", Garbled, 0, "does not match"},
		{"no digits in the group", `(?P<counts>\S+)`, "--", Garbled, 0, "no number"},
		{"sign alone", `(?P<counts>\S+)`, "-", Garbled, 0, "no number"},
		{"point in the group", `(?P<counts>\S+)`, "1.5", Garbled, 0, "no number"},
		{"group took no part", `(?P<counts>\d+)|READY`, "READY", Garbled, 0, "no number"},
	}
	for _, tt := range tests {
		d, err := NewLineDecoder(trial.Encoder{Line: tt.line})
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		got := d.Decode([]byte(tt.frame))
		if got.Kind != tt.kind || got.Counts != tt.want || (got.Why == "") != (tt.why == "") || !strings.Contains(got.Why, tt.why) {
			t.Errorf("%s: Decode(%q) = %v %d %q; want %v %d, why %q", tt.name, tt.frame, got.Kind, got.Counts, got.Why, tt.kind, tt.want, tt.why)
		}
	}
}

func TestNewLineDecoderRefuses(t *testing.T) {
	for _, tt := range []struct{ line, want string }{
		{`[0-9]+`, "(?P<counts>...)"},
		{`(?P<counts>`, "line: "},
		{`(?P<count>\d+)`, `group "count" is not known; groups are counts, status, value, unit, depth`},
		{`(?P<value>\d+)`, "no group for the number"},
	} {
		if d, err := NewLineDecoder(trial.Encoder{Line: tt.line}); d != nil || err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("NewLineDecoder(%q) = %v, %v; want an error with %q", tt.line, d, err, tt.want)
		}
	}
}
