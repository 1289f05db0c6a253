package safety

import (
	"math"

	"hawse/trial"
)

// next is how the line stands as another stage begins. What was hauled since a
// place is the difference of two lengths hauled, whether the line is known or not.
func (w *twin) next(stage trial.Stage) {
	seats := stage == trial.Preset || stage == trial.Pull
	x := w.hauled + w.base // as far as it was known last
	inLane, inWaits := x-w.laneBase, x-w.waitsBase
	w.stage, w.since, w.goesOn = stage, w.t, false
	w.hauled, w.base, w.hasBase = 0, 0, w.line.HasX
	if w.hasBase {
		w.base = float64(w.line.X)
	}
	from := func(base, used float64) { // the stage goes on that began there
		if w.hasBase {
			w.base, w.hauled = base, float64(w.line.X)-base
		} else {
			w.hauled = used
		}
	}
	switch {
	case seats && stage == w.lane:
		from(w.laneBase, inLane)
		w.laneBase = w.base
	case seats:
		w.lane, w.laneBase = stage, w.base
	case stage != trial.Hold && stage != trial.Ease && stage != trial.Stopped:
		w.lane, w.laneBase = trial.StandBy, 0
	case !w.hasBase && w.lane != trial.StandBy:
		w.laneBase = -inLane
	}
	if w.waits != nil && w.waits.Stage == stage {
		w.since, w.goesOn = w.waitsAt-w.waits.For, true
		from(w.waitsBase, inWaits)
		if w.lane == stage {
			w.laneBase = w.base
		} else if w.lane != trial.StandBy && !w.hasBase {
			w.laneBase = inWaits - inLane
		}
	}
	w.waits, w.most = nil, w.hauled
}

// tie: the line has a zero, or another one; what was hauled stays what it was.
// The first time after a log broke off, the rode says what came in meanwhile.
func (w *twin) tie(counted bool) {
	base := float64(w.line.X) - w.hauled
	off := func(place float64) float64 { return base + (place - w.base) }
	lane, waits := off(w.laneBase), off(w.waitsBase)
	w.base, w.hasBase = base, true
	came := 0.0
	if w.outThen > 0 && (w.waits != nil || w.goesOn || w.lane != trial.StandBy) {
		came = w.outThen - float64(w.line.RodeOut)
		if came < 0 && !counted {
			came = 0
		}
	}
	w.outThen = 0
	if w.lane != trial.StandBy {
		w.laneBase = lane - came
	}
	if w.waits != nil {
		w.waitsBase = waits - came
	}
	if w.goesOn || w.lane != trial.StandBy && w.stage == w.lane {
		w.base -= came
		w.hauled += came
	}
}

// goOn takes over what a log that broke off had used up.
func (w *twin) goOn(u Used) {
	odd := func(v float64) bool { return !(v >= -1e9 && v <= 1e9) }
	for _, v := range []*float64{(*float64)(&u.Hauled), (*float64)(&u.InLane), (*float64)(&u.RodeOut)} {
		if odd(*v) {
			*v = 0
		}
	}
	u.For = max(0, min(u.For, math.MaxInt64/4))
	x := w.hauled + w.base
	w.waits, w.waitsAt, w.waitsBase = &u, w.t, x-float64(u.Hauled)
	w.outThen = math.Max(0, float64(u.RodeOut))
	if u.Lane == trial.Pull || u.Lane == trial.Preset {
		w.lane, w.laneBase = u.Lane, x-float64(u.InLane)
	}
	if u.Stage == w.stage {
		w.waits, w.goesOn, w.since = nil, true, w.t-u.For
		w.hauled = float64(u.Hauled)
		if w.lane != trial.StandBy {
			w.laneBase = w.hauled - (x - w.laneBase)
		}
	}
}

// latch puts a trip in force again, with what was there of its causes.
func (w *twin) latch(l Latched) {
	if w.stop == Trip || !w.isTrip(l.Cause) || l.Cause == NoCause {
		return
	}
	w.ever = w.ever || l.Armed || l.Cause != PersonStop
	w.stop, w.cause, w.at, w.looked = Trip, l.Cause, w.t, true
	w.stops = append(w.stops, twinStop{Trip, l.Cause, w.t})
	w.inStop = map[Cause]bool{}
	for c := NoCause + 1; w.isTrip(c); c++ {
		there := l.There>>c&1 == 1
		if c != l.Cause && c != l.Later && !there {
			continue
		}
		w.inStop[c] = true
		if !there || c == StopOutLost && !w.c.HasStopOut || c == RelayStuck && (!w.c.HasStopOut || w.c.StopMute) ||
			w.onlyWarns(c) || !w.judged(c, w.stage) && c != LoadUnchanged {
			continue
		}
		w.level[c], w.shown[c], w.until[c] = 2, 2, 0
		w.riseTaken = w.riseTaken || c == VesselMoves
	}
	w.watch()
	w.say(max(OrderStop, min(l.Order, OrderAbandon+1)))
	if l.Order > OrderAbandon {
		w.say(OrderStop)
	}
}
