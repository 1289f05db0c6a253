package session

import (
	"context"
	"io"
	"sync/atomic"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
)

// A capture that ends takes its socket with it. So that those who watch see an
// end, and not a capture that says nothing any more, it waits a moment until each
// has the last snapshot; and a screen that missed it reads in the log that it was
// ended.

// lastWord is how long watchers may take to fetch the last snapshot: a few times
// the pause between two asks.
const lastWord = 500 * time.Millisecond

// unseen counts the watchers who have not been told the end.
type unseen struct{ n atomic.Int32 }

// lingering is a context that ends after ctx: once nobody is left who does not
// know that the view has ended, or lastWord later.
func (u *unseen) lingering(ctx context.Context, v View) (context.Context, context.CancelFunc) {
	stay, cancel := context.WithCancel(context.WithoutCancel(ctx))
	stop := context.AfterFunc(ctx, func() {
		defer cancel()
		for end := time.Now().Add(lastWord); u.n.Load() > 0 && v.Snapshot().Ended && time.Now().Before(end); {
			time.Sleep(5 * time.Millisecond)
		}
	})
	return stay, func() { stop(); cancel() }
}

// endedBy returns the snapshot of a capture that is not there any more, as the end
// of its log leaves it; nil where the log has no end, or cannot be read.
func endedBy(log string, last *Snapshot) *Snapshot {
	end, err := endOf(log)
	if err != nil || end == nil {
		return nil
	}
	s := *last
	s.Ended, s.EndReason, s.Made = true, acquire.Visible([]byte(end.Str("reason"))), time.Now()
	s.Guard.Permit, s.Tension.Known, s.Haul.Known = false, false, false
	s.Log.Sealed, s.Log.Written, s.Log.OnDisk, s.Log.OldestAge = true, end.N, end.N, 0
	for _, p := range []*Stream{&s.Load, &s.Line, &s.Stop} {
		p.State = acquire.StateClosed
	}
	return &s
}

// endOf is the record that ends a log, nil if there is none in its last lines.
func endOf(path string) (*logfmt.Record, error) {
	f, err := logfmt.OpenFile(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	r := logfmt.NewReader(io.NewSectionReader(f, max(info.Size()-endWithin, 0), endWithin))
	for r.Next() {
		if rec := r.Record(); rec.Kind == logfmt.End {
			return &rec, nil
		}
	}
	return nil, r.Err()
}
