package acquire

import (
	"encoding/csv"
	"encoding/hex"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// specOf is the load cell a row of testdata/wire.csv speaks of.
func specOf(t *testing.T, spec string) trial.LoadCell {
	t.Helper()
	c := trial.LoadCell{Unit: "kgf", Range: 1e12, Rate: 10, Over: nil, Port: trial.Port{Baud: 9600}}
	const wait, late = 100 * time.Millisecond, 500 * time.Millisecond
	switch w := strings.Fields(spec); w[0] {
	case "modbus":
		c.Wire = trial.Wire{Kind: trial.WireModbus, Registers: trial.Registers{Address: 17, Function: 3, Register: 0x6B,
			Number: trial.Number{Holds: w[1], Order: w[2], Factor: 1}, Wait: wait, Late: late}}
	case "frames":
		f := trial.Frames{Sync: []byte{0xaa, 0x55}, Checksum: w[1], At: 3, Number: trial.Number{Holds: w[2], Order: w[3], Factor: 1}}
		f.Length = 3 + f.Number.Bytes() + f.SumBytes()
		c.Wire = trial.Wire{Kind: trial.WireFrames, Frames: f}
	case "asked":
		c.Over, c.Line = []string{"OL"}, `^(?P<value>[+-]?\d+(\.\d+)?) (?P<unit>kgf)$`
		c.Wire = trial.Wire{Kind: trial.WireAsked, Asked: trial.Asked{Ask: []byte("W\r"), Wait: wait, Late: late}}
	default:
		t.Fatalf("spec %q", spec)
	}
	return c
}

// tableOf are the rows of a table in testdata, without its head and comments; it
// has so many with the head, at least.
func tableOf(t testing.TB, name string, least int) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < least {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows[1:]
}

// TestWireBytes: each row, whole and byte by byte.
func TestWireBytes(t *testing.T) {
	for _, row := range tableOf(t, "wire.csv", 19) {
		c := specOf(t, row[1])
		wire, err := hex.DecodeString(row[2])
		if err != nil {
			t.Fatal(err)
		}
		for _, step := range []int{1, 2, len(wire)} {
			d, err := NewLoadDecoder(c)
			if err != nil {
				t.Fatal(err)
			}
			recv := NewReception([]trial.Instrument{{Table: "load", Port: c.Port, Wire: c.Wire, Rate: c.Rate}}, map[string]func([]byte) bool{"load": d.Fits})
			if c.Wire.Polled() {
				recv.Sent(0, recv.asking.Ask(0))
			}
			kind, got := "none", math.NaN()
			for at := 0; at < len(wire); at += step {
				recv.Feed(int64(at)*1e6, wire[at:min(at+step, len(wire))], func(_ string, frame []byte, bad string) {
					if bad != "" {
						return
					}
					reading := d.Decode(frame)
					kind, got = strings.Fields(reading.Kind.String())[0], reading.Unit.In(reading.Indicated)
				})
			}
			want, err := strconv.ParseFloat(row[4], 64)
			if err != nil {
				want = math.NaN()
			}
			if kind != row[3] || math.Abs(got-want) > 1e-9*math.Abs(want) || math.IsNaN(got) != math.IsNaN(want) && kind == "good" {
				t.Errorf("%s, %d bytes at a time: %s %v, want %s %v (%s)", row[0], step, kind, got, row[3], want, row[5])
			}
		}
	}
}
