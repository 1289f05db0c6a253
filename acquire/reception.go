package acquire

import (
	"fmt"

	"hawse/trial"
)

// Reception makes frames of what comes from one port, for every instrument on
// it: lines, binary frames, or answers to what was asked. It is pure.
type Reception struct {
	asking *Asking
	frames *scan // nil: not binary frames
	lines  Framer
}

// OnPort are the instruments on the port of a table, its own first; none if that
// table has no port of its own.
func OnPort(t *trial.Trial, table string) []trial.Instrument {
	var out []trial.Instrument
	for _, ins := range t.Instruments() {
		if ins.Table == table && ins.Wire.On == "" {
			out = append([]trial.Instrument{ins}, out...)
		} else if ins.Wire.On == table {
			out = append(out, ins)
		}
	}
	if len(out) == 0 || out[0].Table != table {
		return nil
	}
	return out
}

// NewReception is for the instruments of one port. fits says of a table whether
// a frame may be its answer; nil: any.
func NewReception(on []trial.Instrument, fits map[string]func(frame []byte) bool) *Reception {
	r := &Reception{asking: NewAsking(on, fits)}
	if on[0].Wire.Kind == trial.WireFrames {
		s := newFrameScan(on[0].Wire.Frames)
		r.frames = &s
	}
	return r
}

// Sent takes what went out at t.
func (r *Reception) Sent(t int64, raw []byte) {
	if r.asking != nil {
		r.asking.Asked(t, raw)
	}
}

// Feed takes what came at t and hands out each frame it completes: with the
// table it answers where it was asked for, else without; bad says why it must
// not be decoded. The frame is valid only until emit returns.
func (r *Reception) Feed(t int64, raw []byte, emit func(table string, frame []byte, bad string)) {
	switch {
	case r.asking != nil:
		r.asking.Bytes(t, raw, emit)
	case r.frames != nil:
		r.frames.feed(raw, func(frame []byte, good bool) {
			if good {
				emit("", frame, "")
			} else {
				emit("", frame, BadFrame)
			}
		})
	default:
		r.lines.Feed(raw, func(frame []byte, bad string) { emit("", frame, bad) })
	}
}

// Half says whether the beginning of a line or frame waits for its rest; never
// where it was asked for.
func (r *Reception) Half() bool {
	switch {
	case r.asking != nil:
		return false
	case r.frames != nil:
		return len(r.frames.buf) > 0
	}
	return r.lines.Half()
}

// State is all that a Reception of what is asked holds, for a checksum over it.
func (r *Reception) State() string {
	if r.asking == nil {
		return ""
	}
	a := r.asking
	return fmt.Sprint(a.out, a.at, a.last, a.free, a.hush, a.owed, a.due, a.dumb, a.Answered, a.Missed, a.Late)
}

// Trouble is what a box that is asked has against it, in words, as a frame of its
// shows; "" nothing. bad is why the frame was not decoded.
func (r *Reception) Trouble(frame []byte, bad string) string {
	switch {
	case r.asking == nil:
		return ""
	case bad == BadLate:
		return "it answers too late, or unasked; the answer is dropped"
	case bad == "" && r.asking.qs[0].answer != nil && len(frame) == 5 && frame[1]&fnRefused != 0:
		return refusal(frame[2])
	}
	return ""
}

// BadFrame is why bytes between binary frames are not decoded.
const BadFrame = "no frame, or its checksum does not fit"

// Reset forgets what is half there at t: the stream is broken.
func (r *Reception) Reset(t int64) {
	r.lines.Reset()
	if r.frames != nil {
		r.frames.reset()
	}
	if r.asking != nil {
		r.asking.Reset(t)
	}
}
