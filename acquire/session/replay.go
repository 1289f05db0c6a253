package session

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"hawse/logfmt"
	"hawse/trial"
)

// Replay plays a log in the same screen a live pull has, by the same folds. It
// is a [Player].
type Replay struct {
	path string
	file *os.File
	read *logfmt.Reader
	mu   sync.Mutex // guards fold
	fold *Fold

	snap   atomic.Pointer[Snapshot]
	paused atomic.Bool
	speed  atomic.Uint64 // float bits
	steps  chan struct{}
	nudge  chan struct{} // speed or pause changed
	done   chan struct{}
	err    error
	start  time.Time // the moment record time from was played at
	from   int64
}

// OpenReplay opens a log to be played. Its head must be readable.
func OpenReplay(path, build string, speed float64) (*Replay, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	r := &Replay{path: path, file: file, read: logfmt.NewReader(file), fold: NewFold(build),
		steps: make(chan struct{}, 1), nudge: make(chan struct{}, 1), done: make(chan struct{})}
	r.SetSpeed(speed)
	for !r.fold.core.Ready() {
		if !r.next() {
			file.Close()
			if err := r.read.Err(); err != nil {
				return nil, err
			}
			if r.err != nil {
				return nil, fmt.Errorf("%s: %w", path, r.err)
			}
			return nil, fmt.Errorf("%s: no whole head in it: not a log of this program, or cut short at its very start; `hawse verify` tells more", path)
		}
	}
	r.publish()
	return r, nil
}

// next folds one record in; false at the end or with an error in r.err.
func (r *Replay) next() bool {
	if !r.read.Next() {
		return false
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if err := r.fold.Apply(r.read.Record()); err != nil {
		r.err = err
		return false
	}
	return true
}

// Run plays to the end of the log or until ctx ends. The file is closed when it
// returns.
func (r *Replay) Run(ctx context.Context) error {
	defer close(r.done)
	defer r.file.Close()
	r.start, r.from = time.Now(), r.fold.last.T
	lastShot := time.Now()
	for r.next() {
		if !r.pace(ctx, r.fold.last.T) {
			return nil
		}
		if time.Since(lastShot) > 20*time.Millisecond {
			r.publish()
			lastShot = time.Now()
		}
	}
	if err := r.read.Err(); err != nil {
		r.err = err
	}
	r.mu.Lock()
	sealed := r.fold.board.ended
	if !sealed {
		r.fold.board.ended, r.fold.board.reason = true, "the log was cut short here"
		r.fold.board.tell(r.fold.last.T, "log cut short: no seal", true)
	}
	r.fold.Finish(sealed)
	if n := len(r.fold.Diffs); n > 0 {
		r.fold.board.tell(r.fold.last.T, fmt.Sprintf("%d words differ from what was said then", n), true)
	}
	r.mu.Unlock()
	r.publish()
	return r.err
}

// pace waits until a record of time t is due at the present speed, or a person
// steps over it. It returns false when ctx ends.
func (r *Replay) pace(ctx context.Context, t int64) bool {
	for {
		if r.paused.Load() {
			r.publish()
			stepped := false
			select {
			case <-r.nudge:
			case <-r.steps:
				stepped = true
			case <-ctx.Done():
				return false
			}
			r.start, r.from = time.Now(), t
			if stepped {
				return true
			}
			continue
		}
		wait := time.Duration(float64(t-r.from)/r.Speed()) - time.Since(r.start)
		if wait <= time.Millisecond {
			return ctx.Err() == nil
		}
		r.publish()
		select {
		case <-time.After(min(wait, 50*time.Millisecond)):
		case <-r.nudge:
			r.start, r.from = time.Now(), t
		case <-ctx.Done():
			return false
		}
	}
}

func (r *Replay) publish() {
	r.mu.Lock()
	s := r.fold.Snapshot()
	r.mu.Unlock()
	s.Made = time.Now()
	s.Mode = "replay"
	s.Speed = r.Speed()
	s.Log = LogState{Path: r.path, Written: s.N, OnDisk: s.N}
	r.snap.Store(&s)
}

// Snapshot implements [View]. A replay never stalls: its newest snapshot is
// always fresh.
func (r *Replay) Snapshot() *Snapshot {
	s := *r.snap.Load()
	s.Made = time.Now()
	return &s
}

// Trace implements [View].
func (r *Replay) Trace(q TraceQuery, dst []trial.Col) []trial.Col {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.fold.judge.Envelope(q, dst)
}

// Do implements [View]: nothing can be done to a pull that is over, and the
// screen is told so.
func (r *Replay) Do(a Act) {
	r.mu.Lock()
	r.fold.board.tell(r.fold.last.T, "this is a replay: "+a.What+" not taken, the pull is over", true)
	r.fold.board.refusal = r.fold.board.news[len(r.fold.board.news)-1]
	r.mu.Unlock()
	r.publish()
}

// SetPaused implements [Player].
func (r *Replay) SetPaused(p bool) { r.paused.Store(p); r.wake() }

// Paused implements [Player].
func (r *Replay) Paused() bool { return r.paused.Load() }

// SetSpeed implements [Player].
func (r *Replay) SetSpeed(x float64) {
	if !(x >= 0.1) {
		x = 0.1
	}
	r.speed.Store(math.Float64bits(min(x, 10000)))
	r.wake()
}

// Speed implements [Player].
func (r *Replay) Speed() float64 { return math.Float64frombits(r.speed.Load()) }

// Step implements [Player].
func (r *Replay) Step() {
	select {
	case r.steps <- struct{}{}:
	default:
	}
}

func (r *Replay) wake() {
	select {
	case r.nudge <- struct{}{}:
	default:
	}
}

// Done is closed when the log has been played.
func (r *Replay) Done() <-chan struct{} { return r.done }

// Fold gives the fold once the replay is done, for its differences.
func (r *Replay) Fold() *Fold { return r.fold }

// Refold folds a whole log as fast as it can be read.
func Refold(in io.Reader, build string) (*Fold, []logfmt.Damage, error) {
	read := logfmt.NewReader(in)
	f := NewFold(build)
	sealed := false
	for read.Next() {
		r := read.Record()
		sealed = r.Kind == logfmt.End
		if err := f.Apply(r); err != nil {
			return f, read.Damage(), err
		}
	}
	f.Finish(sealed)
	return f, read.Damage(), read.Err()
}
