package session

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// posts keeps what was posted, each message with its time.
type posts struct {
	now int64
	got []string
	all [][]byte
}

func (p *posts) Post(msg []byte) {
	p.got = append(p.got, fmt.Sprintf("%v %q", time.Duration(p.now), msg))
	p.all = append(p.all, append([]byte(nil), msg...))
}

const tms = int64(time.Millisecond)

// play lets a record be folded every 10 ms from from to upTo.
func (p *posts) play(after func(int64, *safety.State), g *safety.State, from, upTo int64) {
	for t := from; t < upTo; t += 10 * tms {
		p.now = t
		after(t, g)
	}
}

func stopOf(kind string) (*stopOut, *posts) {
	form := acquire.NewStopForm(trial.StopOutput{Kind: kind, Line: "rts", Beat: 50 * time.Millisecond, Modbus: trial.DefaultModbus,
		Port: trial.Port{Baud: 19200}})
	p, o := &posts{}, &stopOut{}
	o.init(p, form, 50*tms, 1)
	return o, p
}

// TestStopOutKinds: of every kind nothing is said before the first permit; then
// a beat every 50 ms, an OPEN at once when the permit goes, and no beat after it.
func TestStopOutKinds(t *testing.T) {
	for _, kind := range []string{trial.StopText, trial.StopModbus, trial.StopPulse} {
		t.Run(kind, func(t *testing.T) {
			o, p := stopOf(kind)
			g := &safety.State{}
			p.play(o.after, g, 0, 5000*tms)
			if len(p.got) > 0 || o.next() != math.MaxInt64 {
				t.Fatalf("said before the first arming: %q", p.got)
			}
			g.Permit, g.Session = true, 7
			p.play(o.after, g, 5000*tms, 6000*tms)
			if len(p.got) != 20 || !strings.HasPrefix(p.got[0], "5s ") || !strings.HasPrefix(p.got[19], "5.95s ") {
				t.Errorf("a second of permit gave %d messages from %s to %s; want 20, every 50 ms", len(p.got), p.got[0], p.got[len(p.got)-1])
			}
			if want := 6000 * tms; o.next() != want {
				t.Errorf("next beat at %d, want %d", o.next(), want)
			}
			for _, msg := range p.all {
				if o.form.Class(msg) == acquire.ClassOpen {
					t.Errorf("an OPEN while hauling is permitted: %q", msg)
				}
			}
			p.got, p.all = nil, nil
			g.Permit = false
			p.play(o.after, g, 6010*tms, 9000*tms)
			want := map[string]int{trial.StopText: 1, trial.StopModbus: 3, trial.StopPulse: 1}[kind]
			if len(p.got) != want || !strings.HasPrefix(p.got[0], "6.01s ") {
				t.Errorf("three seconds of stop gave %q; want %d OPEN, the first at once", p.got, want)
			}
			for _, msg := range p.all {
				if o.form.Class(msg) != acquire.ClassOpen {
					t.Errorf("%q while hauling is not permitted; want OPEN only", msg)
				}
			}
			// A new permit begins anew.
			p.got, p.all = nil, nil
			g.Permit, g.Session = true, 8
			p.play(o.after, g, 9000*tms, 9010*tms)
			if first := o.form.Beat(nil, 8, 1, false); len(p.all) != 1 || string(p.all[0]) != string(first) {
				t.Errorf("re-armed: %q, want %q", p.got, first)
			}
			o.open(9010 * tms)
			o.open(9010 * tms)
			if len(p.all) != 2 || o.form.Class(p.all[1]) != acquire.ClassOpen {
				t.Errorf("at the end: %q; want one OPEN", p.got)
			}
			o.owner = nil
			p.play(o.after, g, 9020*tms, 9900*tms)
			if len(p.all) != 2 {
				t.Errorf("after the last word: %q", p.got[2:])
			}
		})
	}
}

// TestStopOutRecords: what went out is in tx records byte for byte, heartbeats
// a second at a time and anything else at once.
func TestStopOutRecords(t *testing.T) {
	for _, kind := range []string{trial.StopText, trial.StopModbus, trial.StopPulse} {
		t.Run(kind, func(t *testing.T) {
			o, _ := stopOf(kind)
			var sent, kept strings.Builder
			var lines []string
			keep := func(r logfmt.Record, some bool) {
				if some {
					kept.WriteString(r.Str("raw"))
					lines = append(lines, r.Str("lines"))
				}
			}
			at := int64(0)
			send := func(msg []byte) {
				sent.Write(msg)
				keep(o.sent(acquire.Item{Kind: acquire.Sent, T: at, Raw: msg}))
				at += 50 * tms
			}
			for n := range uint64(42) {
				send(o.form.Beat(nil, 7, n+1, true))
			}
			send(o.form.Open(nil, 7))
			send(o.form.Beat(nil, 8, 1, true))
			keep(o.rest())
			keep(o.rest())
			if sent.String() != kept.String() {
				t.Errorf("sent %q\nkept %q", sent.String(), kept.String())
			}
			if diff := cmp.Diff([]string{"21", "21", "1", "1"}, lines); diff != "" {
				t.Errorf("messages by record (-want +got):\n%s", diff)
			}
		})
	}
}

func TestStopOutAllocatesNothing(t *testing.T) {
	for _, kind := range []string{trial.StopText, trial.StopModbus, trial.StopPulse} {
		o, _ := stopOf(kind)
		o.owner = deafPoster{}
		g := &safety.State{Permit: true, Session: 7, RelayOn: true}
		at := int64(0)
		if n := testing.AllocsPerRun(1000, func() { at += 50 * tms; o.after(at, g) }); n != 0 {
			t.Errorf("%s: %v allocations a beat, want 0", kind, n)
		}
	}
}

type deafPoster struct{}

func (deafPoster) Post([]byte) {}

func TestHornOut(t *testing.T) {
	unseen := func(p safety.Priority) *safety.State {
		g := &safety.State{}
		g.Alarms[safety.LoadSilent] = safety.Alarm{State: safety.Unacknowledged, Priority: p}
		return g
	}
	returned := unseen(safety.AlarmPriority)
	returned.Alarms[safety.LoadSilent].State = safety.Returned
	seen := unseen(safety.Emergency)
	seen.Alarms[safety.LoadSilent].State = safety.Acknowledged
	stopped := unseen(safety.Emergency)
	stopped.Order = safety.OrderEase
	tests := []struct {
		name  string
		state *safety.State
		want  string // "" nothing
	}{
		{"nothing", &safety.State{}, ""},
		{"a caution", unseen(safety.Caution), ""},
		{"a warning", unseen(safety.Warning), ""},
		{"an alarm", unseen(safety.AlarmPriority), "SIGNAL 1 0"},
		{"an emergency", unseen(safety.Emergency), "SIGNAL 1 0"},
		{"an alarm that went before anybody saw it", returned, "SIGNAL 1 0"},
		{"an alarm that was seen", seen, ""},
		{"a stop", &safety.State{Order: safety.OrderStop}, "SIGNAL 0 1"},
		{"a stop and its alarm", stopped, "SIGNAL 1 1"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p, o := &posts{}, &hornOut{}
			o.init(p, acquire.NewHornForm(&trial.Horn{Kind: trial.StopText}), 1)
			p.play(o.after, tt.state, 0, 2500*tms)
			want := 3 // at once and once a second
			if tt.want == "" {
				want = 0
			}
			if len(p.got) != want {
				t.Fatalf("in 2.5 s: %q; want %d messages", p.got, want)
			}
			for _, m := range p.all {
				if !strings.HasPrefix(string(m), tt.want) {
					t.Errorf("said %q, want %q", m, tt.want)
				}
			}
			if tt.want == "" {
				return
			}
			p.play(o.after, &safety.State{}, 2500*tms, 2510*tms)
			if last := string(p.all[len(p.all)-1]); !strings.HasPrefix(last, "SIGNAL 0 0") {
				t.Errorf("when it is over: %q, want both off at once", last)
			}
		})
	}
}

// TestHornTry: horn and lamp are on for a second, on a pulse train in pulses,
// and what is new of it is in the record.
func TestHornTry(t *testing.T) {
	for kind, most := range map[string]int{trial.StopText: 3, trial.StopPulse: 22} {
		p, o := &posts{}, &hornOut{}
		o.init(p, acquire.NewHornForm(&trial.Horn{Kind: kind, Line: "rts"}), 1)
		g := &safety.State{}
		o.tryOut(1000 * tms)
		p.play(o.after, g, 1000*tms, 1990*tms)
		if next := o.next(1990 * tms); next > 2000*tms {
			t.Errorf("%s: next at %v, want no later than the end of the try", kind, time.Duration(next))
		}
		p.play(o.after, g, 2000*tms, 2200*tms)
		first, records := string(p.all[0]), []string(nil)
		for _, m := range p.all {
			if r, news := o.sent(acquire.Item{T: 1, Raw: m}); news {
				records = append(records, r.Str("raw")[:10])
			}
		}
		if !strings.HasPrefix(first, "SIGNAL 1 1") || len(p.all) > most+4 || len(p.all) < 2 {
			t.Errorf("%s: %q; want both on, then off", kind, p.got)
		}
		if diff := cmp.Diff([]string{"SIGNAL 1 1", "SIGNAL 0 0"}, records); diff != "" {
			t.Errorf("%s: records (-want +got):\n%s", kind, diff)
		}
	}
	o := &hornOut{} // none fitted
	o.tryOut(1)
	o.after(2, &safety.State{Order: safety.OrderStop})
	if o.next(3) != math.MaxInt64 {
		t.Error("a horn that is not there has something to say")
	}
}
