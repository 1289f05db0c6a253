package dryrun

import (
	"context"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
)

// scenarioLog plays a scenario and writes its log.
func scenarioLog(t *testing.T, name string) string {
	t.Helper()
	sc, err := deck.Load(name)
	if err != nil {
		t.Fatal(err)
	}
	r, _, err := rigOf(sc, 1, true)
	if err != nil {
		t.Fatal(err)
	}
	r.record = func() {}
	people := crew.New(sc.Crew)
	for at := int64(0); at < playsAtMost && !people.Over() && r.dry.Ending() == ""; at += second / 10 {
		r.advance(at)
		for {
			a, now := people.Next(at, r.dry.Snapshot())
			if !now {
				break
			}
			people.Answer(r.act(a))
		}
	}
	path := filepath.Join(t.TempDir(), name+".log")
	log, err := logfmt.Create(path, logfmt.Options{MaxQueueBytes: 1 << 30})
	if err != nil {
		t.Fatal(err)
	}
	last := logfmt.Record{}
	for _, rec := range r.dry.Records {
		if rec.Kind != logfmt.End {
			log.Put(rec)
			last = rec
		}
	}
	if err := log.Seal(logfmt.Record{T: last.T, N: last.N + 1, Kind: logfmt.End, Fields: []logfmt.Field{{Key: "reason", Val: "test"}}}); err != nil {
		t.Fatal(err)
	}
	return path
}

// wantPoints are the times of the points of a kind, by the log's own words.
func wantPoints(t *testing.T, path string) map[session.PointKind][]int64 {
	t.Helper()
	f, err := logfmt.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	out := map[session.PointKind][]int64{}
	add := func(at int64, kinds ...session.PointKind) {
		for _, k := range kinds {
			if n := len(out[k]); n == 0 || out[k][n-1] < at {
				out[k] = append(out[k], at)
			}
		}
	}
	for read := logfmt.NewReader(f); read.Next(); {
		rec := read.Record()
		switch {
		case rec.Kind == logfmt.Act && (rec.Str("act") == session.ActMark || rec.Str("act") == session.ActPass):
			add(rec.T, session.MarkPoint)
		case rec.Kind != logfmt.Say:
		case rec.Str("what") == "phase":
			add(rec.T, session.PhasePoint)
		case rec.Str("what") == "alarm-up", rec.Str("what") == "stop-more":
			add(rec.T, session.AlarmPoint)
		case rec.Str("what") == "stop-set":
			add(rec.T, session.AlarmPoint, session.EventPoint)
		case slices.Contains([]string{"stage", "armed", "order", "event"}, rec.Str("what")):
			add(rec.T, session.EventPoint)
		}
	}
	return out
}

// On a scenario's log every jump goes to the next point of its kind that the log
// holds, and every jump back to the last one before.
func TestJumpsOnAScenario(t *testing.T) {
	t.Run("breakout", func(t *testing.T) {
		jumps(t, "breakout", session.EventPoint, session.PhasePoint, session.MarkPoint)
	})
	t.Run("snag", func(t *testing.T) { jumps(t, "snag", session.AlarmPoint, session.PhasePoint) })
}

func jumps(t *testing.T, scenario string, kinds ...session.PointKind) {
	path := scenarioLog(t, scenario)
	want := wantPoints(t, path)
	r, err := session.OpenReplay(path, "test", 1)
	if err != nil {
		t.Fatal(err)
	}
	r.SetPaused(true)
	r.Linger()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- r.Run(ctx) }()
	defer func() { cancel(); <-done }()
	rest := func() int64 { // once it is there, and the screen shows it
		for r.Hurrying() {
			time.Sleep(time.Millisecond)
		}
		for here := r.Here(); r.Snapshot().N != here.N; here = r.Here() {
			time.Sleep(time.Millisecond)
		}
		return r.Snapshot().T
	}
	const near = int64(50 * time.Millisecond) // two points nearer than this are one place to stand at
	for _, kind := range kinds {
		if len(want[kind]) == 0 {
			t.Errorf("the scenario has no %v to jump to", kind)
			continue
		}
		r.SeekTo(0)
		at := rest()
		var path []int64
		for range 3 {
			i, _ := slices.BinarySearch(want[kind], at+1)
			if i == len(want[kind]) {
				break
			}
			r.Jump(kind, false)
			if got := rest(); got < want[kind][i] || got > want[kind][i]+near {
				t.Errorf("on from %d to the next %v is %d, want %d", at, kind, got, want[kind][i])
			} else {
				at = got
			}
			path = append(path, at)
		}
		for i := len(path) - 2; i >= 0; i-- {
			if path[i+1]-path[i] < 2*near {
				continue
			}
			r.Jump(kind, true)
			if got := rest(); got < path[i]-near || got > path[i]+near {
				t.Errorf("back to the last %v is %d, want %d", kind, got, path[i])
			}
		}
	}
}
