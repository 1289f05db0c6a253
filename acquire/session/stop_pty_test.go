//go:build linux || darwin

package session

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/acquire/deck"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// The tests here run against the simulated deck, over real pseudo-terminals and
// in real time. A pulse train cannot: a pseudo-terminal has no modem lines.

const stopScript = `[facts]
title Stop output
caption Invented data
depth 6 m
fairlead 1.5 m
payout 60 m
speed 2.4 m/min
stiffness 400 kN
relay KIND
[tension]
x 0 m 0.5 kN
x 40 m 3.0 kN
[winch]
until relay closed
haul
until x 39 m
`

// relayDeck runs a deck whose relay speaks kind.
func relayDeck(t *testing.T, kind string) (d *deck.Deck, dir string, now func() int64) {
	t.Helper()
	sc, err := deck.ParseScenario("stop.txt", []byte(strings.Replace(stopScript, "KIND", kind, 1)))
	if err != nil {
		t.Fatal(err)
	}
	dir = t.TempDir()
	clock := acquire.NewClock()
	if d, err = deck.Open(sc, deck.Options{Dir: filepath.Join(dir, "deck"), Clock: clock, Seed: 1}); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
		d.Close()
	})
	return d, dir, clock.Now
}

func within(t *testing.T, what string, limit time.Duration, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(limit); !ok(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not within %v: %s", limit, what)
		}
	}
}

func stopKind(t *testing.T, kind string) *trial.Trial {
	t.Helper()
	text := strings.Replace(trial.Template(), `kind = "text"`, `kind = "`+kind+`"`, 1)
	text = strings.Replace(text, "[stop]\nport = \"./deck/stop\"\nbaud = 9600", "[stop]\nport = \"./deck/stop\"\nbaud = 115200", 1)
	tr, err := trial.ParseTrial("trial.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// TestRelayOnThePort: the relay closes only on a fresh session, stays closed
// while beats come, and opens by itself within its window when they cease.
func TestRelayOnThePort(t *testing.T) {
	for _, kind := range []string{trial.StopText, trial.StopModbus} {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			d, dir, now := relayDeck(t, kind)
			o := stopKind(t, kind).Stop
			form := acquire.NewStopForm(o)
			items := make(chan acquire.Item, 1<<12)
			owner := acquire.NewOwner(acquire.OwnerOptions{Src: SrcStop, Port: o.Port, Form: form, Clock: acquire.NewClock(), Out: items, Dir: dir})
			ctx, cancel := context.WithCancel(context.Background())
			ended := make(chan struct{})
			go func() { defer close(ended); owner.Run(ctx) }()
			defer func() { cancel(); <-ended }()
			dec := acquire.NewStopDecoder(kind)
			var word acquire.StopWord
			heard := func() {
				for {
					select {
					case it := <-items:
						if it.Kind == acquire.Data {
							dec.Feed(it.Cut.Raw, func(w acquire.StopWord) {
								if w.State {
									word = w
									word.Frame = nil
								}
							})
						}
					default:
						return
					}
				}
			}
			within(t, "the port opens", 2*time.Second, func() bool {
				select {
				case it := <-items:
					return it.Kind == acquire.State && it.State == acquire.StateOpen
				default:
					return false
				}
			})
			beats := func(session uint32, n int) {
				for i := range uint64(n) {
					heard()
					owner.Post(form.Beat(nil, session, i+1, word.Closed && word.Session == session))
					time.Sleep(o.Beat)
				}
				heard()
			}
			beats(41, 20)
			if s := d.State(); !s.RelayClosed || s.Session != 41 || word.Session != 41 || !word.Closed {
				t.Fatalf("after a second of beats closed %v, session %d, told %+v; want it closed for 41, and so told", s.RelayClosed, s.Session, word)
			}
			ceased := now()
			within(t, "the relay opens by itself", o.Window+300*time.Millisecond, func() bool { return !d.State().RelayClosed })
			log := d.State().RelayLog
			last := log[len(log)-1]
			if last.Reason != "beat-lost" || last.T > ceased+int64(o.Window) {
				t.Errorf("opened as %q %v after the last beat was due; want beat-lost within %v", last.Reason, time.Duration(last.T-ceased), o.Window)
			}
			word = acquire.StopWord{}
			beats(41, 12)
			if d.State().RelayClosed {
				t.Error("closed again on a session it had")
			}
			beats(42, 12)
			if s := d.State(); !s.RelayClosed || s.Session != 42 {
				t.Errorf("a fresh session: closed %v, session %d, want closed for 42", s.RelayClosed, s.Session)
			}
			owner.Post(form.Open(nil, 42))
			within(t, "told to open", 200*time.Millisecond, func() bool { return !d.State().RelayClosed })
			if why := d.State().RelayReason; why != "open" {
				t.Errorf("open as %q, want that it was told", why)
			}
		})
	}
}

// TestCaptureStopsTheDeck: a whole capture closes the relay when the pull is
// begun, and opens it when somebody calls stop; its log replays.
func TestCaptureStopsTheDeck(t *testing.T) {
	for _, kind := range []string{trial.StopText, trial.StopModbus} {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			d, dir, now := relayDeck(t, kind)
			h := testHead(t)
			h.Trial = stopKind(t, kind)
			path := filepath.Join(dir, "a.log")
			c, err := Start(context.Background(), Config{Head: h, LogPath: path, Clock: acquire.NewClock(), Dir: dir, Log: logfmt.Options{}})
			if err != nil {
				t.Fatal(err)
			}
			do := func(a Act) {
				t.Helper()
				a.Name = "test"
				if a.Who == safety.Nobody {
					a.Who = safety.Director
				}
				if o, err := c.DoWait(context.Background(), a); err != nil || o.Refused != "" {
					t.Fatalf("%+v: %v, %s", a, err, o.Refused)
				}
			}
			within(t, "lines from both boxes", 20*time.Second, func() bool {
				s := c.Snapshot()
				return s.Load.Good > 25 && s.Line.Good > 25 && s.Stop.State == acquire.StateOpen
			})
			do(Act{What: ActDepth, Value: "6 m"})
			do(Act{What: ActPayout, Value: "60 m"})
			for _, a := range preArming {
				do(a)
			}
			if kind == trial.StopModbus && c.Snapshot().Stop.Good != 0 {
				t.Error("the Modbus relay was asked before arming")
			}
			do(Act{What: ActArm})
			do(Act{What: ActStage, Stage: trial.Pull})
			within(t, "the relay closes and is heard", 2*time.Second, func() bool {
				return d.State().RelayClosed && c.Snapshot().Guard.RelayOn
			})
			within(t, "the winch hauls", 2*time.Second, func() bool { return d.State().Speed > 0 })
			if s := c.Snapshot(); s.Guard.Stop.Kind != safety.NoStop {
				t.Fatalf("a stop nobody called: %+v", s.Guard.Stop)
			}
			called := now()
			do(Act{Who: safety.Watcher, What: ActStop})
			within(t, "the relay opens", time.Second, func() bool { return !d.State().RelayClosed })
			log := d.State().RelayLog
			if last := log[len(log)-1]; last.Reason != "open" {
				t.Errorf("it opened as %q, %v after the call; want that it was told to", last.Reason, time.Duration(last.T-called))
			}
			within(t, "it is told", 2*time.Second, func() bool { r := c.Snapshot().Relay; return r.Heard && !r.Closed })
			do(Act{What: ActAck})
			do(Act{What: ActRearm, Stage: trial.Pull})
			within(t, "it closes again", 2*time.Second, func() bool { return d.State().RelayClosed })
			if bad := d.State().RelayBad; bad != 0 {
				t.Errorf("the relay did not understand %d messages", bad)
			}
			for !func() bool {
				select {
				case <-c.Done():
					return true
				default:
					return false
				}
			}() {
				_, _ = c.DoWait(context.Background(), Act{Who: safety.Director, Name: "test", What: ActEnd, Value: "test over"})
			}
			if d.State().RelayClosed {
				t.Error("the capture has ended and the relay is closed")
			}
			f, err := os.Open(path)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			fold, damage, err := Refold(f, "test")
			if err != nil || len(damage) > 0 || len(fold.Diffs) > 0 || fold.Unsaid > 0 {
				t.Errorf("replay: %v, damage %v, differences %v, %d unsaid", err, damage, fold.Diffs, fold.Unsaid)
			}
		})
	}
}
