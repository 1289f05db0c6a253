package trial

import "math"

// Came is how far a [Travel] has come, for a pull that breaks off and goes on in
// another log: what was known at the knee and at the last sample, in the order of
// [CameKeys].
type Came struct {
	Stage    Stage // of the series
	At, Last [6]float64
	Leapt    float64 // m, see [Travel]
}

// CameKeys are the names of a Came's numbers in a record, with their units.
var CameKeys = [6]string{"span_m", "x_m", "vague_m", "steep", "gives_m", "height_m"}

func (k *spanKnown) numbers() [6]float64 {
	return [6]float64{float64(k.span), float64(k.x), k.u, k.steep, k.gives, k.height}
}

func spanOf(n [6]float64) spanKnown {
	return spanKnown{span: Length(n[0]), x: Length(n[1]), u: n[2], steep: n[3], gives: n[4], height: n[5], told: -1, ok: true}
}

// Came is what another Travel needs to go on from here; not ok before the knee.
func (v *Travel) Came() (c Came, ok bool) {
	if !v.knee || !v.last.ok {
		return c, false
	}
	stage := v.stage
	if v.goesOn != StandBy {
		stage = v.goesOn // taken over itself, and not gone on with yet
	}
	return Came{Stage: stage, At: v.at.numbers(), Last: v.last.numbers(), Leapt: v.leapt}, true
}

// GoOn takes over what another Travel had. It goes on when the same stage is
// entered, from where it was: what the anchor did meanwhile nobody saw. With
// numbers that cannot be it begins anew.
func (v *Travel) GoOn(c Came) {
	const most = 1e6 // m: no rode is as long
	for _, n := range [...][6]float64{c.At, c.Last, {c.Leapt}} {
		for _, f := range n {
			if !(math.Abs(f) < most) {
				return
			}
		}
	}
	if !c.Stage.Hauls() || c.Stage == Recover {
		return
	}
	v.knee, v.goesOn, v.leapt = true, c.Stage, math.Abs(c.Leapt)
	v.at, v.last = spanOf(c.At), spanOf(c.Last)
}
