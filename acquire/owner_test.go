package acquire

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"hawse/trial"
)

const missingA = "no such port a; plug it in or correct port= in the trial file"

func TestOwnerReadsInOrder(t *testing.T) {
	openPort(t, func(r *rig, p *fakePort) {
		p.sends("1\r\n2\r\n+00")
		one, two := r.wantData("1\r\n", CutEnd), r.wantData("2\r\n", CutEnd)
		if one.Cut.Chunk != 1 || two.Cut.Chunk != 1 || one.T != one.Cut.T {
			t.Errorf("cuts %+v and %+v; want both of Read 1, T the cut's", one, two)
		}
		p.sends("3\r\n")
		if it := r.wantData("+003\r\n", CutEnd); it.Cut.Chunk != 2 {
			t.Errorf("cut %+v; want Read 2: timeouts have no number", it)
		}
		p.sends("half")
		half := r.wantData("half", CutIdle)
		if now := r.owner.opt.Clock.Now(); now-half.T < idleAfter || now-half.T > idleAfter+int64(2*readTimeout) {
			t.Errorf("half a line is cut %v after it came; want 100 to 140 ms", time.Duration(now-half.T))
		}
		p.sends("over\r")
		r.wantData("over\r", CutEnd)
		r.stop()
		r.wantState(StateClosed, "")
	}, "a")
}

func TestOwnerComesBack(t *testing.T) {
	noPort(t, func(r *rig) {
		r.wantState(StateRetry, "no such port a or b; plug it in or correct port= in the trial file")
		r.wantNothing(10 * time.Second) // told once
		p := r.ports.plug("a")
		r.wantState(StateOpen, "")
		p.sends("+003")
		p.fails(ErrUnplugged)
		if it := r.wantData("+003", CutLost); it.T > r.owner.opt.Clock.Now() {
			t.Errorf("lost cut %+v is of the future", it)
		}
		lost := r.wantState(StateLost, "unplugged")
		r.wantState(StateRetry, "no such port a or b; plug it in or correct port= in the trial file")
		time.Sleep(14 * time.Second)
		p = r.ports.plug("b") // back under its other name
		open := r.wantState(StateOpen, "")
		if open.Name != "b" || open.Gap != open.T-lost.T || open.Gap < 14e9 || open.Gap > 14.6e9 {
			t.Errorf("open %+v after lost at %d; want name b, the gap between, about 14 s", open, lost.T)
		}
		p.sends("x\n")
		r.wantData("x\n", CutEnd)
		p.fails(errors.New("odd \x1b[2J fault"))
		r.wantState(StateLost, `read error: odd \x1b[2J fault`)
	}, "a", "b")
}

func TestOwnerTellsEachReason(t *testing.T) {
	noPort(t, func(r *rig) {
		r.wantState(StateRetry, missingA)
		r.ports.set("a", func() (Conn, error) { return nil, &PortError{Name: "a", Fault: Busy} })
		r.wantState(StateRetry, "port a is in use by another program; close that program, or correct port= in the trial file")
		r.wantNothing(5 * time.Second)
		r.ports.set("a", func() (Conn, error) { return nil, &PortError{Name: "a", Fault: Denied} })
		r.wantState(StateRetry, "no permission to open port a; add this user to the group that owns it (often dialout) and log in again")
		r.ports.set("a", func() (Conn, error) { return nil, errors.New("odd\n") })
		r.wantState(StateRetry, `port a cannot be opened: odd\n; plug it in again or correct port= in the trial file`)
		r.ports.set("a", func() (Conn, error) { panic("dialer") })
		r.wantState(StateRetry, "a fault in this program: dialer")
		r.ports.plug("a")
		r.wantState(StateOpen, "")
	}, "a")
}

// A port that is there and does not open tells more than one that is missing.
func TestOwnerTellsTheMostTelling(t *testing.T) {
	noPort(t, func(r *rig) {
		r.wantState(StateRetry, "no such port a or b or c; plug it in or correct port= in the trial file")
		r.ports.set("b", func() (Conn, error) { return nil, &PortError{Name: "b", Fault: NotPort, What: "a folder"} })
		r.wantState(StateRetry, "b is not a serial port but a folder; correct port= in the trial file")
		r.ports.plug("c")
		if it := r.wantState(StateOpen, ""); it.Name != "c" {
			t.Errorf("open %+v; want c", it)
		}
	}, "a", "b", "c")
}

func TestOwnerRetriesFourTimesASecond(t *testing.T) {
	noPort(t, func(r *rig) {
		r.wantState(StateRetry, missingA)
		time.Sleep(10 * time.Second)
		r.ports.mu.Lock()
		defer r.ports.mu.Unlock()
		if r.ports.dials < 40 || r.ports.dials > 42 {
			t.Errorf("tried %d times in 10 s; want about 40", r.ports.dials)
		}
	}, "a")
}

func TestOwnerWithoutNames(t *testing.T) {
	noPort(t, func(r *rig) {
		r.wantState(StateRetry, "no port named; give port= in the trial file")
		r.wantNothing(time.Second)
	})
}

func TestOwnerRelativeNames(t *testing.T) {
	o := NewOwner(OwnerOptions{Dir: "/d/e"})
	for name, want := range map[string]string{"./load": "/d/e/load", "../deck/load": "/d/deck/load", "..load": "..load", "/dev/x": "/dev/x", "COM3": "COM3"} {
		if got, err := o.path(name); got != want || err != nil {
			t.Errorf("path(%q) in /d/e = %q; want %q", name, got, want)
		}
	}
}

func TestOwnerSends(t *testing.T) {
	openPort(t, func(r *rig, p *fakePort) {
		msg := AppendBeat(nil, 1, 1)
		r.owner.Post(msg)
		want := string(msg)
		clear(msg) // the caller's buffer is used again
		r.wantSent(want)
		if got := string(<-p.wrote); got != want {
			t.Errorf("written %q; want %q", got, want)
		}
		r.owner.Post(nil)
		r.wantNothing(time.Second)
	}, "a")
}

// A writer that hangs is told, blocks neither reading nor the caller, and after
// it comes back the newest message goes out.
func TestOwnerStalledWriter(t *testing.T) {
	openPort(t, func(r *rig, p *fakePort) {
		p.gate = make(chan struct{})
		r.owner.Post(AppendBeat(nil, 1, 1))
		began := r.owner.opt.Clock.Now()
		it := r.wantState(StateStalled, "a write has not returned for 250 ms; nobody reads at the other end")
		if d := time.Duration(it.T - began); d < 250*time.Millisecond || d > 350*time.Millisecond {
			t.Errorf("stalled after %v; want 250 to 350 ms", d)
		}
		for n := range uint64(100) {
			r.owner.Post(AppendBeat(nil, 1, 2+n))
		}
		p.sends("x\n")
		r.wantData("x\n", CutEnd)
		r.wantNothing(5 * time.Second) // told once
		close(p.gate)
		r.wantSent(string(AppendBeat(nil, 1, 1)))
		r.wantSent(string(AppendBeat(nil, 1, 101)))
		r.wantState(StateResumed, "")
	}, "a")
}

// A write stuck in an old connection gets nothing that was meant for a new one.
func TestOwnerOldWriterStaysOut(t *testing.T) {
	openPort(t, func(r *rig, old *fakePort) {
		old.gate = make(chan struct{})
		r.owner.Post(AppendArm(nil, 1))
		r.wantState(StateStalled, "a write has not returned for 250 ms; nobody reads at the other end")
		old.fails(ErrUnplugged)
		r.wantState(StateLost, "unplugged")
		r.wantState(StateRetry, missingA)
		fresh := r.ports.plug("a")
		r.wantState(StateOpen, "")
		close(old.gate) // the system lets the old write go
		synctest.Wait()
		r.owner.Post(AppendArm(nil, 2))
		r.wantSent(string(AppendArm(nil, 2)))
		if got := string(<-fresh.wrote); got != string(AppendArm(nil, 2)) {
			t.Errorf("new connection got %q; want the second ARM alone", got)
		}
		if got := string(<-old.wrote); got != string(AppendArm(nil, 1)) || len(old.wrote) != 0 || len(fresh.wrote) != 0 {
			t.Errorf("old connection got %q and %d more, new one %d more; want the first ARM alone", got, len(old.wrote), len(fresh.wrote))
		}
		r.wantNothing(time.Second)
	}, "a")
}

func TestOwnerAfterAnAbsence(t *testing.T) {
	arm, beat, open := string(AppendArm(nil, 7)), string(AppendBeat(nil, 7, 1)), string(AppendOpen(nil, 6))
	tests := []struct {
		name string
		post []string
		want string
	}{
		{"an ARM is stale", []string{arm}, ""},
		{"an ARM with a beat is stale", []string{arm + beat}, ""},
		{"an OPEN still goes out", []string{open, beat}, open},
		{"of an OPEN and an ARM only the OPEN", []string{open, arm}, open},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			noPort(t, func(r *rig) {
				r.wantState(StateRetry, missingA)
				for _, m := range tt.post {
					r.owner.Post([]byte(m))
				}
				r.ports.plug("a")
				r.wantState(StateOpen, "")
				if tt.want != "" {
					r.wantSent(tt.want)
				}
				r.wantNothing(time.Second)
			}, "a")
		})
	}
}

func TestOwnerSendsOpenAtTheEnd(t *testing.T) {
	openPort(t, func(r *rig, p *fakePort) {
		r.owner.Post(AppendOpen(nil, 1))
		r.stop()
		r.wantSent(string(AppendOpen(nil, 1)))
		r.wantState(StateClosed, "")
		if got := string(<-p.wrote); got != string(AppendOpen(nil, 1)) {
			t.Errorf("written %q; want the OPEN", got)
		}
	}, "a")
}

func TestOwnerHungRead(t *testing.T) {
	openPort(t, func(r *rig, p *fakePort) {
		p.sends("+003")
		release := make(chan struct{})
		p.reads <- fakeRead{text: "12\n", do: func() { <-release }}
		r.wantData("+003", CutIdle) // reaches the record all the same
		it := r.wantState(StateStalled, "a read has not returned for 2 s; another program may be reading this port")
		if it.T < 2e9 || it.T > 2.2e9 {
			t.Errorf("told at %v; want 2 to 2.2 s", time.Duration(it.T))
		}
		close(release)
		r.wantData("12\n", CutEnd)
		r.wantState(StateResumed, "")
	}, "a")
}

// A driver whose Read returns at once with nothing must not spin: in the bubble
// time would stand still and this test hang.
func TestOwnerDoesNotSpin(t *testing.T) {
	openPort(t, func(r *rig, p *fakePort) {
		reads := 0
		for end := time.Now().Add(time.Second); time.Now().Before(end); reads++ {
			p.reads <- fakeRead{}
		}
		if reads > 250 {
			t.Errorf("%d empty Reads in a second; want at most 200 or so", reads)
		}
	}, "a")
}

func TestOwnerPanics(t *testing.T) {
	openPort(t, func(r *rig, p *fakePort) {
		p.sends("+003")
		p.reads <- fakeRead{do: func() { panic("in\tRead") }}
		r.wantData("+003", CutLost)
		r.wantState(StateLost, `a fault in this program: in\tRead`)
		r.wantState(StateRetry, missingA)

		p = r.ports.plug("a")
		r.wantState(StateOpen, "")
		close(p.wrote) // Write panics
		r.owner.Post([]byte("x\n"))
		r.wantState(StateLost, "a fault in this program: send on closed channel")
		r.wantState(StateRetry, missingA)

		r.ports.set("a", func() (Conn, error) { r.ports.set("a", nil); return nil, nil }) // a Dialer with a fault
		r.wantState(StateOpen, "")
		it := r.next()
		if it.State != StateLost || it.Reason == "" {
			t.Errorf("item %+v; want lost with a reason", it)
		}
		r.wantState(StateRetry, missingA)
		p = r.ports.plug("a")
		r.wantState(StateOpen, "")
		p.sends("goes on\n")
		r.wantData("goes on\n", CutEnd)
	}, "a")
}

func TestOwnerClockPanics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		out := make(chan Item, 10)
		o := NewOwner(OwnerOptions{Src: "load", Port: trial.Port{Names: []string{"a"}}, Dial: (&fakePorts{}).dial, Out: out})
		done := make(chan struct{})
		ctx, cancel := cancelAfter(t, time.Second)
		defer cancel()
		go func() { // no clock at all: whatever it does, it must not take the program with it
			defer close(done)
			o.Run(ctx)
		}()
		<-done
	})
}

// Told to end while nobody reads its channel, an owner still ends.
func TestOwnerEndsWithBlockedOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ports := &fakePorts{}
		p := ports.plug("a")
		out := make(chan Item)
		o := NewOwner(OwnerOptions{Src: "load", Port: trial.Port{Names: []string{"a"}}, Dial: ports.dial, Clock: plainClock{time.Now()}, Out: out})
		ctx, cancel := cancelAfter(t, 10*time.Second)
		defer cancel()
		done := make(chan struct{})
		go func() {
			defer close(done)
			o.Run(ctx)
		}()
		<-out // open
		p.sends("1\n2\n3\n")
		<-ctx.Done()
		told := time.Now()
		<-done
		if d := time.Since(told); d > time.Second {
			t.Errorf("Run returned %v after the end of its context; want at most 1 s", d)
		}
	})
}

// A Close that hangs holds up the end by little more than a second, and what the
// system still holds is left alone afterwards.
func TestOwnerEndsWithHungClose(t *testing.T) {
	openPort(t, func(r *rig, p *fakePort) {
		p.block, p.gate = make(chan struct{}), make(chan struct{})
		r.owner.Post([]byte("x\n"))
		synctest.Wait()
		r.stop()
		told := time.Now()
		r.wantState(StateClosed, "")
		<-r.done
		if d := time.Since(told); d > 3*time.Second {
			t.Errorf("Run returned %v after it was told to end; want at most 3 s", d)
		}
		close(p.gate)
		close(p.block)
		synctest.Wait()
		r.wantNothing(time.Second)
	}, "a")
}

// A port that opens only after its owner was told to end is closed again.
func TestOwnerClosesLateDial(t *testing.T) {
	noPort(t, func(r *rig) {
		r.wantState(StateRetry, missingA)
		release, p := make(chan struct{}), newFakePort()
		r.ports.set("a", func() (Conn, error) { <-release; return p, nil })
		time.Sleep(time.Second)
		r.stop()
		<-r.done
		close(release)
		<-p.closed
	}, "a")
}

func TestPortErrorText(t *testing.T) {
	for _, tt := range []struct {
		err  PortError
		want string
	}{
		{PortError{Name: "/dev/x", Fault: Missing}, "no such port /dev/x; plug it in or correct port= in the trial file"},
		{PortError{Name: "/dev/\x1bx", Fault: Busy}, `port /dev/\x1bx is in use by another program; close that program, or correct port= in the trial file`},
		{PortError{Name: "x", Fault: NotPort}, "x is not a serial port; correct port= in the trial file"},
		{PortError{Name: "x", Fault: BadMode, What: "baud 0 is not above zero"}, "port x: baud 0 is not above zero; correct baud= or frame= in the trial file"},
		{PortError{Name: "x"}, "port x cannot be opened: unknown fault; plug it in again or correct port= in the trial file"},
	} {
		if got := tt.err.Error(); got != tt.want {
			t.Errorf("%+v says %q; want %q", tt.err, got, tt.want)
		}
	}
}
