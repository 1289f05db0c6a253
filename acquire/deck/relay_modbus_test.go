package deck

import (
	"encoding/hex"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// ask is a question with its checksum, in hex: "01 05 0000 ff00".
func ask(text string) string {
	p, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		panic(err)
	}
	return string(append(p, checksum(p)...))
}

const (
	session7  = "01 10 0000 0002 04 0000 0007"
	session8  = "01 10 0000 0002 04 0000 0008"
	coilOn    = "01 05 0000 ff00"
	coilOff   = "01 05 0000 0000"
	coilRead  = "01 01 0000 0001"
	whichRead = "01 03 0000 0002"
)

func beatOf(n int) string { return fmt.Sprintf("01 06 0002 %04x", n) }

// Check values: published ones, as in acquire/testdata/crc16-modbus.csv.
func TestChecksum(t *testing.T) {
	for text, want := range map[string]string{"313233343536373839": "374b", "0207": "4112", "1103006b0003": "7687", "110200c40016": "baa9"} {
		p, _ := hex.DecodeString(text)
		if got := hex.EncodeToString(checksum(p)); got != want {
			t.Errorf("checksum(%s) = %s, want %s", text, got, want)
		}
	}
}

func TestModbusRelay(t *testing.T) {
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
	boot := open(0, 0, "boot")
	tests := []struct {
		name    string
		in      []in
		until   int64 // ms
		want    []RelayChange
		answers string // in hex, without the checksums
		bad     uint64
	}{
		{"powered and left alone", nil, 5000, []RelayChange{boot}, "", 0},
		{"coil on without a session", []in{{100, ask(coilOn)}}, 500, []RelayChange{boot}, "01 85 04", 0},
		{"beats alone", []in{{10, ask(beatOf(1))}, {60, ask(beatOf(2))}}, 500, []RelayChange{boot}, "01 06 0002 0001, 01 06 0002 0002", 0},
		{"armed, then silence", []in{{100, ask(session7)}, {150, ask(coilOn)}}, 900,
			[]RelayChange{boot, closed(150, 7), open(450, 7, "beat-lost")}, "01 10 0000 0002, 01 05 0000 ff00", 0},
		{"beats hold it", []in{{100, ask(session7)}, {150, ask(coilOn)}, {400, ask(beatOf(1))}, {650, ask(beatOf(2))}, {700, ask(coilRead)}, {720, ask(whichRead)}}, 949,
			[]RelayChange{boot, closed(150, 7)}, "01 10 0000 0002, 01 05 0000 ff00, 01 06 0002 0001, 01 06 0002 0002, 01 01 01 01, 01 03 04 0000 0007", 0},
		{"the same beat again and again", []in{{100, ask(session7)}, {150, ask(coilOn)}, {200, ask(beatOf(5))}, {400, ask(beatOf(5))}}, 900,
			[]RelayChange{boot, closed(150, 7), open(500, 7, "beat-lost")}, "01 10 0000 0002, 01 05 0000 ff00, 01 06 0002 0005, 01 06 0002 0005", 0},
		{"beats after the window do not close it again", []in{{100, ask(session7)}, {150, ask(coilOn)}, {500, ask(beatOf(1))}, {550, ask(beatOf(2))}, {600, ask(coilRead)}}, 900,
			[]RelayChange{boot, closed(150, 7), open(450, 7, "beat-lost")}, "01 10 0000 0002, 01 05 0000 ff00, 01 06 0002 0001, 01 06 0002 0002, 01 01 01 00", 0},
		{"reads are no beats", []in{{100, ask(session7)}, {150, ask(coilOn)}, {200, ask(coilRead)}, {400, ask(coilRead)}}, 900,
			[]RelayChange{boot, closed(150, 7), open(450, 7, "beat-lost")}, "01 10 0000 0002, 01 05 0000 ff00, 01 01 01 01, 01 01 01 01", 0},
		{"coil off, and on again for the same session", []in{{100, ask(session7)}, {150, ask(coilOn)}, {200, ask(coilOff)}, {250, ask(coilOn)}, {300, ask(session7)}, {350, ask(coilOn)}}, 900,
			[]RelayChange{boot, closed(150, 7), open(200, 7, "open")}, "01 10 0000 0002, 01 05 0000 ff00, 01 05 0000 0000, 01 85 04, 01 10 0000 0002, 01 85 04", 0},
		{"a fresh session closes it again", []in{{100, ask(session7)}, {150, ask(coilOn)}, {200, ask(coilOff)}, {250, ask(session8)}, {300, ask(coilOn)}}, 599,
			[]RelayChange{boot, closed(150, 7), open(200, 7, "open"), closed(300, 8)}, "01 10 0000 0002, 01 05 0000 ff00, 01 05 0000 0000, 01 10 0000 0002, 01 05 0000 ff00", 0},
		{"another session written while closed", []in{{100, ask(session7)}, {150, ask(coilOn)}, {200, ask(session7)}, {250, ask(session8)}}, 900,
			[]RelayChange{boot, closed(150, 7), open(250, 7, "session")}, "01 10 0000 0002, 01 05 0000 ff00, 01 10 0000 0002, 01 10 0000 0002", 0},
		{"asked for on again while closed", []in{{100, ask(session7)}, {150, ask(coilOn)}, {300, ask(coilOn)}}, 900,
			[]RelayChange{boot, closed(150, 7), open(450, 7, "beat-lost")}, "01 10 0000 0002, 01 05 0000 ff00, 01 05 0000 ff00", 0},
		{"a session of one register after the other", []in{{100, ask("01 06 0000 0001")}, {120, ask("01 06 0001 0203")}, {150, ask(coilOn)}}, 400,
			[]RelayChange{boot, closed(150, 0x10203)}, "01 06 0000 0001, 01 06 0001 0203, 01 05 0000 ff00", 0},
		{"in pieces", []in{{100, ask(session7)[:4]}, {110, ask(session7)[4:]}, {150, ask(coilOn)[:1]}, {155, ask(coilOn)[1:]}}, 400,
			[]RelayChange{boot, closed(155, 7)}, "01 10 0000 0002, 01 05 0000 ff00", 0},
		{"half a question, then a pause", []in{{100, ask(session7)[:4]}, {150, ask(coilRead)}}, 400, []RelayChange{boot}, "01 01 01 00", 1},
		{"a wrong checksum", []in{{100, "\x01\x05\x00\x00\xff\x00\x00\x00"}, {110, ask(coilRead)}}, 400, []RelayChange{boot}, "01 01 01 00", 2},
		{"noise before a question", []in{{100, "\xff\x00noise" + ask(coilRead)}}, 400, []RelayChange{boot}, "01 01 01 00", 1},
		{"words of the text relay", []in{{100, say("ARM 7")}, {150, ask(coilRead)}}, 400, []RelayChange{boot}, "01 01 01 00", 2},
		{"another unit", []in{{100, ask("02 05 0000 ff00")}}, 400, []RelayChange{boot}, "", 0},
		{"what it does not have", []in{{100, ask("01 02 0000 0001")}, {120, ask("01 05 0001 ff00")}, {140, ask("01 05 0000 1234")},
			{160, ask("01 01 0000 0002")}, {180, ask("01 03 0002 0002")}, {200, ask("01 06 0003 0001")}, {220, ask("01 03 0000 0000")}, {240, ask("01 10 0000 0002 02 0000")}}, 400,
			[]RelayChange{boot}, "01 82 01, 01 85 02, 01 85 03, 01 81 03, 01 83 02, 01 86 02, 01 83 03, 01 90 03", 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := NewModbusRelay(0, 300*time.Millisecond)
			for _, in := range tt.in {
				r.Feed(in.at*ms, []byte(in.text))
			}
			r.Advance(tt.until * ms)
			if diff := cmp.Diff(tt.want, r.Log()); diff != "" {
				t.Errorf("changes (-want +got):\n%s", diff)
			}
			var want string
			if tt.answers != "" {
				for _, a := range strings.Split(tt.answers, ",") {
					want += ask(strings.TrimSpace(a))
				}
			}
			if got := string(r.Take(nil)); got != want {
				t.Errorf("answers % x, want % x", got, want)
			}
			if r.Bad() != tt.bad {
				t.Errorf("%d bad questions, want %d", r.Bad(), tt.bad)
			}
			if got := r.Take(nil); len(got) > 0 {
				t.Errorf("said twice: % x", got)
			}
		})
	}
}

// TestModbusRelayOpensByItself: whatever it is told, it is open a window after
// the last heartbeat with another value, and one session closes it once.
func TestModbusRelayOpensByItself(t *testing.T) {
	const window = 300 * ms
	rapid.Check(t, func(t *rapid.T) {
		r := NewModbusRelay(0, time.Duration(window))
		at, fresh, last := int64(0), int64(0), -1
		closings := map[uint32]int{}
		for range rapid.IntRange(1, 60).Draw(t, "questions") {
			at += rapid.Int64Range(0, 400).Draw(t, "pause") * ms
			q := rapid.SampledFrom([]string{session7, session8, coilOn, coilOff, coilRead, whichRead, "beat", "noise"}).Draw(t, "question")
			switch q {
			case "beat":
				n := rapid.IntRange(0, 3).Draw(t, "value")
				q = ask(beatOf(n))
				if n != last {
					fresh = at
				}
				last = n
			case "noise":
				q = string(rapid.SliceOfN(rapid.Byte(), 0, 20).Draw(t, "noise"))
			default:
				if q == coilOn {
					fresh = at // may close it, which begins a window
				}
				q = ask(q)
			}
			was := len(r.Log())
			r.Feed(at, []byte(q))
			for _, ch := range r.Log()[was:] {
				if ch.Closed {
					closings[ch.Session]++
				}
			}
			_ = r.Take(nil)
		}
		for s, n := range closings {
			if n > 1 {
				t.Fatalf("session %d closed it %d times", s, n)
			}
		}
		r.Advance(fresh + window + ms)
		r.Advance(at + window + ms)
		if r.Closed() {
			t.Fatal("still closed a window after the last fresh heartbeat")
		}
	})
}

func FuzzModbusRelay(f *testing.F) {
	f.Add([]byte(ask(session7)+ask(coilOn)), uint8(5))
	f.Add([]byte("\x01\x10\x00\x00\x00\x02\xff"), uint8(3))
	f.Fuzz(func(t *testing.T, p []byte, cut uint8) {
		r := NewModbusRelay(0, 300*time.Millisecond)
		at := min(int(cut), len(p))
		r.Feed(1*ms, p[:at])
		r.Feed(2*ms, p[at:])
		if len(r.question) > 300 {
			t.Errorf("%d bytes are held back", len(r.question))
		}
		r.Advance(time.Second.Nanoseconds())
		if r.Closed() {
			t.Errorf("%q holds it closed without heartbeats", p)
		}
	})
}
