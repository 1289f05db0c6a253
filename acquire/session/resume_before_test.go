package session

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// brokenOff copies the log of a capture that runs, as a crash leaves it.
func (b *bench) brokenOff(dir, name string) string {
	b.t.Helper()
	time.Sleep(300 * time.Millisecond) // what was said is written
	text, err := os.ReadFile(b.log)
	if err != nil {
		b.t.Fatal(err)
	}
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, append(text, "t=99.0000"...), 0o644); err != nil {
		b.t.Fatal(err)
	}
	return path
}

// resumed is a capture that goes on from that log a minute later.
func resumed(t *testing.T, path, name string, counts int) *bench {
	t.Helper()
	time.Sleep(time.Minute)
	var u *Unfinished
	b := startBenchOf(t, func(c *Config) {
		var err error
		if u, err = ReadUnfinished(path, c.Head.Trial, ""); err != nil {
			t.Fatal(err)
		}
		c.Head.After, c.Before = &u.Handover, u.Before
		c.Head.Started = time.Now()
		c.LogPath = filepath.Join(filepath.Dir(path), name)
	})
	b.log = b.c.cfg.LogPath
	b.load.set(func() { b.load.line = func(i int) string { return fmt.Sprintf("+%06.1f kgf\r\n", 30+float64(i%7)) } })
	b.line.set(func() { b.line.line = func(i int) string { return fmt.Sprintf("N +%07d\r\n", counts+i*4) } })
	return b
}

func (b *bench) goesOn() {
	b.t.Helper()
	time.Sleep(2 * time.Second)
	for _, a := range []Act{{Who: safety.Director, What: ActCarry, Value: CarryAll}, {Who: safety.Director, What: ActWaive, Value: "zero the rode is loaded"},
		{Who: safety.Director, What: ActWaive, Value: "weight done before the crash"}, {Who: safety.Director, What: ActRead},
		{Who: safety.Logger, What: ActReady, Value: "all live"}, {Who: safety.WinchOperator, What: ActReady, Value: "all live"}, {Who: safety.Director, What: ActReady, Value: "all live"}} {
		if o, err := b.c.DoWait(context.Background(), a); err != nil || o.Refused != "" {
			b.t.Fatalf("%+v: %v %s", a, err, o.Refused)
		}
	}
	b.must(ActArm, "")
	time.Sleep(3 * time.Second)
}

// What a screen shows of a pull that was broken off and gone on with, twice, is
// what the results find for it, to the bit, and what its replay shows.
func TestFiguresGoOnAfterACrash(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		one := startBenchOf(t, func(c *Config) {
			time.Sleep(time.Until(c.Head.Started)) // a resume asks the computer's clock
			c.Clock, c.Head.Started = acquire.NewClock(), time.Now()
		})
		one.load.set(func() { one.load.line = func(i int) string { return fmt.Sprintf("+%06.1f kgf\r\n", 80+float64(i%7)) } })
		one.pulling()
		time.Sleep(3 * time.Second)
		at := one.c.Snapshot()
		if !at.Peak.Known || at.SinceResume {
			t.Fatalf("before the crash: peak %+v, since resume %v", at.Peak, at.SinceResume)
		}
		first := one.brokenOff(dir, "A1-1.log")
		one.end()

		two := resumed(t, first, "A1-2.log", 400)
		s := two.c.Snapshot()
		if s.Peak.Value != at.Peak.Value || s.Peak.At != at.Peak.At || s.T < 60e9 || s.SinceResume {
			t.Errorf("at once after it: %+v at %d, since resume %v; want the peak of before, %+v, on the pull's time", s.Peak, s.T, s.SinceResume, at.Peak)
		}
		two.goesOn()
		second := two.brokenOff(dir, "A1-2b.log")
		two.end()
		two.ofPull(first)

		if err := os.Rename(second, two.log); err != nil { // it was the second that broke off
			t.Fatal(err)
		}
		three := resumed(t, two.log, "A1-3.log", 800)
		three.goesOn()
		three.must(ActStop, "")
		time.Sleep(2 * time.Second)
		three.end()
		three.ofPull(first)
		if s := three.c.Snapshot(); s.Peak.Value != at.Peak.Value || !s.Peak.Left || s.Figures.Quantities[trial.PeakInstant].T != at.Peak.At || len(s.Figures.Hauls) != 1 {
			t.Errorf("at the end: peak %+v, of %+v in %d hauls; want that of the first log, in one", s.Peak, s.Figures.Quantities[trial.PeakInstant], len(s.Figures.Hauls))
		}
		cols := three.c.Trace(TraceQuery{From: 0, To: 200e9, Cols: 3}, nil)
		if len(cols) != 3 || cols[0].N == 0 || cols[1].N == 0 || cols[2].N == 0 {
			t.Errorf("trace %+v; want that of all three logs", cols)
		}
	})
}

// ofPull holds what the screen showed last against the results and the replay of
// all parts.
func (b *bench) ofPull(first string) {
	b.t.Helper()
	s := b.c.Snapshot()
	r := resultOf(b.t, b.log)
	if r.Parts[0].Path != first || s.T != r.Length {
		b.t.Errorf("%d parts, live at %d of %d", len(r.Parts), s.T, r.Length)
	}
	if diff := cmp.Diff(fmt.Sprintf("%+v", r.Figures), fmt.Sprintf("%+v", *s.Figures)); diff != "" {
		b.t.Errorf("figures: - out of the logs, + live:\n%.2000s", diff)
	}
	parts, err := Chain(b.log)
	if err != nil {
		b.t.Fatal(err)
	}
	p, err := OpenReplayParts(parts, "test", 10000)
	if err != nil {
		b.t.Fatal(err)
	}
	if err := p.Run(context.Background()); err != nil {
		b.t.Fatal(err)
	}
	played := p.Snapshot()
	if diff := cmp.Diff(fmt.Sprintf("%+v", *s.Figures), fmt.Sprintf("%+v", *played.Figures)); diff != "" || played.Peak != s.Peak || played.Phase != s.Phase || played.SinceResume != s.SinceResume {
		b.t.Errorf("played %+v %s, live %+v %s; figures: - live, + played:\n%.2000s", played.Peak, played.Phase, s.Peak, s.Phase, diff)
	}
}

// Where a log before is missing, or is not as it was, the figures are those of the
// rest, and say so; the pull goes on all the same.
func TestFiguresSinceResume(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		one := startBenchOf(t, func(c *Config) {
			time.Sleep(time.Until(c.Head.Started)) // a resume asks the computer's clock
			c.Clock, c.Head.Started = acquire.NewClock(), time.Now()
		})
		one.pulling()
		first := one.brokenOff(dir, "A1-1.log")
		one.end()
		two := resumed(t, first, "A1-2.log", 400)
		two.goesOn()
		second := two.brokenOff(t.TempDir(), "A1-2.log") // away from the first
		two.end()

		tr := two.c.cfg.Head.Trial
		u, err := ReadUnfinished(second, tr, "")
		if err != nil || !strings.Contains(u.BeforeFault, "cannot be read") || !strings.Contains(u.Text(), "since resume") {
			t.Errorf("the log before is missing: %v, fault %q, text %q", err, u.BeforeFault, u.Text())
		}
		three := resumed(t, second, "A1-3.log", 800)
		three.goesOn()
		if s := three.c.Snapshot(); !s.SinceResume || !s.Peak.Known || s.Peak.Value > 40*kgf {
			t.Errorf("since resume %v, peak %+v; want it said, and none of the first log", s.SinceResume, s.Peak)
		}
		three.end()
		three.ofPull(second)

		if err := os.WriteFile(first, []byte("not a log\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		if u, err := ReadUnfinished(two.log, tr, ""); err != nil || u.BeforeFault == "" {
			t.Errorf("the log before is none: %v, fault %q", err, u.BeforeFault)
		}
	})
}

// A log that goes on from none is its own whole pull: nothing but its own records.
func TestBeforeOfALogAlone(t *testing.T) {
	was, path := crashed(t)
	u, err := ReadUnfinished(path, was.d.core.Head().Trial, "")
	if err != nil || u.BeforeFault != "" {
		t.Fatalf("%v, %q", err, u.BeforeFault)
	}
	records := []logfmt.Record{}
	r := logfmt.NewReader(strings.NewReader(string(logOf(was.d))))
	for r.Next() {
		records = append(records, r.Record())
	}
	if got, want := u.Before.whole.Last(), records[len(records)-1].T; got != want {
		t.Errorf("folded to %d, want %d", got, want)
	}
}
