package safety

import (
	"testing"
	"unsafe"

	"hawse/trial"
)

// deck is a pull as it usually goes: a sample and a count each 100 ms, bytes
// heard, the relay's word once a second.
type deck struct {
	g   Guard
	ev  Events
	now int64
	n   int64
}

func newDeck(tb testing.TB) *deck {
	r := armed(tb, trial.Pull)
	return &deck{g: r.g, now: r.now}
}

func (d *deck) step(kN float64) {
	d.n++
	d.now += 100 * ms
	d.g.Advance(d.now, &d.ev)
	d.g.Heard(d.now, Load)
	d.g.BadFrame(d.now, Load, &d.ev)
	d.g.Sample(d.now, trial.Force(kN*1000), false, &d.ev)
	d.g.Count(d.now, lineAt(float64(d.n%200)/10), &d.ev)
	if d.n%10 == 0 {
		d.g.Relay(d.now, true, d.g.s.Session, &d.ev)
	}
	d.ev.Reset()
}

// Nothing in the guard allocates: neither a quiet pull nor warnings, trips, a
// lost load cell, acts that are granted, and margins into a slice with room.
func TestNoAllocation(t *testing.T) {
	d := newDeck(t)
	if n := testing.AllocsPerRun(1000, func() { d.step(3) }); n != 0 {
		t.Errorf("a quiet step allocates %v times, want none", n)
	}
	margins := make([]Margin, 0, 8)
	n := testing.AllocsPerRun(200, func() {
		d.step(6.5)
		d.step(6.5)
		d.step(8.1)
		d.step(9.1)
		d.step(9.1)
		d.g.Sample(d.now, 0, true, &d.ev)
		d.now += 3 * sec
		d.g.Advance(d.now, &d.ev)
		d.step(1)
		d.step(1)
		d.step(1)
		d.g.Port(d.now, Screen, false, &d.ev)
		d.g.Port(d.now, Screen, true, &d.ev)
		d.g.Relay(d.now, false, d.g.s.Session, &d.ev)
		for _, c := range []Cause{LineJumped, LineReset, ZeroMoved} {
			d.g.Fault(d.now, c, true, 1, 1, &d.ev)
			d.g.Fault(d.now, c, false, 0, 1, &d.ev)
		}
		d.g.Marked(d.now, lineAt(1), &d.ev)
		d.g.Said(d.now, lineAt(1), &d.ev)
		d.g.Behind(d.now, sec, &d.ev)
		for _, a := range []Act{{What: DoCheck, Check: CheckLimits, To: CheckPassed, Who: Director}, {What: CallStop}, {What: Ack, Who: Director}, {What: NextStage, Who: Director, Stage: trial.Ease},
			{What: Rearm, Who: Director, Stage: trial.Pull, Session: 9}} {
			if refused := d.g.Do(d.now, a, &d.ev); refused != "" {
				t.Fatalf("%+v refused: %s", a, refused)
			}
		}
		margins = d.g.Margins(margins[:0])
		d.ev.Reset()
	})
	items := make([]CheckItem, 0, NumChecks)
	n += testing.AllocsPerRun(200, func() { items = d.g.Checklist(items[:0]) })
	if n != 0 {
		t.Errorf("warnings, trips, acts and the checklist allocate %v times, want none", n)
	}
}

func BenchmarkSample(b *testing.B) {
	d := newDeck(b)
	b.ReportAllocs()
	for b.Loop() {
		d.now += ms
		d.g.Advance(d.now, &d.ev)
		d.g.Sample(d.now, 3000, false, &d.ev)
		d.ev.Reset()
	}
}

func BenchmarkCount(b *testing.B) {
	d := newDeck(b)
	l := lineAt(3)
	b.ReportAllocs()
	for b.Loop() {
		d.now += ms
		d.g.Advance(d.now, &d.ev)
		d.g.Count(d.now, l, &d.ev)
		d.ev.Reset()
	}
}

func BenchmarkTick(b *testing.B) {
	d := newDeck(b)
	b.ReportAllocs()
	for b.Loop() {
		d.now += ms
		d.g.Advance(d.now, &d.ev)
		d.ev.Reset()
	}
}

func BenchmarkMargins(b *testing.B) {
	d := newDeck(b)
	for range 50 {
		d.step(3)
	}
	margins := make([]Margin, 0, 8)
	b.ReportAllocs()
	for b.Loop() {
		margins = d.g.Margins(margins[:0])
	}
}

// A sample and a count on a rode whose stiffness is known, with the tension
// changing, so that every rule has something to do.
func BenchmarkSampleAndCount(b *testing.B) {
	r := armedWith(b, snagConfig(), trial.Pull)
	g, now := r.g, r.now
	var ev Events
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		now += 100 * ms
		k := float64(i % 200)
		g.Sample(now, trial.Force(3000+k), false, &ev)
		g.Count(now, lineAt(k/20), &ev)
		ev.Reset()
	}
	b.ReportMetric(float64(unsafe.Sizeof(State{})), "B-of-state")
}

func BenchmarkState(b *testing.B) {
	d := newDeck(b)
	var s State
	for b.Loop() {
		s = d.g.State()
	}
	_ = s
}
