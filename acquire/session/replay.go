package session

import (
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"hawse/logfmt"
	"hawse/trial"
)

// Replay plays a log in the same screen a live pull has, by the same folds. It
// is a [Player].
type Replay struct {
	build string
	all   []Part
	parts []Part // still to come
	count int    // of all parts
	file  *logfmt.Source
	read  *logfmt.Reader
	mu    sync.Mutex // guards what follows
	path  string
	fold  *Fold
	past  []*Fold // of the parts before
	whole Whole
	judge *Judge // of the whole pull: that of the first part's fold goes on as it
	ins   []JudgeInput

	goal    *goal  // where it hurries to; nil: it plays
	todo    []move // what a person wants then, in order
	rewound bool   // it is on its way there from the start
	points  []point
	linger  bool
	said    comments // afterwards

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
	return OpenReplayParts([]Part{{Opening: Opening{Path: path}}}, build, speed)
}

// OpenReplayParts opens the parts of one pull, to be played as one: its time,
// trace, peak and phase go on from part to part. News and states are those of
// each part's own fold, which is held against what was said in that part.
func OpenReplayParts(parts []Part, build string, speed float64) (*Replay, error) {
	if len(parts) == 0 {
		return nil, errNoParts
	}
	r := &Replay{build: build, all: parts, parts: parts, count: len(parts),
		steps: make(chan struct{}, stepsWait), nudge: make(chan struct{}, 1), done: make(chan struct{})}
	r.SetSpeed(speed)
	if err := r.open(); err != nil {
		return nil, err
	}
	r.publish()
	return r, nil
}

// open goes to the next part, whose head must be readable. What people read
// goes on: the news of the parts before stay.
func (r *Replay) open() error {
	part := r.parts[0]
	file, err := logfmt.Open(part.Path)
	if err != nil {
		return err
	}
	before := r.fold
	r.mu.Lock()
	r.parts, r.path, r.file, r.read, r.fold = r.parts[1:], part.Path, file, logfmt.NewReader(file), NewFold(r.build)
	if before != nil {
		r.past = append(r.past, before)
		r.fold.board.seq, r.fold.board.news = before.board.seq, before.board.news
		r.fold.board.tell(0, fmt.Sprintf("part %d of %d: %s", len(r.past)+1, r.count, filepath.Base(part.Path)), false)
		if part.Fault != "" {
			r.fold.board.tell(0, part.Fault, true)
		}
	}
	r.mu.Unlock()
	for !r.fold.core.Ready() {
		if !r.next() {
			file.Close()
			if err := r.read.Err(); err != nil {
				return err
			}
			if r.err != nil {
				return fmt.Errorf("%s: %w", part.Path, r.err)
			}
			return fmt.Errorf("%s: no whole head in it: not a log of this program, or cut short at its very start; `hawse verify` tells more", part.Path)
		}
	}
	r.join(before)
	return nil
}

// join goes on with the pull in the part that was opened.
func (r *Replay) join(before *Fold) {
	r.mu.Lock()
	defer r.mu.Unlock()
	was := r.whole.shift
	join := r.whole.Next(&r.fold.core)
	r.said.opened(r.path, r.whole.shift)
	if before == nil {
		r.judge = r.fold.judge
		return
	}
	r.judge.pause(join.From, join.To)
	b, later := &r.fold.board, r.whole.shift-was
	for i := range b.news { // what was told before, by this part's clock
		if b.news[i].Seq <= before.board.seq {
			b.news[i].T -= later
		}
	}
	if join.Note != "" {
		b.tell(0, join.Note, true)
	} else {
		b.tell(0, fmt.Sprintf("nothing was recorded for %.0f s", float64(join.To-join.From)/1e9), false)
	}
}

// next folds one record in; false at the end or with an error in r.err.
func (r *Replay) next() bool {
	if !r.read.Next() {
		return false
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	rec := r.read.Record()
	if err := r.fold.Apply(rec); err != nil {
		r.err = err
		return false
	}
	if r.whole.core != &r.fold.core {
		return true // in its head
	}
	r.ins = r.whole.inputs(&rec, &r.fold.step, r.ins[:0])
	r.note(&rec)
	if r.judge == r.fold.judge {
		return true
	}
	for _, in := range r.ins {
		r.judge.Apply(in, nil)
	}
	return true
}

// Run plays to the end of the log or until ctx ends. The file is closed when it
// returns.
func (r *Replay) Run(ctx context.Context) error {
	defer close(r.done)
	defer func() { r.file.Close() }()
	for {
		switch more, back := r.playPart(ctx); {
		case back:
			if err := r.rewind(); err != nil {
				r.err = err
				return err
			}
			continue
		case !more:
			return r.err
		}
		if len(r.parts) == 0 {
			if r.linger && r.wait(ctx) {
				continue // playPart sees that it has to go back
			}
			return r.err
		}
		r.file.Close()
		if err := r.open(); err != nil {
			r.err = err
			return err
		}
	}
}

// playPart plays to the end of a part; more is false when ctx ended or it could
// not be read further, back is true when a person wants to see what was before.
func (r *Replay) playPart(ctx context.Context) (more, back bool) {
	r.start, r.from = time.Now(), r.fold.last.T
	lastShot := time.Now()
	if _, back := r.hurry(); back { // from the end of the log
		return false, true
	}
	for r.next() {
		if on, back := r.pace(ctx, r.fold.last.T); back || !on {
			return false, back
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
		if len(r.parts) == 0 {
			r.fold.board.ended, r.fold.board.reason = true, "the log was cut short here"
		}
		r.fold.board.tell(r.fold.last.T, "log cut short: no seal", true)
	}
	r.fold.Finish(sealed)
	if n := len(r.fold.Diffs); n > 0 {
		r.fold.board.tell(r.fold.last.T, fmt.Sprintf("%d words differ from what was said then", n), true)
	}
	if len(r.parts) == 0 {
		if !r.arrived(true) || !r.linger { // where it was sent lay behind the end
			r.goal = nil
		}
		r.judge.Apply(JudgeInput{T: r.whole.Last(), End: true}, nil)
	}
	r.mu.Unlock()
	r.publish()
	return r.err == nil, false
}

// pace waits until a record of time t is due at the present speed, or a person
// steps over it or hurries past it. on is false when ctx ends; back as in playPart.
func (r *Replay) pace(ctx context.Context, t int64) (on, back bool) {
	for {
		if hurried, back := r.hurry(); hurried {
			r.start, r.from = time.Now(), t
			return ctx.Err() == nil, back
		}
		if r.paused.Load() {
			r.publish()
			stepped := false
			select {
			case <-r.nudge:
			case <-r.steps:
				stepped = true
			case <-ctx.Done():
				return false, false
			}
			r.start, r.from = time.Now(), t
			if stepped {
				return true, false
			}
			continue
		}
		wait := time.Duration(float64(t-r.from)/r.Speed()) - time.Since(r.start)
		if wait <= time.Millisecond {
			return ctx.Err() == nil, false
		}
		r.publish()
		select {
		case <-time.After(min(wait, 50*time.Millisecond)):
		case <-r.nudge:
			r.start, r.from = time.Now(), t
		case <-ctx.Done():
			return false, false
		}
	}
}

func (r *Replay) publish() {
	r.mu.Lock()
	s, path := r.fold.Snapshot(), r.path
	if len(r.past) > 0 {
		r.whole.onto(&s)
		r.judge.shot().into(&s)
	}
	r.mu.Unlock()
	s.Made = time.Now()
	s.Mode = "replay"
	s.Speed = r.Speed()
	s.Log = LogState{Path: path, Written: s.N, OnDisk: s.N, Short: s.Log.Short}
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
	return r.judge.Envelope(q, dst)
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

// stepsWait is how many steps wait to be taken.
const stepsWait = 100

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

// Fold gives the fold of the last part once the replay is done, for its
// differences; Folds those of all parts.
func (r *Replay) Fold() *Fold { return r.fold }

// Folds is for when the replay is done.
func (r *Replay) Folds() []*Fold { return append(slices.Clone(r.past), r.fold) }

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
