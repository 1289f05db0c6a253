package session

import (
	"math"

	"hawse/trial"
)

// wound is the line on a drum with so many turns on it, m. Past what the drum
// holds, and under its bare barrel, it goes on with the outermost and innermost
// turn: a count must always give a length.
func wound(d *trial.Drum, turns float64) float64 {
	most := float64(d.Turns() * d.Layers())
	switch {
	case turns < 0:
		return turns * math.Pi * d.WrapDiameter(1)
	case turns > most:
		return d.Capacity() + (turns-most)*math.Pi*d.WrapDiameter(d.Layers())
	}
	return d.Wound(turns)
}

// turnsFor is its inverse.
func turnsFor(d *trial.Drum, length float64) float64 {
	most := float64(d.Turns() * d.Layers())
	switch capacity := d.Capacity(); {
	case length < 0:
		return length / (math.Pi * d.WrapDiameter(1))
	case length > capacity:
		return most + (length-capacity)/(math.Pi*d.WrapDiameter(d.Layers()))
	}
	return d.TurnsFor(length)
}

// countsTo is how many counts there are from no rode out to so much, by layers
// as calibrated.
func countsTo(layers []trial.LayerScale, out float64) float64 {
	sum := 0.0
	for i, l := range layers {
		end := math.Inf(1)
		if i+1 < len(layers) {
			end = float64(layers[i+1].From)
		}
		from := float64(l.From)
		if i == 0 && out < 0 {
			return out * l.PerMetre
		}
		if out <= end {
			return sum + (out-from)*l.PerMetre
		}
		sum += (end - from) * l.PerMetre
	}
	return sum
}

// outAt is the inverse of countsTo.
func outAt(layers []trial.LayerScale, counts float64) float64 {
	for i, l := range layers {
		if i+1 == len(layers) {
			return float64(l.From) + counts/l.PerMetre
		}
		span := float64(layers[i+1].From-l.From) * l.PerMetre
		if counts <= span {
			return float64(l.From) + counts/l.PerMetre
		}
		counts -= span
	}
	return math.NaN()
}

// hauledAt is how much line is hauled at a count, m, seen from where line hauled
// is measured from, by the layers of the drum.
func (c *Core) hauledAt(counts int64) float64 {
	h, enc := &c.haul, &c.head.Trial.Line
	out := float64(h.payout - h.from.x)
	n := (float64(counts) - float64(h.from.counts)) * float64(enc.HaulSign)
	if d := enc.Drum; d != nil {
		on := float64(d.Holds) - out
		return wound(d, turnsFor(d, on)+n/d.PerTurn) - on
	}
	return out - outAt(enc.Layers, countsTo(enc.Layers, out)-n)
}
