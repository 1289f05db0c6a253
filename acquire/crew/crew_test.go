package crew

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// headOf is the head of a scenario's run.
func headOf(t *testing.T, sc *deck.Scenario) session.Head {
	t.Helper()
	tr, err := trial.ParseTrial("trial.toml", []byte(sc.TrialFile()))
	if err != nil {
		t.Fatal(err)
	}
	run, ok := tr.Run(sc.Run)
	if !ok {
		t.Fatalf("the trial file has no run %q", sc.Run)
	}
	return session.Head{Tool: "hawse/test", Build: "test", Started: time.Date(2026, 4, 12, 9, 2, 11, 0, time.UTC), Mode: "simulated",
		Caption: sc.Caption, Scale: 1, Trial: tr, File: "trial.toml", Run: run}
}

// play plays a scenario dry to its end, or for most of deck time.
func play(t *testing.T, sc *deck.Scenario, keep bool, most time.Duration) (*session.Dry, *Crew) {
	t.Helper()
	d, err := session.NewDry(headOf(t, sc))
	if err != nil {
		t.Fatal(err)
	}
	d.Keep, d.WithJudge = keep, keep
	m, k := deck.NewSim(sc, 1), New(sc.Crew)
	wall := time.Date(2026, 4, 12, 9, 2, 11, 0, time.UTC)
	m.OnPlug(func(port string, at int64, in bool) {
		state := map[bool]string{true: "open", false: "lost"}[in]
		d.Port(at, port, state, "")
	})
	for _, port := range []string{"load", "line", "stop"} {
		d.Port(0, port, "open", "")
	}
	var clock, look, last int64
	for at := int64(0); at < int64(most) && d.Ending() == "" && k.Fault() == ""; at = min(m.Next(), d.Next(), last+50e6) {
		m.Advance(at, func(port string, at int64, raw []byte) {
			d.Rx(at, port, raw)
			last = at
			m.Hear(at, d.Out())
		})
		if at-last >= 50e6 || at >= d.Next() {
			d.Tick(at)
			last = at
		}
		if at >= clock {
			d.Clock(at, wall.Add(time.Duration(at)))
			clock += 1e9
		}
		if at >= look && !k.Over() {
			k.On(d, at)
			look = at + 20e6
		}
		m.Hear(at, d.Out())
	}
	return d, k
}

// TestScenariosPlayDry: the crew comes through its script, and what was said of
// it is what a replay says.
func TestScenariosPlayDry(t *testing.T) {
	for _, name := range []string{"short", "unplug", "slow-cell", "two-alarms", "weld"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			sc, err := deck.Load(name)
			if err != nil {
				t.Fatal(err)
			}
			d, k := play(t, sc, true, time.Hour)
			if k.Fault() != "" {
				t.Fatal(k.Fault())
			}
			if !k.Over() || d.Ending() == "" {
				s := d.Snapshot()
				t.Fatalf("after %.0f s of deck time the crew is at line %d (%s); the pull has not ended: stage %v, %v, tension %v, rode out %v",
					float64(s.T)/1e9, k.Step().Line, k.Step(), s.Guard.Stage, s.Guard.Order, s.Tension.Now, s.Haul.RodeOut)
			}
			var log []byte
			var prev uint32
			d.End(d.Snapshot().T)
			for _, r := range d.Records {
				log, prev = logfmt.AppendRecord(log, &r, prev)
			}
			f, damage, err := session.Refold(bytes.NewReader(log), "test")
			if err != nil || len(damage) > 0 || len(f.Diffs) > 0 || f.Unsaid > 0 {
				t.Errorf("replay: %v, damage %v, differences %v, %d unsaid", err, damage, f.Diffs, f.Unsaid)
			}
		})
	}
}

// shortWith is the scenario "short" with another crew.
func shortWith(t *testing.T, crew string) *deck.Scenario {
	t.Helper()
	sc, err := deck.Load("short")
	if err != nil {
		t.Fatal(err)
	}
	text, _, _ := strings.Cut(string(sc.Text), "[crew]")
	if sc, err = deck.ParseScenario("short.txt", []byte(text+"[crew]\n"+crew)); err != nil {
		t.Fatal(err)
	}
	return sc
}

func TestScriptStopsAtItsFault(t *testing.T) {
	tests := []struct{ name, crew, want string }{
		{"refused act", "until load live\nact arm\nact stop\n", "act arm: not armed"},
		{"taken, though it was to be refused", "until load live\nrefused act mark \"x\"\n", "was to be refused, and was taken"},
		{"refused as it was to be", "until load live\nrefused act arm\nact end \"x\"\n", ""},
		{"not-ready takes it back", "until load live\nact ready winch \"line clear\"\nact not-ready winch \"line crosses\"\nact end \"x\"\n", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d, k := play(t, shortWith(t, tt.crew), false, 20*time.Second)
			if tt.want == "" && (k.Fault() != "" || !k.Over()) || !strings.Contains(k.Fault(), tt.want) {
				t.Errorf("fault %q at %v, want %q", k.Fault(), k.Step(), tt.want)
			}
			if k.On(d, 30e9); k.Fault() != "" && !k.Over() {
				t.Error("a script that has stopped goes on")
			}
		})
	}
}

// TestLooksAtTheReadingAfterAZero: readings that were on their way when the crew
// spoke lie before the record of the zero, and say nothing since.
func TestLooksAtTheReadingAfterAZero(t *testing.T) {
	const ms = int64(1e6)
	for _, word := range []string{"zero", "correct sign"} {
		k := New(shortWith(t, "act "+word+"\nact ready winch \"line clear\"\n").Crew)
		next := func(t, n, snapT, at int64) string {
			s := &session.Snapshot{N: uint64(n), T: snapT}
			s.Tension.At = at
			a, _ := k.Next(t, s)
			return a.What
		}
		if got, _, _ := strings.Cut(word, " "); next(100*ms, 10, 99*ms, 50*ms) != got {
			t.Fatalf("%s is not done at once", word)
		}
		k.Answer(session.Outcome{N: 13}) // folded behind a reading of 130 ms
		for _, tt := range []struct {
			why             string
			t, n, snapT, at int64
			want            string
		}{
			{"a snapshot from before the act", 131 * ms, 12, 130 * ms, 130 * ms, ""},
			{"the act is seen, the reading came before it", 140 * ms, 13, 135 * ms, 130 * ms, ""},
			{"a reading of the moment it was seen", 150 * ms, 14, 136 * ms, 135 * ms, ""},
			{"a reading since", 160 * ms, 15, 150 * ms, 150 * ms, session.ActReady},
		} {
			if got := next(tt.t, tt.n, tt.snapT, tt.at); got != tt.want {
				t.Errorf("%s, %s: act %q, want %q", word, tt.why, got, tt.want)
			}
		}
	}
	k := New(shortWith(t, "act zero\nact ready winch \"line clear\"\n").Crew)
	k.Next(0, &session.Snapshot{N: 1})
	k.Answer(session.Outcome{N: 2})
	k.Next(0, &session.Snapshot{N: 2, T: 1e9})
	for _, tt := range []struct {
		t    int64
		want bool
	}{{1e9 + longestLook, false}, {1e9 + longestLook + 1, true}} {
		if _, now := k.Next(tt.t, &session.Snapshot{N: 9, T: tt.t}); now != tt.want {
			t.Errorf("no reading for %d ns: goes on %v, want %v", tt.t-1e9, now, tt.want)
		}
	}
}

// TestArmsAgain: an arming that is refused is tried again a second apart, what is not
// acknowledged before it; after so many the script stops.
func TestArmsAgain(t *testing.T) {
	k := New(shortWith(t, "act rearm pull\nact end \"x\"\n").Crew)
	s := &session.Snapshot{N: 1}
	s.Guard.Stop = safety.Stop{Kind: safety.Trip}
	did := ""
	for at := int64(0); at < 3e9; at += 100e6 {
		a, now := k.Next(at, s)
		if !now {
			continue
		}
		did += fmt.Sprintf("%.1f %s, ", float64(at)/1e9, a.What)
		o := session.Outcome{N: 1}
		switch {
		case a.What == session.ActAck:
			s.Guard.Stop.Acked = true
		case a.What == session.ActRearm && !s.Guard.Stop.Acked:
			o.Refused = "acknowledge first"
		}
		k.Answer(o)
	}
	if want := "0.0 rearm, 1.1 ack, 1.2 rearm, 1.3 end, "; did != want || k.Fault() != "" {
		t.Errorf("did %q, fault %q; want %q", did, k.Fault(), want)
	}
	k = New(shortWith(t, "act arm\n").Crew)
	n := 0
	for at := int64(0); !k.Over() && at < 60e9; at += 100e6 {
		if _, now := k.Next(at, s); now {
			n++
			k.Answer(session.Outcome{N: 1, Refused: "not armed: no load"})
		}
	}
	if n != 1+mostAgain || !strings.Contains(k.Fault(), "no load") {
		t.Errorf("tried %d times, fault %q; want %d times and the reason", n, k.Fault(), 1+mostAgain)
	}
}

func TestSeats(t *testing.T) {
	sc := shortWith(t, "act zero\nact ready winch \"line clear\"\nact ready director \"deck clear\"\nact pass 50 m\nact waive weight \"none aboard\"\nact correct unit lb\nact lower tension_stop \"7.0 kN\"\nact stage pull\nact end \"over\"\n")
	want := []string{
		"logger zero |stand by", "winch operator ready line clear|stand by", "director ready deck clear|stand by", "winch operator pass 50 m|stand by",
		"director waive weight none aboard|stand by", "logger correct unit lb|stand by", "director lower tension_stop 7.0 kN|stand by", "director stage |pull", "director end over|stand by",
	}
	for i, step := range sc.Crew {
		a, err := act(step)
		if got := a.Who.String() + " " + a.What + " " + a.Value + "|" + a.Stage.String(); err != nil || got != want[i] {
			t.Errorf("%s: %q, %v; want %q", step, got, err, want[i])
		}
	}
}
