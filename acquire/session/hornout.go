package session

import (
	"bytes"
	"math"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
)

// hornTry is how long horn and lamp are on when they are tried.
const hornTry = int64(1e9)

// hornOut drives horn and lamp from the guard's state: the horn sounds while an
// alarm of priority alarm or emergency has not been acknowledged, the lamp
// shines while a stop is in force. It does its best and no more: nothing waits
// for it, and its loss is a warning.
type hornOut struct {
	owner      poster
	form       acquire.HornForm
	every      int64 // ns between two messages that say the same, in the capture's own clock
	try        int64 // how long a try lasts, in that clock
	until      int64 // a try is on until then
	horn, lamp bool
	said       bool
	last       int64 // when the last message was posted
	buf        []byte

	told []byte // what the record last said was sent
}

// init: scale is how much faster than real time the capture's clock runs.
func (o *hornOut) init(owner poster, form acquire.HornForm, scale float64) {
	o.owner, o.form = owner, form
	o.every = int64(float64(form.Every()) * scale)
	o.try = int64(float64(hornTry) * scale)
	o.until = math.MinInt64
}

// after is called when a record has been folded, like [stopOut.after].
func (o *hornOut) after(t int64, g *safety.State) {
	if o.owner == nil {
		return
	}
	trying := t < o.until
	horn, lamp := sounds(g) || trying, g.Order != safety.NoOrder || trying
	switch {
	case !o.said && !horn && !lamp:
		return // both are off as the port opens
	case o.said && horn == o.horn && lamp == o.lamp && t-o.last < o.every:
		return
	}
	o.said, o.horn, o.lamp, o.last = true, horn, lamp, t
	o.buf = o.form.Signal(o.buf[:0], horn, lamp)
	o.owner.Post(o.buf)
}

// sounds says whether an alarm waits to be seen that the horn is for.
func sounds(g *safety.State) bool {
	for i := range g.Alarms {
		if a := &g.Alarms[i]; a.Priority >= safety.AlarmPriority && a.Unseen() {
			return true
		}
	}
	return false
}

// tryOut sounds horn and lamp for a second.
func (o *hornOut) tryOut(t int64) {
	if o.owner != nil {
		o.until = t + o.try
	}
}

// next is when something is due; far away while nothing is. What only repeats
// itself waits for the next record.
func (o *hornOut) next(t int64) int64 {
	switch {
	case o.owner == nil || !o.horn && !o.lamp:
		return math.MaxInt64
	case t < o.until:
		return min(o.until, o.last+o.every)
	}
	return o.last + o.every
}

// sent makes a tx record of what went out, where it says something new.
func (o *hornOut) sent(it acquire.Item) (r logfmt.Record, news bool) {
	if bytes.Equal(it.Raw, o.told) {
		return r, false
	}
	o.told = append(o.told[:0], it.Raw...)
	return logfmt.Record{T: it.T, Kind: logfmt.Tx, Fields: []logfmt.Field{{Key: "src", Val: SrcHorn}, {Key: "raw", Val: string(it.Raw)}}}, true
}
