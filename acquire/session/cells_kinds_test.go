package session

import (
	"encoding/binary"
	"math"
	"strings"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/safety"
)

// cellTable is another cell that speaks so; an invented one.
func cellTable(table, wire, tables string) string {
	return "\n[" + table + "]\n" + wire + `unit = "N"
range = "9 kN"
over = []
rate = "5 Hz"
place = "link, invented"
serial = "unknown"
filter = "none"
` + tables + "[" + table + ".calibration]\nunit = \"N\"\ncoefficients = [0.0, 1.0]\nsource = \"invented\"\n"
}

const ownPort = "port = \"./deck/load2\"\nbaud = 19200\nframe = \"8N1\"\n"

// crc16 is the checksum of Modbus RTU (MODBUS over Serial Line V1.02, 6.2.2): the
// polynomial A001 turned over, begun at FFFF; from memory.
func crc16(p []byte) []byte {
	v := uint16(0xFFFF)
	for _, c := range p {
		v ^= uint16(c)
		for range 8 {
			if v&1 != 0 {
				v = v>>1 ^ 0xA001
			} else {
				v >>= 1
			}
		}
	}
	return binary.LittleEndian.AppendUint16(p, v)
}

// TestOtherCellsShareAPort: beside a first cell that sends lines, two further ones on
// a port of their own, as Modbus units and as two numbers in one frame: each is told
// its own, and an answer of the one is never that of the other.
func TestOtherCellsShareAPort(t *testing.T) {
	unit := func(table, wire, address string) string {
		return cellTable(table, wire+"kind = \"modbus\"\n", "["+table+".modbus]\naddress = "+address+"\nfunction = 4\nregister = 6\nholds = \"int16\"\n")
	}
	frames := "[load2.frames]\nsync = \"AA 55\"\nlength = 8\nchecksum = \"crc16\"\nat = 2\nholds = \"int16\"\n"
	for _, tt := range []struct {
		name, cells string
		tells       func(h *hand, ask *acquire.Asking, a, b int16)
	}{
		{"modbus", unit("load2", ownPort, "7") + unit("load3", "on = \"load2\"\n", "8"), func(h *hand, ask *acquire.Asking, a, b int16) {
			defer func(end int64) { h.at = end }(h.at + 50e6) // between a load line and a line count
			h.at += 1e6
			for range 2 {
				q, _ := ask.Due(h.at)
				if q < 0 {
					return
				}
				raw := ask.Ask(q)
				ask.Asked(h.at, raw)
				h.d.Sent(h.at, "load2", raw)
				v := map[byte]int16{7: a, 8: b}[raw[0]]
				answer := crc16(append([]byte{raw[0], 4, 2}, byte(v>>8), byte(v)))
				h.at += 4e6
				ask.Bytes(h.at, answer, func(string, []byte, string) {})
				h.d.Rx(h.at, "load2", answer)
				h.at += 4e6
			}
		}},
		{"frames", cellTable("load2", ownPort+"kind = \"frames\"\n", frames) + cellTable("load3", "on = \"load2\"\nkind = \"frames\"\n", "[load3.frames]\nat = 4\nholds = \"int16\"\n"),
			func(h *hand, _ *acquire.Asking, a, b int16) {
				h.d.Rx(h.at, "load2", crc16([]byte{0xAA, 0x55, byte(a >> 8), byte(a), byte(b >> 8), byte(b)}))
			}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := byHand(t, "\n# The line counter's box.", tt.cells+"\n# The line counter's box.", "range = \"1000 kgf\"", "range = \"1000 kgf\"\nguards = \"larger\"")
			ask, err := acquire.AskingOf(h.d.core.head.Trial, "load2")
			if err != nil || (ask != nil) != (tt.name == "modbus") {
				t.Fatalf("asking %v, %v", ask != nil, err)
			}
			h.d.Port(0, "load2", "open", "")
			if ask != nil {
				ask.Reset(0)
			}
			spend := func(d time.Duration, a, b int16) {
				for end := h.at + int64(d); h.at < end; {
					h.run(100 * time.Millisecond)
					tt.tells(h, ask, a, b)
					h.at += h.at % 100e6 // back onto the grid of the first cell's box
				}
			}
			spend(3*time.Second, 10, -20)
			h.must(safety.Logger, ActZero, "")
			spend(time.Second, 1010, 2980)
			s := h.d.Snapshot()
			if len(s.Cells) != 2 || !(math.Abs(float64(s.Cells[0].Tension)-1000) < 1e-6) || !(math.Abs(float64(s.Cells[1].Tension)-3000) < 1e-6) {
				t.Fatalf("cells %+v; want 1000 and 3000 N from their zeros of 10 and -20", s.Cells)
			}
			if g := h.d.State(); math.Abs(float64(g.Load.Tension)-3000) > 1e-6 {
				t.Errorf("the guard works with %v, want the largest, 3000 N", g.Load.Tension)
			}
			for _, r := range h.d.Said() {
				if r.Str("what") == "asked" || strings.Contains(r.Str("text"), "tells no tension") {
					t.Errorf("%s", r.Str("text"))
				}
			}
			h.end()
		})
	}
}
