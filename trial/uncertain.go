package trial

import (
	"math"
	"slices"
	"strings"

	"hawse/trial/rode"
)

// Part is one contribution to the uncertainty of a figure: a standard
// uncertainty of the figure itself, in its unit, so the sensitivity is in it.
type Part struct {
	Name  string
	Shape Shape
	U     float64
	Why   string // where the number comes from
}

// Shape is the distribution a part is taken to have.
type Shape string

// The shapes. The standard uncertainty of a rectangle is its half width over
// root 3 (JCGM 100:2008, 4.3.7), of a wave its amplitude over root 2 (an arc sine,
// as JCGM 101:2008, 6.4.6, has it; from memory).
const (
	Normal    Shape = "normal"
	Rectangle Shape = "rectangle"
	Wave      Shape = "wave"
)

// Budget is what a figure's uncertainty is made of.
type Budget []Part

// U is the combined standard uncertainty: the root of the sum of squares, the
// parts taken as not depending on each other (JCGM 100:2008, 5.1.2). NaN without
// a part.
func (b Budget) U() float64 {
	if len(b) == 0 {
		return math.NaN()
	}
	sum := 0.0
	for _, p := range b {
		sum += p.U * p.U
	}
	return math.Sqrt(sum)
}

// by is the budget with every part times a factor: that of a figure which is
// this one times it.
func (b Budget) by(factor float64) Budget {
	out := slices.Clone(b)
	for i := range out {
		out[i].U *= math.Abs(factor)
	}
	return out
}

// and adds a part, unless it is nothing.
func (b Budget) and(name string, shape Shape, u float64, why string) Budget {
	if u = math.Abs(u); !(u > 0) || math.IsInf(u, 0) {
		return b
	}
	return append(b, Part{name, shape, u, why})
}

// What is taken to be uncertain where nothing better is said, as standard
// uncertainties: common practice, no source, unless it says otherwise. Those of
// the load cell stand at [LoadCell.Uncertain], those of line and depth with them.
const (
	massKnown     = 0.005 // of a mass that was weighed
	rodeOutKnown  = 0.1   // m: the rode out as it was said
	bareKnown     = 0.1   // of a bare-rode level from a run of its own
	bareAssumed   = 0.25  // of one that is assumed
	bottomKnown   = 0.2   // of the friction of the rode on the bottom
	rollerSlip    = 0.2   // coefficient of a plain fairlead, the most of it
	spikeWidth    = 0.5   // s, of the shortest peak that is meant: a half sine
	slowForPeaks  = 4.0   // samples a second: under it such a peak may be missed whole, or all but
	whyPractice   = "common practice, no source"
	bearing       = 2.0 // the coverage factor of what is printed: about 95 %
	coverageWords = "k = 2, about 95 %"
)

// spikeSeen is the least share of a half sine of spikeWidth that samples so far
// apart can miss none of: its top lies midway between two of them. Computed from
// the shape; 0: all of it may be missed.
func spikeSeen(rate float64) float64 {
	apart := 1 / rate
	if !(apart < spikeWidth) {
		return 0
	}
	return math.Cos(math.Pi * apart / (2 * spikeWidth))
}

// sampledAt is what a tension was taken in.
type sampledAt struct {
	width   float64 // s, of its window; 0 instant
	bend    float64 // rad, of the line over the roller
	slip    float64 // coefficient of its friction; 0 unsaid
	rate    float64 // samples a second
	rough   float64 // N, the instant over the mean of the second around it
	swing   float64 // N, half of the swell's swing in the tension
	wave    float64 // s, of the swell; 0 none
	rubs    float64 // N, friction of the rode on the bottom
	hangs   float64 // N a metre of depth: what a metre more takes off at the anchor
	bare    float64 // N, level; NaN unknown
	assumed bool    // that level is
	angle   float64 // N, of a pin in the roller: by the angle of the line over it
	gain    float64 // of that: N of tension for each felt; 0 any other cell

	scatter  float64 // N, of a mean that stands for a level; 0 it does not
	scatters string  // what that is found from
}

// tension is the budget of a tension at the deck.
func (c LoadCell) tension(v float64, s *sampledAt) Budget {
	gain, pin := 1.0, c.Sits == SitsRoller
	if pin && s.gain > 0 {
		gain = s.gain
	}
	b := Budget(nil).
		and("calibration", Normal, tensionGain*v, "1 % of the reading, calibration and place in the line: "+whyPractice).
		and("zero drift", Normal, gain*tensionZero*float64(c.Range), "0.25 % of the cell's range between two checks: "+whyPractice).
		and("resolution", Rectangle, gain*float64(c.Step)/math.Sqrt(12), "the step of the display, over root 12")
	if pin {
		b = b.and("line angle at the roller", Normal, s.angle, "a pin feels the bend of the line: trim and lead, rode out, depth and the roller's friction, as said or "+whyPractice)
	}
	if s.bend > 0 && !pin && c.Sits != SitsOutboard {
		slip, why := rollerSlip, "0 to 0.2 over the bend, where the cell is inboard: "+whyPractice
		if s.slip > 0 {
			slip, why = s.slip, "0 to the roller's friction over the bend, as the trial file says it"
		}
		most := v * (rode.Capstan(slip, s.bend) - 1)
		b = b.and("friction at the roller", Rectangle, most/math.Sqrt(12), why)
	}
	if s.width == 0 && s.rate > 0 && s.rough > 0 {
		if seen := spikeSeen(s.rate); seen > 0 {
			b = b.and("rate too slow for peaks", Rectangle, s.rough*(1/seen-1)/math.Sqrt(12), "what a half sine of 0.5 s may hide between two samples (computed)")
		}
	}
	if s.wave > 0 && s.swing > 0 {
		left := 1.0
		if s.width > 0 {
			at := math.Pi * s.width / s.wave
			left = math.Abs(math.Sin(at) / at) // of a wave, in the mean over the window
		}
		b = b.and("swell", Wave, left*s.swing/math.Sqrt2, "the swing of the swell in the tension, as measured")
	}
	return b.and("scatter", Normal, s.scatter, s.scatters)
}

// less is the budget of a tension less the bare rode's.
func (b Budget) less(s *sampledAt) Budget {
	share, why := bareKnown, "10 % of the level"
	if s.assumed {
		share, why = bareAssumed, "25 % of a level that is assumed"
	}
	return slices.Clone(b).and("bare-rode level", Normal, share*s.bare, why+": "+whyPractice)
}

// anchor is the budget of a tension at the anchor.
func (b Budget) anchor(s *sampledAt) Budget {
	return slices.Clone(b).
		and("friction on the bottom", Normal, bottomKnown*s.rubs, "20 % of what the rode on the bottom takes: "+whyPractice).
		and("depth", Normal, s.hangs*heightKnown, "0.1 m under the vessel, not over the anchor: "+whyPractice)
}

// over is the budget of a force over the weight of a mass.
func (b Budget) over(weight, efficiency float64) Budget {
	return b.by(1/weight).and("mass", Normal, massKnown*efficiency, "0.5 % of a mass that was weighed: "+whyPractice)
}

// scopeBudget is that of rode out over height.
func scopeBudget(out, height, hauled float64) Budget {
	return Budget(nil).
		and("rode out as said", Normal, rodeOutKnown/height, "0.1 m: "+whyPractice).
		and("line count", Normal, countKnown*hauled/height, "0.5 % of the line hauled: "+whyPractice).
		and("depth", Normal, heightKnown*out/(height*height), "0.1 m: "+whyPractice)
}

// budget is that of a travel; its U is what [Travel.Now] gives.
func (v *travelParts) budget() Budget {
	return Budget(nil).
		and("span at the knee", Normal, v.at.u, "the tension's uncertainty, by the stiffness of the rode").
		and("span now", Normal, v.now.u, "the same").
		and("line count", Normal, countKnown*float64(v.now.x-v.at.x), "0.5 % of the line hauled: "+whyPractice).
		and("depth", Normal, heightKnown*(v.now.steep-v.at.steep), "0.1 m: "+whyPractice).
		and("stretch", Normal, stretchKnown*(v.now.gives-v.at.gives), "15 % of it: "+whyPractice).
		and("vessel", Normal, v.vague, "her own movement: "+whyPractice).
		and("depth said anew", Normal, math.Sqrt(v.leapt), "what the change did to the span")
}

// assumedLevel says that a level comes from no run.
func assumedLevel(source string) bool { return strings.HasPrefix(source, "assumed") }

// Rounded is how many decimals a value and its uncertainty are printed to: to the
// second digit of the uncertainty where that begins with 1 or 2, else to the first,
// and never to more than three digits of the value. Negative is before the point.
func Rounded(value, u float64) (digits int) {
	digits = 2
	if value != 0 && finite(value) {
		digits = 2 - int(math.Floor(math.Log10(math.Abs(value))))
		if math.Round(math.Abs(value)*math.Pow(10, float64(digits))) >= 1000 {
			digits-- // it rounds up to one digit more
		}
	}
	if u > 0 && finite(u) {
		first := math.Floor(math.Log10(u))
		d := -int(first)
		if u/math.Pow(10, first) < 3 {
			d++
		}
		if value == 0 || d < digits {
			digits = d
		}
	}
	return digits
}
