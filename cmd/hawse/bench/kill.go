//go:build unix

package bench

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sys/unix"

	"hawse/acquire/session"
	"hawse/cmd/hawse/system"
	"hawse/logfmt"
)

// killed is what became of the bytes of one instrument in one kill.
type killed struct {
	sent   int           // bytes that the sender handed over, while the capture lived and after
	unread int           // of these, still in the terminal
	passed int           // thrown away as the port was opened, up to the start of a line
	log    int           // in the log
	kept   int           // read, not in the log, and kept in memory that outlived the program
	lost   int           // read, and nowhere
	oldest time.Duration // how long before the kill the oldest of the lost was sent
	late   int           // lost, and sent more than killLate before the kill
}

const (
	// killLate is the age past which nothing may be lost on an idle machine.
	killLate = 50 * time.Millisecond
	// killMost is how long a capture runs at most before it is killed, once its
	// lines are counted.
	killMost = 300 * time.Millisecond
)

// killRun is what many kills came to.
type killRun struct {
	kills      int
	sum        killed // of all
	lossy      int    // kills with a byte lost
	unlogged   int    // kills with bytes that only the memory kept
	damaged    int    // logs with damage other than a torn last line
	faults     []string
	unrecorded []int64 // ns: the age of the oldest byte that was not in the log, where there was one
}

// measureKill kills a capture again and again and looks for what was lost.
func measureKill(ctx context.Context, o options) (*report, error) {
	return inFolder(o, func(dir string) (*report, error) {
		o.progress("%d kills at %d lines/s on each of two ports", o.times, o.rate)
		run, err := killTimes(ctx, o, dir)
		if err != nil {
			return nil, err
		}
		return killReport(o, run), nil
	})
}

func killTimes(ctx context.Context, o options, dir string) (run killRun, err error) {
	random := rand.New(rand.NewPCG(o.seed, 1))
	told := time.Now()
	for run.kills < o.times {
		sub := filepath.Join(dir, fmt.Sprintf("kill-%d", run.kills+1))
		if err := os.Mkdir(sub, 0o700); err != nil {
			return run, err
		}
		// From the first counted line on, and as often within one as between two.
		after := time.Duration(random.Int64N(int64(killMost)))
		if err := killOnce(ctx, o, sub, after, &run); err != nil {
			return run, fmt.Errorf("kill %d: %w", run.kills+1, err)
		}
		run.kills++
		if time.Since(told) > 10*time.Second {
			told = time.Now()
			o.progress("%d of %d kills, %d bytes lost", run.kills, o.times, run.sum.lost)
		}
		if !o.keep {
			if err := os.RemoveAll(sub); err != nil {
				return run, err
			}
		}
	}
	return run, nil
}

// killBox sends lines at a rate and knows when each byte went.
type killBox struct {
	port *port
	box  instrument
	sent []byte
	ends []int   // of each line in sent
	at   []int64 // when it was handed over
}

// talk sends until stop is closed. A line that the terminal did not take whole
// counts as far as it went.
func (b *killBox) talk(now func() int64, rate int, stop <-chan struct{}) error {
	start := now()
	for i := 1; ; i++ {
		for left := start + int64(i)*1e9/int64(rate) - now(); left > 0; left = start + int64(i)*1e9/int64(rate) - now() {
			sleep(min(left, int64(5*time.Millisecond)))
			select {
			case <-stop:
				return nil
			default:
			}
		}
		select {
		case <-stop:
			return nil
		default:
		}
		from := len(b.sent)
		b.sent = b.box.append(b.sent, i, i)
		t := now()
		n, err := b.port.master.Write(b.sent[from:])
		b.sent = b.sent[:from+n]
		if n > 0 {
			b.ends, b.at = append(b.ends, len(b.sent)), append(b.at, t)
		}
		if err != nil {
			if errors.Is(err, os.ErrDeadlineExceeded) { // broken off: it has ended
				return nil
			}
			return fmt.Errorf("sending to %s: %w", b.port.name, err)
		}
	}
}

// when is the time at which the byte at offset i was sent.
func (b *killBox) when(i int) int64 {
	for j, end := range b.ends {
		if i < end {
			return b.at[j]
		}
	}
	return 0
}

func killOnce(ctx context.Context, o options, dir string, after time.Duration, run *killRun) error {
	rig, err := openRig(ctx, dir, o.rate, newBoxes(o.rate, floodSpan, time.Hour))
	if err != nil {
		return err
	}
	defer rig.close()
	child, err := startCapture(rig, screenNone, usualScreen)
	if err != nil {
		return err
	}
	defer child.kill()
	stop := make(chan struct{})
	var boxes [instruments]*killBox
	var both group
	for i := range boxes {
		b := &killBox{port: rig.ports[i], box: rig.send[i].box}
		boxes[i] = b
		both.do(func() error { return b.talk(rig.now, o.rate, stop) })
	}
	err = killWhenLive(ctx, child, after)
	at := rig.now()
	if err == nil {
		err = child.cmd.Process.Kill()
	}
	<-child.gone
	close(stop)
	rig.breakOff()
	if err = firstError(err, both.wait()); err != nil {
		return err
	}
	kept, err := session.KeptOf(system.KeepDir(), child.log)
	if err != nil {
		run.faults = append(run.faults, err.Error())
	}
	session.ForgetKept(system.KeepDir(), child.log)
	streams, damage, err := rawStreams(child.log)
	if err != nil {
		return err
	}
	for _, d := range damage {
		if d.Kind != logfmt.Cut {
			run.damaged++
			run.faults = append(run.faults, d.String())
			break
		}
	}
	lossy, unlogged := false, false
	for i, b := range boxes {
		unread, err := stillUnread(b.port)
		if err != nil {
			return err
		}
		k, oldest, fault := b.account(at, unread, streams[i], keptFrom(kept, sources[i]))
		if fault != "" {
			run.faults = append(run.faults, fmt.Sprintf("%s: %s", sources[i], fault))
		}
		run.sum.sent += k.sent
		run.sum.unread += k.unread
		run.sum.passed += k.passed
		run.sum.log += k.log
		run.sum.kept += k.kept
		run.sum.lost += k.lost
		run.sum.late += k.late
		run.sum.oldest = max(run.sum.oldest, k.oldest)
		lossy, unlogged = lossy || k.lost > 0, unlogged || k.kept > 0
		if oldest >= 0 {
			run.unrecorded = append(run.unrecorded, oldest)
		}
	}
	if lossy {
		run.lossy++
	}
	if unlogged {
		run.unlogged++
	}
	return nil
}

// killWhenLive waits until both ports are captured, and then as long as it is
// told.
func killWhenLive(ctx context.Context, child *capture, after time.Duration) error {
	for end := time.Now().Add(15 * time.Second); ; {
		a, err := child.call(statusCall)
		if err == nil && a.Status.TensionN != nil && a.Status.HauledAge != nil {
			break
		}
		if err := child.died(); err != nil {
			return err
		}
		if time.Now().After(end) {
			return errors.New("the capture was not live within 15 s")
		}
		if !pauseFor(ctx, 5*time.Millisecond) {
			return ctx.Err()
		}
	}
	if !pauseFor(ctx, after) {
		return ctx.Err()
	}
	return nil
}

// account holds what an instrument sent against what is left of it. oldest is
// how long before the kill the oldest byte was sent that is not in the log; -1
// if all are.
func (b *killBox) account(at int64, unread, log, kept []byte) (k killed, oldest int64, fault string) {
	k = killed{sent: len(b.sent), unread: len(unread), log: len(log)}
	if !bytes.HasSuffix(b.sent, unread) {
		return k, -1, "what is still in the terminal is not the end of what was sent"
	}
	read := len(b.sent) - len(unread)
	// The capture threw away what waited when it opened the port, up to the
	// start of a line; every line is another one.
	first := bytes.IndexByte(log, '\n') + 1
	begin := -1
	if first > 0 {
		begin = bytes.Index(b.sent, log[:first])
	}
	if begin < 0 || !bytes.HasPrefix(b.sent[begin:], log) {
		return k, -1, "the log does not hold what was sent, from one byte to another"
	}
	logged := begin + len(log)
	if logged > read {
		return k, -1, fmt.Sprintf("the log holds %d bytes that are still in the terminal", logged-read)
	}
	if !bytes.HasPrefix(b.sent[logged:], kept) || logged+len(kept) > read {
		return k, -1, fmt.Sprintf("what was kept (%q) is not what the log lacks (%q)", kept, b.sent[logged:read])
	}
	k.passed, k.kept = begin, len(kept)
	oldest = -1
	if logged < read {
		oldest = at - b.when(logged)
	}
	from := logged + len(kept)
	k.lost = read - from
	if k.lost > 0 {
		k.oldest = time.Duration(at - b.when(from))
		for i := from; i < read; i++ {
			if at-b.when(i) > int64(killLate) {
				k.late++
			}
		}
	}
	return k, oldest, ""
}

// stillUnread takes what a program has left in a terminal.
func stillUnread(p *port) ([]byte, error) {
	fd := int(p.keep.Fd())
	if err := unix.SetNonblock(fd, true); err != nil {
		return nil, err
	}
	var out []byte
	buf := make([]byte, 4096)
	for quiet := 0; quiet < 3; {
		n, err := unix.Read(fd, buf)
		switch {
		case n > 0:
			out = append(out, buf[:n]...)
			quiet = 0
		case err == nil || errors.Is(err, unix.EAGAIN):
			quiet++ // the system may still be carrying some over
			time.Sleep(time.Millisecond)
		case !errors.Is(err, unix.EINTR):
			return nil, err
		}
	}
	return out, nil
}

// rawStreams are the raw bytes of each instrument in a log that may be torn.
func rawStreams(path string) (streams [instruments][]byte, damage []logfmt.Damage, err error) {
	f, err := os.Open(path)
	if err != nil {
		return streams, nil, err
	}
	defer f.Close()
	r := logfmt.NewReader(f)
	for r.Next() {
		rec := r.Record()
		for i, src := range sources {
			if rec.Kind == logfmt.Rx && rec.Str("src") == src {
				streams[i] = append(streams[i], rec.Str("raw")...)
			}
		}
	}
	return streams, r.Damage(), r.Err()
}

func keptFrom(kept []session.Kept, src string) []byte {
	for _, k := range kept {
		if k.Src == src {
			return k.Raw
		}
	}
	return nil
}

func killReport(o options, run killRun) *report {
	r := &report{title: fmt.Sprintf("Kill: SIGKILL at a random moment of a capture, %d times, two ports at %d lines/s", o.times, o.rate),
		settings: []setting{{"rate_per_port_hz", o.rate}, {"kills", o.times}}}
	t := &table{key: "bytes", columns: []column{{}}}
	t.add("kills", "kills", cellInt(run.kills))
	t.add("sent_bytes", "bytes sent", cellInt(run.sum.sent))
	t.add("unread_bytes", "still in the terminal: not read", cellInt(run.sum.unread))
	t.add("passed_bytes", "thrown away as the port was opened", cellInt(run.sum.passed))
	t.add("log_bytes", "in the log", cellInt(run.sum.log))
	t.add("kept_bytes", "read, only in the memory kept beside it", cellInt(run.sum.kept))
	t.add("lost_bytes", "read, and lost", cellInt(run.sum.lost))
	t.add("kills_kept", "kills with bytes only in that memory", cellInt(run.unlogged))
	t.add("kills_lossy", "kills with a byte lost", cellInt(run.lossy))
	t.add("lost_late_bytes", "lost, sent more than 50 ms before", cellInt(run.sum.late))
	t.add("oldest_lost_s", "oldest of the lost, ms", cellTime(run.sum.oldest))
	t.add("logs_damaged", "logs with more than a torn last line", cellInt(run.damaged))
	r.tables = append(r.tables, t)
	if len(run.unrecorded) > 0 {
		a := &table{key: "age", columns: []column{{"age", "before the kill"}}}
		a.add("n", "ports with bytes not in the log", cellInt(len(run.unrecorded)))
		a.spreads("age", "oldest such byte", spreadOf(run.unrecorded))
		r.tables = append(r.tables, a)
	}
	r.fault(run.sum.lost > 0 && system.KeepDir() != "", "%d bytes lost that were read", run.sum.lost)
	r.fault(run.sum.late > 0, "%d bytes lost that were sent more than %v before the kill", run.sum.late, killLate)
	for i, f := range run.faults {
		if i == 5 {
			r.fault(true, "and %d more", len(run.faults)-i)
			break
		}
		r.fault(true, "%s", f)
	}
	if system.KeepDir() == "" {
		r.note("This system has no folder that it keeps in memory: what is between a Read and its record is lost by a kill.")
	}
	return r
}
