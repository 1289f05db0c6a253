package session

import (
	"cmp"
	"context"
	"slices"
	"time"

	"hawse/logfmt"
)

// PointKind is what a replay can jump to.
type PointKind uint8

// The kinds of points.
const (
	AnyPoint   PointKind = iota
	EventPoint           // stage, arming, order, breakout, fall, re-set
	PhasePoint           // the phase changed
	MarkPoint            // a person marked something
	AlarmPoint           // an alarm came, or a stop
	numPointKinds
)

var pointNames = [numPointKinds]string{"point", "event", "phase", "mark", "alarm"}

func (k PointKind) String() string {
	if k >= numPointKinds {
		return "point"
	}
	return pointNames[k]
}

// saidPoints are the words of the record that are points. A point may be of
// several kinds: a stop is an event and an alarm.
var saidPoints = map[string][]PointKind{
	"stage": {EventPoint}, "armed": {EventPoint}, "order": {EventPoint}, "event": {EventPoint},
	"phase": {PhasePoint}, "alarm-up": {AlarmPoint}, "stop-set": {EventPoint, AlarmPoint}, "stop-more": {AlarmPoint},
}

// pointsOf says of which kinds a record is a point; nil: of none.
func pointsOf(r *logfmt.Record) []PointKind {
	switch r.Kind {
	case logfmt.Say:
		return saidPoints[r.Str("what")]
	case logfmt.Act:
		if a := r.Str("act"); a == ActMark || a == ActPass || a == ActCameUp {
			return []PointKind{MarkPoint}
		}
	}
	return nil
}

// point is one that was played over: its time in the pull, and its kinds.
type point struct {
	t     int64
	kinds []PointKind
}

func (p point) is(k PointKind) bool { return k == AnyPoint || slices.Contains(p.kinds, k) }

// goal is where a replay hurries to, without waiting for anything: a time, or the
// next point of a kind behind one.
type goal struct {
	t    int64
	kind PointKind
	by   bool // by kind
}

// pointGap: a point nearer before the present one is the present one. It is
// looked at from just behind it.
const pointGap = int64(50 * time.Millisecond)

// SeekTo plays to a time of the pull, ns, without waiting, and pauses there. What
// lies before the present is played anew from the start.
func (r *Replay) SeekTo(t int64) {
	r.mu.Lock()
	r.aim(goal{t: max(t, 0)})
	r.todo = nil
	r.mu.Unlock()
	r.wake()
}

// SeekBy goes so many ns on, or back, from where the replay stands or, while it
// hurries, from where it will.
func (r *Replay) SeekBy(by int64) { r.move(move{by: by}) }

// Jump goes to the next point of a kind, or to the last one before, and pauses
// there. Without a next one it plays to the end; without one before, to the start.
// While the replay hurries it counts from where that will end.
func (r *Replay) Jump(kind PointKind, back bool) { r.move(move{kind: kind, back: back}) }

// move is a way from where a replay stands.
type move struct {
	by   int64 // ns; 0: to a point
	kind PointKind
	back bool
}

// movesWait bounds how many moves wait for the one before: no hand is so far ahead.
const movesWait = 1000

func (r *Replay) move(m move) {
	r.mu.Lock()
	switch g := r.goal; {
	case g == nil:
		r.aim(r.goalOf(m))
	case m.by != 0 && !g.by && len(r.todo) == 0: // no need to stop on the way
		r.aim(goal{t: max(g.t+m.by, 0)})
	case len(r.todo) < movesWait:
		r.todo = append(r.todo, m)
	}
	r.mu.Unlock()
	r.wake()
}

// goalOf is where a move leads from the present; r.mu is held.
func (r *Replay) goalOf(m move) goal {
	now, to := r.played(), int64(0)
	switch {
	case m.by != 0:
		return goal{t: max(now+m.by, 0)}
	case !m.back:
		return goal{t: now, kind: m.kind, by: true}
	}
	for _, p := range r.points {
		if p.t < now-pointGap && p.is(m.kind) {
			to = p.t
		}
	}
	return goal{t: to}
}

// aim has the replay hurry to a goal; r.mu is held.
func (r *Replay) aim(g goal) { r.goal, r.rewound = &g, false }

// arrived goes on with the next move that waits, and says whether there was one.
// At the end of the log only one that leads back counts. r.mu is held.
func (r *Replay) arrived(end bool) bool {
	r.goal, r.rewound = nil, false
	for len(r.todo) > 0 {
		m := r.todo[0]
		r.todo = r.todo[1:]
		if !end || m.back || m.by < 0 {
			r.aim(r.goalOf(m))
			return true
		}
	}
	return false
}

// Hurrying says whether it is on its way to where it was sent: in a long log that
// takes a while.
func (r *Replay) Hurrying() bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.goal != nil
}

// Linger has Run wait at the end of the log, for a person to go back, until its
// context ends. It is to be called before Run.
func (r *Replay) Linger() { r.linger = true }

// played is the time of the newest record in the pull; r.mu is held.
func (r *Replay) played() int64 { return r.whole.At(r.fold.last.T) }

// note keeps a record that is a point, or of which Core says one now; the Judge's
// words stand in the log by themselves. r.mu is held.
func (r *Replay) note(rec *logfmt.Record) {
	var kinds []PointKind
	if rec.Kind != logfmt.Say || rec.Str("src") == "judge" {
		kinds = pointsOf(rec)
	}
	if rec.Kind != logfmt.Say {
		for i := range r.fold.step.Says {
			kinds = append(kinds, pointsOf(&r.fold.step.Says[i])...)
		}
	}
	if r.said.about(r.path, rec.N) {
		kinds = append(kinds, MarkPoint)
	}
	if t := r.whole.At(rec.T); len(kinds) > 0 && (len(r.points) == 0 || t >= r.points[len(r.points)-1].t) {
		r.points = append(r.points, point{t, slices.Clone(kinds)})
	}
}

// passed puts a point that was made afterwards among those that were played over.
func (r *Replay) passed(p point) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if p.t > r.played() {
		return // it will be played over
	}
	i, _ := slices.BinarySearchFunc(r.points, p.t, func(q point, t int64) int { return cmp.Compare(q.t, t) })
	r.points = slices.Insert(r.points, i, p)
}

// hurry says whether there is somewhere to hurry to. Once there, it pauses.
func (r *Replay) hurry() (on, back bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	g := r.goal
	if g == nil {
		return false, false
	}
	now := r.played()
	there := !g.by && now >= g.t
	if g.by && len(r.points) > 0 {
		last := r.points[len(r.points)-1]
		there = last.t > g.t && last.t >= now-pointGap && last.is(g.kind)
	}
	if !g.by && g.t < now-pointGap && !r.rewound {
		return true, true
	}
	if there && !r.arrived(false) {
		r.paused.Store(true)
		return false, false
	}
	return true, false
}

// rewind puts the replay back to its start, to be played anew.
func (r *Replay) rewind() error {
	r.file.Close()
	r.mu.Lock()
	r.parts, r.fold, r.past, r.whole, r.judge, r.points = r.all, nil, nil, Whole{}, nil, nil
	r.rewound = true
	r.mu.Unlock()
	return r.open()
}

// wait is at the end of the log: true when a person wants to go back.
func (r *Replay) wait(ctx context.Context) bool {
	for {
		r.mu.Lock()
		g := r.goal
		if g != nil && (g.by || g.t >= r.played()-pointGap) { // nothing lies behind the end
			r.arrived(true)
			g = r.goal
		}
		r.mu.Unlock()
		if g != nil {
			return true
		}
		select {
		case <-r.nudge:
		case <-r.steps:
		case <-ctx.Done():
			return false
		}
	}
}
