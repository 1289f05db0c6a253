package trial

import "math"

// A pull is kept twice: as cells of 5 cm of line hauled, for the shapes, and as
// bins of a quarter second, for what is judged by time. Both rings are fixed.
const (
	phaseCell = 0.05 // m hauled to one mean: long against noise at deck speeds, short against every rule
	phaseRing = 128  // cells kept, 6.4 m: phaseWindow and a wave of swell
	binTime   = 250e6
	binRing   = 64 // bins kept, 16 s or more

	phaseCreep = 0.02       // m; less in the standing time: the winch stands
	phaseStill = int64(5e9) // ns, default of that time: 0.24 m/min, half the slowest preset
)

type cell struct {
	mean  float64 // N, weighted by length
	sum   float64 // N, of all cells of this stretch up to this one
	stiff float64 // N/m; 0 unknown
	x     float64 // m, its end
	t     int64   // ns, its end
}

type bin struct {
	mean float64 // N
	t    int64   // ns, its first sample
	x    float64 // m, front of the line hauled at its end

	stiff, stretched float64 // N/m, N, at its end
	vessel           float64 // m towards the anchor, by its position; NaN unknown
}

// at is the i-th newest cell, from 0.
func (d *PhaseDetector) at(i int) *cell { return &d.cells[(d.n-1-i)&(phaseRing-1)] }

// have is how many cells may be judged.
func (d *PhaseDetector) have() int { return min(d.n-d.since, phaseRing) }

// sum is that of the newest n cells from the i-th newest on.
func (d *PhaseDetector) sum(i, n int) float64 {
	to := d.at(i)
	if i+n >= d.have() { // the sum before them is gone, or there is none
		sum := 0.0
		for k := i; k < i+n; k++ {
			sum += d.at(k).mean
		}
		return sum
	}
	return to.sum - d.at(i+n).sum
}

// mean is that of the newest n cells.
func (d *PhaseDetector) mean(n int) float64 { return d.sum(0, n) / float64(n) }

// calmed is the i-th newest cell with the swell taken out: the mean over one of
// its waves, as far as cells go back. Without a swell it is the cell.
func (d *PhaseDetector) calmed(i int) float64 {
	n := min(d.swellCells, d.have()-i)
	if n <= 1 {
		return d.at(i).mean
	}
	return d.sum(i, n) / float64(n)
}

// phaseLine is a least-squares line through the newest cells, the swell taken out.
type phaseLine struct {
	mean    float64 // N
	slope   float64 // N/m hauled
	scatter float64 // N, standard deviation about the line
	raw     float64 // N, the same with the swell left in
	length  float64 // m
}

// clear tells that the line's rise or fall is more than scatter.
func (f phaseLine) clear(times float64) bool { return math.Abs(f.slope)*f.length >= times*f.scatter }

// fit looks back over a wave of the swell more than n cells, where there are any.
func (d *PhaseDetector) fit(n int) phaseLine {
	for i := range d.nfits {
		if d.fits[i].n == n {
			return d.fits[i].phaseLine
		}
	}
	f := d.newFit(n)
	if d.nfits < len(d.fits) {
		d.fits[d.nfits].n, d.fits[d.nfits].phaseLine = n, f
		d.nfits++
	}
	return f
}

func (d *PhaseDetector) newFit(n int) phaseLine {
	w := max(min(d.swellCells, n/2), 1)
	m := min(n, d.have()-w+1)
	mean, all := 0.0, d.mean(n)
	for i := range m {
		mean += d.sum(i, w)
	}
	mean /= float64(m * w)
	mid := float64(m-1) / 2
	var sxy float64
	for i := range m {
		sxy += (mid - float64(i)) * (d.sum(i, w)/float64(w) - mean) // i counts backwards
	}
	slope := sxy / (float64(m) * (float64(m)*float64(m) - 1) / 12)
	var see, raw float64
	for i := range m {
		line := slope * (mid - float64(i))
		e, r := d.sum(i, w)/float64(w)-mean-line, d.at(i).mean-mean-line
		see, raw = see+e*e, raw+r*r
	}
	return phaseLine{mean: all, slope: slope / phaseCell, scatter: math.Sqrt(see / float64(m)), raw: math.Sqrt(raw / float64(m)),
		length: float64(n) * phaseCell}
}

// cellsIn is how many cells make a length, at least 2.
func cellsIn(l Length) int { return min(max(int(math.Round(float64(l)/phaseCell)), 2), phaseRing) }

// haul spreads a mean tension over dx metres of new line that end at the front.
func (d *PhaseDetector) haul(tension, dx float64, t int64) {
	for dx > 0 {
		part := min(dx, phaseCell-d.open.length)
		d.open.sum += tension * part
		d.open.length += part
		dx -= part
		if d.open.length >= phaseCell*(1-1e-9) {
			d.closeCell(cell{mean: d.open.sum / d.open.length, stiff: d.stiff, x: d.front - dx, t: t})
			d.open.sum, d.open.length = 0, 0
		}
	}
}

func (d *PhaseDetector) closeCell(c cell) {
	if d.n > 0 {
		c.sum = d.at(0).sum
	}
	c.sum += c.mean
	d.cells[d.n&(phaseRing-1)] = c
	d.n++
	d.nfits = 0
	d.swellCells = d.swellLength()
	d.judgeCell()
}

// cut forgets the newest cells that end after t.
func (d *PhaseDetector) cut(t int64) {
	d.since = max(d.since, d.n-phaseRing) // older ones were written over
	for d.have() > 0 && d.at(0).t > t {
		d.n--
	}
	d.open.sum, d.open.length = 0, 0
}

// bin takes a sample by time. A bin is closed by the sample after which the next
// one is expected to fall outside it, so a slow box has a bin a sample.
func (d *PhaseDetector) bin(t int64, tension float64) {
	if d.filling.n > 0 && t-d.filling.t >= binTime {
		d.closeBin()
	}
	f := &d.filling
	if f.n == 0 {
		f.t, f.sum = t, 0
	}
	f.sum += tension
	f.n++
	if t-f.t+d.every >= binTime {
		d.closeBin()
	}
}

func (d *PhaseDetector) closeBin() {
	f := &d.filling
	b := bin{mean: f.sum / f.n, t: f.t, x: d.front, stiff: d.stiff, stretched: d.stretched, vessel: math.NaN()}
	if d.vesselU > 0 {
		b.vessel = d.vessel
	}
	f.n = 0
	d.bins[d.nb%binRing] = b
	d.nb++
	d.turnAt(b)
	d.judgeBin(b)
}

// binAt is the i-th newest bin, from 0.
func (d *PhaseDetector) binAt(i int) *bin { return &d.bins[(d.nb-1-i)&(binRing-1)] }

func (d *PhaseDetector) haveBins() int { return min(d.nb, binRing) }

// lately is the mean of the bins of the last ns, at least one.
func (d *PhaseDetector) lately(ns int64) float64 {
	now := d.binAt(0)
	sum, n := now.mean, 1.0
	for i := 1; i < d.haveBins() && now.t-d.binAt(i).t < ns; i++ {
		sum += d.binAt(i).mean
		n++
	}
	return sum / n
}

// binOf is the newest bin that began by a time, or the oldest there is.
func (d *PhaseDetector) binOf(t int64) *bin {
	for i := range d.haveBins() {
		if b := d.binAt(i); b.t <= t {
			return b
		}
	}
	return d.binAt(d.haveBins() - 1)
}

// aWave is the time over which a mean leaves out what is known of the swell, at
// least that many ns.
func (d *PhaseDetector) aWave(least int64) int64 { return max(least, d.swell) }

// highest is the highest tension of the last length of line hauled or the last
// time, whichever is higher. A spike does not count: it is the highest that two
// cells on end, or the bins of a second, have reached; the swell is taken out.
func (d *PhaseDetector) highest() float64 {
	top := math.Inf(-1)
	for i := range min(cellsIn(d.rules.BreakLength), d.have()) - 1 {
		if d.swellCells > 1 {
			top = max(top, d.calmed(i))
		} else {
			top = max(top, min(d.at(i).mean, d.at(i+1).mean))
		}
	}
	if d.swellCells > 1 && d.hauling(d.heard) {
		return top
	}
	now := d.binAt(0).t
	least, from := math.Inf(1), 0
	for i := 0; i < d.haveBins() && now-d.binAt(i).t <= int64(d.rules.BreakTime)+second; i++ {
		least = min(least, d.binAt(i).mean)
		if d.binAt(from).t-d.binAt(i).t >= second {
			top = max(top, least)
			from++
			least = d.leastBin(from, i)
		}
	}
	return top
}

func (d *PhaseDetector) leastBin(from, to int) float64 {
	least := d.binAt(from).mean
	for i := from + 1; i <= to; i++ {
		least = min(least, d.binAt(i).mean)
	}
	return least
}

const second = int64(1e9)

// lastAbove is where tension was last at a level or above it.
func (d *PhaseDetector) lastAbove(level float64) (t int64, x float64) {
	for i := range d.haveBins() {
		if b := d.binAt(i); b.mean >= level {
			return b.t, b.x
		}
	}
	for i := range d.have() {
		if c := d.at(i); c.mean >= level && c.t < d.binAt(d.haveBins()-1).t {
			return c.t, c.x
		}
	}
	b := d.binAt(d.haveBins() - 1)
	return b.t, b.x
}
