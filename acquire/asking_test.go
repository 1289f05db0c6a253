package acquire

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"hawse/trial"
)

// askedPort is an instrument that is asked ten times a second, waits 100 ms and
// gives an answer up for good after 500 ms more.
func askedPort(table, ask string) trial.Instrument {
	return trial.Instrument{Table: table, Port: trial.Port{Baud: 9600}, Rate: 10, Wire: trial.Wire{Kind: trial.WireAsked,
		Asked: trial.Asked{Ask: []byte(ask), Wait: 100 * time.Millisecond, Late: 500 * time.Millisecond}}}
}

// TestAsking plays times, in ms, and tells what comes out.
func TestAsking(t *testing.T) {
	type step struct {
		at  int64
		ask string // asked then
		got string // or come
	}
	for _, tt := range []struct {
		name  string
		steps []step
		want  []string
		due   int64 // when the next question is due, after the last step
	}{
		{"question and answer", []step{{0, "W", ""}, {50, "", "+1\r\n"}}, []string{"+1"}, 100},
		{"in two pieces", []step{{0, "W", ""}, {50, "", "+1"}, {60, "", "2\r\n"}}, []string{"+12"}, 100},
		{"late", []step{{0, "W", ""}, {150, "", "+1\r\n"}}, []string{"+1 " + BadLate}, 152},
		{"late, and asked again once it has come", []step{{0, "W", ""}, {150, "", "+1\r\n"}, {152, "W", ""}, {200, "", "+2\r\n"}}, []string{"+1 " + BadLate, "+2"}, 202},
		{"late by half", []step{{0, "W", ""}, {90, "", "+1"}, {150, "", "1\r\n"}}, []string{"+11 " + BadLate}, 152},
		{"never", []step{{0, "W", ""}}, nil, 600},
		{"asked again while the answer may still come", []step{{0, "W", ""}, {150, "W", ""}, {160, "", "+1\r\n"}, {250, "", "+2\r\n"}},
			[]string{"+1 " + BadLate, "+2 " + BadLate}, 750},
		{"asked twice", []step{{0, "W", ""}, {10, "W", ""}, {60, "", "+1\r\n"}}, []string{"+1 " + BadLate}, 560},
		{"asked something else", []step{{0, "X", ""}, {10, "", "+1\r\n"}}, []string{"+1 " + BadLate}, 510},
		{"unasked", []step{{10, "", "+1\r\n"}}, []string{"+1 " + BadLate}, 510},
		{"two answers", []step{{0, "W", ""}, {50, "", "+1\r\n+2\r\n"}}, []string{"+1", "+2 " + BadLate}, 550},
		{"no answer of its own", []step{{0, "W", ""}, {20, "", "?\r\n"}, {50, "", "+1\r\n"}}, []string{"? " + BadForeign, "+1"}, 100},
		{"an echo", []step{{0, "W\r", ""}, {2, "", "W"}, {3, "", "\r+1"}, {50, "", "\r\n"}}, []string{"+1"}, 100},
		{"nearly an echo", []step{{0, "W\r", ""}, {2, "", "W"}, {3, "", "+1\r\n"}}, []string{"W+1 " + BadForeign}, 600},
		{"a NUL in it", []step{{0, "W", ""}, {50, "", "+\x001\r\n"}}, []string{"+\x001 " + BadNUL}, 600},
	} {
		t.Run(tt.name, func(t *testing.T) {
			ask := "W"
			if strings.Contains(tt.name, "echo") {
				ask = "W\r"
			}
			a := NewAsking([]trial.Instrument{askedPort("load", ask)}, map[string]func([]byte) bool{
				"load": func(f []byte) bool { return f[0] == '+' }})
			var got []string
			var last int64
			for _, s := range tt.steps {
				last = s.at
				if s.ask != "" {
					a.Asked(s.at*1e6, []byte(s.ask))
					continue
				}
				a.Bytes(s.at*1e6, []byte(s.got), func(table string, frame []byte, bad string) {
					if table != "load" {
						t.Errorf("a frame for %q", table)
					}
					got = append(got, strings.TrimSpace(string(frame)+" "+bad))
				})
			}
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			q, due := a.Due(last * 1e6)
			if q < 0 {
				q, _ = a.Due(due)
				for range 3 { // a question that is out is given up first
					if q < 0 {
						_, due = a.Due(due)
						q, _ = a.Due(due)
					}
				}
			}
			if q != 0 || (due+500e3)/1e6 != tt.due {
				t.Errorf("question %d is due at %d ms, want 0 at %d", q, due/1e6, tt.due)
			}
		})
	}
}

// TestLateAnswersAreNeverTakenForTheNext: a box that answers each question once,
// in order, after any time up to the wait and its late time, or not at all. Each
// answer names its question; none is ever believed that is to another.
func TestLateAnswersAreNeverTakenForTheNext(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a := NewAsking([]trial.Instrument{askedPort("load", "W"), askedPort("line", "N")}, nil)
		slowest := rapid.SampledFrom([]int64{50, 110, 300, 599}).Draw(rt, "slowest answer, ms")
		dies := rapid.IntRange(0, 4).Draw(rt, "one in so many unanswered")
		type answer struct {
			at int64
			q  int
		}
		var due []answer
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 0))
		asked, out, believed := 0, -1, 0
		for now := int64(0); now < 20e9; now += 1e6 {
			for len(due) > 0 && due[0].at <= now {
				text := fmt.Sprintf("%d\r\n", due[0].q)
				due = due[1:]
				a.Bytes(now, []byte(text), func(_ string, frame []byte, bad string) {
					if bad != "" {
						return
					}
					believed++
					if string(frame) != fmt.Sprint(out) {
						rt.Fatalf("at %d ms the answer to %s is taken for that to %d", now/1e6, frame, out)
					}
				})
			}
			q, _ := a.Due(now)
			if q < 0 {
				continue
			}
			a.Asked(now, a.Ask(q))
			out = asked
			asked++
			if dies > 0 && rng.IntN(dies+1) == 0 {
				continue
			}
			at := now + 1e6*(1+rng.Int64N(slowest))
			if n := len(due); n > 0 { // a box answers in order
				at = max(at, due[n-1].at)
			}
			due = append(due, answer{at, out})
		}
		if asked == 0 || slowest < 100 && dies == 0 && believed < asked-1 {
			rt.Errorf("%d asked, %d believed", asked, believed)
		}
	})
}

// Two instruments are asked in turn, each at its rate.
func TestAskingTakesTurns(t *testing.T) {
	fast, slow := askedPort("load", "W"), askedPort("line", "N")
	slow.Rate = 2
	a := NewAsking([]trial.Instrument{fast, slow}, nil)
	n := map[string]int{}
	for now := int64(0); now < 10e9; {
		q, again := a.Due(now)
		if q < 0 {
			now = again
			continue
		}
		a.Asked(now, a.Ask(q))
		now += 20e6
		a.Bytes(now, []byte("1\r\n"), func(table string, _ []byte, bad string) {
			if bad == "" {
				n[table]++
			}
		})
	}
	if n["load"] < 98 || n["load"] > 101 || n["line"] < 19 || n["line"] > 21 {
		t.Errorf("in 10 s answered %v, want 100 of the load and 20 of the line", n)
	}
}

// Whatever is asked and comes, in any order: no panic, nothing kept for ever,
// and a good frame only while a question is out.
func FuzzAsking(f *testing.F) {
	f.Add([]byte("q\x05+1\r\n\x80\x00q"), false)
	f.Add([]byte{'q', 1, 3, 4, 0, 0, 0, 1, 'q', 1, 0x83, 2}, true)
	f.Fuzz(func(t *testing.T, play []byte, binary bool) {
		ins := askedPort("load", "q\r")
		if binary {
			ins.Wire = trial.Wire{Kind: trial.WireModbus, Registers: trial.Registers{Address: 1, Function: 3, Number: trial.Number{Holds: "float32", Order: "ABCD", Factor: 1},
				Wait: 100 * time.Millisecond, Late: 300 * time.Millisecond}}
		}
		a := NewAsking([]trial.Instrument{ins}, nil)
		out, now := false, int64(0)
		for i, b := range play {
			switch {
			case b == 'q':
				if q, _ := a.Due(now); q >= 0 {
					a.Asked(now, a.Ask(q))
					out = true
				}
			case b >= 0x80:
				now += int64(b) * 1e6
			default:
				raw := play[i:min(len(play), i+1+int(b)%7)]
				if binary && b == 1 {
					raw = sealCRC(append([]byte{1, 3, 4}, bytes.Repeat([]byte{b}, 4)...), 0)
				}
				a.Bytes(now, raw, func(table string, frame []byte, bad string) {
					if table != "load" || bad == "" && !out {
						t.Errorf("%q given as good for %q, question out %v", frame, table, out)
					}
					if bad == "" {
						out = false
					}
				})
			}
			if len(a.scan.buf) > 2*MaxFrame || a.free > now+1e9 {
				t.Fatalf("%d bytes kept, nothing asked until %d at %d", len(a.scan.buf), a.free, now)
			}
		}
	})
}

// TestDumbUnitIsAskedSeldom: a further cell that gives no answer holds up the others
// on its line seldom, and is asked as before once it answers; one that guards is asked
// on at its own rate.
func TestDumbUnitIsAskedSeldom(t *testing.T) {
	play := func(dumb string) (asked map[string]int, answered map[string]int) {
		a := NewAsking([]trial.Instrument{askedPort("load", "W"), askedPort("line", "N"), askedPort("load2", "V")}, nil)
		asked, answered = map[string]int{}, map[string]int{}
		var at int64
		out := ""
		for now := int64(0); now < 40e9; now += 1e6 {
			if out != "" && now >= at {
				a.Bytes(now, []byte("1\r\n"), func(table string, _ []byte, bad string) {
					if bad == "" && now >= 30e9 {
						answered[table]++
					}
				})
				out = ""
			}
			q, _ := a.Due(now)
			if q < 0 {
				continue
			}
			a.Asked(now, a.Ask(q))
			table := map[string]string{"W": "load", "N": "line", "V": "load2"}[string(a.Ask(q))]
			if now >= 10e9 && now < 20e9 {
				asked[table]++
			}
			if table != dumb || now >= 25e9 {
				out, at = table, now+5e6
			}
		}
		return asked, answered
	}
	asked, answered := play("load2")
	if asked["load2"] > 2 || asked["load"] < 85 || asked["line"] < 85 {
		t.Errorf("load2 dumb: asked in 10 s %v; want it twice at most, the others nearly 100 times", asked)
	}
	if answered["load2"] < 98 {
		t.Errorf("load2 is back since 5 s or more: answers in 10 s %v", answered)
	}
	if asked, _ := play("load"); asked["load"] < 10 {
		t.Errorf("load dumb: asked in 10 s %v; want it asked on", asked)
	}
}
