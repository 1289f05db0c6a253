package tui

import (
	"fmt"
	"strings"
	"testing"

	"hawse/trial"
)

// frames redraws a screen as a running pull does: another tension each time, the
// trace growing. It returns the bytes of the lines that changed, which is what a
// renderer that compares lines sends.
func frames(m model, n int) (bytes int) {
	last := strings.Split(m.frame, "\n")
	base := *m.snap
	for i := range n {
		s := base
		s.T += int64(i) * second / 20
		s.Tension.Big = trial.Force(1000 + i%977*7)
		s.Tension.Now, s.Tension.At = s.Tension.Big, s.T
		m.snap, m.big = &s, bigNumber{shown: s.Tension.Big}
		m = m.measure()
		m.frame = m.draw()
		lines := strings.Split(m.frame, "\n")
		for k, l := range lines {
			if k >= len(last) || l != last[k] {
				bytes += len(l) + len("\x1b[K\r\n")
			}
		}
		last = lines
	}
	return bytes
}

// BenchmarkFrame is a frame of each view, fetched and drawn, in night light. At 20
// frames a second a millisecond a frame is 2 % of a core. B/s is what goes to the
// terminal at 20 frames a second, with every number changing: more than ever does.
func BenchmarkFrame(b *testing.B) {
	for s := range numStands {
		for _, size := range [][2]int{{80, 24}, {160, 50}, {250, 70}} {
			b.Run(fmt.Sprintf("%v %dx%d", s, size[0], size[1]), func(b *testing.B) {
				m, _ := sceneNamed("warning").from(s).screen(b, size[0], size[1])
				b.ReportAllocs()
				for b.Loop() {
					frames(m, 1)
				}
				b.ReportMetric(float64(frames(m, 100))/100*20, "B/s")
			})
		}
	}
}

// BenchmarkFrameByRunLength shows that a frame costs the same after ten hours
// as after one minute.
func BenchmarkFrameByRunLength(b *testing.B) {
	for _, minutes := range []int{1, 60, 600} {
		b.Run(fmt.Sprintf("%d min", minutes), func(b *testing.B) {
			sc := sceneNamed("warning")
			tr := &trial.Trace{}
			for i := range int64(minutes) * 600 {
				x := float64(i) / float64(minutes*600) * 25
				tr.Add(trial.Point{T: i * second / 10, Tension: textbook(x), X: trial.Length(x), Stage: trial.Pull})
			}
			snap := *sc.snap
			snap.Span, snap.T = tr.Span(), tr.Span().Last
			sc.trace, sc.snap = tr, &snap
			m, _ := sc.screen(b, 160, 50)
			for i := 0; b.Loop(); i++ {
				m.axis = axis(i % int(numAxes))
				m = m.measure()
				m.frame = m.draw()
			}
		})
	}
}
