package deck

import (
	"math"
	"time"

	"hawse/trial"
)

// The lever's places.
const (
	leverStop = "stop"
	leverHaul = "haul"
	leverEase = "ease"
)

// winch turns the lever and the relay into a speed. It hauls only with the
// relay closed and pays out always. It takes ramp to come to speed, and when
// its order is gone it runs on for a moment before it slows down.
//
// A relay that closes starts nothing: after it has been open, hauling begins
// only when the lever is put to haul anew. A scripted operator does that some
// time after the relay has closed; a person must give the order again.
type winch struct {
	haulAt, easeAt trial.Speed // what the lever gives
	ramp, runOn    float64     // s
	answer         int64       // ns until a scripted operator hauls again

	lever    string
	blocked  bool  // the relay has been open since the lever was put to haul
	closedAt int64 // when the relay last closed

	aim   trial.Speed // what the drive is told, positive hauling
	was   trial.Speed // the aim before, for the length of the ramp
	delay float64     // s of run-on left
	v     trial.Speed // now
}

// put moves the lever.
func (w *winch) put(lever string, relayClosed bool) {
	w.lever = lever
	w.blocked = lever == leverHaul && !relayClosed
}

// relay tells the winch that the relay changed.
func (w *winch) relay(t int64, closed bool) {
	if closed {
		w.closedAt = t
	} else if w.lever == leverHaul {
		w.blocked = true
	}
}

// operate is the scripted operator, who answers a relay that has closed again.
func (w *winch) operate(t int64, relayClosed bool) {
	if w.blocked && relayClosed && t-w.closedAt >= w.answer {
		w.put(leverHaul, true)
	}
}

// move lets dt seconds pass and returns the line hauled in them. How the time
// is cut into calls changes nothing.
func (w *winch) move(dt float64, relayClosed bool) trial.Length {
	var aim trial.Speed
	switch {
	case w.lever == leverHaul && relayClosed && !w.blocked:
		aim = w.haulAt
	case w.lever == leverEase:
		aim = -w.easeAt
	}
	if aim != w.aim {
		if w.v != 0 && w.v*aim <= 0 {
			w.delay = w.runOn
		}
		w.was, w.aim = w.aim, aim
	}
	var out trial.Length
	if w.delay > 0 {
		d := min(w.delay, dt)
		out += trial.Length(float64(w.v) * d)
		w.delay -= d
		dt -= d
	}
	if dt <= 0 {
		return out
	}
	if w.v == w.aim {
		return out + trial.Length(float64(w.v)*dt)
	}
	full := math.Max(math.Abs(float64(w.aim)), math.Abs(float64(w.was)))
	need := math.Abs(float64(w.aim-w.v)) / full * w.ramp
	if need <= dt {
		out += trial.Length(float64(w.v+w.aim)/2*need + float64(w.aim)*(dt-need))
		w.v = w.aim
		return out
	}
	v := w.v + (w.aim-w.v)*trial.Speed(dt/need)
	out += trial.Length(float64(w.v+v) / 2 * dt)
	w.v = v
	return out
}

func seconds(d time.Duration) float64 { return d.Seconds() }
