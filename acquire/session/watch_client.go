package session

import (
	"context"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"hawse/safety"
	"hawse/trial"
)

// Watching is a [View] of a capture that runs in another program. Its snapshot
// is as old as its Made says: nothing is made younger on the way, so a screen
// sees for itself when it has heard nothing.
type Watching struct {
	log  string
	snap atomic.Pointer[Snapshot]
	keys atomic.Bool

	mu    sync.Mutex
	wants []wantedTrace
	have  []watchTrace
	segs  []trial.Segment
	acts  []lateAct
	wake  chan struct{}

	refused   string // the last refusal, shown a while
	refusedAt time.Time

	conn  *watchConn
	trial *trial.Trial
	cfg   *safety.Config
	figs  *trial.Figures
}

type wantedTrace struct {
	q  TraceQuery
	at time.Time // asked for last
}

type lateAct struct {
	act Act
	at  time.Time
}

// Patience of a watching screen.
const (
	watchEvery    = 50 * time.Millisecond
	watchAnswers  = 2 * time.Second // an answer that takes longer is none
	watchAgain    = 250 * time.Millisecond
	wantStands    = time.Second
	refusalStands = 5 * time.Second
	actStands     = time.Second // an act that could not be handed over by then is forgotten, STOP excepted
)

// Watch begins to watch the capture of that log. It waits for the first answer,
// and fails where none comes.
func Watch(log string) (*Watching, error) {
	w := &Watching{log: log, wake: make(chan struct{}, 1)}
	if err := w.exchange(); err != nil {
		return nil, fmt.Errorf("cannot watch %s: %w; is its capture running, and by this user?", log, err)
	}
	return w, nil
}

// Run watches until ctx ends, or the capture does. A connection that breaks is
// tried again; meanwhile the snapshot grows old, unless the log says that it was
// ended.
func (w *Watching) Run(ctx context.Context) {
	defer w.hangUp()
	for !w.snap.Load().Ended {
		every := watchEvery
		if err := w.exchange(); err != nil {
			w.hangUp()
			every = watchAgain
			if s := endedBy(w.log, w.snap.Load()); s != nil {
				w.snap.Store(s)
				return
			}
		}
		select {
		case <-time.After(every):
		case <-w.wake:
		case <-ctx.Done():
			return
		}
	}
}

// Keys says whether the capture takes the director's keys from here.
func (w *Watching) Keys() bool { return w.keys.Load() }

// Snapshot implements [View].
func (w *Watching) Snapshot() *Snapshot { return w.snap.Load() }

// Segments implements [View].
func (w *Watching) Segments() []trial.Segment {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.segs
}

// Do implements [View]. An act that cannot be handed over at once is sent when
// it can: a STOP always and before all else, anything else within a second.
func (w *Watching) Do(a Act) {
	w.mu.Lock()
	w.queue(lateAct{a, time.Now()})
	w.mu.Unlock()
	select {
	case w.wake <- struct{}{}:
	default:
	}
}

// actsWait is how many acts wait at most.
const actsWait = 64

// outlives says whether an act is still done when a STOP was called behind it.
func (a lateAct) outlives() bool { return a.act.What == ActMark || a.act.What == ActNote }

// queue puts an act behind the others, a STOP before them. Of what was done before
// a STOP and waits still, marks and notes stay; an acknowledgement or a stage that
// came behind the STOP would work against it. The lock is held.
func (w *Watching) queue(a lateAct) {
	if a.act.What == ActStop {
		kept := []lateAct{a}
		for _, o := range w.acts {
			if o.outlives() {
				kept = append(kept, o)
			}
		}
		w.acts = kept
		return
	}
	w.acts = append(w.acts, a)
	if len(w.acts) > actsWait {
		first := 0
		if w.acts[0].act.What == ActStop {
			first = 1
		}
		w.acts = slices.Delete(w.acts, first, first+1)
	}
}

// Trace implements [View]. What was not asked for before comes with the next
// answer; until then the nearest columns there are stand for it.
func (w *Watching) Trace(q TraceQuery, dst []trial.Col) []trial.Col {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.want(q, time.Now())
	dst = dst[:0]
	for _, h := range w.have {
		if h.Query == q {
			return append(dst, h.Cols...)
		}
	}
	for _, h := range w.have {
		if h.Query.ByHaul == q.ByHaul && h.Query.To > q.From && h.Query.From < q.To {
			return recolumn(h, q, dst)
		}
	}
	for range q.Cols {
		dst = append(dst, trial.Col{})
	}
	return dst
}

// want notes a query; one of the same kind and width takes the other's place.
func (w *Watching) want(q TraceQuery, now time.Time) {
	kept := w.wants[:0]
	for _, o := range w.wants {
		if now.Sub(o.at) < wantStands && (o.q.ByHaul != q.ByHaul || o.q.Cols != q.Cols) {
			kept = append(kept, o)
		}
	}
	w.wants = append(kept, wantedTrace{q, now})
	if len(w.wants) > watchTraces {
		w.wants = w.wants[1:]
	}
}

// recolumn makes of the columns there are those of another query: each holds the
// extremes of all it overlaps, so no peak is lost.
func recolumn(h watchTrace, q TraceQuery, dst []trial.Col) []trial.Col {
	n := len(h.Cols)
	for i := range q.Cols {
		var c trial.Col
		step := (q.To - q.From) / float64(q.Cols)
		at := func(v float64) float64 { return (v - h.Query.From) / (h.Query.To - h.Query.From) * float64(n) }
		a, b := at(q.From+step*float64(i)), at(q.From+step*float64(i+1))
		for j := max(int(a), 0); j < n && float64(j) < b; j++ {
			o := h.Cols[j]
			c.Gap = c.Gap || o.Gap
			if o.N == 0 {
				continue
			}
			if c.N == 0 || o.Lo < c.Lo {
				c.Lo = o.Lo
			}
			if c.N == 0 || o.Hi > c.Hi {
				c.Hi = o.Hi
			}
			c.N += o.N
		}
		dst = append(dst, c)
	}
	return dst
}

// watchConn is an open connection.
type watchConn struct {
	net.Conn
	enc *json.Encoder
	dec *gob.Decoder
}

func (w *Watching) hangUp() {
	if w.conn != nil {
		w.conn.Close()
		w.conn = nil
	}
}

// next takes the act to be handed over now.
func (w *Watching) next() (ask watchAsk, did lateAct) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, o := range w.wants {
		ask.Traces = append(ask.Traces, o.q)
	}
	for len(w.acts) > 0 && ask.Act == nil {
		a := w.acts[0]
		w.acts = w.acts[1:]
		if a.act.What == ActStop || time.Since(a.at) < actStands {
			ask.Act, did = &a.act, a
		}
	}
	if len(w.acts) > 0 {
		select {
		case w.wake <- struct{}{}:
		default:
		}
	}
	return ask, did
}

// again puts back an act that was not handed over, as old as it is. A STOP that
// was called meanwhile stands for all before it.
func (w *Watching) again(a lateAct) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.acts) > 0 && w.acts[0].act.What == ActStop {
		if a.outlives() {
			w.acts = slices.Insert(w.acts, 1, a)
		}
		return
	}
	w.acts = append([]lateAct{a}, w.acts...)
}

// exchange asks once. An act that was not handed over is kept.
func (w *Watching) exchange() (err error) {
	if w.conn == nil {
		conn, err := net.DialTimeout("unix", WatchPath(w.log), watchAnswers)
		if err != nil {
			return err
		}
		w.conn = &watchConn{conn, json.NewEncoder(conn), gob.NewDecoder(conn)}
		w.trial, w.cfg, w.figs = nil, nil, nil
	}
	ask, did := w.next()
	asked := time.Now()
	defer func() {
		if err != nil && ask.Act != nil {
			w.again(did)
		}
	}()
	w.conn.SetDeadline(asked.Add(watchAnswers))
	if err := w.conn.enc.Encode(ask); err != nil {
		return err
	}
	var a watchAnswer
	if err := w.conn.dec.Decode(&a); err != nil {
		return err
	}
	if a.Snapshot.Mode == "" {
		return errors.New(a.Refused)
	}
	w.take(&a, asked)
	return nil
}

// take publishes an answer. The snapshot is as old as the capture said, counted
// from the ask: older than it may be, never younger.
func (w *Watching) take(a *watchAnswer, asked time.Time) {
	if a.Trial != nil {
		w.trial = a.Trial
	}
	if a.Config != nil {
		w.cfg = a.Config
	}
	if a.Figures != nil {
		w.figs = a.Figures
	}
	s := a.Snapshot
	s.Figures = w.figs
	s.Trial, s.Config, s.Made = w.trial, w.cfg, asked.Add(-max(a.Age, 0))
	if a.Refused != "" {
		w.refused, w.refusedAt = a.Refused, asked
	}
	if w.refused != "" && asked.Sub(w.refusedAt) < refusalStands {
		s.Refusal = News{T: s.T, Text: w.refused, Loud: true}
	}
	w.keys.Store(a.Keys)
	w.snap.Store(&s)
	w.mu.Lock()
	w.have, w.segs = a.Traces, a.Segments
	w.mu.Unlock()
}
