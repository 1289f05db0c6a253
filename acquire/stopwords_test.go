package acquire

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The checksum is that of NMEA 0183. Sentences: the gpsd project's "NMEA
// Revealed", 12 July 2025 edition, read; the last is the usual check string.
func TestXorSum(t *testing.T) {
	for _, tt := range []struct {
		text string
		want byte
	}{
		{"INDPT,2.3,0.0", 0x46},
		{"GPVTG,220.86,T,,M,2.550,N,4.724,K,A", 0x34},
		{"GPHDT,274.07,T", 0x03},
		{"123456789", 0x31},
	} {
		if got := xorSum([]byte(tt.text)); got != tt.want {
			t.Errorf("xorSum(%q) = %02X; want %02X", tt.text, got, tt.want)
		}
	}
}

// The sums were worked out apart from this program.
func TestStopWords(t *testing.T) {
	tests := []struct {
		got  []byte
		want string
	}{
		{AppendArm(nil, 1), "ARM 1*4F\n"},
		{AppendBeat(nil, 17, 1042), "BEAT 17 1042*13\n"},
		{AppendOpen(nil, 17), "OPEN 17*32\n"},
		{AppendOpen([]byte("kept\n"), 17), "kept\nOPEN 17*32\n"},
		{AppendBeat(nil, math.MaxUint32, math.MaxUint64), string(relayLine("BEAT 4294967295 18446744073709551615")) + "\n"},
	}
	for _, tt := range tests {
		if string(tt.got) != tt.want {
			t.Errorf("words = %q; want %q", tt.got, tt.want)
		}
	}
	if !bytes.Equal(relayLine("RELAY CLOSED 17"), []byte("RELAY CLOSED 17*57")) {
		t.Errorf("the tests' own sum is wrong: %q", relayLine("RELAY CLOSED 17"))
	}
}

// twinSum counts each bit over the text: odd makes it set.
func twinSum(text string) (sum byte) {
	for bit := range 8 {
		n := 0
		for _, c := range []byte(text) {
			n += int(c >> bit & 1)
		}
		sum |= byte(n%2) << bit
	}
	return sum
}

func relayLine(text string) []byte { return fmt.Appendf(nil, "%s*%02X", text, twinSum(text)) }

func TestParseRelay(t *testing.T) {
	type answer struct {
		closed  bool
		session uint32
		reason  string
		ok      bool
	}
	tests := []struct {
		name  string
		frame []byte
		want  answer
	}{
		{"closed", relayLine("RELAY CLOSED 17"), answer{true, 17, "", true}},
		{"open at boot", relayLine("RELAY OPEN 0 boot"), answer{false, 0, "boot", true}},
		{"open, no beats", relayLine("RELAY OPEN 17 beat-lost"), answer{false, 17, "beat-lost", true}},
		{"a reason not known yet", relayLine("RELAY OPEN 4294967295 self-test2"), answer{false, math.MaxUint32, "self-test2", true}},
		{"wrong sum", []byte("RELAY CLOSED 17*00"), answer{}},
		{"sum in lower case", []byte("RELAY OPEN 1 lever*2e"), answer{}},
		{"no sum", []byte("RELAY CLOSED 17"), answer{}},
		{"line end left on", append(relayLine("RELAY CLOSED 17"), '\n'), answer{}},
		{"session too large", relayLine("RELAY CLOSED 4294967296"), answer{}},
		{"session far too large", relayLine("RELAY CLOSED 99999999999999999999"), answer{}},
		{"leading zero", relayLine("RELAY CLOSED 017"), answer{}},
		{"sign", relayLine("RELAY CLOSED +17"), answer{}},
		{"no session", relayLine("RELAY CLOSED "), answer{}},
		{"closed with a reason", relayLine("RELAY CLOSED 17 boot"), answer{}},
		{"open without a reason", relayLine("RELAY OPEN 17"), answer{}},
		{"reason of two words", relayLine("RELAY OPEN 17 beat lost"), answer{}},
		{"reason with control characters", relayLine("RELAY OPEN 17 \x1b[2j"), answer{}},
		{"reason too long", relayLine("RELAY OPEN 17 abcdefghijklmnopqrstuvwxyz"), answer{}},
		{"our own word", relayLine("BEAT 17 1"), answer{}},
		{"empty", nil, answer{}},
		{"only a sum", []byte("*00"), answer{}},
	}
	for _, tt := range tests {
		var got answer
		got.closed, got.session, got.reason, got.ok = ParseRelay(tt.frame)
		if got != tt.want {
			t.Errorf("%s: ParseRelay(%q) = %+v; want %+v", tt.name, tt.frame, got, tt.want)
		}
	}
}

// One altered byte is never taken for an answer of another meaning: the sum
// finds every single change.
func TestParseRelayAltered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := relayLine(rapid.SampledFrom([]string{"RELAY CLOSED 17", "RELAY OPEN 17 boot", "RELAY OPEN 3 beat-lost"}).Draw(t, "answer"))
		i := rapid.IntRange(0, len(line)-1).Draw(t, "at")
		b := rapid.Byte().Filter(func(b byte) bool { return b != line[i] }).Draw(t, "byte")
		line[i] = b
		if _, _, _, ok := ParseRelay(line); ok {
			t.Fatalf("ParseRelay(%q) took it; byte %d is altered", line, i)
		}
	})
}

func FuzzParseRelay(f *testing.F) {
	f.Add(relayLine("RELAY CLOSED 17"))
	f.Add(relayLine("RELAY OPEN 17 boot"))
	f.Add([]byte("RELAY OPEN 1 *00"))
	f.Fuzz(func(t *testing.T, frame []byte) {
		closed, session, reason, ok := ParseRelay(frame)
		if !ok {
			if closed || session != 0 || reason != "" {
				t.Errorf("ParseRelay(%q) is not ok and says %v %d %q", frame, closed, session, reason)
			}
			return
		}
		text := fmt.Sprintf("RELAY OPEN %d %s", session, reason)
		if closed {
			text = fmt.Sprintf("RELAY CLOSED %d", session)
		}
		if back := relayLine(text); string(back) != string(frame) {
			t.Errorf("ParseRelay(%q) reads as %q", frame, back)
		}
	})
}
