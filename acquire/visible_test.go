package acquire

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestVisible(t *testing.T) {
	tests := []struct{ name, in, want string }{
		{"plain", "+00312.4 lb", "+00312.4 lb"},
		{"line ends and tab", "a\tb\r\n", `a\tb\r\n`},
		{"escape sequence", "\x1b[2J", `\x1b[2J`},
		{"NUL and DEL", "\x00\x7f", `\x00\x7f`},
		{"beyond ASCII", "µ\xff", `\xc2\xb5\xff`},
		{"backslash", `\r`, `\\r`},
		{"empty", "", ""},
		{"just fits", strings.Repeat("x", maxVisible), strings.Repeat("x", maxVisible)},
		{"long", strings.Repeat("x", 1000), strings.Repeat("x", maxVisible) + "..."},
		{"no escape cut in two", strings.Repeat("x", maxVisible-1) + "\x00", strings.Repeat("x", maxVisible-1) + "..."},
	}
	for _, tt := range tests {
		if got := Visible([]byte(tt.in)); got != tt.want {
			t.Errorf("%s: Visible(%q) = %s; want %s", tt.name, tt.in, got, tt.want)
		}
	}
}

func TestVisibleIsPlainASCII(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := rapid.SliceOf(rapid.Byte()).Draw(t, "in")
		got := Visible(in)
		for _, c := range []byte(got) {
			if c < 0x20 || c > 0x7e {
				t.Fatalf("Visible(%q) = %q, which has byte %#x", in, got, c)
			}
		}
		if len(got) > maxVisible+3 {
			t.Fatalf("Visible of %d bytes is %d long; want at most %d", len(in), len(got), maxVisible+3)
		}
	})
}
