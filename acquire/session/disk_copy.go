package session

import (
	"errors"
	"fmt"
	"time"

	"hawse/logfmt"
)

// recordCopy is the second file of the record, on another disk: the same lines,
// by a writer and a syncer of its own. A nil recordCopy is none.
type recordCopy struct {
	log    *logfmt.Log
	bad    bool // told
	sealed bool
	fault  error // of its end
	room   forecast
	ended  chan error
}

func openCopy(cfg Config) (*recordCopy, error) {
	opt := cfg.Log
	if cfg.CopyFS != nil {
		opt.FS = cfg.CopyFS
	}
	log, err := logfmt.Create(cfg.CopyPath, opt)
	if err != nil {
		return nil, fmt.Errorf("the second file of the record: %w", err)
	}
	return &recordCopy{log: log}, nil
}

// keepRecord hands a record to the log and to its copy. Both only read its
// fields.
func (c *Capture) keepRecord(r logfmt.Record) {
	c.log.Put(r)
	if c.copy != nil {
		c.copy.log.Put(r)
	}
}

// watchCopy tells when the copy fails and when it is well again. The guard does
// not judge it: the log itself is the record.
func (c *Capture) watchCopy(now int64) {
	k := c.copy
	if k == nil {
		return
	}
	st := k.log.Status()
	why := ""
	switch {
	case st.Dropped > 0:
		why = fmt.Sprintf("%d records are not in the copy: it has a hole", st.Dropped)
	case st.Err != nil:
		why = st.Err.Error()
	default:
		why = c.lateText(now, st)
	}
	switch bad := why != ""; {
	case bad == k.bad:
	case bad:
		k.bad = true
		c.port(SrcCopy, stateFailing, why)
	default:
		k.bad = false
		c.port(SrcCopy, stateGood, "")
	}
}

// good says that the copy has everything as of now.
func (k *recordCopy) good() bool { return k != nil && !k.bad }

// seal begins to end the copy beside the log.
func (k *recordCopy) seal(end logfmt.Record) {
	if k == nil {
		return
	}
	k.ended = make(chan error, 1)
	go func() {
		err := k.log.Seal(end)
		if errors.Is(err, logfmt.ErrNotSealed) {
			err = errors.Join(err, k.log.Close())
		}
		k.ended <- err
	}()
}

// wait waits for the end that seal began, as long as the disk makes progress.
func (k *recordCopy) wait() {
	if k == nil {
		return
	}
	k.fault = <-k.ended
	k.sealed = k.fault == nil
}

// flush begins to bring everything to the disk; close waits for it.
func (k *recordCopy) flush() {
	if k == nil || k.ended != nil {
		return
	}
	k.ended = make(chan error, 1)
	go func() { k.ended <- k.log.Close() }()
}

func (k *recordCopy) close() {
	if k == nil {
		return
	}
	k.flush()
	k.fault = <-k.ended
}

func (k *recordCopy) shot(c *Capture) (s CopyState) {
	if k == nil {
		return s
	}
	st := k.log.Status()
	s = CopyState{Path: st.Path, Bytes: st.Bytes, Written: st.Written, OnDisk: st.OnDisk, Lost: st.Dropped, Sealed: k.sealed, LeftFor: k.room.left}
	if st.OldestNotOnDisk >= 0 {
		s.OldestAge = int64(float64(max(c.t-st.OldestNotOnDisk, 0)) / c.scale)
	}
	switch {
	case k.fault != nil:
		s.Fault = k.fault.Error()
	case st.Err != nil:
		s.Fault = st.Err.Error()
	}
	return s
}

// awake looks whether the computer was suspended: the program's own clock does
// not show it. It comes before anything is judged, so that no heartbeat of the
// old session goes out after a sleep.
func (c *Capture) awake() {
	if c.cfg.Slept == nil {
		return
	}
	slept, known := c.cfg.Slept()
	if !known {
		return
	}
	by := slept - c.slept
	c.slept = slept
	if by < sleptLeast {
		return
	}
	c.put(logfmt.Record{T: c.cfg.Clock.Now(), Kind: logfmt.PortEvent, Fields: []logfmt.Field{{Key: "src", Val: SrcComputer},
		{Key: "state", Val: stateSlept}, {Key: "gap", Val: logfmt.FormatNs(int64(by))}, {Key: "reason", Val: "the computer was suspended"}}})
}

// sleptLeast is the shortest suspension that is told.
const sleptLeast = 10 * time.Millisecond
