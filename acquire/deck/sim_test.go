package deck

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// heard is all a Sim has said and plugged, a line each.
type heard struct{ lines []string }

func (h *heard) say(port string, at int64, raw []byte) {
	h.lines = append(h.lines, fmt.Sprintf("%d %s %q", at/ms, port, raw))
}

func (h *heard) plug(port string, at int64, in bool) {
	h.lines = append(h.lines, fmt.Sprintf("%d %s in %v", at/ms, port, in))
}

func TestSimSaysInOrder(t *testing.T) {
	m := NewSim(mustParse(t, strings.Replace(ramped, "[tension]", "load 5 Hz\nline 5 Hz\n[tension]", 1)+
		"[faults]\nat 0.25 s: unplug stop 0.2 s\nat 0.3 s: unplug line 0.3 s\n"), 1)
	var h heard
	m.OnPlug(h.plug)
	m.Hear(900*ms, []byte(say("OPEN 2"))) // out of order, and twice
	m.Hear(700*ms, []byte(say("ARM 2")))
	m.Hear(350*ms, []byte(say("ARM 1"))) // lost: the port is unplugged
	m.Hear(0, []byte(say("ARM 07")))
	m.Advance(1000*ms, h.say)
	want := []string{
		`0 stop "RELAY OPEN 0 boot*51\n"`, `0 load "+0008.2 kgf\r\n"`, `100 line "N +0000000\r\n"`, `200 load "+0008.2 kgf\r\n"`,
		"250 stop in false", "300 line in false", `400 load "+0008.2 kgf\r\n"`, "450 stop in true",
		"600 line in true", `600 load "+0008.2 kgf\r\n"`, `700 stop "RELAY CLOSED 2*63\n"`, `700 line "N +0000000\r\n"`,
		`800 load "+0008.2 kgf\r\n"`, `900 stop "RELAY OPEN 2 open*51\n"`, `900 line "N +0000000\r\n"`,
		`1000 stop "RELAY OPEN 2 open*51\n"`, `1000 load "+0008.2 kgf\r\n"`,
	}
	if d := cmp.Diff(want, h.lines); d != "" {
		t.Errorf("said (-want +got):\n%s", d)
	}
	if s := m.State(); s.RelaySince != 900*ms || s.RelayClosed || s.RelayBad != 1 || s.T != 1000*ms || !s.Line.Plugged {
		t.Errorf("state %+v", s)
	}
	m.Advance(0, func(string, int64, []byte) { t.Error("said something in the past") })
}

// TestSimAnswersInItsOwnTime: a word from within say is answered before time
// goes on.
func TestSimAnswersInItsOwnTime(t *testing.T) {
	m := NewSim(mustParse(t, ramped), 1)
	var got []string
	m.Advance(300*ms, func(port string, at int64, raw []byte) {
		if port == "load" && at == 200*ms {
			m.Hear(at, []byte(say("ARM 5")))
		}
		if port == "stop" {
			got = append(got, fmt.Sprintf("%d %v", at/ms, m.State().RelayClosed))
		}
	})
	if want := []string{"0 false", "200 true"}; !cmp.Equal(want, got) {
		t.Errorf("answers at %v, want %v", got, want)
	}
	m.Hear(300*ms, []byte(say("OPEN 5")))
	if next := m.Next(); next != 300*ms || m.State().RelayClosed {
		t.Errorf("an answer waits: Next %d ms, want now, 300", next/ms)
	}
}

// TestSimIsTheSameHoweverItIsAdvanced: with Next or in strides, and Next never
// stands still or runs back.
func TestSimIsTheSameHoweverItIsAdvanced(t *testing.T) {
	names := Names()
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(names).Draw(t, "scenario")
		s, err := Load(name)
		if err != nil {
			t.Fatal(err)
		}
		seed, end := rapid.Uint64().Draw(t, "seed"), 3000*ms
		var a, b heard
		m, n := NewSim(s, seed), NewSim(s, seed)
		m.OnPlug(a.plug)
		n.OnPlug(b.plug)
		for _, sim := range []*Sim{m, n} {
			for at := int64(500); at < 2500; at += 250 {
				text := say("BEAT 1 %d", at)
				if at == 500 {
					text = say("ARM 1")
				}
				sim.Hear(at*ms, []byte(text))
			}
		}
		for at := int64(0); at < end; {
			m.Advance(at, a.say)
			next := m.Next()
			if next <= m.Now() || m.Now() != at {
				t.Fatalf("advanced to %d: now %d, next %d", at, m.Now(), next)
			}
			at = min(next, end)
		}
		m.Advance(end, a.say)
		for n.Now() < end {
			n.Advance(min(end, n.Now()+rapid.Int64Range(1, 5000).Draw(t, "stride, in ticks")*tick), b.say)
		}
		if d := cmp.Diff(a.lines, b.lines); d != "" {
			t.Fatalf("%s by Next and in strides (-next +strides):\n%s", name, d)
		}
	})
}

func TestSimOrders(t *testing.T) {
	m := NewSim(mustParse(t, ramped), 1)
	if m.Order("faster") == nil || m.Order("ahead") == nil {
		t.Error("an order that cannot be was taken")
	}
	if err := m.Order("ease"); err != nil {
		t.Fatal(err)
	}
	m.Advance(5000*ms, func(string, int64, []byte) {})
	if s := m.State(); !s.Hand || s.X > -0.4 {
		t.Errorf("after 5 s of easing %+v", s)
	}
}

// BenchmarkSim plays a minute of a pull: 600 lines of each box, 1200 beats.
func BenchmarkSim(b *testing.B) {
	s := mustLoad(b, "textbook")
	b.ReportAllocs()
	for b.Loop() {
		m := NewSim(s, 1)
		m.Hear(0, []byte(say("ARM 1")))
		for at := int64(0); at < 60e9; at = m.Next() {
			m.Advance(at, func(string, int64, []byte) {})
			m.Hear(at, []byte("BEAT 1 1*00\n"))
		}
	}
}

// A person may say the speed with the order; what is no speed changes nothing.
func TestSimOrdersASpeed(t *testing.T) {
	run := func(order string) float64 {
		m := NewSim(mustParse(t, ramped), 1)
		if err := m.Order(order); err != nil {
			t.Fatalf("%s: %v", order, err)
		}
		m.Advance(20000*ms, func(string, int64, []byte) {})
		return float64(m.State().Speed)
	}
	if v := run("ease 1.2 m/min"); math.Abs(v+0.02) > 1e-9 {
		t.Errorf("easing at 1.2 m/min the line moves at %v m/s, want -0.02", v)
	}
	for _, bad := range []string{"ease 0 m/min", "ease 200 m/min", "ease fast", "ease 2 m", "stop 1 m/min", "script now", "haul "} {
		m := NewSim(mustParse(t, ramped), 1)
		if err := m.Order(bad); bad != "haul " && err == nil || m.State().Hand && bad != "haul " {
			t.Errorf("%q: %v, lever in a person's hand %v; want it refused", bad, err, m.State().Hand)
		}
	}
}

// TestHandPutsTheCellBack: a person who hauls before the script has put the load cell
// into the rode has it there once line comes in.
func TestHandPutsTheCellBack(t *testing.T) {
	m := NewSim(mustLoad(t, "cobble-neck"), 1)
	mute := func(string, int64, []byte) {}
	m.Advance(1000*ms, mute)
	if err := m.Order("haul"); err != nil {
		t.Fatal(err)
	}
	m.Advance(2000*ms, mute)
	if s := m.State(); s.Tension != 0 {
		t.Errorf("the relay is open: %v on the cell, want it free", s.Tension)
	}
	m.Hear(2000*ms, []byte(say("ARM 1")))
	for at := 2100 * ms; at < 30_000*ms; at += 100 * ms {
		m.Hear(at, []byte(say("BEAT 1 %d", at/ms)))
		m.Advance(at, mute)
		if at < 3000*ms && m.Order("haul") != nil {
			t.Fatal("no order")
		}
	}
	if s := m.State(); s.X < 0.5 || s.Tension < 80 {
		t.Errorf("%v hauled by hand: %v on the cell; want what is in the rode", s.X, s.Tension)
	}
}

// TestCellByHand: with the winch standing a person takes the cell out of the rode for
// a zero, hangs a weight on it and puts it back; line that moves puts it back, too,
// whoever moves it. With the winch at work it cannot come out.
func TestCellByHand(t *testing.T) {
	m := NewSim(mustLoad(t, "cobble-neck"), 1)
	mute := func(string, int64, []byte) {}
	at := int64(0)
	run := func(until int64) State {
		for ; at < until; at += 100 * ms {
			m.Hear(at, []byte(say("BEAT 1 %d", at/ms)))
			m.Advance(at, mute)
		}
		return m.State()
	}
	order := func(order string) {
		t.Helper()
		if err := m.Order(order); err != nil {
			t.Fatalf("%s: %v", order, err)
		}
	}
	order("stop")
	order("Cell  HOOK 25 kg")
	if s := run(1000 * ms); s.Cell != "hook" || math.Abs(float64(s.Tension)-245.17) > 0.01 {
		t.Fatalf("25 kg hang on it: %s, %v", s.Cell, s.Tension)
	}
	m.Hear(at, []byte(say("ARM 1")))
	run(1200 * ms)
	order("haul")
	run(20_000 * ms)
	for _, no := range []string{"cell free", "cell hook 25 kg"} {
		if err := m.Order(no); err == nil || !strings.Contains(err.Error(), "say stop first") {
			t.Errorf("%s while hauling: %v", no, err)
		}
	}
	order("stop")
	if err := m.Order("cell free"); err == nil || !strings.Contains(err.Error(), "line still moves") {
		t.Errorf("while the winch runs on: %v", err)
	}
	loaded := run(22_000 * ms)
	if loaded.Cell != "rode" || loaded.Tension < 200 {
		t.Fatalf("hauled by hand: %s, %v", loaded.Cell, loaded.Tension)
	}
	order("cell free")
	if s := run(23_000 * ms); s.Cell != "free" || s.Tension != 0 || s.X != loaded.X {
		t.Errorf("taken out: %s, %v at %v", s.Cell, s.Tension, s.X)
	}
	order("cell rode")
	if s := run(24_000 * ms); s.Cell != "rode" || s.Tension < 200 {
		t.Errorf("put back: %s, %v", s.Cell, s.Tension)
	}
	order("cell free")
	order("ease")
	if s := run(26_000 * ms); s.Cell != "rode" || s.X >= loaded.X {
		t.Errorf("eased: %s at %v", s.Cell, s.X)
	}
	order("stop")
	run(27_000 * ms)
	for _, no := range []string{"cell", "cell off", "cell free now", "cell hook", "cell hook 25", "cell hook 0 kg", "cell hook -3 kg", "cell hook 25 m"} {
		if err := m.Order(no); err == nil || m.State().Cell != "rode" {
			t.Errorf("%q: %v, the cell carries %s", no, err, m.State().Cell)
		}
	}
	order("cell hook 500 N")
	if s := m.State(); s.Tension != 500 {
		t.Errorf("500 N hang on it: %v", s.Tension)
	}
}

// TestScriptHaulsWithTheCell: the cell a person has taken out is back when the script
// hauls; one that the script itself has off stays so.
func TestScriptHaulsWithTheCell(t *testing.T) {
	for _, tt := range []struct {
		order, want string
	}{{"cell free", "rode"}, {"", "free"}} {
		m := NewSim(mustParse(t, least+"[winch]\ncell free\nwait 2 s\nease\n"), 1)
		mute := func(string, int64, []byte) {}
		m.Advance(1000*ms, mute)
		if tt.order != "" {
			if err := m.Order(tt.order); err != nil {
				t.Fatal(err)
			}
		}
		m.Advance(5000*ms, mute)
		if s := m.State(); s.Cell != tt.want || s.X >= 0 || s.Hand {
			t.Errorf("%q, then the script eases: %s at %v, want %s", tt.order, s.Cell, s.X, tt.want)
		}
	}
}
