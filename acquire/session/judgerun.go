package session

import (
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"hawse/logfmt"
	"hawse/trial"
)

// judgeShot is what the Judge shows, published after each batch so that the
// sequencer never waits for it.
type judgeShot struct {
	t     int64
	peak  Peak
	phase trial.Phase
	since int64
	span  trial.TraceSpan
	haul  trial.Stage

	anchor  Anchor
	figures *trial.Figures
}

func (j *Judge) shot() *judgeShot {
	return &judgeShot{t: j.T, peak: j.Peak(), phase: j.phase.Phase(), since: j.since, span: j.trace.Span(), haul: j.trace.Hauled(), anchor: j.Anchor(), figures: j.figuresNow()}
}

// into fills the parts of a snapshot that come from the Judge.
func (s *judgeShot) into(snap *Snapshot) {
	if s == nil {
		return
	}
	snap.Peak, snap.Phase, snap.PhaseSince, snap.Span, snap.Anchor, snap.Figures = s.peak, s.phase, s.since, s.span, s.anchor, s.figures
	snap.Hauled = s.haul
}

// judgeRunner runs a Judge in its own goroutine behind its own queue. It may
// lag; if it panics, that is told and the guard goes on.
type judgeRunner struct {
	mu    sync.Mutex // guards j and pull, between the runner and a screen that asks for the trace
	j     *Judge
	pull  *Judge // of the whole pull, where the log goes on from another; nil: j has it all
	shift int64  // ns, from the log's time to the pull's; fixed once pull is
	in    chan []JudgeInput
	free  chan []JudgeInput
	says  chan []logfmt.Record
	gone  chan string // why it failed, at most once
	done  chan struct{}
	last  atomic.Pointer[judgeShot]

	pending []JudgeInput // the sequencer's own, not yet handed over
	dead    bool         // the sequencer's own: the Judge has failed
}

func startJudge(h Head) *judgeRunner {
	r := &judgeRunner{j: NewJudge(h), in: make(chan []JudgeInput, 64), free: make(chan []JudgeInput, 64),
		says: make(chan []logfmt.Record, 64), gone: make(chan string, 1), done: make(chan struct{})}
	go r.run()
	return r
}

// run ends when in is closed, or with the Judge's panic.
func (r *judgeRunner) run() {
	defer close(r.done)
	defer func() {
		if p := recover(); p != nil {
			r.gone <- fmt.Sprint(p)
		}
	}()
	for batch := range r.in {
		if says := r.apply(batch); len(says) > 0 {
			r.says <- says
		}
		select {
		case r.free <- batch[:0]:
		default:
		}
	}
}

// abandon ends the Judge after a panic of the sequencer, which may have closed
// its queue already.
func (r *judgeRunner) abandon() {
	defer func() { _ = recover() }()
	close(r.in)
}

func (r *judgeRunner) apply(batch []JudgeInput) (says []logfmt.Record) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, in := range batch {
		if in.ofPull {
			r.pull.Apply(in, nil)
		} else {
			says = r.j.Apply(in, says)
		}
	}
	r.last.Store(r.shown().shot())
	return says
}

// end takes what was never handed over and has the last figures worked out, once
// the Judge is through with all else; one that is not is left alone.
func (r *judgeRunner) end(t int64) {
	select {
	case <-r.done:
	default:
		return
	}
	if r.dead || len(r.gone) > 0 {
		return
	}
	defer func() { _ = recover() }() // the log is sealed all the same
	end := JudgeInput{T: t + r.shift, End: true, ofPull: r.pull != nil}
	r.apply(append(r.pending, end))
	r.pending = nil
}

// add queues inputs without handing them over: see push. Past a million, with
// the Judge hung, the oldest are of no use any more and are dropped.
func (r *judgeRunner) add(in []JudgeInput, by uint64) {
	if r.dead {
		return
	}
	for _, s := range in {
		s.N = by
		r.pending = append(r.pending, s)
	}
	if len(r.pending) > 1<<20 {
		r.pending = r.pending[:0]
		r.dead = true
		select {
		case r.gone <- "it is a million samples behind":
		default:
		}
	}
}

// push hands over what is pending if the Judge can take it now.
func (r *judgeRunner) push() {
	if len(r.pending) == 0 || r.dead {
		return
	}
	select {
	case r.in <- r.pending:
		select {
		case r.pending = <-r.free:
		default:
			r.pending = nil
		}
	default:
	}
}

// envelope answers a trace query under the lock; its cost is bounded by the
// number of columns. A Judge that hangs holds the lock for ever: then the trace
// is empty, and the screen goes on.
func (r *judgeRunner) envelope(q TraceQuery, dst []trial.Col) []trial.Col {
	for range 20 {
		if r.mu.TryLock() {
			defer r.mu.Unlock()
			return r.shown().Envelope(q, dst)
		}
		time.Sleep(time.Millisecond)
	}
	dst = dst[:0]
	for range q.Cols {
		dst = append(dst, trial.Col{})
	}
	return dst
}
