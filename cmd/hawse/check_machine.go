package main

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/muesli/termenv"

	"hawse/acquire"
	"hawse/cmd/hawse/system"
	"hawse/trial"
)

const (
	dayHours  = 12                     // of logging that the disk must have room for
	syncGood  = 90 * time.Millisecond  // up to which a record is on disk within 200 ms
	clockMost = 100 * time.Millisecond // the wall clock may stray from the monotonic one while listening
	relayHold = time.Second            // for which --relay closes it
	relayWait = 3 * time.Second        // for its answers
)

// machine is clock, disk and terminal.
func (k *checks) machine(dir string, out io.Writer) {
	k.add("clock runs", either(k.seen.stepOf.Abs() <= clockMost, checkLook), fmt.Sprintf("wall and monotonic clock %s apart in %s; now %s", millis(k.seen.stepOf.Abs()), k.seen.long.Round(time.Second), time.Now().UTC().Format("15:04:05Z")), "the computer's clock was stepped: let it settle; the record has its own time")
	k.satClock()
	day := int64(float64(k.seen.bytes) / k.seen.long.Seconds() * 3600 * dayHours)
	if free, known := system.FreeSpace(dir); known {
		result := either(free > 5*day, checkLook)
		if free < day {
			result = checkCannot
		}
		k.add("disk space", result, fmt.Sprintf("%.1f GB free, a day of %d h takes %.2f GB", float64(free)/1e9, dayHours, float64(day)/1e9), "make room, or log to another disk")
	} else {
		k.add("disk space", checkLook, "the system does not say", "see that there is room")
	}
	worst, err := syncTime(dir)
	switch {
	case err != nil:
		k.add("disk fsync", checkCannot, err.Error(), "use another disk")
	default:
		k.add("disk fsync", either(worst <= syncGood, checkLook), fmt.Sprintf("at most %s of 20; a record waited %s at most", millis(worst), millis(k.seen.onDisk)), "a slow disk keeps records waiting: log to another, or --also-to")
	}
	k.terminal(out)
}

func millis(d time.Duration) string { return fmt.Sprintf("%.1f ms", float64(d)/1e6) }

// syncTime is the longest of twenty appends of 4 KiB with their fsync.
func syncTime(dir string) (worst time.Duration, err error) {
	f, err := os.CreateTemp(dir, ".fsync-*")
	if err != nil {
		return 0, err
	}
	defer os.Remove(f.Name())
	defer f.Close()
	block := make([]byte, 4096)
	for range 20 {
		start := time.Now()
		if _, err := f.Write(block); err != nil {
			return 0, err
		}
		if err := f.Sync(); err != nil {
			return 0, err
		}
		worst = max(worst, time.Since(start))
	}
	return worst, nil
}

func (k *checks) terminal(out io.Writer) {
	file, ok := out.(*os.File)
	if !ok || !term.IsTerminal(file.Fd()) {
		k.add("terminal", checkLook, "none: the output goes to a file or a pipe", "run it in the terminal of the pull; 80 by 24 or more")
		return
	}
	wide, high, err := term.GetSize(file.Fd())
	if err != nil {
		k.add("terminal", checkLook, err.Error(), "80 by 24 or more is wanted")
		return
	}
	colours := map[termenv.Profile]string{termenv.TrueColor: "all colours", termenv.ANSI256: "256 colours", termenv.ANSI: "16 colours", termenv.Ascii: "no colours"}[termenv.EnvColorProfile()]
	k.add("terminal", either(wide >= 80 && high >= 24, checkLook), fmt.Sprintf("%d by %d, %s", wide, high, colours), "make it 80 by 24 or more")
}

// relay closes the stop relay with a session of its own, as arming does, and opens
// it again: by OPEN, and once more by silence.
func (k *checks) relay(ctx context.Context, dir string) {
	const do = "do not pull until the relay obeys: check its wiring and kind= in [stop]"
	o := k.t.Stop
	form := acquire.NewStopForm(o)
	port := o.Port
	var conn acquire.Conn
	var err error
	for _, name := range port.Names {
		if name, err = acquire.PortPath(dir, name); err != nil {
			continue
		}
		if conn, err = acquire.OpenSerial(name, port); err == nil {
			break
		}
	}
	if err == nil {
		conn, err = form.Wrap(conn)
	}
	if err != nil {
		k.add("relay closes, opens", checkCannot, err.Error(), do)
		return
	}
	r := &relayTry{conn: conn, form: form, decode: acquire.NewStopDecoder(o.Kind), beat: o.Beat}
	defer conn.Close()
	defer func() { // whatever happened
		_, _ = conn.Write(form.Open(nil, r.session))
	}()
	blind := o.Kind == trial.StopPulse
	r.fresh()
	closed := r.beats(ctx, relayWait, func() bool { return r.closed })
	r.beats(ctx, relayHold, nil)
	began := time.Now()
	_, err = conn.Write(form.Open(nil, r.session))
	opened := r.wait(ctx, relayWait, func() bool { return !r.closed })
	took := time.Since(began)
	switch {
	case err != nil:
		k.add("relay closes, opens", checkCannot, err.Error(), do)
		return
	case blind:
		k.add("relay closes, opens", checkLook, "spoken to for "+relayHold.String()+"; it cannot tell", "was it heard and seen at the winch?")
		return
	case !closed || !opened:
		k.add("relay closes, opens", checkCannot, fmt.Sprintf("closed %v, opened %v; it said %s", closed, opened, r.last), do)
		return
	}
	k.add("relay closes, opens", checkSeen, fmt.Sprintf("closed on a fresh session, open %s after it was told", millis(took)), "")
	r.fresh()
	closed = r.beats(ctx, relayWait, func() bool { return r.closed })
	began = time.Now()
	opened = r.wait(ctx, relayWait, func() bool { return !r.closed })
	took = time.Since(began)
	window := o.Window
	good := closed && opened && took < window+200*time.Millisecond
	k.add("relay opens unasked", either(good, checkCannot), fmt.Sprintf("closed %v, open %v, %s after the last heartbeat; its window is %s", closed, opened, millis(took), window), do)
}

// relayTry is the conversation with a relay. One goroutine: the port's Read waits
// a tenth of a second at most, so heartbeats are sent from a second one.
type relayTry struct {
	conn    acquire.Conn
	form    acquire.StopForm
	decode  *acquire.StopDecoder
	beat    time.Duration
	session uint32
	count   uint64
	closed  bool
	last    string
}

// fresh takes a session number the relay has not had.
func (r *relayTry) fresh() {
	var b [4]byte
	_, _ = rand.Read(b[:])
	r.session, r.count, r.closed = binary.BigEndian.Uint32(b[:])|1, 0, false
}

// beats sends heartbeats until something holds, or for so long.
func (r *relayTry) beats(ctx context.Context, long time.Duration, until func() bool) bool {
	stop, done := make(chan struct{}), make(chan struct{})
	heard := r.closed
	go func() {
		defer close(done)
		tick := time.NewTicker(r.beat)
		defer tick.Stop()
		for {
			r.count++
			if _, err := r.conn.Write(r.form.Beat(nil, r.session, r.count, heard)); err != nil {
				return
			}
			select {
			case <-stop:
				return
			case <-tick.C:
			}
		}
	}()
	good := r.wait(ctx, long, until)
	close(stop)
	<-done
	return good
}

// wait reads until something holds, or for so long.
func (r *relayTry) wait(ctx context.Context, long time.Duration, until func() bool) bool {
	buf := make([]byte, 1024)
	for end := time.Now().Add(long); time.Now().Before(end) && ctx.Err() == nil; {
		n, err := r.conn.Read(buf)
		if err != nil {
			return false
		}
		r.decode.Feed(buf[:n], func(w acquire.StopWord) {
			r.last = acquire.Visible(w.Frame)
			if w.State {
				r.closed = w.Closed
			}
		})
		if until != nil && until() {
			return true
		}
	}
	return until == nil
}
