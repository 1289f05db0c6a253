package acquire

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"hawse/trial"
)

// askedBubble runs f with an owner of a port that is asked.
func askedBubble(t *testing.T, mute time.Duration, f func(r *rig, p *fakePort)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		r := &rig{t: t, ports: &fakePorts{}, out: make(chan Item, 1000), done: make(chan struct{})}
		p := r.ports.plug("A")
		r.owner = NewOwner(OwnerOptions{Src: "load", Port: trial.Port{Names: []string{"A"}, Baud: 9600}, Dial: r.ports.dial,
			Clock: plainClock{time.Now()}, Out: r.out, Mute: mute, Ask: NewAsking([]trial.Instrument{askedPort("load", "W\r")}, nil)})
		ctx, cancel := context.WithCancel(t.Context())
		defer func() { cancel(); <-r.done }()
		go func() { defer close(r.done); r.owner.Run(ctx) }()
		r.wantState(StateOpen, "")
		f(r, p)
	})
}

// TestOwnerAsks: the question stands in the record before its answer, each once
// in its time; the answer comes as it was read.
func TestOwnerAsks(t *testing.T) {
	askedBubble(t, 0, func(r *rig, p *fakePort) {
		var last int64
		for i := range 20 {
			it := r.wantSent("W\r")
			if got := string(<-p.wrote); got != "W\r" {
				t.Fatalf("wrote %q", got)
			}
			if i > 0 && it.T-last != 100e6 {
				t.Errorf("question %d comes %v after the one before, want 100 ms", i, time.Duration(it.T-last))
			}
			last = it.T
			time.Sleep(30 * time.Millisecond)
			p.sends("+12\r\n")
			r.wantData("+12\r\n", CutRead)
		}
		// One that is not answered is not asked again for half a second more.
		r.wantSent("W\r")
		if it := r.wantSent("W\r"); it.T-last != 700e6 {
			t.Errorf("asked again %v after, want 600 ms", time.Duration(it.T-last-100e6))
		}
	})
}

// TestOwnerOpensAMutePortAgain: a port that reads nothing for ever is opened
// again, less and less often, and at once as often once it has spoken.
func TestOwnerOpensAMutePortAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := &rig{t: t, ports: &fakePorts{}, out: make(chan Item, 1000), done: make(chan struct{})}
		var p *fakePort
		r.ports.set("A", func() (Conn, error) { p = newFakePort(); return p, nil })
		r.owner = NewOwner(OwnerOptions{Src: "load", Port: trial.Port{Names: []string{"A"}, Baud: 9600}, Dial: r.ports.dial,
			Clock: plainClock{time.Now()}, Out: r.out, Mute: 5 * time.Second})
		ctx, cancel := context.WithCancel(t.Context())
		defer func() { cancel(); <-r.done }()
		go func() { defer close(r.done); r.owner.Run(ctx) }()
		for i, want := range []time.Duration{5, 10, 20, 40} {
			open := r.wantState(StateOpen, "")
			lost := r.next()
			if d := time.Duration(lost.T - open.T).Round(100 * time.Millisecond); lost.State != StateLost || !strings.Contains(lost.Reason, "opened again") || d != want*time.Second {
				t.Fatalf("connection %d: %+v after %v, want lost after %d s", i, lost, d, want)
			}
		}
		r.wantState(StateOpen, "")
		for range 30 {
			time.Sleep(3 * time.Second)
			p.sends("+1\r\n")
			r.wantData("+1\r\n", CutEnd)
		}
		last := time.Now()
		if lost := r.next(); lost.State != StateLost || time.Since(last).Round(time.Second) != 5*time.Second {
			t.Errorf("silent after it spoke: %+v after %v, want lost after 5 s", lost, time.Since(last))
		}
	})
}
