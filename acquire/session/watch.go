package session

import (
	"bufio"
	"context"
	"encoding/gob"
	"encoding/json"
	"fmt"
	"net"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"hawse/acquire"
	"hawse/safety"
	"hawse/trial"
)

// A watching screen asks, and the capture answers: never the other way round. It
// asks at its own pace, so one that is slow or stopped holds up only itself. An
// ask is a line of JSON, an answer a gob; a connection is one person's.

// watchAsk is what a watching screen wants: the newest snapshot always, the
// traces it draws, and an act if its person did one.
type watchAsk struct {
	Traces []TraceQuery `json:"traces,omitempty"`
	Act    *Act         `json:"act,omitempty"`
}

// watchAnswer is what it gets. Trial, limits and figures are sent when they change.
type watchAnswer struct {
	Refused  string // why an act was not handed on, or the watcher is not served
	Keys     bool   // the director's keys are taken from here
	Age      time.Duration
	Snapshot Snapshot // without Trial, Config and Figures
	Trial    *trial.Trial
	Config   *safety.Config
	Figures  *trial.Figures // without what their uncertainty is made of
	Traces   []watchTrace
	Segments []trial.Segment
}

type watchTrace struct {
	Query TraceQuery
	Cols  []trial.Col
}

// What one watcher may ask for. The bounds keep a careless or hostile one from
// costing more than a screen does.
const (
	watchersMost = 16
	watchTraces  = 4
	watchCols    = 2000
	watchLine    = 64 << 10
	watchPause   = 20 * time.Millisecond // between two answers to one watcher
	watchPatient = 5 * time.Second       // for a watcher that does not read
)

// WatchPath is where the capture of that log can be watched.
func WatchPath(log string) string { return SocketPath(log + ".watch") }

// ServeWatch serves watching screens until ctx ends, then removes the socket,
// whose permissions are its guard: only this user can open it. A watcher can call
// STOP, and, with keys, do what a director can, but end the log. What it does is
// recorded under its name. The capture waits for none of them.
func ServeWatch(ctx context.Context, v View, log string, keys bool) error {
	l, err := listenGuarded(WatchPath(log), "watching screens", "another capture is watched there")
	if err != nil {
		return err
	}
	defer l.Close()
	var count atomic.Int32
	var u unseen
	ctx, cancel := u.lingering(ctx, v)
	defer cancel()
	acceptAll(ctx, l, func(conn net.Conn) {
		s := watchServer{view: v, keys: keys, unseen: &u, conn: conn, enc: gob.NewEncoder(conn)}
		if count.Add(1) > watchersMost {
			conn.SetReadDeadline(time.Now().Add(watchPatient))
			bufio.NewScanner(conn).Scan() // an answer before the ask might be lost
			s.send(&watchAnswer{Refused: fmt.Sprintf("%d screens watch already", watchersMost)})
		} else {
			s.serve(ctx)
		}
		count.Add(-1)
	})
	return nil
}

// watchServer is one watcher's connection.
type watchServer struct {
	view   View
	keys   bool
	unseen *unseen
	conn   net.Conn
	enc    *gob.Encoder
	trial  *trial.Trial // as sent last
	cfg    *safety.Config
	figs   *trial.Figures
}

func (s *watchServer) serve(ctx context.Context) {
	s.unseen.n.Add(1)
	told := sync.OnceFunc(func() { s.unseen.n.Add(-1) })
	defer told()
	lines := bufio.NewScanner(s.conn)
	lines.Buffer(make([]byte, 0, 4096), watchLine)
	for lines.Scan() {
		var ask watchAsk
		a := watchAnswer{Keys: s.keys}
		if err := json.Unmarshal(lines.Bytes(), &ask); err != nil {
			a.Refused = "not understood: " + err.Error()
		}
		if ask.Act != nil {
			if a.Refused = s.refuse(ask.Act); a.Refused == "" {
				s.view.Do(*ask.Act)
			}
		}
		if !s.send(s.fill(&a, ask)) {
			return
		}
		if a.Snapshot.Ended {
			told()
		}
		select {
		case <-time.After(watchPause):
		case <-ctx.Done():
			return
		}
	}
}

// refuse says why an act is not handed on; "" if it is. It sets the seat: what a
// watcher says of itself is not believed.
func (s *watchServer) refuse(a *Act) string {
	a.Name = acquire.Visible([]byte(a.Name))
	a.Who = safety.Watcher
	switch {
	case a.What == ActStop:
		return ""
	case !s.keys:
		return "this screen watches: it can call STOP and nothing else"
	case a.What == ActEnd || a.What != ActNote && !slices.Contains(Callable, a.What):
		return "a watching screen cannot " + acquire.Visible([]byte(a.What))
	}
	a.Who = safety.Director
	return ""
}

func (s *watchServer) fill(a *watchAnswer, ask watchAsk) *watchAnswer {
	snap := s.view.Snapshot()
	a.Snapshot, a.Age = *snap, time.Since(snap.Made)
	a.Snapshot.Trial, a.Snapshot.Config, a.Snapshot.Figures = nil, nil, nil
	if snap.Trial != s.trial {
		a.Trial, s.trial = snap.Trial, snap.Trial
	}
	if snap.Config != s.cfg {
		a.Config, s.cfg = snap.Config, snap.Config
	}
	if snap.Figures != s.figs {
		a.Figures, s.figs = shownFigures(snap.Figures), snap.Figures
	}
	for _, q := range ask.Traces[:min(len(ask.Traces), watchTraces)] {
		if q.Cols = min(q.Cols, watchCols); q.Cols > 0 {
			a.Traces = append(a.Traces, watchTrace{q, s.view.Trace(q, nil)})
		}
	}
	a.Segments = s.view.Segments()
	return a
}

// shownFigures is what a screen draws of figures: no lists, which grow with the
// pull, and no budgets.
func shownFigures(f *trial.Figures) *trial.Figures {
	if f == nil {
		return nil
	}
	out := trial.Figures{Told: f.Told, Quantities: f.Quantities, Phases: f.Phases, Anew: f.Anew}
	for q := range out.Quantities {
		for i := range out.Quantities[q].Read {
			out.Quantities[q].Read[i].Budget = nil
		}
	}
	return &out
}

func (s *watchServer) send(a *watchAnswer) bool {
	s.conn.SetWriteDeadline(time.Now().Add(watchPatient))
	return s.enc.Encode(a) == nil
}
