package deck

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"hawse/trial"
)

func TestLines(t *testing.T) {
	loads := []struct {
		t    trial.Force // N
		want string
	}{
		{316.1 * kgf, "+0316.1 kgf\r\n"}, {0, "+0000.0 kgf\r\n"}, {0.04 * kgf, "+0000.0 kgf\r\n"}, {0.06 * kgf, "+0000.1 kgf\r\n"},
		{-3.25 * kgf, "-0003.3 kgf\r\n"}, {1000 * kgf, "+1000.0 kgf\r\n"}, {1000.04 * kgf, "+1000.0 kgf\r\n"},
		{1000.1 * kgf, "OL\r\n"}, {1e7, "OL\r\n"}, {-1e7, "OL\r\n"},
	}
	s := mustParse(t, least)
	for _, tt := range loads {
		if got := string(s.box.append(nil, tt.t)); got != tt.want {
			t.Errorf("load line of %v: %q, want %q", tt.t, got, tt.want)
		}
	}
	counts := []struct {
		n    int64
		want string
	}{
		{12345, "N +0012345\r\n"}, {0, "N +0000000\r\n"}, {-7, "N -0000007\r\n"}, {123456789, "N +123456789\r\n"},
	}
	for _, tt := range counts {
		if got := string(appendLine(nil, tt.n)); got != tt.want {
			t.Errorf("line of count %d: %q, want %q", tt.n, got, tt.want)
		}
	}
}

// said is everything the two boxes of a script say in so many seconds, ten
// lines a second.
func said(t *testing.T, faults string, seconds float64) (load, line []string) {
	t.Helper()
	s := mustParse(t, strings.Replace(ramped, "payout 60 m", "payout 60 m\ncount 500", 1)+"[faults]\n"+faults+"\n")
	w := newWorld(s, 0, 1)
	for at := int64(0); at < int64(seconds*1e9); at += 100 * ms {
		w.advance(at)
		for port, out := range []*[]string{&load, &line} {
			text := ""
			w.say(port, func(p []byte) { text += string(p) })
			*out = append(*out, text)
		}
	}
	return load, line
}

func TestFaults(t *testing.T) {
	const good, count = "+0008.2 kgf\r\n", "N +0000500\r\n"
	tests := []struct {
		name, fault string
		load        []string // from 0.0 s on
		line        []string
	}{
		{"none", "", []string{good, good}, []string{count, count}},
		{"silence", "at 0.1 s: silence load 0.2 s", []string{good, "", "", good}, nil},
		{"stuck from the start", "at 0 s: stuck load 0.2 s", []string{good, good, good}, nil},
		{"over range", "at 0.1 s: over range load 0.2 s", []string{good, "OL\r\n", "OL\r\n", good}, nil},
		{"not a number", "at 0.1 s: nan load 0.1 s", []string{good, "NaN kgf\r\n", good}, nil},
		{"half a line", "at 0.1 s: half line load 0.2 s", []string{good, "+0008.", "", good}, nil},
		{"half a line of the other box", "at 0.1 s: half line line 0.2 s", nil, []string{count, "N +000", "", count}},
		{"burst", "at 0.1 s: burst load 0.3 s", []string{good, "", "", "", good + good + good + good, good}, nil},
		{"count starts again", "at 0.1 s: reset count", nil, []string{count, "N +0000000\r\n", "N +0000000\r\n"}},
		{"zero moved", "at 0.1 s: zero 98.0665 N", []string{good, "+0018.2 kgf\r\n", "+0018.2 kgf\r\n"}, nil},
		{"a wake", "at 0.1 s: wake 98.0665 N 0.4 s", []string{good, good, "+0015.2 kgf\r\n", "+0018.2 kgf\r\n", "+0015.2 kgf\r\n", good}, nil},
		{"the later of two faults", "at 0.1 s: silence load 5 s\nat 0.2 s: over range load 0.1 s", []string{good, "", "OL\r\n", good}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			load, line := said(t, tt.fault, 0.6)
			if tt.load != nil {
				if d := cmp.Diff(tt.load, load[:len(tt.load)]); d != "" {
					t.Errorf("load with %q (-want +got):\n%s", tt.fault, d)
				}
			}
			if tt.line != nil {
				if d := cmp.Diff(tt.line, line[:len(tt.line)]); d != "" {
					t.Errorf("line with %q (-want +got):\n%s", tt.fault, d)
				}
			}
		})
	}
}

func TestStuckRepeatsTheLastLine(t *testing.T) {
	s := mustLoad(t, "stuck")
	h := haulingWorld(s)
	h.arm()
	var lines []string
	h.run(t, 0x1p62, func() bool {
		if h.x > 6.9 {
			h.say(portLoad, func(p []byte) { lines = append(lines, string(p)) })
		}
		return h.x > 7.4
	})
	longest, run := 0, 0
	var value string
	for i := 1; i < len(lines); i++ {
		if run++; lines[i] != lines[i-1] {
			run = 0
		}
		if run > longest {
			longest, value = run, lines[i]
		}
	}
	// 8 s at a beat and a line every 50 ms; 2.413 kN is 246.06 kgf.
	if longest < 155 || longest > 165 || value < "+0244.5" || value > "+0247.0" {
		t.Errorf("%q was said %d times, want about 160 times a value near 246.1 kgf", value, longest+1)
	}
}

func TestGarbageIsNoLine(t *testing.T) {
	load, _ := said(t, "at 0 s: garbage load 30 s", 30)
	seen := map[string]bool{}
	for _, l := range load {
		if strings.Contains(l, "kgf\r\n") || strings.Contains(l, "OL\r\n") || l == "" {
			t.Errorf("garbage %q", l)
		}
		seen[l] = true
	}
	if len(seen) < 290 {
		t.Errorf("%d different pieces of garbage in 300", len(seen))
	}
}

func TestBurstHoldsOnlySoMuch(t *testing.T) {
	b := box{fault: "burst", until: 10}
	for range 2 * maxHeld / 10 {
		b.say(0, []byte("012345678\n"), func([]byte) { t.Error("sent while held back") })
	}
	var sent int
	b.say(10, []byte("012345678\n"), func([]byte) { sent++ })
	if want := maxHeld/10 + 1; sent != want || b.lost != 2*maxHeld/10-maxHeld/10 {
		t.Errorf("%d lines sent and %d lost, want %d sent", sent, b.lost, want)
	}
}
