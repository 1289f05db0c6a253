package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
)

// scenarioLevels are those of our invented campaign.
var scenarioLevels = Levels{BareRode: 120, DeadWeight: 250, Source: "assumed", Known: true}

type knot struct{ x, t float64 } // m hauled, N

// shape is tension against line hauled, straight between its knots.
type shape []knot

func (s shape) at(x float64) float64 {
	i := 1
	for i < len(s)-1 && x > s[i].x {
		i++
	}
	a, b := s[i-1], s[i]
	return a.t + (b.t-a.t)*min(max((x-a.x)/(b.x-a.x), 0), 1)
}

func (s shape) end() float64 { return s[len(s)-1].x }

func allOf(parts ...shape) shape { return slices.Concat(parts...) }

// curved rises from one knot to the next at a rate that falls off.
func curved(from, to knot) shape {
	var s shape
	for i := range 21 {
		u := float64(i) / 20
		s = append(s, knot{from.x + u*(to.x-from.x), from.t + (to.t-from.t)*math.Pow(u, 0.8)})
	}
	return s
}

// wavy swings evenly about a level, with waves of that many metres.
func wavy(from, to, t, swing, wave float64) shape {
	var s shape
	for x := from; x < to; x += wave / 8 {
		s = append(s, knot{x, t + swing*math.Sin(2*math.Pi*(x-from)/wave)})
	}
	return append(s, knot{to, t})
}

// sawtooth rises slowly and falls at once, once a wave.
func sawtooth(from, to, low, high, wave float64) shape {
	var s shape
	for x := from; x < to; x += wave {
		s = append(s, knot{x, low}, knot{x + 0.97*wave, high})
	}
	return s
}

// scratchy jumps about between two tensions with no order.
func scratchy(seed uint64, from, to, low, high float64) shape {
	rnd := rand.New(rand.NewPCG(seed, 1))
	var s shape
	for x := from; x < to; x += 0.15 + 0.3*rnd.Float64() {
		s = append(s, knot{x, low + (high-low)*rnd.Float64()})
	}
	return s
}

// sampling is how a shape becomes points.
type sampling struct {
	rate  float64 // Hz
	speed float64 // m/min
	noise bool    // 2 % and 6 N of noise, and 4 % of ripple with a period of 0.3 s
	seed  uint64
}

func (p sampling) String() string {
	return fmt.Sprintf("%g Hz, %g m/min, noise %v", p.rate, p.speed, p.noise)
}

func (p sampling) points(s shape) []Point {
	rnd := rand.New(rand.NewPCG(p.seed, 7))
	var out []Point
	for i := 0; ; i++ {
		t := float64(i) / p.rate
		x := t * p.speed / 60
		if x > s.end() {
			return out
		}
		v := s.at(x)
		if p.noise {
			v += (0.02*v+6)*rnd.NormFloat64() + 0.04*v*math.Sin(2*math.Pi*t/0.3)
		}
		out = append(out, Point{
			T: int64(t * 1e9), Tension: Force(v), Stage: Pull,
			X: Length(math.Round(x*1000) / 1000), // an encoder of 1000 counts a metre
		})
	}
}

var samplings = func() (out []sampling) {
	for _, rate := range []float64{2, 10, 100} {
		for _, speed := range []float64{1, 2.4, 5} {
			out = append(out, sampling{rate, speed, true, uint64(len(out))})
			if rate == 10 {
				out = append(out, sampling{rate, speed, false, 0})
			}
		}
	}
	return out
}()

// told adds to points what the session knows beside: 60 m out at first, the
// fairlead 7.5 m above the bottom, a rode of 400 kN, travel from the knee on.
func told(points []Point, knee float64) []Point {
	for i := range points {
		p := &points[i]
		p.RodeOut, p.Height, p.Travel = 60-p.X, 7.5, Length(math.NaN())
		p.Stiff = 400e3 / float64(p.RodeOut)
		if float64(p.X) > knee {
			p.Travel = p.X - Length(knee)
		}
	}
	return points
}

// swelling lays a swell of 6 s over points. It takes from a rode no more than it
// carries above its slack.
func swelling(points []Point, amplitude float64) []Point {
	for i := range points {
		p := &points[i]
		a := min(amplitude, max(float64(p.Tension)-80, 0))
		p.Tension += Force(a * math.Sin(2*math.Pi*float64(p.T)/6e9))
	}
	return points
}

// stamps are events without what differs from sample to sample.
func stamps(events []PhaseEvent) (out []string) {
	for _, e := range events {
		out = append(out, fmt.Sprintf("%v %v", e.Kind, e.Cause))
	}
	return out
}

// named is a phase and the X at which the detector named it.
type named struct {
	phase Phase
	x     float64
}

type phases []named

func (c phases) String() string {
	var out []string
	for _, c := range c {
		out = append(out, fmt.Sprintf("%v at %.2f", c.phase, c.x))
	}
	return strings.Join(out, ", ")
}

func (c phases) has(p Phase) bool {
	return slices.ContainsFunc(c, func(n named) bool { return n.phase == p })
}

func phasesOf(d *PhaseDetector, points []Point) (out phases) {
	for _, p := range points {
		if phase, changed := d.Add(p); changed {
			out = append(out, named{phase, float64(p.X)})
		}
	}
	return out
}
