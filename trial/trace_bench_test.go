package trial

import (
	"fmt"
	"math"
	"runtime"
	"testing"
)

// feed adds a run at 100 samples a second, hauled at 2.4 m/min for 15 min of
// each hour.
func feed(tr *Trace, from, to int) {
	for i := from; i < to; i++ {
		p := Point{T: int64(i) * 1e7, Tension: Force(2900 + 150*math.Sin(float64(i)/40)), Stage: Hold, X: 30}
		if s := i % 360000; s < 90000 {
			p.Stage, p.X = Pull, Length(s)*0.0004
		}
		tr.Add(p)
	}
}

func BenchmarkTraceAdd(b *testing.B) {
	var tr Trace
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		tr.Add(Point{T: int64(i) * 1e7, Tension: Force(i & 1023), X: Length(i) * 0.0004, Stage: Pull})
	}
}

// A query of the last minute, of the whole run, and of the haul, after a minute
// and after ten hours: 160 columns each.
func BenchmarkTraceQuery(b *testing.B) {
	for _, after := range []struct {
		name    string
		samples int
	}{{"1min", 6000}, {"10h", 3600000}} {
		var tr Trace
		feed(&tr, 0, after.samples)
		room := make([]Col, 160)
		last := tr.Span().Last
		for _, q := range []struct {
			name string
			ask  func()
		}{
			{"last-minute", func() { tr.ByTime(last-60e9, last, 160, room) }},
			{"whole-run", func() { tr.ByTime(0, last+1, 160, room) }},
			{"haul", func() { tr.ByHaul(0, 40, 160, room) }},
		} {
			b.Run(fmt.Sprintf("%s/after-%s", q.name, after.name), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					q.ask()
				}
			})
		}
	}
}

// BenchmarkTraceMemory shows what ten hours at 100 samples a second hold.
func BenchmarkTraceMemory(b *testing.B) {
	for b.Loop() {
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		tr := new(Trace)
		feed(tr, 0, 3600000)
		runtime.GC()
		runtime.ReadMemStats(&after)
		b.ReportMetric(float64(after.HeapAlloc-before.HeapAlloc)/1e6, "MB-after-10h")
		runtime.KeepAlive(tr)
	}
}
