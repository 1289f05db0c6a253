package trial

// Peak is the running peak: the largest valid tension of the points given to it,
// whatever the stage or scope. The zero value has none. Whoever holds it starts a
// new one when a new peak is to be reported apart.
type Peak struct {
	Known   bool
	Tension Force  // newtons, as sampled: depends on the rate of the load cell
	T       int64  // ns, of the first sample that reached it
	X       Length // metres hauled there; NaN unknown
	least   Force  // since the peak
	over    bool   // the cell was over range: it was more, nobody knows how much
}

// Add takes one point and tells whether it raised the peak. A tension that is not
// finite is ignored.
func (k *Peak) Add(p Point) bool {
	if !finite(float64(p.Tension)) {
		return false
	}
	if !k.Known || p.Tension > k.Tension {
		*k = Peak{Known: true, Tension: p.Tension, T: p.T, X: p.X, least: p.Tension, over: k.over}
		return true
	}
	k.least = min(k.least, p.Tension)
	return false
}

// AddOver takes one point at which the cell was over range, with the least tension
// it can have been; NaN not even that is known. The peak is a lower bound from then
// on, however far the tension falls.
func (k *Peak) AddOver(p Point) {
	k.over = true
	k.Add(p)
}

// Left tells whether the tension has since fallen by that share of the peak: with
// 0.1, to 0.9 of it or less. If it has not when hauling ends, the peak is a lower
// bound and is marked ">"; ask at that moment, because a stopped winch lets the
// tension relax. False when there is no peak above zero, the share is not above
// zero, or the cell was over range.
//
// Source of the 10 %: common practice, no source.
func (k Peak) Left(share float64) bool {
	return k.Known && !k.over && k.Tension > 0 && share > 0 && float64(k.least) <= (1-share)*float64(k.Tension)
}
