package trial

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// wired is the template with its boxes said otherwise.
func wired(t *testing.T, edits ...string) *Trial {
	t.Helper()
	tr, err := ParseTrial("t.toml", []byte(edited(t, edits...)))
	if err != nil {
		t.Fatalf("%v", err)
	}
	return tr
}

const onLoad = "# Port, bits a second and frame as for the load cell.\non = \"load\""

func TestWires(t *testing.T) {
	const before = "[load.calibration]\n"
	load := func(kind, table string) []string {
		return []string{loadIs, "kind = " + kind + "\n", before, table + before}
	}
	for _, tt := range []struct {
		name       string
		edits      []string
		load, line Wire
		lineOf     string // the encoder's pattern
	}{
		{"lines", nil, Wire{}, Wire{}, `^N (?P<counts>[+-]?\d+)$`},
		{"lines said", []string{"[line]\n", "[line]\nkind = \"lines\"\n"}, Wire{}, Wire{}, `^N (?P<counts>[+-]?\d+)$`},
		{"asked", []string{"[line]\n", "[line]\nkind = \"asked\"\n", "[stop]\n", "[line.asked]\nask = \"\\u0005N\\u00ff\\r\\n\"\n[stop]\n"},
			Wire{}, Wire{Kind: WireAsked, Asked: Asked{[]byte("\x05N\xff\r\n"), 100 * time.Millisecond, 500 * time.Millisecond}}, `^N (?P<counts>[+-]?\d+)$`},
		{"asked, slowly", []string{"[line]\n", "[line]\nkind = \"asked\"\n", "[stop]\n", "[line.asked]\nask = \"N\"\nwait = \"400 ms\"\n[stop]\n"},
			Wire{}, Wire{Kind: WireAsked, Asked: Asked{[]byte("N"), 400 * time.Millisecond, 800 * time.Millisecond}}, `^N (?P<counts>[+-]?\d+)$`},
		{"modbus", load(`"modbus"`, "[load.modbus]\nregister = 0x10\nholds = \"float32\"\norder = \"CDAB\"\nscale_register = 14\nfactor = -0.5\nlate = \"2 s\"\n"),
			Wire{Kind: WireModbus, Registers: Registers{Address: 1, Function: 3, Register: 16, Number: Number{"float32", "CDAB", -0.5}, Scale: 14, HasScale: true,
				Wait: 100 * time.Millisecond, Late: 2 * time.Second}}, Wire{}, `^N (?P<counts>[+-]?\d+)$`},
		{"frames", load(`"frames"`, "[load.frames]\nsync = \"AA 55\"\nlength = 12\nchecksum = \"crc16\"\nchecksum_from = 2\nat = 4\nholds = \"int16\"\nflags_at = 3\nflags_over = 0x80\n"),
			Wire{Kind: WireFrames, Frames: Frames{Sync: []byte{0xaa, 0x55}, Length: 12, Checksum: SumCRC16, SumFrom: 2, At: 4, Number: Number{"int16", "AB", 1},
				Flags: 3, Over: 128, HasFlags: true}}, Wire{}, `^N (?P<counts>[+-]?\d+)$`},
		{"two in one frame", append(load(`"frames"`, "[load.frames]\nsync = \"AA 55\"\nlength = 12\nchecksum = \"sum8\"\nat = 2\nholds = \"int16\"\n"),
			lineBox, onLoad+"\nkind = \"frames\"", lineIs, "", "[stop]\n", "[line.frames]\nat = 7\nholds = \"uint32\"\norder = \"DCBA\"\n[stop]\n"),
			Wire{Kind: WireFrames, Frames: Frames{Sync: []byte{0xaa, 0x55}, Length: 12, Checksum: SumAdd8, At: 2, Number: Number{"int16", "AB", 1}}},
			Wire{Kind: WireFrames, On: "load", Frames: Frames{Sync: []byte{0xaa, 0x55}, Length: 12, Checksum: SumAdd8, At: 7, Number: Number{"uint32", "DCBA", 1}}}, ""},
		{"two in one line", []string{loadIs, "line = '^(?P<value>[+-]?\\d+(\\.\\d+)?) (?P<unit>kgf) (?P<counts>\\d+)$'\n", lineBox, onLoad, lineIs, ""},
			Wire{}, Wire{On: "load"}, `^(?P<value>[+-]?\d+(\.\d+)?) (?P<unit>kgf) (?P<counts>\d+)$`},
		{"two on one port", []string{lineBox, onLoad}, Wire{}, Wire{On: "load"}, `^N (?P<counts>[+-]?\d+)$`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr := wired(t, tt.edits...)
			if diff := cmp.Diff(tt.load, tr.Load.Wire); diff != "" {
				t.Errorf("load (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(tt.line, tr.Line.Wire); diff != "" {
				t.Errorf("line (-want +got):\n%s", diff)
			}
			if tr.Line.Line != tt.lineOf {
				t.Errorf("the encoder's line is %q, want %q", tr.Line.Line, tt.lineOf)
			}
		})
	}
}

// The commented examples of the template are what they show.
func TestTemplateExamplesOfInstruments(t *testing.T) {
	_, part, _ := strings.Cut(Template(), "# Instruments a trial may do without")
	part, _, _ = strings.Cut(part, "# The port to the relay")
	_, part, _ = strings.Cut(part, "\n")
	var b strings.Builder
	for l := range strings.SplitSeq(part, "\n") {
		fmt.Fprintln(&b, strings.TrimPrefix(l, "# "))
	}
	tr := wired(t, "[stop]\n", b.String()+"[stop]\n")
	if tr.Sounder == nil || tr.Sounder.Transducer != 0.6 || tr.Sounder.Wire.Kind != WireNMEA || tr.Sounder.Rate != 1 {
		t.Errorf("sounder %+v", tr.Sounder)
	}
	if want := (&Positioner{Wire: Wire{Kind: WireNMEA, On: "depth"}, Aft: 4, Uncertain: 1.5}); cmp.Diff(want, tr.Positioner) != "" {
		t.Errorf("position %+v, want %+v", tr.Positioner, want)
	}
	if tr.Compass == nil || tr.SatClock == nil || tr.SatClock.Wire.On != "depth" {
		t.Errorf("heading %+v, clock %+v", tr.Compass, tr.SatClock)
	}
	if n := len(tr.Instruments()); n != 6 {
		t.Errorf("%d instruments, want 6", n)
	}
}

func TestDrumAndLayersInTheFile(t *testing.T) {
	tr := wired(t, scaleIs, "", "[stop]\n", drumIs+"[stop]\n")
	d := tr.Line.Drum
	if d == nil || d.Holds != 80 || d.PerTurn != 500 || math.Abs(tr.Line.PerMetre-750.73) > 0.01 {
		t.Errorf("drum %+v, %v counts a metre on its first layer, want 500/(pi 0.212 m) = 750.73", d, tr.Line.PerMetre)
	}
	tr = wired(t, scaleIs, "", "[stop]\n", "[[line.layer]]\nfrom = \"0 m\"\nscale = \"900 /m\"\n[[line.layer]]\nfrom = \"26 m\"\nscale = \"1000 /m\"\n[stop]\n")
	if want := []LayerScale{{0, 900}, {26, 1000}}; cmp.Diff(want, tr.Line.Layers) != "" || tr.Line.PerMetre != 900 {
		t.Errorf("layers %v, %v counts a metre; want %v and 900", tr.Line.Layers, tr.Line.PerMetre, want)
	}
}

func TestReadTurn(t *testing.T) {
	// About 27 ms at 9600 bits a second and 14 ms at 19,200 for two registers:
	// computed by hand, 17 characters of 11 bits and twice 3.5.
	for _, tt := range []struct {
		baud int
		want time.Duration
	}{{9600, 27500 * time.Microsecond}, {19200, 13750 * time.Microsecond}, {115200, 5123 * time.Microsecond}} {
		if got := ReadTurn(tt.baud, 2); got.Round(time.Microsecond) != tt.want.Round(time.Microsecond) {
			t.Errorf("ReadTurn(%d, 2) = %v, want %v", tt.baud, got, tt.want)
		}
	}
}
