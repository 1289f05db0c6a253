package acquire

import (
	"bytes"
	"encoding/hex"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"hawse/trial"
)

func binaryCell(f trial.Frames) trial.LoadCell {
	return trial.LoadCell{Unit: "N", Range: 1e6, Over: []string{"-32768"}, Wire: trial.Wire{Kind: trial.WireFrames, Frames: f}}
}

// TestFrames: wire bytes worked out by hand; the CRC is the one of the published
// check value, 4B37 of "123456789", sent low byte first.
func TestFrames(t *testing.T) {
	i16 := trial.Number{Holds: "int16", Order: "BA", Factor: 0.1}
	crc := trial.Frames{Sync: []byte("12"), Length: 11, Checksum: trial.SumCRC16, At: 3, Number: trial.Number{Holds: "uint8", Order: "A", Factor: 1}}
	flags := trial.Frames{Sync: []byte{0xaa, 0x55}, Length: 6, Checksum: trial.SumXor8, SumFrom: 2, At: 3, Number: i16, Flags: 2, Over: 0x81, HasFlags: true}
	sum := trial.Frames{Sync: []byte{0xaa}, Length: 4, Checksum: trial.SumAdd8, At: 1, Number: trial.Number{Holds: "int16", Order: "AB", Factor: 1}}
	for _, tt := range []struct {
		name, wire string
		f          trial.Frames
		kind       ReadingKind
		want       float64
		frames     int
		bad        int
	}{
		{"crc", hex.EncodeToString([]byte("123456789")) + "374b", crc, Good, '4', 1, 0},
		{"crc, wrong", hex.EncodeToString([]byte("123456789")) + "4b37", crc, Garbled, 0, 0, 1},
		{"xor over a part", "aa5500102737", flags, Good, 1000, 1, 0},
		{"a negative one", "aa5500f0d8" + "28", flags, Good, -1000, 1, 0},
		{"flagged", "aa55801027b7", flags, OverRange, 1000, 1, 0},
		{"sum", "aa7fff28", sum, Good, 32767, 1, 0},
		{"the number that means over range", "aa80002a", sum, OverRange, -32768, 1, 0},
		{"noise before", "00aa7f00aa7fff28", sum, Good, 32767, 1, 1},
		{"cut short, then whole", "aa7faa7fff28", sum, Good, 32767, 1, 1},
	} {
		wire, err := hex.DecodeString(tt.wire)
		if err != nil {
			t.Fatal(err)
		}
		d, err := NewLoadDecoder(binaryCell(tt.f))
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		s := newFrameScan(tt.f)
		frames, bad := 0, 0
		s.feed(wire, func(frame []byte, good bool) {
			if !good {
				bad++
				return
			}
			frames++
			if r := d.Decode(frame); r.Kind != tt.kind || math.Abs(float64(r.Indicated)-tt.want) > 1e-9 {
				t.Errorf("%s: % x is %+v, want %v %v", tt.name, frame, r, tt.kind, tt.want)
			}
		})
		if frames != tt.frames || bad > 0 != (tt.bad > 0) && frames > 0 {
			t.Errorf("%s: %d frames, %d bad; want %d, %d", tt.name, frames, bad, tt.frames, tt.bad)
		}
	}
}

// Frames come out whole however the bytes are cut, and behind any noise that
// holds no sync byte; one changed byte costs no more than the frame it is in and
// the one after.
func TestFramesHoweverCut(t *testing.T) {
	f := trial.Frames{Sync: []byte{0xaa, 0x55}, Length: 9, Checksum: trial.SumCRC16, At: 2, Number: trial.Number{Holds: "uint32", Order: "ABCD", Factor: 1}}
	rapid.Check(t, func(rt *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		n := rapid.IntRange(1, 20).Draw(rt, "frames")
		var wire []byte
		for i := range n {
			frame := []byte{0xaa, 0x55, 0, 0, 0, byte(i), byte(rng.Uint32())}
			wire = append(wire, sealCRC(frame, 0)...)
		}
		hurt := rapid.Bool().Draw(rt, "one byte wrong")
		if hurt {
			wire[rng.IntN(len(wire))] ^= byte(1 + rng.IntN(255))
		}
		s := newFrameScan(f)
		var got []byte
		for rest := wire; len(rest) > 0; {
			k := min(1+rng.IntN(12), len(rest))
			s.feed(rest[:k], func(frame []byte, good bool) {
				if good {
					got = append(got, frame[5])
				}
			})
			rest = rest[k:]
		}
		want := n
		if hurt {
			want = max(n-2, 0)
		}
		if len(got) < want || !hurt && len(got) != n || !bytes.Equal(got, sorted(got)) {
			rt.Errorf("of %d frames came %v", n, got)
		}
	})
}

func sorted(p []byte) []byte {
	out := bytes.Clone(p)
	for i := 1; i < len(out); i++ {
		for j := i; j > 0 && out[j] < out[j-1]; j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out
}

// Whatever comes: every frame given is whole and its checksum fits, every byte
// is given once or still kept, and no more than one frame is kept.
func FuzzFrames(f *testing.F) {
	f.Add([]byte("\xaa\x55\x00\x00\xaa\x55\x01"), byte(3))
	f.Add(sealCRC([]byte{0xaa, 0x55, 1, 2, 3}, 0), byte(2))
	f.Fuzz(func(t *testing.T, wire []byte, sum byte) {
		spec := trial.Frames{Sync: []byte{0xaa, 0x55}, Length: 7, Checksum: []string{trial.SumNone, trial.SumXor8, trial.SumAdd8, trial.SumCRC16}[sum%4],
			At: 2, Number: trial.Number{Holds: "int16", Order: "BA", Factor: 1}}
		d, err := NewLoadDecoder(binaryCell(spec))
		if err != nil {
			t.Fatal(err)
		}
		s := newFrameScan(spec)
		given := 0
		for _, part := range [][]byte{wire[:len(wire)/2], wire[len(wire)/2:]} {
			s.feed(part, func(frame []byte, good bool) {
				given += len(frame)
				if good && (len(frame) != 7 || !bytes.HasPrefix(frame, spec.Sync) || !frameSum(frame, spec) || d.Decode(frame).Kind == Garbled) {
					t.Errorf("% x is given as good", frame)
				}
			})
		}
		if given+len(s.buf) != len(wire) || len(s.buf) >= 7 {
			t.Errorf("%d bytes given and %d kept of %d", given, len(s.buf), len(wire))
		}
	})
}
