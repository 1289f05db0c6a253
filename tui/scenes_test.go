package tui

import (
	"fmt"
	"math"
	"sync"
	"time"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// Every figure here is invented: the made-up campaign of the simulated deck.

var sceneStart = time.Date(2024, 5, 14, 14, 20, 0, 0, time.UTC)

// fakeView is a session that stands still: one snapshot, one trace, and a list
// of what was asked of it.
type fakeView struct {
	mu    sync.Mutex
	snap  *session.Snapshot
	trace *trial.Trace
	segs  []trial.Segment
	acts  []session.Act
	asked int
}

func (f *fakeView) Snapshot() *session.Snapshot {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.asked++
	return f.snap
}

func (f *fakeView) Trace(q session.TraceQuery, dst []trial.Col) []trial.Col {
	if q.ByHaul {
		return f.trace.ByHaul(trial.Length(q.From), trial.Length(q.To), q.Cols, dst)
	}
	return f.trace.ByTime(int64(q.From), int64(q.To), q.Cols, dst)
}

func (f *fakeView) Segments() []trial.Segment { return f.segs }

func (f *fakeView) Do(a session.Act) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.acts = append(f.acts, a)
}

func (f *fakeView) set(s *session.Snapshot) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.snap = s
}

func (f *fakeView) did() []session.Act {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]session.Act(nil), f.acts...)
}

func (f *fakeView) pulls() int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.asked
}

// fakePlayer is a fakeView that is a replay.
type fakePlayer struct {
	*fakeView
	paused bool
	speed  float64
	steps  int
	sought []int64
	jumps  []string
}

func (f *fakePlayer) SetPaused(p bool)   { f.paused = p }
func (f *fakePlayer) SetSpeed(v float64) { f.speed = v }
func (f *fakePlayer) Step()              { f.steps++ }
func (f *fakePlayer) SeekBy(ns int64)    { f.sought = append(f.sought, ns) }
func (f *fakePlayer) Jump(k session.PointKind, back bool) {
	f.jumps = append(f.jumps, fmt.Sprintf("%v %v", k, back))
}
func (f *fakePlayer) Paused() bool   { return f.paused }
func (f *fakePlayer) Speed() float64 { return f.speed }

const (
	second = int64(time.Second)
	kN     = trial.Force(1000)
)

func sceneTrial() *trial.Trial {
	t := &trial.Trial{
		Name:   "three grounds (invented)",
		Vessel: trial.Vessel{Name: "workboat (invented)", Fairlead: 1.5},
		Show: trial.Show{
			Tension: trial.ForceUnit{Name: "kN", N: 1000},
			Length:  trial.LengthUnit{Name: "m", M: 1},
			Speed:   trial.SpeedUnit{Name: "m/min", MPS: 1.0 / 60},
		},
		Rode: []trial.Piece{
			{Name: "chain", Length: 10, Weight: 12, EA: 400 * kN, Friction: 0.7, HasFriction: true},
			{Name: "line", Length: 70, Weight: 0.3, EA: 400 * kN},
		},
		Gear:     []trial.Gear{{Name: "swivel", WLL: 10 * kN}},
		Load:     trial.LoadCell{Range: 9.81 * kN},
		Phases:   trial.DefaultPhaseRules(),
		Levels:   trial.Levels{BareRode: 120, DeadWeight: 250, Source: "assumed", Known: true},
		Anchors:  []trial.Anchor{{ID: "A16", Pattern: "A", Mass: 16}},
		Stations: []trial.Station{{Name: "Alder Flat", Bottom: "soft mud", Depth: 6}},
		Runs:     []trial.Run{{ID: "A1", Anchor: "A16", Station: "Alder Flat", Lane: 7, Kind: trial.KindPull, Payout: 60, Speed: 0.04}},
	}
	for i := range t.Limits {
		t.Limits[i] = trial.Limits{WLLWarn: 0.64, WLLStop: 0.8, SilentWarn: time.Second, SilentStop: 2 * time.Second}
	}
	t.Limits[trial.Pull].TensionWarn = 6.4 * kN
	t.Limits[trial.Pull].TensionStop = 8 * kN
	t.Limits[trial.Pull].ScopeMin = 4
	t.Limits[trial.Pull].Duration = 20 * time.Minute
	return t
}

// textbook is the tension of an invented pull at x metres hauled.
func textbook(x float64) trial.Force {
	ripple := 0.06 * math.Sin(x*7) * math.Sin(x*23)
	switch {
	case x < 2:
		return trial.Force(80 + 200*ripple)
	case x < 4:
		return trial.Force(80 + (x-2)*(x-2)*80)
	case x < 18:
		k := (x - 4) / 14
		return trial.Force(400 + 2700*math.Pow(k, 0.7) + 1500*ripple)
	case x < 24:
		return trial.Force(2900 + 2500*ripple)
	}
	return trial.Force(2900 - 100*(x-24) + 1500*ripple)
}

// tooGood is one that never stops rising.
func tooGood(x float64) trial.Force {
	return trial.Force(max(80, (x-2)*2000) + 60*math.Sin(x*31))
}

// pulled is the trace after x metres hauled at 2.4 m/min, 10 samples a second,
// with the tension of f.
func pulled(x float64, f func(float64) trial.Force) (*trial.Trace, int64) {
	tr := &trial.Trace{}
	t := 60 * second
	for at := 0.0; at <= x; at += 0.004 {
		tr.Add(trial.Point{T: t, Tension: f(at), X: trial.Length(at), Stage: trial.Pull})
		t += second / 10
	}
	return tr, t
}

// scene is a screen to look at, and a golden file.
type scene struct {
	name  string
	snap  *session.Snapshot
	trace *trial.Trace
	stale time.Duration     // how old the snapshot is
	keys  []string          // pressed before looking
	plain bool              // NO_COLOR
	play  func(*fakePlayer) // a replay

	earlier *session.EarlierPulls // nil: nobody looks for any
	said    *session.Comments     // a replay's; nil: nothing can be said
}

func base(stage trial.Stage, t int64, trace *trial.Trace) *session.Snapshot {
	tl := sceneTrial()
	run := tl.Runs[0]
	s := &session.Snapshot{
		T: t, N: 4321, Wall: sceneStart.Add(time.Duration(t)), Made: sceneStart, Mode: "live", Speed: 1,
		Trial: tl, Run: run,
		Config: &safety.Config{Limits: tl.Limits, Weakest: "swivel", WLL: 10 * kN, Range: 9.81 * kN, Slack: 180},
		Load:   session.Stream{Src: "load", Port: "deck/load", State: "open", LastAt: t - second/10, HeardAt: t - second/10, Rate: 10, Good: 4000, LastText: "+0301.1 kgf"},
		Line:   session.Stream{Src: "line", Port: "deck/line", State: "open", LastAt: t - second/5, HeardAt: t - second/5, Rate: 5, Good: 2000, LastText: "N +0012345"},
		Stop:   session.Stream{Src: "stop", Port: "deck/stop", State: "open", LastAt: t - second/3, HeardAt: t - second/3, Rate: 1, Good: 400, LastText: "RELAY CLOSED 41*1F"},
		Log: session.LogState{
			Path: "runs/A1-20240514.log", Bytes: 1_240_000, Written: 4321, OnDisk: 4318, OldestAge: 80_000_000,
		},
		Relay: session.Relay{Heard: true, Reason: "boot", At: t - second/3},
		Tension: session.Tension{
			Known: true, Now: 80, Big: 80, Indicated: 80, At: t - second/10, Rate: 0,
		},
		Haul:  session.Haul{Speed: trial.Speed(math.NaN())},
		Peak:  session.Peak{X: trial.Length(math.NaN()), Scope: math.NaN()},
		Phase: trial.Slack, PhaseSince: second,
	}
	s.Guard.Stage, s.Guard.StageSince, s.Guard.T = stage, 0, t
	if trace != nil {
		s.Span = trace.Span()
	}
	return s
}

// hauling makes a snapshot of the pull after x metres.
func hauling(x float64, f func(float64) trial.Force) (*session.Snapshot, *trial.Trace) {
	tr, t := pulled(x, f)
	s := base(trial.Pull, t, tr)
	g := &s.Guard
	g.StageSince = 60 * second
	g.Armed, g.EverArmed, g.Permit, g.Session, g.RelayOn = true, true, true, 41, true
	g.HasStageX = true
	s.Relay = session.Relay{Heard: true, Closed: true, At: t - second/3}
	now := f(x)
	out := trial.Length(60 - x)
	scope := float64(out) / 7.5
	s.Tension.Now, s.Tension.Big, s.Tension.Rate = now, now, float64(f(x)-f(x-0.08))/2
	s.Haul = session.Haul{
		Known: true, X: trial.Length(x), InStage: trial.Length(x), Speed: 0.04, RodeOut: out, Depth: 6, DepthOK: true,
		Scope: scope, ScopeOK: true, Scope2: float64(out) / 6, At: t - second/5,
	}
	s.Anchor = anchorOf(s.Trial, now, trial.Length(x))
	s.Figures = figuresOf(x, f)
	s.Phase = trial.Embedding
	s.PhaseSince = t - 100*second
	s.Margins = []safety.Margin{
		{Cause: safety.MinimumScope, Now: scope, Warn: math.NaN(), Limit: 4, Left: scope - 4, Share: (8 - scope) / 4, In: math.NaN()},
		{Cause: safety.TensionLimit, Now: float64(now), Warn: 6400, Limit: 8000, Left: float64(8*kN - now), Share: float64(now) / 8000, In: math.NaN()},
		{Cause: safety.WLLShare, Now: float64(now) / 10000, Warn: 0.64, Limit: 0.8, Left: 0.8 - float64(now)/10000, Share: float64(now) / 8000, In: math.NaN()},
		{Cause: safety.StageDuration, Now: float64(t-g.StageSince) / 1e9, Warn: math.NaN(), Limit: 1200, Left: 1200 - float64(t-g.StageSince)/1e9, Share: 0.3, In: math.NaN()},
	}
	peak, peakX := trial.Force(0), 0.0
	for at := 0.0; at <= x; at += 0.004 {
		if v := f(at); v > peak {
			peak, peakX = v, at
		}
	}
	s.Peak = session.Peak{
		Known: true, Value: peak, At: 60*second + int64(peakX/0.04*1e9), X: trial.Length(peakX), Scope: (60 - peakX) / 7.5,
		Left: float64(now) < 0.9*float64(peak),
	}
	s.News = []session.News{
		{T: 60 * second, Text: "director: stage pull"},
		{T: 58 * second, Text: "director: armed, hauling permitted"},
		{T: 31 * second, Text: "director: rode out 60 m, as planned"},
		{T: 30 * second, Text: "director: depth 6 m, as planned"},
	}
	return s, tr
}

// segsOf is the phases of an invented pull, as far as it has come.
func segsOf(s *session.Snapshot) (segs []trial.Segment) {
	x := float64(s.Haul.X)
	from := 0.0
	for _, g := range []struct {
		p  trial.Phase
		to float64
	}{{trial.Slack, 2}, {trial.TakeUp, 4}, {trial.Embedding, 18}, {trial.Plateau, 24}, {trial.Decline, 60}} {
		if !s.Haul.Known || from >= x {
			break
		}
		to := math.Min(g.to, x)
		t := func(x float64) int64 { return 60*second + int64(x/0.04*1e9) }
		segs = append(segs, trial.Segment{Phase: g.p, X0: trial.Length(from), X1: trial.Length(to), T0: t(from), T1: t(to)})
		from = to
	}
	return segs
}

// anchorOf is what the statics make of a tension; the anchor has come nine
// tenths of what was hauled.
func anchorOf(tl *trial.Trial, tension trial.Force, x trial.Length) session.Anchor {
	h := trial.NewHang(tl)
	h.Follow(tension, x, 60-x, 7.5)
	s, ok := h.State()
	if !ok {
		return session.Anchor{Why: h.Why().Error()}
	}
	return session.Anchor{
		Known: true, Tension: trial.Force(s.AnchorT), Angle: trial.Angle(s.AnchorAngle), Lifted: s.AnchorV > 0, Lies: s.Regime.String(),
		OnBottom: trial.Length(s.OnBottom), Span: trial.Length(s.Span), Stiff: s.StiffnessCounted,
		HasTravel: tension > 250, Travel: 0.9 * x, TravelU: 0.2, Bare: 110, Dead: 240, Levels: "assumed",
	}
}

// tripped puts a stop in force.
func tripped(s *session.Snapshot, c safety.Cause, value, limit float64, order safety.Order) {
	g := &s.Guard
	g.Permit = false
	g.Order, g.OrderSince = order, s.T-4*second
	g.Stop = safety.Stop{Kind: safety.Trip, Cause: c, At: s.T - 4*second, Value: value, Limit: limit}
	g.Alarms[c] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Emergency, Since: s.T - 4*second, Value: value, Limit: limit}
	s.Relay = session.Relay{Heard: true, Reason: "open", At: s.T - 3*second}
	s.News = append([]session.News{
		{T: s.T - 3*second, Text: "relay open: haul taken away"},
		{T: s.T - 4*second, Text: "STOP: " + c.Title(), Loud: true},
	}, s.News...)
}

func scenes() []scene {
	var list []scene
	add := func(s scene) { list = append(list, s) }

	standby := base(trial.StandBy, 42*second, nil)
	standby.News = []session.News{{T: second, Text: "log opened"}}
	standby.Margins = []safety.Margin{
		{Cause: safety.WLLShare, Now: 0.008, Warn: 0.64, Limit: 0.8, Left: 0.792, Share: 0.01, In: math.NaN()},
	}
	gauges, gtr := hauling(16, textbook)
	fitInstruments(gauges)
	add(scene{name: "instruments", snap: gauges, trace: gtr})
	add(scene{name: "standby", snap: standby, trace: &trial.Trace{}})

	far, near := base(trial.StandBy, 42*second, nil), base(trial.PayOut, 42*second, nil)
	far.Aids.Drop = session.Drop{Shown: true, Known: true, Bearing: 0.7853981633974483, Distance: 31.4, Within: 2}
	near.Aids.Drop = session.Drop{Shown: true, Known: true, Bearing: 6.2831, Distance: 1.2, Within: 2, Near: true, Antenna: true}
	lost := base(trial.StandBy, 42*second, nil)
	lost.Aids.Drop = session.Drop{Shown: true, Within: 2}
	add(scene{name: "drop-far", snap: far, trace: &trial.Trace{}})
	add(scene{name: "drop-near", snap: near, trace: &trial.Trace{}})
	add(scene{name: "drop-near-director", snap: near, trace: &trial.Trace{}, keys: []string{"4"}})
	add(scene{name: "drop-no-fix", snap: lost, trace: &trial.Trace{}, keys: []string{"4"}})

	pull, tr := hauling(15.3, textbook)
	pull.Mode, pull.Speed, pull.Caption = "demo", 3, "Invented data: a demonstration on a simulated deck, played by a script."
	add(scene{name: "pull", snap: pull, trace: tr})
	add(scene{name: "pull-time", snap: pull, trace: tr, keys: []string{"t"}})
	add(scene{name: "help", snap: pull, trace: tr, keys: []string{"?"}})
	add(scene{name: "winch-help", snap: pull, trace: tr, keys: []string{"1", "?"}})
	add(scene{name: "winch-marks", snap: pull, trace: tr, keys: []string{"1", "m"}})
	add(scene{name: "confirm-next", snap: pull, trace: tr, keys: []string{"n"}})
	add(scene{name: "marks", snap: pull, trace: tr, keys: []string{"m"}})
	add(scene{name: "no-color", snap: pull, trace: tr, plain: true})

	warn, tr := hauling(5.25, tooGood)
	warn.Guard.Alarms[safety.TensionLimit] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: warn.T - second, Value: 6420, Limit: 6400}
	warn.Margins = []safety.Margin{
		{Cause: safety.TensionLimit, Now: 6500, Warn: 6400, Limit: 8000, Left: 1500, Share: 0.81, In: 19},
		{Cause: safety.WLLShare, Now: 0.65, Warn: 0.64, Limit: 0.8, Left: 0.15, Share: 0.81, In: 19},
		warn.Margins[0], warn.Margins[3],
	}
	warn.Phase = trial.Embedding
	add(scene{name: "warning", snap: warn, trace: tr})

	trip, tr := hauling(6.03, tooGood)
	tripped(trip, safety.TensionLimit, 8040, 8000, safety.OrderEase)
	trip.Margins = []safety.Margin{
		{Cause: safety.TensionLimit, Now: 8060, Warn: 6400, Limit: 8000, Left: 0, Share: 1, In: 0},
		{Cause: safety.WLLShare, Now: 0.806, Warn: 0.64, Limit: 0.8, Left: 0, Share: 1, In: 0},
		trip.Margins[0], trip.Margins[3],
	}
	trip.Guard.Alarms[safety.WLLShare] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Emergency, Since: trip.T - 4*second, Value: 0.804, Limit: 0.8}
	add(scene{name: "trip-ease", snap: trip, trace: tr})
	add(scene{name: "no-color-trip", snap: trip, trace: tr, plain: true})

	called, tr := hauling(15.3, textbook)
	tripped(called, safety.PersonStop, 0, 0, safety.OrderStop)
	called.Guard.Stop.By = safety.WinchOperator
	called.Guard.Stop.Acked = true
	called.Guard.Alarms[safety.PersonStop].State = safety.Acknowledged
	called.Refusal = session.News{T: called.T - second, Text: "not re-armed: the winch operator has not repeated it; ask, then press r again", Loud: true}
	add(scene{name: "stop-called", snap: called, trace: tr})

	silent, tr := hauling(9, textbook)
	tr.Gap(silent.T - 3*second)
	silent.T += second
	silent.Tension.Known, silent.Tension.At = false, silent.T-34*second/10
	silent.Load.LastAt, silent.Load.HeardAt, silent.Load.State, silent.Load.Reason = silent.T-34*second/10, silent.T-34*second/10, "lost", "unplugged"
	silent.Load.Rate = 0
	tripped(silent, safety.LoadSilent, 2, 2, safety.OrderStop)
	silent.Guard.Alarms[safety.LoadSilent].Priority = safety.AlarmPriority
	for i := range silent.Margins[1:3] {
		m := &silent.Margins[1+i]
		m.Now, m.Left, m.Share = math.NaN(), math.NaN(), math.NaN()
	}
	add(scene{name: "load-silent", snap: silent, trace: tr})

	stalled, tr := hauling(15.3, textbook)
	add(scene{name: "stalled", snap: stalled, trace: tr, stale: 830 * time.Millisecond})

	end, tr := hauling(30, textbook)
	end.Guard.Permit = false
	end.Guard.Order, end.Guard.OrderSince = safety.OrderStop, end.T-2*second
	end.Guard.Stop = safety.Stop{Kind: safety.PlannedEnd, Cause: safety.MinimumScope, At: end.T - 2*second, Value: 4, Limit: 4}
	end.Next = trial.Ease // there is no hold at the least scope
	end.Relay = session.Relay{Heard: true, Reason: "open", At: end.T - second}
	end.Phase = trial.Decline
	end.Margins[0].Left = 0
	end.Haul.Speed = 0
	add(scene{name: "planned-end", snap: end, trace: tr})

	nolevels, tr := hauling(15.3, textbook)
	nolevels.Trial.Levels = trial.Levels{}
	nolevels.Phase = trial.Unclear
	nolevels.Log.Fault = "no space left on device; free some, the record is kept in memory meanwhile"
	nolevels.Guard.Alarms[safety.RecordFailing] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: nolevels.T - 7*second}
	nolevels.Trial.Show = trial.Show{
		Tension: trial.ForceUnit{Name: "lbf", N: 4.4482216152605},
		Length:  trial.LengthUnit{Name: "ft", M: 0.3048},
		Speed:   trial.SpeedUnit{Name: "ft/min", MPS: 0.3048 / 60},
	}
	add(scene{name: "no-levels", snap: nolevels, trace: tr})

	over, tr := hauling(6.0, tooGood)
	over.Tension.Known, over.Tension.Over = false, true
	tripped(over, safety.LoadOverRange, 9810, 9810, safety.OrderStop)
	add(scene{name: "over-range", snap: over, trace: tr})

	abandon, tr := hauling(6.0, tooGood)
	tripped(abandon, safety.TensionLimit, 8040, 8000, safety.OrderAbandon)
	add(scene{name: "abandon", snap: abandon, trace: tr})

	list = append(list, guardScenes()...)

	unplanned := base(trial.StandBy, 42*second, nil)
	unplanned.Run = trial.Run{}
	unplanned.Trial = nil
	unplanned.Config = nil
	unplanned.Tension = session.Tension{At: -1, Rate: math.NaN()}
	unplanned.Load = session.Stream{Src: "load", LastAt: -1, HeardAt: -1}
	unplanned.Line = session.Stream{}
	unplanned.Stop = session.Stream{}
	add(scene{name: "no-trial", snap: unplanned, trace: &trial.Trace{}})

	up, tr := hauling(28, textbook)
	up.Guard.Stage, up.Tension.Now, up.Tension.Big = trial.Recover, 30, 30
	add(scene{name: "anchor-up", snap: up, trace: tr, keys: []string{"x", "8"}})
	add(scene{name: "anchor-up-angle", snap: up, trace: tr, keys: []string{"x", "8", "2", "2", "3", "1", "3", "2", "."}})
	add(scene{name: "anchor-up-zero", snap: up, trace: tr, keys: []string{"x", "8", "1", "1", "y", "y", "1"}})
	add(scene{name: "anchor-up-words", snap: up, trace: tr, keys: []string{"x", "8", "1", "1", "y", "y", "1", "1", "w", "e", "e", "d"}})
	add(scene{name: "anchor-up-whole", snap: up, trace: tr, keys: []string{"x", "8", "2", "2", "3", "1", "3", "2", "y", "7", "y", "2", "1", "w", "e", "e", "d", "enter"}})

	both, tr := hauling(28, textbook)
	both.Marks = []session.Marked{{T: both.T - 200*second, X: 20, Text: "wake or swell"}, {T: both.T - second/2, X: 28, Text: "felt or heard"}}
	add(scene{name: "both-axes", snap: both, trace: tr, keys: []string{"t", "t"}})
	add(scene{name: "closer", snap: both, trace: tr, keys: []string{"up", "up", "left"}})
	add(scene{name: "closer-time", snap: both, trace: tr, keys: []string{"t", "up", "left", "left"}})

	ended, tr := hauling(30, textbook)
	ended.Ended, ended.EndReason = true, "ended at the screen"
	ended.Log.Sealed = true
	add(scene{name: "ended", snap: ended, trace: tr})

	replay, tr := hauling(22, textbook)
	replay.Mode = "replay"
	list = append(list, besideScenes()...)
	add(scene{name: "replay", snap: replay, trace: tr, play: func(p *fakePlayer) { p.speed, p.paused = 8, true }})
	return list
}

// allScenes is made once: its snapshots are not changed, only copied.
var allScenes = sync.OnceValue(scenes)

func sceneNamed(name string) scene {
	for _, s := range allScenes() {
		if s.name == name {
			return s
		}
	}
	panic("no scene " + name)
}
