package dryrun

import (
	"runtime"
	"time"

	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// Cost is what one sample costs: the guard alone, and the whole fold from bytes
// to words, in ns and in allocations.
type Cost struct {
	GuardNs, GuardAllocs float64
	FoldNs, FoldAllocs   float64
}

// Measure takes n samples of a steady pull through the guard, and through the
// fold. It is a measurement of this machine, not a test.
func Measure(n int) (Cost, error) {
	p := Generate(1)
	s, err := deck.ParseScenario("seed-1.txt", []byte(p.Script))
	if err != nil {
		return Cost{}, err
	}
	r, t, err := newRig(s, 1)
	if err != nil {
		return Cost{}, err
	}
	cfg, err := safety.NewConfig(t)
	if err != nil {
		return Cost{}, err
	}
	g := safety.New(cfg)
	var ev safety.Events
	var c Cost
	at := int64(0)
	c.GuardNs, c.GuardAllocs = each(n, func(i int) {
		at += second / 20
		g.Advance(at, &ev)
		g.Sample(at, trial.Force(3000+i%7), false, &ev)
		ev.Reset()
	})
	line := []byte("+0312.4 kgf\r\n")
	at = r.t
	c.FoldNs, c.FoldAllocs = each(n, func(i int) {
		at += second / 20
		line[5] = byte('0' + i%7)
		r.dry.Rx(at, session.SrcLoad, line)
	})
	return c, nil
}

func each(n int, do func(i int)) (ns, allocs float64) {
	for i := range n / 10 {
		do(i)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	start := time.Now()
	for i := range n {
		do(i)
	}
	took := time.Since(start)
	runtime.ReadMemStats(&after)
	return float64(took.Nanoseconds()) / float64(n), float64(after.Mallocs-before.Mallocs) / float64(n)
}
