//go:build linux || darwin

package acquire

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// Two ports, lines at an even rate: all arrive, whole and in order.
func TestPtyTwoPortsLoseNothing(t *testing.T) {
	for _, rate := range []int{1000, 5000} {
		t.Run(fmt.Sprintf("%d lines a second", rate), func(t *testing.T) {
			var all sync.WaitGroup
			for range 2 {
				w := newWire(t)
				o := own(t, "", w.name)
				o.want(State, StateOpen)
				lines := rate / 2
				all.Go(func() {
					tick := time.NewTicker(time.Millisecond)
					defer tick.Stop()
					for n := 0; n < lines; {
						<-tick.C
						for range rate / 1000 {
							w.send(fmt.Sprintf("%+07d lb\r\n", n))
							n++
						}
					}
				})
				all.Go(func() {
					var f Framer
					n := 0
					for n < lines {
						it := o.next()
						if it.Kind != Data || it.Cut.T < it.Cut.T0 {
							t.Errorf("item %+v after %d lines; want data", it, n)
							return
						}
						f.Feed(it.Cut.Raw, func(frame []byte, bad string) {
							if want := fmt.Sprintf("%+07d lb", n); string(frame) != want || bad != "" {
								t.Errorf("line %d is %q %s; want %q", n, frame, bad, want)
							}
							n++
						})
					}
				})
			}
			all.Wait()
		})
	}
}

func TestPtyHalfALine(t *testing.T) {
	w := newWire(t)
	o := own(t, "", w.name)
	o.want(State, StateOpen)
	w.send("+00312.4")
	if it := o.want(Data, "+00312.4"); it.Cut.Why != CutIdle {
		t.Errorf("cut %+v; want idle", it.Cut)
	}
	w.send(" lb\r\n")
	o.want(Data, " lb\r\n")
}

// Unplugged and back under the same link, which then leads to another device;
// then under the second name of the list.
func TestPtyUnplug(t *testing.T) {
	dir := t.TempDir()
	w := newWire(t)
	w.link(filepath.Join(dir, "load"))
	o := own(t, dir, "./load", "./load-too")
	if it := o.want(State, StateOpen); it.Name != "./load" {
		t.Errorf("open %+v; want name ./load", it)
	}
	w.send("1\r\n+003")
	o.want(Data, "1\r\n")
	time.Sleep(50 * time.Millisecond) // less than makes it idle
	w.unplug()
	if it := o.want(Data, "+003"); it.Cut.Why != CutLost {
		t.Errorf("cut %+v; want lost", it.Cut)
	}
	lost := o.want(State, StateLost)
	if lost.Reason != "unplugged" || lost.Name != "./load" {
		t.Errorf("lost %+v; want ./load unplugged", lost)
	}
	retry := o.want(State, StateRetry)
	if want := "no such port " + dir + "/load or " + dir + "/load-too; plug it in or correct port= in the trial file"; retry.Reason != want {
		t.Errorf("retry reason %q; want %q", retry.Reason, want)
	}

	w = newWire(t)
	w.link(filepath.Join(dir, "load"))
	back := o.want(State, StateOpen)
	if back.Name != "./load" || back.Gap != back.T-lost.T {
		t.Errorf("open %+v after lost at %d; want ./load and the gap between", back, lost.T)
	}
	w.send("2\r\n")
	o.want(Data, "2\r\n")

	w.unplug()
	os.Remove(filepath.Join(dir, "load"))
	w = newWire(t)
	w.link(filepath.Join(dir, "load-too"))
	o.want(State, StateLost)
	for it := o.next(); it.State != StateOpen || it.Name != "./load-too"; it = o.next() {
		if it.State != StateRetry {
			t.Fatalf("item %+v; want retry, or open as ./load-too", it)
		}
	}
	w.send("3\r\n")
	o.want(Data, "3\r\n")
	o.stop()
	o.want(State, StateClosed)
}

// What waited in the driver is not taken for fresh, however much it is.
func TestPtyOldBytesAreDropped(t *testing.T) {
	w := newWire(t)
	for i := range 100 {
		w.master.SetWriteDeadline(time.Now().Add(20 * time.Millisecond))
		if _, err := w.master.WriteString(strings.Repeat(fmt.Sprintf("old %3d\r\n", i), 40)); err != nil {
			break // full
		}
	}
	o := own(t, "", w.name)
	o.want(State, StateOpen)
	w.master.SetWriteDeadline(time.Time{})
	w.send("fresh\r\n")
	o.want(Data, "fresh\r\n")
}

// A relay that reads nothing fills its port: that is told, the other port goes
// on, and the end comes in time with nothing left behind.
func TestPtyNobodyReads(t *testing.T) {
	full, other := newWire(t), newWire(t)
	stop, load := own(t, "", full.name), own(t, "", other.name)
	stop.want(State, StateOpen)
	load.want(State, StateOpen)
	big := bytes.Repeat(AppendBeat(nil, 1, 1), 1000)
	for sent := true; sent; {
		stop.owner.Post(big)
		it := stop.next()
		if sent = it.Kind == Sent; !sent && it.State != StateStalled {
			t.Fatalf("item %+v; want stalled", it)
		}
	}
	for n := range 100 {
		stop.owner.Post(AppendBeat(nil, 1, uint64(n)))
		other.send(fmt.Sprintf("%d\r\n", n))
		load.want(Data, fmt.Sprintf("%d\r\n", n))
	}
	full.send("RELAY OPEN 1 boot*50\r\n") // and what that port says is still read
	it := stop.next()
	for it.Kind != Data { // the system may still have made room for a part of what waits
		it = stop.next()
	}
	if got := string(it.Cut.Raw); got != "RELAY OPEN 1 boot*50\r\n" {
		t.Fatalf("the full port says %q", got)
	}
	began := time.Now()
	stop.stop()
	if d := time.Since(began); d > 2*time.Second {
		t.Errorf("ended %v after it was told to; want within 2 s", d)
	}
}

func TestPtySends(t *testing.T) {
	w := newWire(t)
	o := own(t, "", w.name)
	o.want(State, StateOpen)
	arm := string(AppendArm(nil, 1))
	o.owner.Post([]byte(arm))
	o.want(Sent, arm)
	got, err := bufio.NewReader(w.master).ReadString('\n')
	if got != arm || err != nil {
		t.Errorf("the other end reads %q, %v; want %q", got, err, arm)
	}
}
