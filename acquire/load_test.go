package acquire

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"hawse/trial"
)

// Exact by definition: 1 lbf = 0.45359237 kg x 9.80665 m/s2 (NIST Special
// Publication 811, appendix B; from memory).
const (
	lbfN = 4.4482216152605
	kgfN = 9.80665
)

// cell is an invented load cell of 10 tf.
func cell(change func(*trial.LoadCell)) trial.LoadCell {
	c := trial.LoadCell{
		Line:  `(?P<value>[-+]?[ 0-9]*\.?[0-9]+) ?(?P<unit>[A-Za-z]+)?(?: (?P<status>\S+))?`,
		Unit:  "lb",
		Range: 10 * 1000 * kgfN,
		Over:  []string{"OL", "----"},
	}
	if change != nil {
		change(&c)
	}
	return c
}

func TestLoadDecoder(t *testing.T) {
	pat := func(line string) func(*trial.LoadCell) { return func(c *trial.LoadCell) { c.Line = line } }
	tests := []struct {
		name   string
		change func(*trial.LoadCell)
		frame  string
		kind   ReadingKind
		want   float64 // indicated, N; NaN: none
		why    string  // part of the reason
	}{
		{"unit in the line", nil, "+00312.4 lb", Good, 312.4 * lbfN, ""},
		{"another unit in the line", nil, "+00312.4 kg", Good, 312.4 * kgfN, ""},
		{"unit in capitals", nil, "312.4 KG", Good, 312.4 * kgfN, ""},
		{"kilonewtons", nil, "3.1 kN", Good, 3100, ""},
		{"declared unit", nil, "312.4", Good, 312.4 * lbfN, ""},
		{"status", nil, "312.4 lb M", Good, 312.4 * lbfN, ""},
		{"negative", nil, "-55.1 lb", Good, -55.1 * lbfN, ""},
		{"blanks after the sign", nil, "-   55.1 lb", Good, -55.1 * lbfN, ""},
		{"2500 lbf", nil, "2500 lbf", Good, 11120.5540381512, ""}, // published conversion: 11.1205540381512 kN
		{"500 kgf", nil, "500 kgf", Good, 4903.325, ""},           // published conversion
		{"unit that is no force", nil, "312.4 mV", Garbled, math.NaN(), `unit "mV" is no unit of force`},
		{"unit of length", nil, "312.4 m", Garbled, math.NaN(), `unit "m" is no unit of force`},
		{"unit with a letter that folds to k", pat(`(?P<value>[0-9.]+) (?P<unit>\S+)`), "3.1 \u212aN", Garbled, math.NaN(), "no unit of force"},
		{"no unit at all", func(c *trial.LoadCell) { c.Unit = "" }, "312.4", Garbled, math.NaN(), "no unit in the line"},
		{"rubbish", nil, "#!?", Garbled, math.NaN(), "does not match"},
		{"rubbish around a good line", nil, "x+00312.4 lb", Garbled, math.NaN(), "does not match"},
		{"something after a good line", nil, "+00312.4 lb M 7", Garbled, math.NaN(), "does not match"},
		{"empty", nil, "", Garbled, math.NaN(), "does not match"},

		{"over word", nil, "OL", OverRange, math.NaN(), `the box says "OL"`},
		{"over word, padded", nil, "   OL   lb", OverRange, math.NaN(), `the box says "OL"`},
		{"over word with sign", nil, "+OL", OverRange, math.NaN(), `the box says "OL"`},
		{"dashes", nil, "------ lb", OverRange, math.NaN(), `the box says "----"`},
		{"over word as status", nil, "9999.9 kg OL", OverRange, 9999.9 * kgfN, `the box says "OL"`},
		{"over word in the number's place", pat(`(?P<value>\S+) (?P<unit>\w+)`), "OL lb", OverRange, math.NaN(), `the box says "OL"`},
		{"over word inside another", nil, "HOLD", Garbled, math.NaN(), "does not match"},
		{"over word at a word's start", nil, "OLD", Garbled, math.NaN(), "does not match"},
		{"over word, first inside another", nil, "HOLD OL", OverRange, math.NaN(), `the box says "OL"`},
		{"over word in noise", nil, "\x80#OL~\x01", Garbled, math.NaN(), "does not match"},
		{"over word between STX and ETX", nil, "\x02OL\x03", OverRange, math.NaN(), `the box says "OL"`},

		{"just under the range", nil, "9999.9 kg", Good, 9999.9 * kgfN, ""},
		{"at the range", nil, "10000 kg", OverRange, 10000 * kgfN, "at or past the range"},
		{"past the range", nil, "10001 kg", OverRange, 10001 * kgfN, "at or past the range"},
		{"past the range downwards", nil, "-10001 kg", OverRange, -10001 * kgfN, "at or past the range"},
		{"infinite", pat(`(?P<value>\S+)`), "-inf", OverRange, math.Inf(-1), "at or past the range"},
		{"too large for a float", pat(`(?P<value>\S+)`), "1e999", OverRange, math.Inf(1), "at or past the range"},
		{"NaN", pat(`(?P<value>\S+)`), "NaN", Good, math.NaN(), ""},

		{"exponent", pat(`(?P<value>\S+)`), "+3.124E+02", Good, 312.4 * lbfN, ""},
		{"hexadecimal", pat(`(?P<value>\S+)`), "0x10", Garbled, math.NaN(), "no number"},
		{"underscore", pat(`(?P<value>\S+)`), "1_000", Garbled, math.NaN(), "no number"},
		{"two points", pat(`(?P<value>\S+)`), "3.1.2", Garbled, math.NaN(), "no number"},
		{"half an exponent", pat(`(?P<value>\S+)`), "3e", Garbled, math.NaN(), "no number"},
		{"sign alone", pat(`(?P<value>\S+)`), "-", Garbled, math.NaN(), "no number"},
		{"very long number", pat(`(?P<value>\S+)`), strings.Repeat("1", 60), Garbled, math.NaN(), "too long"},
		{"control characters in the number", pat(`(?P<value>[^x]+)`), "\x1b[2J", Garbled, math.NaN(), `\x1b[2J`},
		{"value group took no part", pat(`(?P<value>[0-9]+)|WAIT`), "WAIT", Garbled, math.NaN(), "no number"},

		{"comma refused", pat(`(?P<value>\S+)`), "312,4", Garbled, math.NaN(), "comma"},
		{"comma refused where a point may be", pat(`(?P<value>[0-9.,]+)`), "1,234", Garbled, math.NaN(), "comma"},
		{"comma meant", pat(`(?P<value>[0-9]+,[0-9]+)`), "312,4", Good, 312.4 * lbfN, ""},
		{"comma meant, in a class", pat(`(?P<value>[-+0-9,]+)`), "-312,4", Good, -312.4 * lbfN, ""},
		{"two commas", pat(`(?P<value>[0-9,]+)`), "1,234,5", Garbled, math.NaN(), "no number"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d, err := NewLoadDecoder(cell(tt.change))
			if err != nil {
				t.Fatal(err)
			}
			got := d.Decode([]byte(tt.frame))
			if got.Kind != tt.kind || !sameForce(got.Indicated, tt.want) || !sameForce(got.Tension, tt.want) ||
				(got.Why == "") != (tt.why == "") || !strings.Contains(got.Why, tt.why) {
				t.Errorf("Decode(%q) = %v %v %v %q; want %v %v, why %q", tt.frame, got.Kind, got.Indicated, got.Tension, got.Why, tt.kind, tt.want, tt.why)
			}
		})
	}
}

// sameForce compares to 14 digits, those of the published conversions.
func sameForce(got trial.Force, want float64) bool {
	g := float64(got)
	if math.IsNaN(want) || math.IsInf(want, 0) {
		return math.IsNaN(g) == math.IsNaN(want) && (math.IsNaN(g) || g == want)
	}
	return math.Abs(g-want) <= 1e-14*math.Abs(want)
}

func TestLoadDecoderCalibration(t *testing.T) {
	kn, _ := trial.ForceUnitNamed("kN")
	tests := []struct {
		name  string
		cal   []float64
		frame string
		want  float64 // tension, N
	}{
		// Illustrative coefficients; the results are exact in binary.
		{"none", nil, "2.5 kN", 2500},
		{"offset", []float64{0.25, 1}, "2.5 kN", 2750},
		{"quadratic", []float64{0.25, 0.5, 0.125}, "2 kN", 1750}, // 0.25 + 1 + 0.5
		{"cubic", []float64{1, -1, 0.5, 0.25}, "-2 kN", 3000},    // 1 + 2 + 2 - 2
		{"constant", []float64{0.5}, "7 kN", 500},
		{"from another unit", []float64{0, 2}, "1000 N", 2000},
	}
	for _, tt := range tests {
		d, err := NewLoadDecoder(cell(func(c *trial.LoadCell) { c.Cal, c.CalUnit = tt.cal, kn }))
		if err != nil {
			t.Fatal(err)
		}
		got := d.Decode([]byte(tt.frame))
		if got.Kind != Good || float64(got.Tension) != tt.want {
			t.Errorf("%s: c = %v: Decode(%q) = %v %v; want good %v N", tt.name, tt.cal, tt.frame, got.Kind, got.Tension, tt.want)
		}
	}
}

// The range is the box's: it is held against what the box shows.
func TestLoadDecoderRangeIsIndicated(t *testing.T) {
	n, _ := trial.ForceUnitNamed("N")
	d, err := NewLoadDecoder(cell(func(c *trial.LoadCell) { c.Range, c.Cal, c.CalUnit = 1000, []float64{0, 2}, n }))
	if err != nil {
		t.Fatal(err)
	}
	if got := d.Decode([]byte("900 N")); got.Kind != Good || got.Indicated != 900 || got.Tension != 1800 {
		t.Errorf("Decode(900 N), twice calibrated, range 1000 N = %+v; want good, 900 indicated, 1800", got)
	}
}

func TestNewLoadDecoderRefuses(t *testing.T) {
	tests := []struct {
		name   string
		change func(*trial.LoadCell)
		want   string
	}{
		{"no pattern", func(c *trial.LoadCell) { c.Line = " " }, "line: no pattern"},
		{"broken pattern", func(c *trial.LoadCell) { c.Line = `(?P<value>[0-9]` }, "line: "},
		{"pattern that would close our own group", func(c *trial.LoadCell) { c.Line = `a)|(?P<value>b` }, "line: "},
		{"no value", func(c *trial.LoadCell) { c.Line = `[0-9]+` }, "(?P<value>...)"},
		{"misspelt group", func(c *trial.LoadCell) { c.Line = `(?P<value>\d+)(?P<units>\w+)` }, `group "units" is not known; groups are value, unit, status`},
		{"unknown unit", func(c *trial.LoadCell) { c.Unit = "mV" }, `unit: "mV" is no unit of force`},
		{"no unit anywhere", func(c *trial.LoadCell) { c.Unit, c.Line = "", `(?P<value>\d+)` }, "unit: none given"},
		{"no range", func(c *trial.LoadCell) { c.Range = 0 }, "range: "},
		{"range NaN", func(c *trial.LoadCell) { c.Range = trial.Force(math.NaN()) }, "range: "},
		{"range without end", func(c *trial.LoadCell) { c.Range = trial.Force(math.Inf(1)) }, "range: "},
		{"empty over word", func(c *trial.LoadCell) { c.Over = []string{"OL", " "} }, "over: "},
		{"calibration without unit", func(c *trial.LoadCell) { c.Cal = []float64{0, 1} }, "calibration: its unit"},
		{"calibration not finite", func(c *trial.LoadCell) {
			c.Cal, c.CalUnit = []float64{0, math.Inf(1)}, trial.ForceUnit{Name: "N", N: 1}
		}, "calibration: coefficient c1"},
	}
	for _, tt := range tests {
		d, err := NewLoadDecoder(cell(tt.change))
		if d != nil || err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: NewLoadDecoder = %v, %v; want an error with %q", tt.name, d, err, tt.want)
		}
	}
}

// What was read before changes nothing.
func TestLoadDecoderHasNoMemory(t *testing.T) {
	frames := []string{"312.4 lb", "312.4 KG", "3.1 kN", "3.1 xx", "OL", "", "1 N", "1 n", "312.4"}
	rapid.Check(t, func(t *rapid.T) {
		used, err := NewLoadDecoder(cell(nil))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range rapid.SliceOf(rapid.SampledFrom(frames)).Draw(t, "frames") {
			fresh, _ := NewLoadDecoder(cell(nil))
			got, want := used.Decode([]byte(f)), fresh.Decode([]byte(f))
			if got.Kind != want.Kind || math.Float64bits(float64(got.Tension)) != math.Float64bits(float64(want.Tension)) || got.Why != want.Why || got.Unit != want.Unit {
				t.Fatalf("Decode(%q) = %+v after other frames, %+v alone", f, got, want)
			}
		}
	})
}

func FuzzLoadDecoder(f *testing.F) {
	for _, s := range []string{"+00312.4 lb", "OL", "312,4", "-1e999 kN", "nan", "- 5 kg OL", "\x00\xff"} {
		f.Add([]byte(s), `(?P<value>\S+)(?: (?P<unit>\S+))?`)
	}
	f.Add([]byte("312,4 kN"), `(?P<value>[0-9]+,[0-9]+) (?P<unit>kN)`)
	f.Fuzz(func(t *testing.T, frame []byte, line string) {
		d, err := NewLoadDecoder(cell(func(c *trial.LoadCell) { c.Line = line }))
		if err != nil {
			return
		}
		r := d.Decode(frame)
		v, ten := float64(r.Indicated), float64(r.Tension)
		switch r.Kind {
		case Good:
			if math.Abs(v) >= 10*1000*kgfN || r.Unit.N == 0 || r.Why != "" {
				t.Errorf("Decode(%q) with %q is good: %+v", frame, line, r)
			}
		case OverRange:
			if r.Why == "" {
				t.Errorf("Decode(%q) with %q is over range without a reason", frame, line)
			}
		case Garbled:
			if !math.IsNaN(v) || !math.IsNaN(ten) || r.Why == "" {
				t.Errorf("Decode(%q) with %q is garbled and says %+v", frame, line, r)
			}
		}
		for _, c := range []byte(r.Why) {
			if c < 0x20 || c > 0x7e {
				t.Errorf("Decode(%q): reason %q is not fit to be shown", frame, r.Why)
			}
		}
	})
}
