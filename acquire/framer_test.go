package acquire

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestFramer(t *testing.T) {
	long := strings.Repeat("x", MaxFrame)
	tests := []struct {
		name string
		in   []string
		want []frame
	}{
		{"LF", []string{"a\nb\n"}, []frame{{"a", ""}, {"b", ""}}},
		{"CR", []string{"a\rb\r"}, []frame{{"a", ""}, {"b", ""}}},
		{"CR LF", []string{"a\r\nb\r\n"}, []frame{{"a", ""}, {"b", ""}}},
		{"CR LF in two pieces", []string{"a\r", "\nb\r", "\n"}, []frame{{"a", ""}, {"b", ""}}},
		{"a line in pieces", []string{"+003", "12.4 l", "b\r\n"}, []frame{{"+00312.4 lb", ""}}},
		{"no end yet", []string{"a\nb"}, []frame{{"a", ""}}},
		{"empty lines", []string{"\n\n\r\r\n\n"}, nil},
		{"NUL", []string{"a\x00b\nc\n"}, []frame{{"a\x00b", BadNUL}, {"c", ""}}},
		{"as long as allowed", []string{long + "\n"}, []frame{{long, ""}}},
		{"too long", []string{long + "yy\nz\n"}, []frame{{long, BadLong}, {"z", ""}}},
		{"too long, told before its end", []string{long, "y"}, []frame{{long, BadLong}}},
		{"too long, told once", []string{long + long + long, long, "\nz\n"}, []frame{{long, BadLong}, {"z", ""}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var pieces [][]byte
			for _, s := range tt.in {
				pieces = append(pieces, []byte(s))
			}
			if diff := cmp.Diff(tt.want, framesOf(pieces...)); diff != "" {
				t.Errorf("frames of %q (-want +got):\n%s", tt.in, diff)
			}
		})
	}
}

func TestFramerReset(t *testing.T) {
	var f Framer
	var got []string
	emit := func(b []byte, bad string) { got = append(got, string(b)+bad) }
	f.Feed([]byte("head of a lost line"), emit)
	f.Reset()
	f.Feed([]byte("whole\n"), emit)
	f.Feed(bytes.Repeat([]byte("x"), MaxFrame+1), emit)
	f.Reset()
	f.Feed([]byte("whole again\n"), emit)
	want := []string{"whole", strings.Repeat("x", MaxFrame) + BadLong, "whole again"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("frames around Reset (-want +got):\n%s", diff)
	}
}

// The frames do not depend on the pieces.
func TestFramerPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stream := wireBytes().Draw(t, "stream")
		whole, pieces := framesOf(stream), framesOf(chunks(t, stream)...)
		if diff := cmp.Diff(whole, pieces); diff != "" {
			t.Fatalf("frames of %q whole (-) and in pieces (+):\n%s", stream, diff)
		}
	})
}

func TestFramerAllocatesNothing(t *testing.T) {
	var f Framer
	n := 0
	emit := func([]byte, string) { n++ }
	stream := []byte("+00312.4 lb\r\n+00312.5 lb\r\n+003")
	if got := testing.AllocsPerRun(100, func() { f.Feed(stream, emit) }); got != 0 {
		t.Errorf("Feed(%q) allocates %v times a run; want 0", stream, got)
	}
}

func FuzzFramer(f *testing.F) {
	f.Add([]byte("a\r\nb\rc\nd"), 3)
	f.Add([]byte("\x00\x00\r\n"), 1)
	f.Add(bytes.Repeat([]byte("x"), 600), 100)
	f.Fuzz(func(t *testing.T, stream []byte, at int) {
		whole := framesOf(stream)
		at = max(0, min(at, len(stream)))
		if diff := cmp.Diff(whole, framesOf(stream[:at], stream[at:])); diff != "" {
			t.Errorf("frames of %q whole (-) and cut at %d (+):\n%s", stream, at, diff)
		}
		for _, fr := range whole {
			if fr.Text == "" || len(fr.Text) > MaxFrame || strings.ContainsAny(fr.Text, "\r\n") {
				t.Errorf("frame %q of %q: empty, too long, or with a line end in it", fr.Text, stream)
			}
			if fr.Bad == "" && strings.Contains(fr.Text, "\x00") {
				t.Errorf("frame %q of %q has a NUL and is not bad", fr.Text, stream)
			}
		}
	})
}
