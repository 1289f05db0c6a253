package session

import (
	"math"
	"strconv"
	"strings"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
)

// stopOut speaks to the relay at the other end of the stop output, from the
// sequencer only, so that a guard that hangs cannot look alive.
type stopOut struct {
	owner   *acquire.Owner
	beat    int64 // ns between heartbeats, in the capture's own clock
	permit  bool
	session uint32
	count   uint64
	last    int64 // when the last heartbeat was posted
	buf     []byte

	// Heartbeats that went out, kept up to a second for one tx record.
	raw   []byte
	first int64
	lastT int64
}

func (o *stopOut) init(owner *acquire.Owner, beat int64) { o.owner, o.beat = owner, beat }

// after is called when a record has been folded: it arms, beats or opens as the
// guard's state then says.
func (o *stopOut) after(t int64, g *safety.State) {
	if o.owner == nil {
		return
	}
	if !g.Permit {
		if o.permit {
			o.open()
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
	o.buf = o.buf[:0]
	if !g.RelayOn {
		// Said again until the relay answers: a relay takes a session number
		// once only, so repeating it can never close it twice.
		o.buf = acquire.AppendArm(o.buf, o.session)
	}
	o.buf = acquire.AppendBeat(o.buf, o.session, o.count)
	o.owner.Post(o.buf)
}

// next is when a heartbeat is due; far away while none is.
func (o *stopOut) next() int64 {
	if o.owner == nil || !o.permit {
		return math.MaxInt64
	}
	return o.last + o.beat
}

// open tells the relay to open now. If the word is lost, the missing heartbeats
// say the same a moment later.
func (o *stopOut) open() {
	if o.owner == nil || !o.permit {
		return
	}
	o.permit = false
	o.buf = acquire.AppendOpen(o.buf[:0], o.session)
	o.owner.Post(o.buf)
}

// sent gathers what was really written into tx records: heartbeats a second at
// a time, anything else at once.
func (o *stopOut) sent(it acquire.Item) (r logfmt.Record, whole bool) {
	if len(o.raw) == 0 {
		o.first = it.T
	}
	o.raw = append(o.raw, it.Raw...)
	o.lastT = it.T
	if strings.HasPrefix(string(it.Raw), "BEAT ") && it.T-o.first < 1e9 {
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
		logfmt.Field{Key: "lines", Val: strconv.Itoa(strings.Count(string(o.raw), "\n"))},
		logfmt.Field{Key: "raw", Val: string(o.raw)})}
	o.raw = o.raw[:0]
	return r, true
}
