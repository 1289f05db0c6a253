package trial

import (
	"encoding/csv"
	"errors"
	"math"
	"math/big"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func readCSV(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	return rows[1:]
}

// Unit factors of NIST Special Publication 811, appendix B (from memory,
// cross-checked with two general reference libraries), held exactly: no
// rounding stands between the published digits and the factor used.
func TestUnitsExact(t *testing.T) {
	units := map[string]struct {
		table *unitTable
		name  string
	}{
		"lb (avoirdupois pound)":            {massUnits, "lb"},
		"lbf":                               {forceUnits, "lbf"},
		"kgf":                               {forceUnits, "kgf"},
		"standard gravity":                  {forceUnits, "kgf"},
		"tonne-force (metric)":              {forceUnits, "tf"},
		"ft (international)":                {lengthUnits, "ft"},
		"inch":                              {lengthUnits, "in"},
		"fathom (6 ft)":                     {lengthUnits, "fathom"},
		"knot":                              {speedUnits, "kn"},
		"lbf/ft":                            {lineWeightUnits, "lbf/ft"},
		"ft/min":                            {speedUnits, "ft/min"},
		"degree":                            {angleUnits, "deg"},
		"short ton-force (2000 lbf)":        {},
		`shot of chain (15 fathoms, 90 ft)`: {},
		"international nautical mile":       {},
		"US survey foot":                    {},
		"lbf per square inch":               {},
		"bar":                               {},
	}
	for _, row := range readCSV(t, "testdata/units-exact.csv") {
		u, known := units[row[0]]
		if !known {
			t.Errorf("%s: not looked at; say which unit it is or that it is not accepted", row[0])
			continue
		}
		if u.table == nil {
			continue // no unit of a trial file
		}
		d, ok := u.table.find(u.name)
		if !ok {
			t.Errorf("%s: %s is no unit of %s", row[0], u.name, u.table.kind)
			continue
		}
		published, _ := new(big.Rat).SetString(row[2])
		if f, _ := published.Float64(); f != d.f {
			t.Errorf("%s: factor %v, want %v", row[0], d.f, f)
		}
		if row[3] == "exact" && published.Cmp(d.exact) != 0 {
			t.Errorf("%s: exact factor %s, want %s", row[0], d.exact.RatString(), published.RatString())
		}
		if _, frac, ok := strings.Cut(row[3], "rational "); ok {
			if want := factor(strings.ReplaceAll(frac, "/", " / ")); want.Cmp(d.exact) != 0 {
				t.Errorf("%s: exact factor %s, want %s", row[0], d.exact.RatString(), want.RatString())
			}
		}
	}
	if d, _ := angleUnits.find("deg"); d.f != math.Pi/180 {
		t.Errorf("degree is %v, want %v", d.f, math.Pi/180)
	}
}

// Same source as TestUnitsExact, 15 significant digits.
func TestUnitsConversions(t *testing.T) {
	parse := map[string]func(string) (float64, error){
		"kN": forceSI, "lbf": forceSI, "t-force": func(s string) (float64, error) { return forceSI(strings.Replace(s, "t-force", "tf", 1)) }, "kgf": forceSI,
		"fathom": func(s string) (float64, error) { l, err := ParseLength(s); return float64(l), err },
		"ft":     func(s string) (float64, error) { l, err := ParseLength(s); return float64(l), err },
		"kn":     func(s string) (float64, error) { v, err := ParseSpeed(s); return float64(v), err },
		"ft/min": func(s string) (float64, error) { v, err := ParseSpeed(s); return float64(v), err },
	}
	for _, row := range readCSV(t, "testdata/units-conversions.csv") {
		si, err := parse[row[1]](row[0] + " " + row[1])
		if err != nil {
			t.Errorf("%s %s: %v", row[0], row[1], err)
			continue
		}
		got := si
		if u, ok := ForceUnitNamed(row[2]); ok {
			got = u.In(Force(si))
		} else if u, ok := LengthUnitNamed(row[2]); ok {
			got = u.In(Length(si))
		} else if u, ok := SpeedUnitNamed(row[2]); ok {
			got = u.In(Speed(si))
		} else {
			t.Errorf("%s: unknown unit in the list", row[2])
		}
		if text := strconv.FormatFloat(got, 'g', 15, 64); text != strconv.FormatFloat(mustFloat(t, row[3]), 'g', 15, 64) {
			t.Errorf("%s %s = %s %s, want %s", row[0], row[1], text, row[2], row[3])
		}
	}
}

func forceSI(s string) (float64, error) { f, err := ParseForce(s); return float64(f), err }

func mustFloat(t *testing.T, s string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// anyParser is one of the parsers, told alike.
type anyParser struct {
	table *unitTable
	parse func(string) (float64, error)
	text  func(float64) string // the String of the type
}

var anyParsers = []anyParser{
	{forceUnits, forceSI, func(v float64) string { return Force(v).String() }},
	{loadUnits, func(s string) (float64, error) { f, _, err := ParseLoadForce(s); return float64(f), err }, func(v float64) string { return Force(v).String() }},
	{lengthUnits, func(s string) (float64, error) { v, err := ParseLength(s); return float64(v), err }, func(v float64) string { return Length(v).String() }},
	{speedUnits, func(s string) (float64, error) { v, err := ParseSpeed(s); return float64(v), err }, func(v float64) string { return Speed(v).String() }},
	{massUnits, func(s string) (float64, error) { v, err := ParseMass(s); return float64(v), err }, func(v float64) string { return Mass(v).String() }},
	{angleUnits, func(s string) (float64, error) { v, err := ParseAngle(s); return float64(v), err }, func(v float64) string { return Angle(v).String() }},
	{lineWeightUnits, func(s string) (float64, error) { v, err := ParseLineWeight(s); return float64(v), err }, func(v float64) string { return LineWeight(v).String() }},
	{rateUnits, func(s string) (float64, error) { v, err := ParseRate(s); return float64(v), err }, func(v float64) string { return Rate(v).String() }},
	{perLengthUnits, ParsePerLength, func(v float64) string { return shortest(v) + " /m" }},
	{timeUnits, func(s string) (float64, error) { d, err := ParseDuration(s); return float64(d), err }, func(v float64) string { return FormatDuration(time.Duration(v)) }},
}

func TestParseQuantity(t *testing.T) {
	tests := []struct {
		name, kind, text string
		want             float64 // SI; nanoseconds for a time
	}{
		{"force", "force", "2000 lbf", 8896.443230521},
		{"no space", "force", "8kN", 8000},
		{"spaces around", "force", "  8.0   kN ", 8000},
		{"exponent", "force", "1e3 N", 1000},
		{"sign", "force", "+5 N", 5},
		{"no leading digit", "force", ".5 kN", 500},
		{"no trailing digit", "force", "5. kN", 5000},
		{"rounded once", "force", "500 kgf", 4903.325},
		{"zero", "force", "-0 N", 0},
		{"shackle stamp", "load", "1.5 t", 14709.975},
		{"inches", "length", "12 in", 0.3048},
		{"a tenth of a millimetre", "length", "0.1 mm", 0.0001},
		{"metres a minute", "speed", "2.4 m/min", 0.04},
		{"floating line", "weight of line", "-0.2 N/m", -0.2},
		{"line in feet", "weight of line", "0.8 lbf/ft", 0.8 * 14.59390293720636482939632545931758530184},
		{"angle", "angle", "45 deg", math.Pi / 4},
		{"milliseconds", "time", "50 ms", 50e6},
		{"minutes", "time", "15 min", 900e9},
		{"a fraction of a nanosecond is rounded", "time", "0.0000000016 s", 2},
		{"counts a metre", "counts of line", "1000 /m", 1000},
		{"counts a foot", "counts of line", "304.8 counts/ft", 1000},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, p := range anyParsers {
				if p.table.kind != tt.kind {
					continue
				}
				if got, err := p.parse(tt.text); err != nil || got != tt.want || math.Signbit(got) != math.Signbit(tt.want) {
					t.Errorf("%s %q = %v, %v; want %v", tt.kind, tt.text, got, err, tt.want)
				}
			}
		})
	}
}

func TestParseQuantityRefuses(t *testing.T) {
	tests := []struct {
		name, kind, text string
		reason           string // part of it
	}{
		{"empty", "force", "", "is empty"},
		{"only spaces", "force", "   ", "is empty"},
		{"bare number", "force", "12", "has no unit"},
		{"only a unit", "force", "kN", "does not begin with a number"},
		{"NaN", "force", "NaN kN", "does not begin with a number"},
		{"Inf", "force", "Inf N", "does not begin with a number"},
		{"-Inf", "angle", "-Inf deg", "does not begin with a number"},
		{"negative", "force", "-1 kN", "is negative"},
		{"negative length", "length", "-1 m", "is negative"},
		{"negative time", "time", "-1 s", "is negative"},
		{"mass for a force", "force", "10 kg", "kg is a unit of mass, not of force"},
		{"pounds for a force", "force", "10 lb", "lb is a unit of mass, not of force"},
		{"force for a mass", "mass", "10 kgf", "kgf is a unit of force, not of mass"},
		{"knots for a force", "force", "10 kn", `unit "kn" is written kN`},
		{"unknown unit", "force", "10 stone", "no unit of force"},
		{"wrong case", "force", "8 KN", `unit "KN" is written kN`},
		{"decimal comma", "force", "2,5 kN", "decimal point"},
		{"thousands", "force", "2_000 N", "decimal point"},
		{"spaced thousands", "force", "2 000 N", "no unit of force"},
		{"hexadecimal", "force", "0x10 N", "no unit of force"},
		{"two quantities", "force", "1 N 2 N", "no unit of force"},
		{"too large", "force", "1e400 N", "too large"},
		{"too small", "force", "1e-400 N", "too small"},
		{"exponent of four digits", "force", "1e1000 N", "no unit of force"},
		{"long", "force", strings.Repeat("1", 80) + " N", "too long"},
		{"control characters", "force", "1 \x1b[31m", `"\x1b[31m" is no unit`},
		{"too long a time", "time", "10001 h", "too long"},
		{"something after the unit", "time", "1 ms 1", "no unit of time"},
		{"rounds to nothing", "time", "0.0000001 ms", "too short"},
		{"counts without a length", "counts of line", "1000", "has no unit"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, p := range anyParsers {
				if p.table.kind != tt.kind {
					continue
				}
				got, err := p.parse(tt.text)
				qe, ok := errors.AsType[*QuantityError](err)
				if !ok {
					t.Errorf("%s %q = %v, %v; want a *QuantityError", tt.kind, tt.text, got, err)
					continue
				}
				if !strings.Contains(qe.Reason, tt.reason) {
					t.Errorf("%s %q: reason %q, want %q in it", tt.kind, tt.text, qe.Reason, tt.reason)
				}
				if !strings.Contains(err.Error(), strings.Join(qe.Units, ", ")) {
					t.Errorf("%s %q: %q does not list the units", tt.kind, tt.text, err)
				}
			}
		})
	}
}

func TestParseLoadForceNotes(t *testing.T) {
	tests := []struct {
		text string
		want Force
		note string
	}{
		{"1000 kg", 9806.65, "kg taken as kgf"},
		{"1000 lb", 4448.2216152605, "lb taken as lbf"},
		{"1 t", 9806.65, "t taken as tf"},
		{"1000 kgf", 9806.65, ""},
		{"10 kN", 10000, ""},
	}
	for _, tt := range tests {
		if f, note, err := ParseLoadForce(tt.text); f != tt.want || note != tt.note || err != nil {
			t.Errorf("ParseLoadForce(%q) = %v, %q, %v; want %v, %q", tt.text, f, note, err, tt.want, tt.note)
		}
	}
}

func TestForceUnitNamed(t *testing.T) {
	tests := []struct{ name, want string }{
		{"kgf", "kgf"}, {"KG", "kgf"}, {"kg", "kgf"}, {"LB", "lbf"}, {"lbf", "lbf"}, {"kN", "kN"}, {"KN", "kN"},
		{"t", "tf"}, {"N", "N"}, {"", ""}, {"m", ""}, {"deg", ""}, {"kgf ", ""},
	}
	for _, tt := range tests {
		u, ok := ForceUnitNamed(tt.name)
		if u.Name != tt.want || ok != (tt.want != "") || ok && !(u.N > 0) {
			t.Errorf("ForceUnitNamed(%q) = %+v, %v; want %q", tt.name, u, ok, tt.want)
		}
	}
	if u, ok := LengthUnitNamed("ft"); !ok || u.M != 0.3048 {
		t.Errorf(`LengthUnitNamed("ft") = %+v, %v`, u, ok)
	}
	if u, ok := SpeedUnitNamed("m/min"); !ok || u.In(0.04) != 2.4 {
		t.Errorf(`SpeedUnitNamed("m/min") = %+v, %v`, u, ok)
	}
	if _, ok := SpeedUnitNamed("kN"); ok {
		t.Error("kN was taken for a unit of speed")
	}
}

// What String writes, the parser reads back to the same bits.
func TestQuantityRoundTrip(t *testing.T) {
	for _, p := range anyParsers {
		t.Run(p.table.kind, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				v := rapid.Float64Range(0, math.MaxFloat64).Draw(t, "value")
				if p.table == timeUnits {
					v = float64(rapid.Int64Range(0, int64(maxDuration)).Draw(t, "ns") >> 10)
				}
				if p.table.signed && rapid.Bool().Draw(t, "negative") {
					v = -v
				}
				got, err := p.parse(p.text(v))
				if err != nil || math.Float64bits(got+0) != math.Float64bits(v+0) {
					t.Fatalf("%q read back as %v, %v; want %v", p.text(v), got, err, v)
				}
			})
		})
	}
}

// In every unit the result is the exact product rounded once, also where a
// factor has no exact float64.
func TestQuantityRoundedOnce(t *testing.T) {
	for _, p := range anyParsers {
		if p.table == timeUnits {
			continue // to the nanosecond, not to a float
		}
		for _, d := range p.table.defs {
			rapid.Check(t, func(t *rapid.T) {
				text := strconv.FormatFloat(rapid.Float64Range(0, 1e6).Draw(t, "value"), 'g', rapid.IntRange(1, 17).Draw(t, "digits"), 64)
				exact, _ := new(big.Rat).SetString(text)
				want, _ := exact.Mul(exact, d.exact).Float64()
				got, err := p.parse(text + " " + d.name)
				if tiny := want == 0 && exact.Sign() != 0; tiny != (err != nil) || !tiny && got != want {
					t.Fatalf("%s %s = %v, %v; want %v", text, d.name, got, err, want)
				}
			})
		}
	}
}

func TestShownIsSafe(t *testing.T) {
	unsafe := regexp.MustCompile(`[\x00-\x1f\x7f\x{80}-\x{9f}\x{202a}-\x{202e}\x{2066}-\x{2069}]`)
	rapid.Check(t, func(t *rapid.T) {
		s := string(rapid.SliceOf(rapid.Byte()).Draw(t, "bytes"))
		for _, got := range []string{shown(s), visible(s), escaped(s)} {
			if unsafe.MatchString(got) {
				t.Fatalf("%q is shown as %q", s, got)
			}
		}
	})
	if got := shown(strings.Repeat("é", 100)); got != `"`+strings.Repeat("é", 30)+`"...` {
		t.Errorf("a long text is shown as %s", got)
	}
}

func FuzzQuantity(f *testing.F) {
	for _, s := range []string{"2000 lbf", "12 N/m", "45 deg", "1000 /m", "15 min", "NaN kN", "1e999 m", "-0 kg", "2,5 kN", "1.5 t", ".e5 m", "5 m/s\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, p := range anyParsers {
			v, err := p.parse(s)
			if err != nil {
				if v != 0 || strings.ContainsAny(err.Error(), "\x00\x1b\n\r\t") {
					t.Errorf("%s %q = %v with error %q", p.table.kind, s, v, err)
				}
				continue
			}
			if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 && !p.table.signed {
				t.Errorf("%s %q = %v", p.table.kind, s, v)
			}
			if again, err := p.parse(p.text(v)); err != nil || again != v {
				t.Errorf("%s %q = %v, which reads back as %v, %v", p.table.kind, s, v, again, err)
			}
		}
	})
}
