package deck

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"hawse/trial"
)

const ms = int64(time.Millisecond)

// say makes a word with its checksum.
func say(format string, a ...any) string {
	body := fmt.Sprintf(format, a...)
	return fmt.Sprintf("%s*%02X\n", body, xor([]byte(body)))
}

func TestRelay(t *testing.T) {
	type in struct {
		at   int64 // ms
		text string
	}
	open := func(at int64, session uint32, why string) RelayChange {
		return RelayChange{T: at * ms, Session: session, Reason: why}
	}
	closed := func(at int64, session uint32) RelayChange {
		return RelayChange{T: at * ms, Closed: true, Session: session}
	}
	tests := []struct {
		name  string
		in    []in
		until int64 // ms
		want  []RelayChange
		bad   uint64
	}{
		{"powered and left alone", nil, 5000, []RelayChange{open(0, 0, "boot")}, 0},
		{"beats alone", []in{{10, say("BEAT 7 1")}, {60, say("BEAT 7 2")}}, 900, []RelayChange{open(0, 0, "boot")}, 0},
		{"arm, then silence", []in{{100, say("ARM 7")}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(400, 7, "beat-lost")}, 0},
		{"beats hold it", []in{{100, say("ARM 7")}, {350, say("BEAT 7 1")}, {600, say("BEAT 7 2")}}, 899,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7)}, 0},
		{"a beat at the deadline is late", []in{{100, say("ARM 7")}, {400, say("BEAT 7 1")}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(400, 7, "beat-lost")}, 0},
		{"beats of another session", []in{{100, say("ARM 7")}, {300, say("BEAT 8 1")}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(400, 7, "beat-lost")}, 0},
		{"the same beat again and again", []in{{100, say("ARM 7")}, {200, say("BEAT 7 1")}, {400, say("BEAT 7 1")}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(500, 7, "beat-lost")}, 0},
		{"a count that begins with 0", []in{{100, say("ARM 7")}, {300, say("BEAT 7 0")}}, 599,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7)}, 0},
		{"beats after the window do not close it again", []in{{100, say("ARM 7")}, {500, say("BEAT 7 1")}, {550, say("BEAT 7 2")}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(400, 7, "beat-lost")}, 0},
		{"told to open", []in{{100, say("ARM 7")}, {200, say("OPEN 7")}, {250, say("BEAT 7 1")}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(200, 7, "open")}, 0},
		{"told to open by another session", []in{{100, say("ARM 7")}, {200, say("OPEN 3")}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(200, 7, "open")}, 0},
		{"a used session", []in{{100, say("ARM 7")}, {200, say("OPEN 7")}, {300, say("ARM 7")}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(200, 7, "open")}, 0},
		{"a fresh session closes it again", []in{{100, say("ARM 7")}, {200, say("OPEN 7")}, {300, say("ARM 8")}}, 599,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(200, 7, "open"), closed(300, 8)}, 0},
		{"session 0 is none", []in{{100, say("ARM 0")}}, 900, []RelayChange{open(0, 0, "boot")}, 0},
		{"an old session while closed", []in{{100, say("ARM 7")}, {150, say("ARM 8")}, {200, say("ARM 7")}}, 449,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), closed(150, 8)}, 0},
		{"in pieces, with CR", []in{{100, "AR"}, {120, "M 7*4"}, {130, "9\r\n"}}, 400,
			[]RelayChange{open(0, 0, "boot"), closed(130, 7)}, 0},
		{"wrong checksum", []in{{100, "ARM 7*00\n"}}, 900, []RelayChange{open(0, 0, "boot")}, 1},
		{"lower-case checksum", []in{{100, "ARM 5*4b\n"}}, 900, []RelayChange{open(0, 0, "boot")}, 1},
		{"noise", []in{{100, "\x00\xff*\n\n*\nARM\n" + say("ARM") + say("ARM 07") + say("ARM +7") + say("ARM 7 ") + say("BEAT 7") +
			say("arm 7") + say("ARM 4294967296") + say("BEAT 1 18446744073709551616")}}, 900, []RelayChange{open(0, 0, "boot")}, 12},
		{"a flood of wrong words does not hold it", []in{{100, say("ARM 7")}, {200, strings.Repeat("BEAT 7 1*00\n", 50)}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(400, 7, "beat-lost")}, 50},
		{"a line without end, then a word", []in{{100, strings.Repeat("x", 5000)}, {110, "\n" + say("ARM 7")}}, 200,
			[]RelayChange{open(0, 0, "boot"), closed(110, 7)}, 1},
		{"time that runs back", []in{{100, say("ARM 7")}, {50, say("BEAT 7 1")}}, 900,
			[]RelayChange{open(0, 0, "boot"), closed(100, 7), open(400, 7, "beat-lost")}, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := NewRelay(0, 300*time.Millisecond)
			for _, in := range tt.in {
				r.Feed(in.at*ms, []byte(in.text))
			}
			r.Advance(tt.until * ms)
			if d := cmp.Diff(tt.want, r.Log()); d != "" {
				t.Errorf("changes after %+v (-want +got):\n%s", tt.in, d)
			}
			if r.Bad() != tt.bad {
				t.Errorf("bad lines %d, want %d", r.Bad(), tt.bad)
			}
		})
	}
}

func TestRelayAnswers(t *testing.T) {
	r := NewRelay(0, 300*time.Millisecond)
	var got []string
	take := func(at int64) {
		for _, l := range strings.SplitAfter(string(r.Take(nil)), "\n") {
			if l != "" {
				got = append(got, fmt.Sprintf("%d %s", at, strings.TrimSuffix(l, "\n")))
			}
		}
	}
	for at := int64(0); at <= 3000; at += 100 {
		switch at {
		case 1300:
			r.Feed(at*ms, []byte(say("ARM 12")))
		case 1500:
			r.Feed(at*ms, []byte(say("BEAT 12 1")))
		}
		r.Advance(at * ms)
		take(at)
	}
	r.Advance(9500 * ms) // one answer makes up for the seconds missed
	take(9500)
	want := []string{
		"0 RELAY OPEN 0 boot*51", "1000 RELAY OPEN 0 boot*51", "1300 RELAY CLOSED 12*52",
		"1800 RELAY OPEN 12 beat-lost*4F", "2000 RELAY OPEN 12 beat-lost*4F", "3000 RELAY OPEN 12 beat-lost*4F",
		"9500 RELAY OPEN 12 beat-lost*4F",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("answers (-want +got):\n%s", d)
	}
	if due := r.Due(); due != 10000*ms {
		t.Errorf("next answer at %d ms, want 10000: the grid must not drift", due/ms)
	}
}

func TestRelayThatCanRememberNoMoreStaysOpen(t *testing.T) {
	r := NewRelay(0, 300*time.Millisecond)
	for s := uint64(1); s <= relayMaxUsed; s++ {
		word := strconv.AppendUint([]byte("ARM "), s, 10)
		sum := xor(word)
		r.Feed(int64(s), append(word, '*', hexDigits[sum>>4], hexDigits[sum&15], '\n'))
		r.Take(nil)
	}
	r.Feed(relayMaxUsed, []byte(say("OPEN 1")))
	r.Feed(relayMaxUsed, []byte(say("ARM %d", relayMaxUsed+1)))
	if r.Closed() || r.Reason() != "full" {
		t.Errorf("closed %v, reason %q; want open, full", r.Closed(), r.Reason())
	}
}

// TestRelayProperties holds the relay against a dumb twin that only remembers
// what happened: it may be closed only within the window after an arm or a beat
// of the newest fresh session, with no OPEN since that arm.
func TestRelayProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		window := time.Duration(rapid.Int64Range(10, 500).Draw(t, "window")) * time.Millisecond
		r := NewRelay(0, window)
		var (
			now, alive int64
			armed      uint32 // fresh session in force; 0 none
			used       = map[uint32]bool{}
			counts     = map[uint32]int64{}
		)
		steps := rapid.IntRange(1, 60).Draw(t, "steps")
		for range steps {
			now += rapid.Int64Range(0, 400).Draw(t, "dt") * ms
			if armed != 0 && now >= alive+int64(window) {
				armed = 0
			}
			session := rapid.Uint32Range(0, 4).Draw(t, "session")
			var text string
			switch rapid.SampledFrom([]string{"ARM", "BEAT", "BEAT", "BEAT", "OPEN", "bad", "none"}).Draw(t, "word") {
			case "ARM":
				text = say("ARM %d", session)
				if session != 0 && !used[session] {
					armed, alive, used[session] = session, now, true
				}
			case "BEAT":
				counts[session]++
				text = say("BEAT %d %d", session, counts[session])
				if session != 0 && session == armed {
					alive = now
				}
			case "OPEN":
				text = say("OPEN %d", session)
				armed = 0
			case "bad":
				text = rapid.SampledFrom([]string{"ARM 1*00\n", "BEAT 1 1\n", "\n", "ARM\n"}).Draw(t, "bad")
			}
			was := r.Closed()
			r.Feed(now, []byte(text))
			if r.Closed() != (armed != 0) {
				t.Fatalf("at %d ms after %q: closed %v, want %v", now/ms, text, r.Closed(), armed != 0)
			}
			if !was && r.Closed() && !strings.HasPrefix(text, "ARM") {
				t.Fatalf("at %d ms %q closed it", now/ms, text)
			}
		}
		seen := map[uint32]bool{}
		for i, c := range r.Log() {
			if c.Closed && seen[c.Session] {
				t.Fatalf("session %d closed it twice: %+v", c.Session, r.Log())
			}
			seen[c.Session] = seen[c.Session] || c.Closed
			if i > 0 && c.T < r.Log()[i-1].T {
				t.Fatalf("changes out of order: %+v", r.Log())
			}
		}
		r.Advance(now + int64(window))
		if r.Closed() {
			t.Fatalf("still closed after %v of silence", window)
		}
	})
}

func FuzzRelay(f *testing.F) {
	f.Add([]byte(say("ARM 1")+say("BEAT 1 1")+say("OPEN 1")), uint8(3), uint16(20))
	f.Add([]byte("ARM 1*\n\x00\xff"), uint8(1), uint16(500))
	f.Fuzz(func(t *testing.T, text []byte, piece uint8, step uint16) {
		r := NewRelay(0, 300*time.Millisecond)
		now := int64(0)
		for rest := text; len(rest) > 0; {
			n := min(int(piece)+1, len(rest))
			was := r.Session()
			r.Feed(now, rest[:n])
			if r.Closed() && r.Session() == 0 {
				t.Fatalf("closed without a session by %q", text)
			}
			if r.Session() != was && !strings.Contains(string(text), fmt.Sprintf("ARM %d*", r.Session())) {
				t.Fatalf("session %d came from nowhere in %q", r.Session(), text)
			}
			rest = rest[n:]
			now += int64(step) * ms
		}
		r.Advance(now + 300*ms)
		if r.Closed() {
			t.Fatalf("closed after a window of silence by %q", text)
		}
		for l := range strings.SplitSeq(strings.TrimSuffix(string(r.Take(nil)), "\n"), "\n") {
			body, sum, ok := strings.Cut(l, "*")
			if !ok || fmt.Sprintf("%02X", xor([]byte(body))) != sum {
				t.Fatalf("answer %q has no good checksum", l)
			}
		}
	})
}

// TestRelayWelds: a welded contact stays closed whatever the relay is told, says
// so, and leaves nothing due in the past.
func TestRelayWelds(t *testing.T) {
	for _, speaks := range []string{"text", trial.StopModbus} {
		for _, tt := range []struct {
			name  string
			armed bool
		}{{"closed", true}, {"open", false}} {
			r := newStopRelay(speaks, 0, 300*time.Millisecond)
			arm := []byte(say("ARM 7"))
			open := []byte(say("OPEN 7"))
			if speaks == trial.StopModbus {
				frame := func(b ...byte) []byte { return append(b, checksum(b)...) }
				unit := byte(trial.DefaultModbus.Unit)
				session, coil := byte(trial.DefaultModbus.Session), byte(trial.DefaultModbus.Coil)
				arm = append(frame(unit, setRegisters, 0, session, 0, 2, 4, 0, 0, 0, 7), frame(unit, setCoil, 0, coil, 0xFF, 0)...)
				open = append(frame(unit, setCoil, 0, coil, 0, 0), frame(unit, setRegisters, 0, session, 0, 2, 4, 0, 0, 0, 9)...)
			}
			if tt.armed {
				r.Feed(100*ms, arm)
			}
			if r.Closed() != tt.armed {
				t.Fatalf("%s, %s: closed %v before it welds, want %v", speaks, tt.name, r.Closed(), tt.armed)
			}
			r.weld(200 * ms)
			r.Feed(250*ms, open)
			for at := 300 * ms; at < 5000*ms; at = r.Due() {
				r.Advance(at)
				if due := r.Due(); due <= at {
					t.Fatalf("%s, %s: at %d ms due at %d ms, which is past", speaks, tt.name, at/ms, due/ms)
				}
			}
			if log := r.Log(); !r.Closed() || len(log) != 2 || r.Reason() != "" {
				t.Errorf("%s, %s: closed %v, changes %+v; want it closed, and no change since", speaks, tt.name, r.Closed(), log)
			}
			if said := string(r.Take(nil)); speaks == "text" && !strings.HasSuffix(said, say("RELAY CLOSED %d", r.Session())) {
				t.Errorf("%s: it says %q, want that it is closed", tt.name, said)
			}
		}
	}
}
