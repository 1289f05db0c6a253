package session

import (
	"math"
	"strconv"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
)

// poster leaves a message for a port and never blocks, like [acquire.Owner].
type poster interface{ Post(msg []byte) }

// stopOut speaks to the relay at the other end of the stop output, from the
// sequencer only, so that a guard that hangs cannot look alive. What it says
// depends on the output's form; nothing here waits for the port.
type stopOut struct {
	owner   poster
	form    acquire.StopForm
	beat    int64 // ns between heartbeats, in the capture's own clock
	again   int64 // ns between two OPENs while hauling is not permitted; 0: once
	permit  bool
	session uint32 // of the last permit; 0 before the first
	count   uint64
	last    int64 // when the last heartbeat, or the last OPEN, was posted
	buf     []byte

	// Heartbeats that went out, kept up to a second for one tx record.
	raw   []byte
	first int64
	lastT int64
}

// init: scale is how much faster than real time the capture's clock runs.
func (o *stopOut) init(owner poster, form acquire.StopForm, beat int64, scale float64) {
	o.owner, o.form, o.beat = owner, form, beat
	o.again = int64(float64(form.Again()) * scale)
}

// after is called when a record has been folded: it arms, beats or opens as the
// guard's state then says.
func (o *stopOut) after(t int64, g *safety.State) {
	if o.owner == nil {
		return
	}
	if !g.Permit {
		if o.permit || o.again > 0 && o.session != 0 && t-o.last >= o.again {
			o.sayOpen(t)
		}
		return
	}
	if !o.permit || g.Session != o.session {
		o.permit, o.session, o.count, o.last = true, g.Session, 0, t-o.beat
	}
	if t-o.last < o.beat {
		return
	}
	o.last = t
	o.count++
	o.buf = o.form.Beat(o.buf[:0], o.session, o.count, g.RelayOn)
	o.owner.Post(o.buf)
}

// next is when a heartbeat is due; far away while none is.
func (o *stopOut) next() int64 {
	if o.owner == nil || !o.permit {
		return math.MaxInt64
	}
	return o.last + o.beat
}

// open tells the relay to open now. If the message is lost, the missing
// heartbeats say the same a moment later.
func (o *stopOut) open(t int64) {
	if o.owner != nil && o.permit {
		o.sayOpen(t)
	}
}

func (o *stopOut) sayOpen(t int64) {
	o.permit, o.last = false, t
	o.buf = o.form.Open(o.buf[:0], o.session)
	o.owner.Post(o.buf)
}

// sent gathers what was really sent into tx records: heartbeats a second at a
// time, anything else at once.
func (o *stopOut) sent(it acquire.Item) (r logfmt.Record, whole bool) {
	if len(o.raw) == 0 {
		o.first = it.T
	}
	o.raw = append(o.raw, it.Raw...)
	o.lastT = it.T
	if o.form.Class(it.Raw) == acquire.ClassBeat && it.T-o.first < 1e9 {
		return r, false
	}
	return o.rest()
}

// rest returns the record of what was sent and not yet recorded.
func (o *stopOut) rest() (r logfmt.Record, some bool) {
	if len(o.raw) == 0 {
		return r, false
	}
	r = logfmt.Record{T: o.lastT, Kind: logfmt.Tx, Fields: append(make([]logfmt.Field, 0, 5),
		logfmt.Field{Key: "src", Val: SrcStop},
		logfmt.Field{Key: "t0", Val: logfmt.FormatNs(o.first)},
		logfmt.Field{Key: "lines", Val: strconv.Itoa(o.form.Count(o.raw))},
		logfmt.Field{Key: "raw", Val: string(o.raw)})}
	o.raw = o.raw[:0]
	return r, true
}
