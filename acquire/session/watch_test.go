package session

import (
	"bufio"
	"context"
	"encoding/gob"
	"fmt"
	"io"
	"math"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"hawse/safety"
	"hawse/trial"
)

// watchedView is a capture that counts what is asked of it.
type watchedView struct {
	mu    sync.Mutex
	snap  *Snapshot
	acts  []Act
	trace trial.Trace
	did   chan struct{}
}

func (v *watchedView) Snapshot() *Snapshot {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.snap
}

func (v *watchedView) set(change func(*Snapshot)) {
	v.mu.Lock()
	defer v.mu.Unlock()
	s := *v.snap
	s.N++
	s.Made = time.Now()
	change(&s)
	v.snap = &s
}

func (v *watchedView) Trace(q TraceQuery, dst []trial.Col) []trial.Col {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.trace.ByTime(int64(q.From), int64(q.To), q.Cols, dst)
}

func (v *watchedView) Segments() []trial.Segment {
	return []trial.Segment{{Phase: trial.Embedding, X1: 3, T1: 5}}
}

func (v *watchedView) Do(a Act) {
	v.mu.Lock()
	v.acts = append(v.acts, a)
	v.mu.Unlock()
	v.did <- struct{}{}
}

// watched serves an invented capture.
func watched(t *testing.T, keys bool) (v *watchedView, log string, stop func()) {
	t.Helper()
	tl := &trial.Trial{Name: "invented"}
	v = &watchedView{did: make(chan struct{}, 100), snap: &Snapshot{
		N: 7, T: 9e9, Mode: "live", Made: time.Now(), Trial: tl, Config: &safety.Config{WLL: 10e3, Weakest: "swivel"},
		Tension: Tension{Known: true, Big: 2730, Rate: math.NaN()}, Peak: Peak{X: trial.Length(math.NaN())},
		Margins: []safety.Margin{{Cause: safety.TensionLimit, Limit: 8000, In: math.NaN(), Warn: math.Inf(1)}},
		News:    []News{{Seq: 1, Text: "log opened"}}, Checklist: []safety.CheckItem{{Check: safety.CheckZero, Text: "zero"}},
	}}
	v.snap.Guard.Alarms[safety.WLLShare] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: 4}
	for i := range int64(100) {
		v.trace.Add(trial.Point{T: i * 1e8, Tension: trial.Force(i), X: trial.Length(math.NaN())})
	}
	log = filepath.Join(t.TempDir(), "A1.log")
	ctx, cancel := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- ServeWatch(ctx, v, log, keys) }()
	for guarded := false; !guarded; { // the file is there before anybody listens, and listened at before it is guarded
		select {
		case err := <-served:
			t.Fatalf("ServeWatch: %v", err)
		case <-time.After(time.Millisecond):
			info, err := os.Stat(WatchPath(log))
			guarded = err == nil && info.Mode().Perm() == 0o600
		}
	}
	var once sync.Once
	stop = func() {
		once.Do(func() {
			cancel()
			if err := <-served; err != nil {
				t.Errorf("ServeWatch: %v", err)
			}
		})
	}
	t.Cleanup(stop)
	return v, log, stop
}

func watching(t *testing.T, log string) *Watching {
	t.Helper()
	w, err := Watch(log)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); w.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-done })
	return w
}

// soon waits until something holds.
func soon(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for range 1000 {
		if holds() {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Fatalf("%s: not within 5 s", what)
}

// same compares what a screen reads of two snapshots.
var same = cmp.Options{
	cmpopts.EquateNaNs(), cmpopts.EquateEmpty(), cmpopts.IgnoreFields(Snapshot{}, "Made"),
	cmp.Comparer(func(a, b trial.Length) bool { return a == b || a != a && b != b }),
	cmpopts.IgnoreUnexported(safety.State{}),
}

func TestWatchShowsWhatTheCaptureShows(t *testing.T) {
	v, log, _ := watched(t, false)
	w := watching(t, log)
	if w.Keys() {
		t.Error("a watcher was given the director's keys")
	}
	for i := range 3 {
		v.set(func(s *Snapshot) {
			s.Tension.Big = trial.Force(3000 + i)
			if i == 1 { // a limit was lowered: another Config
				c := *s.Config
				c.WLL = 8000
				s.Config = &c
				r := trial.Reading{Point: trial.Point{T: 1e9, Tension: 3000, X: 2, Stage: trial.Pull}, Scope: 7}
				study := trial.NewStudy(s.Trial, s.Run)
				study.Add(&r)
				f := study.Figures(2e9)
				s.Figures = &f
			}
		})
		want := v.Snapshot()
		soon(t, "the newest snapshot", func() bool { return w.Snapshot().N == want.N })
		drawn := *want
		drawn.Figures = shownFigures(want.Figures)
		if d := cmp.Diff(&drawn, w.Snapshot(), same); d != "" {
			t.Errorf("snapshot %d (-capture +watcher):\n%s", i, d)
		}
	}
	q := TraceQuery{From: 0, To: 10e9, Cols: 20}
	w.Trace(q, nil)
	want := v.Trace(q, nil)
	soon(t, "the trace", func() bool { return cmp.Equal(want, w.Trace(q, nil)) })
	if d := cmp.Diff(v.Segments(), w.Segments()); d != "" {
		t.Errorf("segments (-capture +watcher):\n%s", d)
	}
}

func TestWatchCanStopAndNothingElse(t *testing.T) {
	v, log, _ := watched(t, false)
	w := watching(t, log)
	w.Do(Act{Who: safety.Director, Name: "evil\x1b[2J", What: ActStop})
	<-v.did
	v.mu.Lock()
	got := v.acts[0]
	v.mu.Unlock()
	if got.What != ActStop || got.Who != safety.Watcher || strings.ContainsRune(got.Name, 0x1b) {
		t.Errorf("a stop from a watcher came as %+v", got)
	}
	for _, what := range append([]string{ActEnd, ActTerminate, "nonsense"}, Callable...) {
		if what == ActStop {
			continue
		}
		w.Do(Act{Who: safety.Director, What: what, Stage: trial.Pull})
		soon(t, what+" is handed on", func() bool { // a stop would go before it
			w.mu.Lock()
			defer w.mu.Unlock()
			return len(w.acts) == 0
		})
		w.Do(Act{What: ActStop})
		<-v.did
		v.mu.Lock()
		if got := v.acts[len(v.acts)-1]; got.What != ActStop {
			t.Errorf("a watcher did %+v", got)
		}
		v.mu.Unlock()
		if w.Snapshot().Refusal.Text == "" {
			t.Errorf("%s: no refusal is shown", what)
		}
	}
}

func TestWatchWithKeysActsAsDirectorButCannotEnd(t *testing.T) {
	v, log, _ := watched(t, true)
	w := watching(t, log)
	if !w.Keys() {
		t.Fatal("the watcher was not told that it has the director's keys")
	}
	w.Do(Act{Who: safety.Watcher, What: ActEnd})
	w.Do(Act{Who: safety.Watcher, What: ActAck})
	<-v.did
	v.mu.Lock()
	defer v.mu.Unlock()
	if len(v.acts) != 1 || v.acts[0].What != ActAck || v.acts[0].Who != safety.Director {
		t.Errorf("acts with the director's keys: %+v, want ack by the director alone", v.acts)
	}
}

// A watcher that asks and never reads, one that sends rubbish, and one that sends
// nothing hold up neither the capture nor another watcher.
func TestStalledWatchersHoldUpNobody(t *testing.T) {
	v, log, _ := watched(t, false)
	for i := range 3 {
		conn, err := net.Dial("unix", WatchPath(log))
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		go func() {
			switch i {
			case 0:
				for {
					if _, err := io.WriteString(conn, `{"traces":[{"ByHaul":false,"From":0,"To":1e10,"Cols":999999999}]}`+"\n"); err != nil {
						return
					}
				}
			case 1:
				io.WriteString(conn, strings.Repeat("\x00{[", 1<<20))
			}
		}()
	}
	w := watching(t, log)
	for range 20 {
		v.set(func(*Snapshot) {})
		n := v.Snapshot().N
		soon(t, "a snapshot beside stalled watchers", func() bool { return w.Snapshot().N >= n })
	}
	w.Do(Act{What: ActStop})
	<-v.did
}

// A capture that stops answering leaves the watcher's snapshot as old as it is,
// and a STOP called meanwhile arrives when it answers again.
func TestWatchGrowsOldAndStopIsKept(t *testing.T) {
	_, log, stop := watched(t, false)
	w := watching(t, log)
	stop()
	last := w.Snapshot()
	w.Do(Act{What: ActStop})
	w.Do(Act{What: ActAck})
	time.Sleep(2 * actStands / 3)
	if s := w.Snapshot(); time.Since(s.Made) < actStands/2 || s.N < last.N {
		t.Errorf("the snapshot of a capture that is gone is %v old", time.Since(s.Made))
	}
	time.Sleep(actStands / 2)
	v := &watchedView{did: make(chan struct{}, 10), snap: &Snapshot{N: 50, Mode: "live", Made: time.Now()}}
	ctx, cancel := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- ServeWatch(ctx, v, log, true) }()
	defer func() { cancel(); <-served }()
	<-v.did
	soon(t, "the new capture's snapshot", func() bool { return w.Snapshot().N == 50 })
	v.mu.Lock()
	defer v.mu.Unlock()
	if len(v.acts) != 1 || v.acts[0].What != ActStop {
		t.Errorf("acts after the gap: %+v, want the stop alone", v.acts)
	}
}

func TestWatchSocketIsGuardedAndGoes(t *testing.T) {
	_, log, stop := watched(t, false)
	info, err := os.Stat(WatchPath(log))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the socket is %v, %v; want it for this user alone", info.Mode(), err)
	}
	if err := ServeWatch(context.Background(), nil, log, false); err == nil || !strings.Contains(err.Error(), "another capture") {
		t.Errorf("a second capture at the same socket: %v", err)
	}
	stop()
	if _, err := os.Stat(WatchPath(log)); err == nil {
		t.Error("the socket is left behind")
	}
	if _, err := Watch(log); err == nil || !strings.Contains(err.Error(), "cannot watch") {
		t.Errorf("watching nothing: %v", err)
	}
}

func TestTooManyWatchersAreTold(t *testing.T) {
	_, log, _ := watched(t, false)
	for i := range watchersMost {
		conn, err := net.Dial("unix", WatchPath(log))
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		fmt.Fprintln(conn, "{}")
		var a watchAnswer
		if err := gob.NewDecoder(bufio.NewReader(conn)).Decode(&a); err != nil || a.Snapshot.Mode != "live" {
			t.Fatalf("watcher %d: %v, %+v", i, err, a.Refused)
		}
	}
	if _, err := Watch(log); err == nil || !strings.Contains(err.Error(), "watch already") {
		t.Errorf("one watcher too many: %v", err)
	}
}

// Columns made of other columns hold the extremes of all they overlap.
func TestRecolumnLosesNoPeak(t *testing.T) {
	h := watchTrace{Query: TraceQuery{From: 0, To: 100, Cols: 50}, Cols: make([]trial.Col, 50)}
	for i := range h.Cols {
		h.Cols[i] = trial.Col{Lo: trial.Force(i), Hi: trial.Force(i + 100), N: 1, Gap: i == 20}
	}
	for _, cols := range []int{1, 7, 50, 333} {
		got := recolumn(h, TraceQuery{From: 10, To: 90, Cols: cols}, nil)
		if len(got) != cols {
			t.Fatalf("%d columns, want %d", len(got), cols)
		}
		lo, hi, gap := trial.Force(math.Inf(1)), trial.Force(0), false
		for _, c := range got {
			if c.N > 0 {
				lo, hi, gap = min(lo, c.Lo), max(hi, c.Hi), gap || c.Gap
			}
		}
		if lo > 5 || hi < 144 || !gap {
			t.Errorf("%d columns: from %v to %v, gap %v; want 5, 144, true", cols, lo, hi, gap)
		}
	}
}
