package tui

import (
	"fmt"
	"testing"

	"hawse/trial"
)

// BenchmarkFrame is one frame at 160x50: drawn, and with its columns fetched.
func BenchmarkFrame(b *testing.B) {
	m, _ := sceneNamed("warning").screen(b, 160, 50)
	b.Run("draw", func(b *testing.B) {
		for b.Loop() {
			m.frame = m.draw()
		}
	})
	b.Run("fetch and draw", func(b *testing.B) {
		for b.Loop() {
			m = m.measure()
			m.frame = m.draw()
		}
	})
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
				m.byTime = i%2 == 0
				m = m.measure()
				m.frame = m.draw()
			}
		})
	}
}
