package session

import (
	"testing"

	"pgregory.net/rapid"

	"hawse/acquire"
	"hawse/safety"
)

// TestWiresFoldAnything: whatever comes on ports that are shared or asked, in any
// order and cut anyhow, the fold goes on, and a replay says the same.
func TestWiresFoldAnything(t *testing.T) {
	asked := []string{loadIs, "kind = \"modbus\"\n", "over = [\"OL\"]", "over = []",
		"[load.calibration]\n", "[load.modbus]\naddress = 1\nregister = 0\nholds = \"float32\"\nscale_register = 2\n[load.calibration]\n",
		lineBox, "on = \"load\"\nkind = \"modbus\"", lineIs, "", stopIs, "[line.modbus]\naddress = 2\nregister = 8\nholds = \"int32\"\n" + aidsAre + stopIs}
	framed := []string{loadIs, "kind = \"frames\"\n", "over = [\"OL\"]", "over = []",
		"[load.calibration]\n", "[load.frames]\nsync = \"AA 55\"\nlength = 12\nchecksum = \"xor8\"\nat = 2\nholds = \"int32\"\nflags_at = 6\nflags_over = 1\n[load.calibration]\n",
		lineBox, "on = \"load\"\nkind = \"frames\"", lineIs, "", stopIs, "[line.frames]\nat = 7\nholds = \"int32\"\n" + aidsAre + stopIs}
	questions := [][]byte{sealed(1, 3, 0, 0, 0, 3), sealed(2, 3, 0, 8, 0, 2), []byte("?")}
	pieces := [][]byte{sealed(1, 3, 6, 0x43, 0x9c, 0x40, 0, 0, 1), sealed(2, 3, 4, 0, 0, 0x30, 0x39), sealed(1, 0x83, 2), {1, 3, 6}, {0xaa, 0x55, 0},
		{0xaa, 0x55, 0, 0, 0, 1, 0, 0, 0, 0, 2, 0xfc}, nmeaLine("SDDPT,5.4,0.6"), nmeaLine("SDDPT,12.0,0.6"), nmeaLine("SDDPT,,"), nmeaLine("GPHDT,359.9,T"),
		nmeaLine("GPGGA,001043.00,4404.14036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M"), nmeaLine("GPGGA,001043.00,4404.24036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M"),
		nmeaLine("GPZDA,160012.71,11,03,2004,-1,00"), []byte("$GPZDA"), []byte("\r\n")}
	rapid.Check(t, func(rt *rapid.T) {
		edits := asked
		if rapid.Bool().Draw(rt, "frames") {
			edits = framed
		}
		h := byHand(t, edits...)
		h.d.Port(0, SrcDepth, acquire.StateOpen, "")
		for range rapid.IntRange(1, 120).Draw(rt, "steps") {
			h.at += rapid.Int64Range(1e6, 200e6).Draw(rt, "ns")
			src := rapid.SampledFrom([]string{SrcLoad, SrcDepth}).Draw(rt, "port")
			switch rapid.IntRange(0, 9).Draw(rt, "what") {
			case 0, 1, 2:
				h.d.Sent(h.at, SrcLoad, rapid.SampledFrom(questions).Draw(rt, "question"))
			case 3:
				h.d.Port(h.at, src, rapid.SampledFrom([]string{acquire.StateLost, acquire.StateOpen}).Draw(rt, "state"), "")
			case 4:
				h.do(safety.Director, ActDepth, rapid.SampledFrom([]string{"6 m", "12 m"}).Draw(rt, "depth"))
			case 5:
				h.d.Rx(h.at, src, rapid.SliceOfN(rapid.Byte(), 1, 20).Draw(rt, "bytes"))
			default:
				p := rapid.SampledFrom(pieces).Draw(rt, "piece")
				cut := rapid.IntRange(0, len(p)).Draw(rt, "cut")
				for _, part := range [][]byte{p[:cut], p[cut:]} {
					if len(part) > 0 {
						h.d.Rx(h.at, src, part)
					}
				}
			}
			h.aids()
		}
		h.end()
	})
}
