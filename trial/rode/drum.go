package rode

import (
	"fmt"
	"math"
)

// Nested is the [Drum] Pitch of round rope whose layers lie in the grooves of
// the layer below: sqrt(3)/2 diameters.
var Nested = math.Sqrt(3) / 2

// Drum is a winch drum and the line on it. Whole layers of whole turns are
// assumed; loose winding, gaps and bedding-in under load change the figures,
// and so does each layer that is counted with the diameter of another.
type Drum struct {
	Barrel float64 // diameter, m
	Flange float64 // diameter, m
	Width  float64 // usable, between the flanges, m
	Line   float64 // diameter of the line, m
	// Pitch is the distance of two layers in line diameters: 0 or 1 for layers
	// that lie one on the other, [Nested] for layers that nest.
	Pitch float64
}

// Check says what is wrong with the drum, as an error that wraps [ErrInput].
// The methods give NaN or 0 for a drum that does not pass.
func (d Drum) Check() error {
	bad := func(what string, v float64, want string) error {
		return fmt.Errorf("%w: drum %s %v; %s", ErrInput, what, v, want)
	}
	switch {
	case !(d.Line > 0 && d.Line <= 1):
		return bad("line diameter", d.Line, "give metres, above 0 and up to 1")
	case !(d.Barrel > 0 && d.Barrel <= 100):
		return bad("barrel diameter", d.Barrel, "give metres, above 0 and up to 100")
	case !(d.Width >= d.Line && d.Width <= 100):
		return bad("width", d.Width, "give metres, at least one diameter of the line and up to 100")
	case !(d.Flange >= d.Barrel+2*d.Line && d.Flange <= 100):
		return bad("flange diameter", d.Flange, "it must hold one layer over the barrel; give metres, up to 100")
	case d.Pitch != 0 && !(d.Pitch >= 0.8 && d.Pitch <= 1):
		return bad("pitch of the layers", d.Pitch, "give 1 or Nested, in diameters of the line")
	}
	return nil
}

func (d Drum) pitch() float64 {
	if d.Pitch == 0 {
		return d.Line
	}
	return d.Pitch * d.Line
}

// whole lifts a ratio of lengths that should be whole, such as 304.8/12.7, over
// its rounding.
const whole = 1 + 1e-9

// Turns is the number of whole turns in a layer.
func (d Drum) Turns() int {
	if d.Check() != nil {
		return 0
	}
	return int(d.Width / d.Line * whole)
}

// Layers is the number of whole layers under the flange. Manuals want some of
// the flange left free: fewer layers than these.
func (d Drum) Layers() int {
	if d.Check() != nil {
		return 0
	}
	return 1 + int(((d.Flange-d.Barrel)/2-d.Line)/d.pitch()*whole)
}

// WrapDiameter is the diameter of layer n, 1 on the barrel, to the middle of
// the line, m: B + d + 2 (n-1) pitch.
func (d Drum) WrapDiameter(n int) float64 {
	if n < 1 || d.Check() != nil {
		return math.NaN()
	}
	return d.Barrel + d.Line + 2*float64(n-1)*d.pitch()
}

// LayerLength is the line in the whole of layer n, m.
func (d Drum) LayerLength(n int) float64 {
	return math.Pi * d.WrapDiameter(n) * float64(d.Turns())
}

// Capacity is the line in all layers, m.
func (d Drum) Capacity() float64 { return d.Wound(float64(d.Turns() * d.Layers())) }

// LayerOf is the layer on which turn number turns lies, 1 or more.
func (d Drum) LayerOf(turns float64) int {
	per := d.Turns()
	if per == 0 || !(turns >= 0) || turns > float64(per*d.Layers()) {
		return 0
	}
	return min(1+int(turns/float64(per)), d.Layers())
}

// Wound is the line on a drum with this many turns on it, from the bare
// barrel, m; NaN for fewer than none or more than the drum holds.
func (d Drum) Wound(turns float64) float64 {
	n := d.LayerOf(turns)
	if n == 0 {
		return math.NaN()
	}
	per := float64(d.Turns())
	under := float64(n - 1) // whole layers, the mean diameter of which is that of the middle
	mean := d.Barrel + d.Line + (under-1)*d.pitch()
	return math.Pi * (under*per*mean + (turns-under*per)*d.WrapDiameter(n))
}

// TurnsFor is the inverse of [Drum.Wound]: the turns that hold length metres.
func (d Drum) TurnsFor(length float64) float64 {
	if !(length >= 0) {
		return math.NaN()
	}
	per := float64(d.Turns())
	for n := 1; n <= d.Layers(); n++ {
		if l := d.LayerLength(n); length <= l || n == d.Layers() && length <= l*whole {
			return float64(n-1)*per + min(length/(math.Pi*d.WrapDiameter(n)), per)
		} else {
			length -= l
		}
	}
	return math.NaN()
}
