package safety

import (
	"math"
	"slices"
)

// twinNumbers is what the twin knows of the load cell's numbers as such.
type twinNumbers struct {
	leapFrom, noiseFrom int // words before it say nothing of either
	slopeFrom           int // words before it were of another unit

	unitBy    float64 // by what the unit has been changed
	noisy     int64   // too much since; -1 it is not
	quiet     float64 // noise before arming
	hasQuiet  bool
	everNoisy bool
}

// forgetNumbers lets the next one be the first.
func (w *twin) forgetNumbers() {
	w.leapFrom, w.noiseFrom, w.noisy = len(w.words), len(w.words), -1
}

// period is the time from one word to the next, of late.
func (w *twin) period() float64 {
	var p float64
	for i := 1; i < len(w.words); i++ {
		dt := seconds(w.words[i].t - w.words[i-1].t)
		if dt <= 0 {
			continue
		}
		if p == 0 {
			p = dt
		} else {
			p += (math.Min(math.Min(dt, 5*p), 10) - p) / 12
		}
	}
	return p
}

// units of force in newtons; "1000 lbf" and t are what a button may give too.
var twinUnits = []float64{1, 1000, 9.80665, 9806.65, 4.4482216152605, 4448.2216152605}

// byUnits is the factor two units have to each other that a ratio is within a share
// of; 0: none.
func byUnits(ratio, within float64) float64 {
	for _, a := range twinUnits {
		for _, b := range twinUnits {
			if f := a / b; math.Abs(f-1) > 1e-9 && math.Abs(ratio/f-1) <= within {
				return f
			}
		}
	}
	return 0
}

// unitLeap looks for a leap by a unit three words back.
func (w *twin) unitLeap() {
	if !w.ever || w.cell != CellOn {
		w.leapFrom = len(w.words)
		return
	}
	words := w.words[w.leapFrom:]
	for i := len(words) - 1; i >= 0; i-- { // those after the last break
		if words[i].v == 0 || i > 0 && (words[i].t-words[i-1].t > 400*ms || (words[i].v < 0) != (words[i-1].v < 0)) {
			if words[i].v == 0 {
				i++
			}
			words = words[i:]
			break
		}
	}
	back := 5
	if p := w.period(); p > 0 {
		back = int(math.Max(2, math.Min(1+0.5/p, 5)))
	}
	n := len(words)
	back = min(back, n-3)
	if back < 2 {
		return
	}
	step, most := float64(w.c.Step), 0.05*float64(w.c.Range)
	at := func(i int) float64 { return math.Abs(words[n-3+i].v) } // 0: the first after the leap
	looks := func(i int) bool {
		low, high := math.Min(at(i), at(i-1)), math.Max(at(i), at(i-1))
		return high >= most && low >= 20*step && byUnits(at(i)/at(i-1), 0.12+step/low) != 0
	}
	// A later one that looks so takes its word for whether the number was stuck.
	last := 0
	for i := 0; i < 3; i++ {
		if looks(i) {
			last = i
		}
	}
	if !looks(0) || words[n-3+last].stood {
		return
	}
	// Least squares by hand: y = a + slope*i before, y = a + by + slope*i after.
	var mb, ma, ib, ia float64
	for i := -back; i < 0; i++ {
		mb, ib = mb+math.Log(at(i))/float64(back), ib+float64(i)/float64(back)
	}
	for i := range 3 {
		ma, ia = ma+math.Log(at(i))/3, ia+float64(i)/3
	}
	var xx, xy float64
	for i := -back; i < 3; i++ {
		m, mid := mb, ib
		if i >= 0 {
			m, mid = ma, ia
		}
		xx += (float64(i) - mid) * (float64(i) - mid)
		xy += (float64(i) - mid) * (math.Log(at(i)) - m)
	}
	slope, off := xy/xx, 0.0
	for i := -back; i < 3; i++ {
		m, mid := mb, ib
		if i >= 0 {
			m, mid = ma, ia
		}
		off = math.Max(off, math.Abs(math.Log(at(i))-m-slope*(float64(i)-mid)))
	}
	by := ma - mb - slope*(ia-ib)
	low := math.Min(at(0), at(-1))
	flat, near := 0.04, 0.015
	if by > 0 && w.period() < 0.15 {
		flat, near = 0.08, 0.03
	}
	factor := byUnits(math.Exp(by), near+step/low/2)
	if math.Abs(slope) > flat || off > flat+step/low || factor == 0 {
		return
	}
	if w.unitBy += math.Log(factor); math.Abs(w.unitBy) < 0.01 {
		w.unitBy = 0
		w.set(LoadUnit, 0)
	} else {
		w.set(LoadUnit, 2)
	}
	w.slopeFrom, w.rises = len(w.words)-1, len(w.words)-1
}

// noises looks for noise in the good words.
func (w *twin) noises() {
	if w.level[LoadUnit] > 0 {
		w.noiseFrom, w.noisy = len(w.words), -1
		return
	}
	var kept []float64
	last := int64(0)
	for i, word := range w.words[w.noiseFrom:] {
		if word.bad() {
			continue
		}
		if len(kept) > 0 && word.t-last > 400*ms {
			kept = nil
			if w.noiseFrom+i == len(w.words)-1 {
				w.noisy = -1
			}
		}
		if len(kept) == 0 || word.t-last >= 8*ms {
			kept, last = append(kept, word.v), word.t
			continue
		}
		if w.noiseFrom+i == len(w.words)-1 {
			return // not a new one
		}
	}
	if len(kept) < 48 || (len(kept)-48)%5 != 0 {
		return
	}
	kept = kept[len(kept)-48:]
	var second, ratios []float64
	for i := 2; i < 48; i++ {
		second = append(second, kept[i]-2*kept[i-1]+kept[i-2])
	}
	left := func(c float64) float64 {
		var r []float64
		for i := 2; i < len(second); i++ {
			r = append(r, math.Abs(second[i]+second[i-2]-c*second[i-1]))
		}
		slices.Sort(r)
		return r[len(r)/3]
	}
	for i := 2; i < len(second); i++ {
		if second[i-1] != 0 {
			ratios = append(ratios, (second[i]+second[i-2])/second[i-1])
		}
	}
	least := left(-4.0 / 3)
	if len(ratios) > 0 {
		slices.Sort(ratios)
		least = math.Min(least, left(math.Max(-2, math.Min(ratios[len(ratios)/2], 2))))
	}
	now := least / (0.4307 * math.Sqrt(10.0/3))
	limit := 0.02 * float64(w.c.Range)
	if w.ever {
		limit = math.Min(limit, math.Max(0.005*float64(w.c.Range), 5*w.quiet)*math.Max(1, w.period()/0.1))
	}
	limit = math.Max(limit, 2*float64(w.c.Step))
	if now < limit && !w.hasQuiet {
		w.quiet, w.hasQuiet = now, true
	} else if now < limit && !w.ever {
		w.quiet += (now - w.quiet) * 0.25
	}
	switch {
	case now >= limit && w.noisy < 0:
		w.noisy = w.t
	case now >= limit:
		if w.t-w.noisy >= sec {
			w.set(LoadNoisy, 1)
			w.everNoisy = true
		}
	default:
		w.noisy = -1
		if now < limit/2 {
			w.set(LoadNoisy, 0)
		}
	}
}
