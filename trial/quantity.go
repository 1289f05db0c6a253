package trial

import (
	"math/big"
	"strconv"
	"strings"
	"time"
)

// The quantities of a trial, each in its SI unit. String gives the shortest
// text that reads back to the same bits.
type (
	Force      float64 // newtons
	Length     float64 // metres
	Speed      float64 // metres a second
	Mass       float64 // kilograms
	Angle      float64 // radians
	LineWeight float64 // newtons a metre
	Rate       float64 // hertz
)

func (f Force) String() string      { return shortest(float64(f)) + " N" }
func (l Length) String() string     { return shortest(float64(l)) + " m" }
func (s Speed) String() string      { return shortest(float64(s)) + " m/s" }
func (m Mass) String() string       { return shortest(float64(m)) + " kg" }
func (a Angle) String() string      { return shortest(float64(a)) + " rad" }
func (w LineWeight) String() string { return shortest(float64(w)) + " N/m" }
func (r Rate) String() string       { return shortest(float64(r)) + " Hz" }

func shortest(f float64) string { return strconv.FormatFloat(f, 'g', -1, 64) }

// FormatDuration writes a duration in seconds, exactly, such as "0.05 s". It
// is the form [ParseDuration] reads back to the same nanosecond.
func FormatDuration(d time.Duration) string {
	s := new(big.Rat).SetFrac64(int64(d), int64(time.Second)).FloatString(9)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".") + " s"
}

// ForceUnit is a unit a tension is shown or sent in.
type ForceUnit struct {
	Name string  // as written, such as "kN"
	N    float64 // newtons in one
}

// In is the force in this unit.
func (u ForceUnit) In(f Force) float64 { return float64(f) / u.N }

// Of is the force that is v of this unit.
func (u ForceUnit) Of(v float64) Force { return Force(v * u.N) }

// LengthUnit is a unit a length is shown in.
type LengthUnit struct {
	Name string
	M    float64 // metres in one
}

// In is the length in this unit.
func (u LengthUnit) In(l Length) float64 { return float64(l) / u.M }

// SpeedUnit is a unit a speed is shown in.
type SpeedUnit struct {
	Name string
	MPS  float64 // metres a second in one
}

// In is the speed in this unit.
func (u SpeedUnit) In(s Speed) float64 { return float64(s) / u.MPS }

// ForceUnitNamed finds the unit a load cell's box names, in any case, for
// boxes send "KG" as readily as "kg". lb, kg and t are the forces lbf, kgf
// and tf here, and the unit comes back under those names.
func ForceUnitNamed(name string) (ForceUnit, bool) {
	for _, d := range loadUnits.defs {
		if strings.EqualFold(d.name, name) {
			return ForceUnit{d.canonical(), d.f}, true
		}
	}
	return ForceUnit{}, false
}

// LengthUnitNamed finds a unit of length by its exact name.
func LengthUnitNamed(name string) (LengthUnit, bool) {
	d, ok := lengthUnits.find(name)
	return LengthUnit{d.name, d.f}, ok
}

// SpeedUnitNamed finds a unit of speed by its exact name.
func SpeedUnitNamed(name string) (SpeedUnit, bool) {
	d, ok := speedUnits.find(name)
	return SpeedUnit{d.name, d.f}, ok
}

// unitDef is one unit: its exact factor to SI and the nearest float64 of it.
type unitDef struct {
	name  string
	exact *big.Rat
	f     float64
	force string // for a unit of mass read as a force: the name of that force
}

func (d unitDef) canonical() string {
	if d.force != "" {
		return d.force
	}
	return d.name
}

// unitTable is the accepted units of one kind of quantity.
type unitTable struct {
	kind   string // "force", as an error names it
	si     string
	eg     string // an example of the whole quantity
	signed bool   // a negative one makes sense
	defs   []unitDef
}

func (t *unitTable) find(name string) (unitDef, bool) {
	for _, d := range t.defs {
		if d.name == name {
			return d, true
		}
	}
	return unitDef{}, false
}

// names lists the accepted units as a person reads them.
func (t *unitTable) names() string {
	names := make([]string, len(t.defs))
	for i, d := range t.defs {
		names[i] = d.name
	}
	return strings.Join(names, ", ")
}

// Definitions all units follow from, exact: pound 0.45359237 kg, standard
// gravity 9.80665 m/s2, foot 0.3048 m, nautical mile 1852 m. Source: NIST
// Special Publication 811, appendix B (from memory; the factors that follow
// are checked in testdata against an independent list).
const (
	poundKg  = "0.45359237"
	gravity  = "9.80665"
	footM    = "0.3048"
	nautMile = "1852"
	// Fifty decimals, far past float64; held against math.Pi in the tests.
	pi = "3.1415926535897932384626433832795028841971693993751058"
)

// factor multiplies and divides exact decimal texts: "a * b / c".
func factor(expr string) *big.Rat {
	out := big.NewRat(1, 1)
	op := "*"
	for word := range strings.FieldsSeq(expr) {
		if word == "*" || word == "/" {
			op = word
			continue
		}
		r, ok := new(big.Rat).SetString(word)
		if !ok {
			panic("trial: bad unit factor " + word) // a constant of this file
		}
		if op == "*" {
			out.Mul(out, r)
		} else {
			out.Quo(out, r)
		}
	}
	return out
}

func def(name, expr string) unitDef {
	r := factor(expr)
	f, _ := r.Float64()
	return unitDef{name: name, exact: r, f: f}
}

func loadDef(name, expr, force string) unitDef {
	d := def(name, expr)
	d.force = force
	return d
}

const lbfN = poundKg + " * " + gravity

var (
	forceDefs = []unitDef{
		def("N", "1"), def("kN", "1000"), def("lbf", lbfN), def("kgf", gravity), def("tf", "1000 * "+gravity),
	}
	forceUnits = &unitTable{kind: "force", si: "N", eg: "2000 lbf", defs: forceDefs}
	loadUnits  = &unitTable{kind: "load", si: "N", eg: "10 kN", defs: append(forceDefs[:len(forceDefs):len(forceDefs)],
		loadDef("lb", lbfN, "lbf"), loadDef("kg", gravity, "kgf"), loadDef("t", "1000 * "+gravity, "tf"))}
	lengthUnits = &unitTable{kind: "length", si: "m", eg: "60 m", defs: []unitDef{
		def("m", "1"), def("mm", "1 / 1000"), def("ft", footM), def("in", footM+" / 12"), def("fathom", footM+" * 6"),
	}}
	speedUnits = &unitTable{kind: "speed", si: "m/s", eg: "2.4 m/min", defs: []unitDef{
		def("m/s", "1"), def("m/min", "1 / 60"), def("ft/min", footM+" / 60"), def("kn", nautMile+" / 3600"),
	}}
	massUnits = &unitTable{kind: "mass", si: "kg", eg: "16 kg", defs: []unitDef{
		def("kg", "1"), def("lb", poundKg), def("t", "1000"),
	}}
	angleUnits = &unitTable{kind: "angle", si: "rad", eg: "45 deg", signed: true, defs: []unitDef{
		def("deg", pi+" / 180"), def("rad", "1"),
	}}
	lineWeightUnits = &unitTable{kind: "weight of line", si: "N/m", eg: "12 N/m", signed: true, defs: []unitDef{
		def("N/m", "1"), def("lbf/ft", lbfN+" / "+footM), def("kgf/m", gravity),
	}}
	rateUnits = &unitTable{kind: "rate", si: "Hz", eg: "10 Hz", defs: []unitDef{def("Hz", "1")}}
	timeUnits = &unitTable{kind: "time", si: "s", eg: "2 s", defs: []unitDef{
		def("ms", "1 / 1000"), def("s", "1"), def("min", "60"), def("h", "3600"),
	}}
	perLengthUnits = &unitTable{kind: "counts of line", si: "/m", eg: "1000 /m", defs: []unitDef{
		def("/m", "1"), def("/ft", "1 / "+footM), def("counts/m", "1"), def("counts/ft", "1 / "+footM),
	}}

	// In the order in which a stray unit is looked up.
	allUnits = []*unitTable{
		forceUnits, lengthUnits, speedUnits, massUnits, angleUnits, lineWeightUnits, rateUnits, timeUnits, perLengthUnits,
	}
)
