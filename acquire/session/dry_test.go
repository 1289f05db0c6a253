package session

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
)

// dryOf plays inputs as records of a dry run.
func dryOf(t testing.TB, h Head, ins []input) *Dry {
	t.Helper()
	d, err := NewDry(h)
	if err != nil {
		t.Fatal(err)
	}
	d.Keep, d.WithJudge = true, true
	for _, in := range ins {
		d.input(in.t, in.kind, in.fields)
	}
	return d
}

func logOf(d *Dry) []byte {
	var log []byte
	var prev uint32
	for _, r := range d.Records {
		log, prev = logfmt.AppendRecord(log, &r, prev)
	}
	return log
}

// TestDryIsALog: what a dry run keeps is a log like any other, and its replay
// says the same.
func TestDryIsALog(t *testing.T) {
	h := testHead(t)
	runs := rapid.Custom(randomRun)
	for seed := range 25 {
		d := dryOf(t, h, runs.Example(seed))
		f, damage, err := Refold(bytes.NewReader(logOf(d)), "test")
		if err != nil || len(damage) > 0 || len(f.Diffs) > 0 || f.Unsaid > 0 {
			t.Fatalf("seed %d: replay of a dry run: %v, damage %v, differences %v, %d unsaid", seed, err, damage, f.Diffs, f.Unsaid)
		}
		if got, want := d.State(), f.core.Guard(); got != want {
			t.Fatalf("seed %d: dry guard\n%+v\nreplayed\n%+v", seed, got, want)
		}
	}
}

// TestDrySpeaksToTheRelay: the words a relay hears from a dry run are those of a
// live one.
func TestDrySpeaksToTheRelay(t *testing.T) {
	d := dryOf(t, testHead(t), alive())
	d.Keep = false
	at := int64(steadyEnd)
	for _, a := range preArming {
		if o := d.Act(at, a, 0); o.Refused != "" {
			t.Fatalf("%+v refused: %s", a, o.Refused)
		}
	}
	if got := string(d.Out()); got != "" {
		t.Errorf("sent before arming: %q", got)
	}
	d.Act(at, Act{Who: safety.Director, What: ActStage, Stage: 4}, 76)
	if o := d.Act(at, Act{Who: safety.Director, What: ActArm}, 77); o.Refused != "" {
		t.Fatalf("arm refused: %s", o.Refused)
	}
	want := string(acquire.AppendBeat(acquire.AppendArm(nil, 77), 77, 1))
	if got := string(d.Out()); got != want {
		t.Errorf("armed: the relay hears %q, want %q", got, want)
	}
	if d.Next() != at+50e6 {
		t.Errorf("next heartbeat due %v after the first, want 50 ms", time.Duration(d.Next()-at))
	}
	d.Tick(at + 49e6)
	if got := string(d.Out()); got != "" {
		t.Errorf("a heartbeat too early: %q", got)
	}
	d.Tick(at + 50e6)
	if got, want := string(d.Out()), string(acquire.AppendBeat(acquire.AppendArm(nil, 77), 77, 2)); got != want {
		t.Errorf("the relay has not answered: it hears %q, want %q", got, want)
	}
	o := d.Act(at+60e6, Act{Who: safety.Watcher, Name: "anyone", What: ActStop}, 0)
	if got, want := string(d.Out()), string(acquire.AppendOpen(nil, 77)); o.Refused != "" || got != want {
		t.Errorf("stop called (%q): the relay hears %q, want %q", o.Refused, got, want)
	}
	stop := false
	for _, r := range d.Said() {
		stop = stop || r.Str("order") == "stop"
	}
	if s := d.Snapshot(); !stop || s.Guard.Stop.Cause != safety.PersonStop || s.N != d.n || s.News[0].Text == "" {
		t.Errorf("stop called: said %v, snapshot %+v", d.Said(), s.Guard.Stop)
	}
}

func TestNewDryRefusesABadHead(t *testing.T) {
	h := testHead(t)
	h.Run.ID = "Z9"
	if _, err := NewDry(h); err == nil {
		t.Error("a head with an unknown run is taken")
	}
}

// BenchmarkDry is a pull, a record an operation: of forty in a second ten are
// lines of each box and one holds the clock, with which the digest is said.
func BenchmarkDry(b *testing.B) {
	d := dryOf(b, testHead(b), steady())
	d.Keep, d.WithJudge, d.Records = false, false, nil
	var lines [64][2][]byte
	for i := range lines {
		lines[i] = [2][]byte{fmt.Appendf(nil, "+%06.1f kgf\r\n", 100+float64(i%7)), fmt.Appendf(nil, "N %+08d\r\n", i%2)}
	}
	for _, clock := range []bool{true, false} {
		b.Run(fmt.Sprintf("clock=%v", clock), func(b *testing.B) { benchDry(b, d, lines, clock) })
	}
}

func benchDry(b *testing.B, d *Dry, lines [64][2][]byte, clock bool) {
	wall := time.Date(2026, 4, 12, 9, 0, 0, 0, time.UTC)
	at, i := d.t, 0
	b.ReportAllocs()
	for b.Loop() {
		at += 25e6
		switch i++; {
		case clock && i%40 == 0:
			d.Clock(at, wall.Add(time.Duration(at)))
		default:
			switch i % 4 {
			case 1:
				d.Rx(at, SrcLoad, lines[i%64][0])
			case 3:
				d.Rx(at, SrcLine, lines[i/40%64][1])
			default:
				d.Tick(at)
			}
		}
		d.Out()
	}
}

func BenchmarkNewDry(b *testing.B) {
	h := testHead(b)
	for b.Loop() {
		if _, err := NewDry(h); err != nil {
			b.Fatal(err)
		}
	}
}
