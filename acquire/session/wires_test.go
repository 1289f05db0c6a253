package session

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

const (
	lineBox = "# Port, bits a second and frame as for the load cell.\nport = \"./deck/line\"\nbaud = 9600\nframe = \"8N1\""
	lineIs  = "line = '^N (?P<counts>[+-]?\\d+)$'\n"
	loadIs  = "line = '^(?P<value>[+-]?\\d+(\\.\\d+)?) (?P<unit>kgf)$'\n"
	scaleIs = "scale = \"1000 /m\"\n"
	stopIs  = "[stop]\nport"
	aidsAre = "[depth]\nport = \"./deck/depth\"\nbaud = 4800\nframe = \"8N1\"\ntransducer = \"0.6 m\"\n" +
		"[position]\non = \"depth\"\nantenna_aft = \"4 m\"\nuncertain = \"0.5 m\"\n[heading]\non = \"depth\"\n[clock]\non = \"depth\"\n"
)

// aboard is a hand whose vessel has sounder, receiver and compass on one port.
func aboard(t *testing.T, edits ...string) *hand {
	t.Helper()
	h := byHand(t, append([]string{stopIs, aidsAre + stopIs}, edits...)...)
	h.d.Port(0, SrcDepth, "open", "")
	return h
}

func nmeaLine(body string) []byte {
	var x byte
	for i := range len(body) {
		x ^= body[i]
	}
	return fmt.Appendf(nil, "$%s*%02X\r\n", body, x)
}

func (h *hand) sends(body string) { h.d.Rx(h.at, SrcDepth, nmeaLine(body)) }

// sound lets so many seconds pass, with one sounding each.
func (h *hand) sound(depth float64, seconds int) {
	for range seconds {
		h.run(time.Second)
		h.sends(fmt.Sprintf("SDDPT,%.1f,0.6", depth-0.6))
	}
}

// told is every text said so far with that word in it.
func (h *hand) told(word string) (out []string) {
	for _, r := range h.d.Records {
		if r.Kind == logfmt.Say && strings.Contains(r.Str("text"), word) {
			out = append(out, r.Str("text"))
		}
	}
	return out
}

func (h *hand) aids() Aids { return h.d.core.Aids() }

// TestScopeFollowsTheSounder is scenario 6 of the trade: the winch stands, the
// tide rises from 6.0 to 6.8 m and takes the scope from 8.0 to 7.23; a double
// echo of 13.6 m for 5 s is refused and told once.
func TestScopeFollowsTheSounder(t *testing.T) {
	h := aboard(t)
	h.run(time.Second)
	h.must(safety.Director, ActPayout, "60 m")
	if s := h.d.Snapshot(); s.Haul.ScopeOK {
		t.Errorf("scope %v before any depth", s.Haul.Scope)
	}
	h.sound(6.0, 12)
	h.run(100 * time.Millisecond)
	if s := h.d.Snapshot(); math.Abs(s.Haul.Scope-8) > 1e-9 || !s.Haul.ScopeOK {
		t.Errorf("at 6.0 m: scope %v, want 8", s.Haul.Scope)
	}
	for d := 6.1; d < 6.85; d += 0.1 {
		h.sound(d, 12)
	}
	h.sound(13.6, 5)
	h.sends("SDDPT,,") // no bottom is no depth
	h.run(100 * time.Millisecond)
	s := h.d.Snapshot()
	if want := 60 / 8.3; math.Abs(s.Haul.Scope-want) > 1e-9 || math.Abs(float64(s.Guard.Line.Scope)-want) > 1e-9 {
		t.Errorf("at 6.8 m with a double echo: scope %v, for the guard %v; want %v", s.Haul.Scope, s.Guard.Line.Scope, want)
	}
	if got := h.told("refused"); len(got) != 1 || !strings.Contains(got[0], "13.60 m of the sounder refused: about twice the 6.80 m so far") {
		t.Errorf("told %q, want the double echo once", got)
	}
	h.sound(6.8, 2)
	if got := h.told("believed again"); len(got) != 1 {
		t.Errorf("told %q, want that the sounder is believed again, once", got)
	}
	// Silence leaves the depth as it is, and is told.
	h.run(40 * time.Second)
	for range 2 {
		h.d.Clock(h.at, time.Unix(0, h.at))
		h.run(time.Second)
	}
	if got := h.told("tells no depth"); len(got) != 1 || math.Abs(h.d.Snapshot().Haul.Scope-60/8.3) > 1e-9 {
		t.Errorf("told %q, scope %v; want the silence once and the scope kept", got, h.d.Snapshot().Haul.Scope)
	}
	h.end()
}

// A double echo from the start is put right by hand, and what stands long enough
// is the depth, unless it is twice or half.
func TestDepthByHandBesideTheSounder(t *testing.T) {
	h := aboard(t)
	h.run(time.Second)
	h.must(safety.Director, ActPayout, "60 m")
	h.sound(12, 20)
	h.must(safety.Logger, ActDepth, "6.0 m")
	h.sound(12, 60)
	if a, s := h.aids(), h.d.Snapshot(); s.Haul.Depth != 6 || !a.ByHand || float64(a.Refused) != 12 {
		t.Errorf("depth %v, %+v; want 6 m by hand, 12 m refused", s.Haul.Depth, a)
	}
	h.sound(6.7, 1)
	if s := h.d.Snapshot(); math.Abs(float64(s.Haul.Depth)-6.7) > 1e-9 || len(h.told("by hand 6.00 m")) != 1 {
		t.Errorf("depth %v, told %q; want 6.7 and that hand and sounder differ", s.Haul.Depth, h.told("by hand"))
	}
	h.sound(8.5, 15)
	if s := h.d.Snapshot(); math.Abs(float64(s.Haul.Depth)-6.7) > 1e-9 {
		t.Errorf("depth %v after 15 s of 8.5 m, want 6.7 still", s.Haul.Depth)
	}
	h.sound(8.5, 10)
	if s := h.d.Snapshot(); math.Abs(float64(s.Haul.Depth)-8.5) > 1e-9 {
		t.Errorf("depth %v after 25 s of 8.5 m, want 8.5", s.Haul.Depth)
	}
	h.end()
}

// TestVesselMoves: the receiver is 4 m behind the roller; the vessel lies north
// with the anchor ahead. She turns on her roller: nothing has moved. She goes
// 5 m ahead and 3 m to starboard.
func TestVesselMovesBySatellite(t *testing.T) {
	h := aboard(t)
	at := func(north, east, heading float64) {
		north, east = north+100, east+100 // minutes of a degree are not negative
		sin, cos := math.Sincos(heading * math.Pi / 180)
		lat := 44 + (north-4*cos)/111112.0 // metres in a degree at 44 degrees, WGS 84
		lon := 10 + (east-4*sin)/80202.0
		h.run(time.Second)
		h.sends(fmt.Sprintf("GPHDT,%.2f,T", heading))
		h.sends(fmt.Sprintf("GPGGA,%06d.00,44%09.6f,N,010%09.6f,E,4,12,0.8,1.0,M,40.0,M,,", h.at/1e9%60, (lat-44)*60, (lon-10)*60))
	}
	for range 12 {
		at(0, 0, 0)
	}
	h.pulling()
	for range 12 {
		at(0, 0, 0)
	}
	for range 12 {
		at(0, 0, 20)
	}
	a := h.aids()
	if !a.HasMoved || math.Hypot(float64(a.Along), float64(a.Across)) > 0.02 || a.Uncertain != 0.5 {
		t.Errorf("turned on the roller: moved %v along, %v across (%v), want nothing", a.Along, a.Across, a.HasMoved)
	}
	for range 12 {
		at(5, 3, 20)
	}
	a = h.aids()
	if math.Abs(float64(a.Along)-5) > 0.02 || math.Abs(float64(a.Across)-3) > 0.02 {
		t.Errorf("moved %v along, %v across; want 5 and 3", a.Along, a.Across)
	}
	if got := h.told("vessel has moved"); len(got) < 1 || !strings.Contains(got[len(got)-1], "towards the anchor") || !strings.Contains(got[0], "starboard of the lane") {
		t.Errorf("told %q", got)
	}
	h.end()
}

// TestOnPlane: geodesics of WGS 84, computed with an independent library
// (GeographicLib); the rows are those of the reference.
func TestOnPlane(t *testing.T) {
	for _, tt := range []struct{ lat1, lon1, lat2, lon2, dist, azi float64 }{
		{0, 0, 0.0001, 0, 11.057428, 0}, {0, 0, 0, 0.0001, 11.131949, 90}, {50.75, -1.3, 50.75005, -1.3, 5.562174, 0},
		{50.75, -1.3, 50.7503, -1.2996, 43.711221, 40.227071}, {60, 5, 60.001, 5.002, 157.692373, 45.046927},
		{-41.3, 174.8, -41.3005, 174.8008, 87.021857, 129.651586},
	} {
		p := onPlane(tt.lat1, tt.lon1, tt.lat2, tt.lon2)
		azi := math.Mod(math.Atan2(p.east, p.north)*180/math.Pi+360, 360)
		if d := math.Hypot(p.north, p.east); math.Abs(d-tt.dist) > 1e-4 || math.Abs(azi-tt.azi) > 2e-3 {
			t.Errorf("%v: %v m at %v deg, want %v at %v", tt, d, azi, tt.dist, tt.azi)
		}
	}
	if p := onPlane(10, 179.9999, 10, -179.9999); p.east < 0 || p.east > 30 {
		t.Errorf("over the date line: %v", p)
	}
}

func TestSatelliteTime(t *testing.T) {
	h := aboard(t)
	wall := time.Date(2026, 4, 12, 9, 0, 0, 0, time.UTC)
	for i := range 20 {
		h.run(time.Second)
		h.d.Clock(h.at, wall.Add(time.Duration(h.at)))
		off := 400 * time.Millisecond
		if i >= 10 {
			off = -7200 * time.Second
		}
		at := wall.Add(time.Duration(h.at) + off)
		h.sends(at.Format("GPZDA,150405.00,02,01,2006") + ",,")
	}
	got := h.told("satellite time")
	if len(got) != 2 || !strings.Contains(got[0], "400ms behind") || !strings.Contains(got[1], "2h0m") || !strings.Contains(got[1], "ahead of") {
		t.Errorf("told %q, want the first difference and the one of two hours", got)
	}
	h.end()
}

// TestModbusInTheFold: two units on one line, asked in turn. A late answer of the
// load is not taken, an answer of the wrong unit neither.
func TestModbusInTheFold(t *testing.T) {
	h := byHand(t, loadIs, "kind = \"modbus\"\n", "over = [\"OL\"]", "over = [\"32767\"]", "[load.calibration]\n", "[load.modbus]\naddress = 1\nregister = 0\nholds = \"int16\"\nfactor = 0.1\n[load.calibration]\n",
		lineBox, "on = \"load\"\nkind = \"modbus\"", lineIs, "", stopIs, "[line.modbus]\naddress = 2\nregister = 8\nholds = \"int32\"\n"+stopIs)
	askLoad, askLine := []byte{1, 3, 0, 0, 0, 1, 0x84, 0x0A}, sealed(2, 3, 0, 8, 0, 2)
	at := int64(1e9)
	sent := func(q []byte) { h.d.Sent(at, SrcLoad, q) }
	heard := func(after int64, p []byte) { h.d.Rx(at+after, SrcLoad, p) }
	kgf := func(want float64) {
		t.Helper()
		if got := float64(h.d.Snapshot().Tension.Indicated) / 9.80665; math.Abs(got-want) > 1e-9 {
			t.Errorf("at %d ms the load is %v kgf, want %v", at/1e6, got, want)
		}
	}
	sent(askLoad)
	heard(20e6, sealed(1, 3, 2, 0x0C, 0x1D))
	kgf(310.1)
	at += 50e6
	sent(askLine)
	heard(20e6, sealed(2, 3, 4, 0, 0, 0x30, 0x39))
	if c := h.d.Snapshot(); c.Line.Good != 1 || h.d.core.haul.counts != 12345 {
		t.Errorf("count %d, %+v; want 12345", h.d.core.haul.counts, c.Line)
	}
	at += 50e6
	sent(askLoad)
	heard(20e6, sealed(2, 3, 2, 0x0C, 0x1E))
	heard(30e6, sealed(1, 3, 4, 0, 0, 0x0C, 0x1F))
	kgf(310.1)
	heard(300e6, sealed(1, 3, 2, 0x0C, 0x20)) // late
	kgf(310.1)
	at += 310e6
	sent(askLoad)
	heard(20e6, sealed(1, 3, 2, 0x0C, 0x21))
	kgf(310.5)
	at += 100e6
	sent(askLoad)
	heard(20e6, sealed(1, 0x83, 6))
	kgf(310.5)
	at += 100e6
	sent(askLoad)
	heard(20e6, sealed(1, 3, 2, 0x7F, 0xFF))
	if s := h.d.Snapshot(); !s.Tension.Over {
		t.Errorf("the number that means over range: %+v", s.Tension)
	}
	if got := h.d.Snapshot().Load; got.Good != 3 || got.Bad == 0 {
		t.Errorf("load %+v, want 3 good and some bad", got)
	}
	if got := append(h.told("load: it answers too late"), h.told("load: the unit refuses: it is busy (code 6)")...); len(got) != 2 {
		t.Errorf("told %q, want the late answer and the refusal, once each", got)
	}
	h.at = at + 1e9
	h.end()
}

func sealed(p ...byte) []byte {
	c := uint16(0xFFFF)
	for _, b := range p {
		c ^= uint16(b)
		for range 8 {
			odd := c & 1
			if c >>= 1; odd != 0 {
				c ^= 0xA001
			}
		}
	}
	return append(p, byte(c), byte(c>>8))
}

// TestOneLineTwoValues: load and count in one line, and each in its own line on
// one port; a line of neither is bad for both, and a line of one is no silence of
// the other's port.
func TestOneLineTwoValues(t *testing.T) {
	both := byHand(t, loadIs, "line = '^(?P<value>[+-]?\\d+(\\.\\d+)?) (?P<unit>kgf) N(?P<counts>\\d+)$'\n", lineBox, "on = \"load\"", lineIs, "")
	both.d.Rx(1e9, SrcLoad, []byte("+0310.0 kgf N0012345\r\n"))
	both.d.Rx(1e9, SrcLoad, []byte("+0310.0 kgf\r\n"))
	if s := both.d.Snapshot(); s.Load.Good != 1 || s.Line.Good != 1 || s.Load.Bad != 1 || s.Line.Bad != 1 || both.d.core.haul.counts != 12345 || s.Line.State != "open" {
		t.Errorf("load %+v, line %+v, count %d", s.Load, s.Line, both.d.core.haul.counts)
	}
	both.at = 2e9
	both.end()
	turns := byHand(t, lineBox, "on = \"load\"")
	for i := range 3 {
		turns.d.Rx(int64(i+1)*1e8, SrcLoad, []byte("+0310.0 kgf\r\nN 77\r\n"))
	}
	if s := turns.d.Snapshot(); s.Load.Good != 3 || s.Line.Good != 3 || s.Load.Bad+s.Line.Bad != 0 {
		t.Errorf("load %+v, line %+v; want 3 good each", s.Load, s.Line)
	}
	turns.d.Port(5e8, SrcLoad, acquire.StateLost, "unplugged")
	if s := turns.d.Snapshot(); s.Line.State != acquire.StateLost || s.Load.State != acquire.StateLost {
		t.Errorf("port lost: load %q, line %q", s.Load.State, s.Line.State)
	}
	turns.at = 2e9
	turns.end()
}

// TestDrumLayers: 60 m out of 80 on a drum; what is hauled by so many turns is
// what the drum's geometry says, whatever the mark on the rode sets anew.
func TestDrumLayers(t *testing.T) {
	const drum = "[line.drum]\nbarrel = \"200 mm\"\nflange = \"500 mm\"\nwidth = \"120 mm\"\nrope = \"12 mm\"\nper_turn = 500\nholds = \"80 m\"\n"
	h := byHand(t, scaleIs, "", stopIs, drum+stopIs)
	h.count(0)
	h.run(time.Second)
	h.must(safety.Director, ActPayout, "60 m")
	// 20 m on the drum: layers of 10 turns hold pi 0.212, 0.236, 0.260 m each turn:
	// 6.660, 14.074, 22.242 m; so 20 m is 27.253 turns. 20 turns more are 47.253.
	h.haul(20*500, 25)
	mean := func(n float64) float64 { return math.Pi * (0.212 + 0.024*n) }
	left := 30 - (20 + (20-10*(mean(0)+mean(1)))/mean(2)) // of the third layer
	want := left*mean(2) + 10*mean(3) + (20-left-10)*mean(4)
	if got := float64(h.d.Snapshot().Haul.X); math.Abs(got-want) > 1e-9 {
		t.Errorf("20 turns: %v m hauled, want %v", got, want)
	}
	h.end()
}

func TestLayersAsCalibrated(t *testing.T) {
	layers := []trial.LayerScale{{From: 0, PerMetre: 800}, {From: 20, PerMetre: 1000}, {From: 50, PerMetre: 1250}}
	for _, tt := range []struct{ out, counts float64 }{{0, 0}, {10, 8000}, {20, 16000}, {50, 46000}, {60, 58500}, {-1, -800}} {
		if got := countsTo(layers, tt.out); got != tt.counts {
			t.Errorf("countsTo(%v) = %v, want %v", tt.out, got, tt.counts)
		}
		if got := outAt(layers, tt.counts); math.Abs(got-tt.out) > 1e-9 {
			t.Errorf("outAt(%v) = %v, want %v", tt.counts, got, tt.out)
		}
	}
}

func TestCountThatNeverTurns(t *testing.T) {
	h := byHand(t)
	h.run(3 * time.Second)
	h.pulling()
	h.haul(9000, 40)
	h.must(safety.Director, ActStage, "ease")
	h.haul(12000, 40)
	if got := h.told("channel of the encoder"); len(got) != 1 {
		t.Errorf("told %q, want the missing channel once", got)
	}
	h.end()
}
