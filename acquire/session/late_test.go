package session

import (
	"fmt"
	"math"
	"testing"
	"time"

	"hawse/safety"
)

// TestBurst: the load box is silent for three seconds while the tension rises, and
// then thirty lines come in half a second. They are judged at once, and are told as
// what they are; rate, slope and the time of the peak are not made of them.
func TestBurst(t *testing.T) {
	h := byHand(t)
	h.d.WithJudge = true
	h.run(3 * time.Second)
	h.pulling()
	h.load = "+0001.0 kgf"
	h.run(3 * time.Second)
	gap := h.at
	for range 30 {
		h.at += 100e6
		h.count(h.counts)
	}
	if got := h.d.State().Stop.Cause; got != safety.LoadSilent {
		t.Fatalf("3 s silent: %v", got)
	}
	for i := range 30 {
		h.at += 16e6
		h.d.Rx(h.at, SrcLoad, fmt.Appendf(nil, "%+07.1f kgf\r\n", 1+float64(i)))
	}
	s := h.d.Snapshot()
	if s.Load.Bursts != 1 || s.Load.Late != 30 {
		t.Errorf("%d lines late in %d bursts; want 30 in 1", s.Load.Late, s.Load.Bursts)
	}
	if s.Tension.Now != h.d.State().Load.Tension || math.Abs(float64(s.Tension.Now)-29*kgf) > 1 {
		t.Errorf("the last late line says %v; want it shown and judged", s.Tension.Now)
	}
	if !math.IsNaN(s.Tension.Rate) {
		t.Errorf("a slope of %v N/s made of lines without a time", s.Tension.Rate)
	}
	cols := make([]bool, 0, 40)
	for _, c := range h.d.judge.Envelope(TraceQuery{From: float64(gap - 1e9), To: float64(gap + 4e9), Cols: 50}, nil) {
		cols = append(cols, c.Gap)
	}
	if !cols[15] || !cols[30] || cols[5] {
		t.Errorf("gap at %v; want it from 1 s to 4 s of the 5 s drawn", cols)
	}
	h.at += 20e6
	h.load = "+0015.0 kgf"
	h.run(2 * time.Second)
	if !h.saidEver("load: 30 lines came late and at once, after 3s without any") {
		t.Error("the burst is not told")
	}
	h.run(3 * time.Second)
	if s := h.d.Snapshot(); s.Load.Rate > 11 || s.Load.Rate < 5 {
		t.Errorf("rate %v, want about the ten a second that came at their time", s.Load.Rate)
	}
	if g := h.d.judge.Figures(h.at).Pull; g.Known && g.T > gap && (g.From < gap-200e6 || g.From > gap) {
		t.Errorf("the peak at %v may be of any time since %v; want since %v", g.T, g.From, gap)
	}
	h.end()
}

// TestNoBurst: what looks like one and is none.
func TestNoBurst(t *testing.T) {
	for _, tt := range []struct {
		name  string
		every []time.Duration
	}{
		{"a slow box", []time.Duration{300e6, 300e6, 300e6, 300e6}},
		{"two lines in one Read", []time.Duration{400e6, 1e6, 100e6, 400e6, 1e6, 100e6}},
		{"an uneven box", []time.Duration{150e6, 60e6, 140e6, 70e6}},
		{"a silence", []time.Duration{3e9, 100e6, 100e6}},
	} {
		l, at := newLateness(10), int64(0)
		l.take(at)
		for range 5 {
			for _, d := range tt.every {
				at += int64(d)
				if late, ended := l.take(at); late || ended > 0 {
					t.Errorf("%s: late %v, ended %d", tt.name, late, ended)
				}
			}
		}
		if l.lines != 0 || l.bursts != 0 {
			t.Errorf("%s: %d lines in %d bursts", tt.name, l.lines, l.bursts)
		}
	}
}

// saidEver says whether any word of the run is this text's beginning.
func (h *hand) saidEver(text string) bool {
	for _, r := range h.d.Records {
		if s := r.Str("text"); len(s) >= len(text) && s[:len(text)] == text {
			return true
		}
	}
	return false
}
