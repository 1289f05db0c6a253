package trial

import (
	"fmt"
	"testing"
)

// BenchmarkFigures is what it costs to work the figures out once, as the Judge does
// for a screen once a second: after a minute of a pull, and after many hours of
// hauling out and in again, with all that is listed of it full.
func BenchmarkFigures(b *testing.B) {
	for _, rounds := range []int{1, 60, 1200} {
		b.Run(fmt.Sprintf("%.1f h", float64(rounds)*150/3600), func(b *testing.B) {
			s := studyOf(b, nil)
			t := 0.0
			for range rounds {
				for _, in := range [][]Reading{ramp(t, 0, 4, Pull, 0.2, 3), ramp(t+100, 4, 0.4, Pull, 3, 0.4), ramp(t+110, 4.4, 1.6, Pull, 0.4, 3)} {
					given(s, in)
					s.Events(nil)
				}
				t += 150
			}
			b.ReportAllocs()
			for b.Loop() {
				s.Figures(int64(t * 1e9))
			}
		})
	}
}
