package session

import (
	"fmt"
	"math"
	"path/filepath"
	"sync/atomic"
	"time"
)

// The forecast of a full disk: how soon it is told, and when it is over. Common
// practice, no source: a quarter of an hour is a pull, or time to make room.
const (
	roomShort = 15 * time.Minute
	roomAgain = 20 * time.Minute
)

// roomSteps are told anew as the time gets shorter.
var roomSteps = [...]time.Duration{roomShort, 10 * time.Minute, 5 * time.Minute, 2 * time.Minute, time.Minute}

const (
	roomLooks = 13              // looks kept: a minute of them
	roomEvery = 5 * time.Second // between two
	roomFirst = 10 * time.Second
	roomOther = 30 * time.Second // as long must others have filled the disk to be counted
)

// forecast tells how long a disk has room for. It is pure: it is fed with what
// the record has come to and what is free, at real times.
type forecast struct {
	looks [roomLooks]look
	n     int
	left  time.Duration // 0 unknown
	step  int           // of roomSteps, told; 0 none
}

type look struct {
	at          time.Duration
	bytes, free int64
}

// add takes a look and says what is to be told, if anything: that room is short
// and for how long it lasts, or that it is no longer.
func (f *forecast) add(l look) (state, reason string) {
	if f.n > 0 && l.at-f.looks[(f.n-1)%roomLooks].at < roomEvery {
		return "", ""
	}
	f.looks[f.n%roomLooks] = l
	f.n++
	old := f.looks[max(f.n-roomLooks, 0)%roomLooks]
	took := (l.at - old.at).Seconds()
	if took < roomFirst.Seconds() {
		return "", ""
	}
	rate := float64(l.bytes-old.bytes) / took
	if took >= roomOther.Seconds() { // whoever else fills it
		rate = max(rate, float64(old.free-l.free)/took)
	}
	f.left = 0
	seconds := math.Inf(1)
	if rate > 0 {
		seconds = float64(max(l.free, 0)) / rate
		f.left = time.Duration(min(max(seconds, 1), math.MaxInt64/1e9/2) * 1e9)
	}
	was := f.step
	for f.step < len(roomSteps) && seconds < roomSteps[f.step].Seconds() {
		f.step++
	}
	switch {
	case f.step > was:
		return stateShort, fmt.Sprintf("%s left, %s free on the disk", leftText(f.left), bytesText(l.free))
	case was > 0 && seconds > roomAgain.Seconds():
		f.step = 0
		return stateRoomy, bytesText(l.free) + " free on the disk"
	}
	return "", ""
}

func leftText(d time.Duration) string {
	if d < 2*time.Minute {
		return fmt.Sprintf("%d s", int(d.Seconds()))
	}
	return fmt.Sprintf("%d min", int(d.Minutes()))
}

func bytesText(n int64) string {
	if n < 1e7 {
		return fmt.Sprintf("%d kB", max(n, 0)/1000)
	}
	return fmt.Sprintf("%d MB", n/1e6)
}

// diskWatch asks how much room there is, in a goroutine of its own: on a disk
// that is gone the question may never be answered.
type diskWatch struct {
	free  func(string) (int64, bool)
	paths [2]string       // of the folders; "" none
	room  [2]atomic.Int64 // bytes; -1 unknown
	over  chan struct{}
	done  chan struct{}
	begun time.Time
}

const diskAsked = 2 * time.Second

func watchDisks(cfg Config) *diskWatch {
	if cfg.Free == nil {
		return nil
	}
	w := &diskWatch{free: cfg.Free, over: make(chan struct{}), done: make(chan struct{}), begun: time.Now()}
	w.paths[0] = filepath.Dir(cfg.LogPath)
	if cfg.CopyPath != "" {
		w.paths[1] = filepath.Dir(cfg.CopyPath)
	}
	for i := range w.room {
		w.room[i].Store(-1)
	}
	go w.run()
	return w
}

func (w *diskWatch) run() {
	defer close(w.done)
	tick := time.NewTicker(diskAsked)
	defer tick.Stop()
	for {
		for i, p := range w.paths {
			if p == "" {
				continue
			}
			if n, known := w.free(p); known {
				w.room[i].Store(n)
			} else {
				w.room[i].Store(-1)
			}
		}
		select {
		case <-tick.C:
		case <-w.over:
			return
		}
	}
}

// close waits a moment for the goroutine; a question that hangs is left behind.
func (w *diskWatch) close() {
	if w == nil {
		return
	}
	close(w.over)
	select {
	case <-w.done:
	case <-time.After(100 * time.Millisecond):
	}
}

// watchRoom turns a disk that fills up into a record.
func (c *Capture) watchRoom() {
	if c.disks == nil {
		return
	}
	at := time.Since(c.disks.begun)
	if n := c.disks.room[0].Load(); n >= 0 {
		if state, reason := c.room.add(look{at, c.log.Status().Bytes, n}); state != "" {
			c.port(SrcRecord, state, reason)
		}
	}
	if n := c.disks.room[1].Load(); n >= 0 && c.copy != nil {
		if state, reason := c.copy.room.add(look{at, c.copy.log.Status().Bytes, n}); state != "" {
			c.port(SrcCopy, state, reason)
		}
	}
}
