package export

import (
	"math"
	"time"

	"hawse/logfmt"
)

// wallClock counts the computer's clock on from its last record in the log.
type wallClock struct {
	last  time.Time // zero: unknown
	lastT int64
	scale float64
}

// take looks at a record for what it says of the clock.
func (w *wallClock) take(r *logfmt.Record) {
	key := "wall"
	switch {
	case r.Kind == logfmt.Clock:
	case r.Kind == logfmt.Head && r.Str("part") == "log":
		key = "started"
	case r.Kind == logfmt.Head && r.Str("part") == "clock":
		if scale, ok := r.Float("scale"); ok && scale >= 1 && !math.IsInf(scale, 0) {
			w.scale = scale
		}
		return
	default:
		return
	}
	if t, err := time.Parse(time.RFC3339Nano, r.Str(key)); err == nil {
		w.last, w.lastT = t, r.T
	}
}

// at is the wall clock at a time of the log, in ns since 1970 UTC.
func (w *wallClock) at(t int64) (ns int64, known bool) {
	if w.last.IsZero() {
		return 0, false
	}
	since := t - w.lastT
	if w.scale > 1 {
		since = int64(float64(since) / w.scale)
	}
	now := w.last.Add(time.Duration(since))
	// UnixNano says nothing of years that 64 bits do not hold.
	return now.UnixNano(), now.Year() > 1678 && now.Year() < 2262
}
