package safety

import "math"

// slope of the tension over about the last 2 s: least squares over the good
// words since a bad one, another zero or a gap of 2 s, each weighing less by
// 1/(1+dt/0.7) for each step since.
func (w *twin) slope() float64 {
	i := len(w.words)
	for i > max(w.from, w.slopeFrom) && !w.words[i-1].bad() && (i == len(w.words) || w.words[i].t-w.words[i-1].t <= 2*sec) {
		i--
	}
	good := w.words[i:]
	if len(good) == 0 || w.t-good[len(good)-1].t > 2*sec {
		return math.NaN()
	}
	var n, st, sv float64
	weight := make([]float64, len(good))
	for k := len(good) - 1; k >= 0; k-- {
		weight[k] = 1
		if k < len(good)-1 {
			weight[k] = weight[k+1] / (1 + seconds(good[k+1].t-good[k].t)/0.7)
		}
		n += weight[k]
		st += weight[k] * seconds(good[k].t-good[len(good)-1].t)
		sv += weight[k] * good[k].v
	}
	var tt, tv float64
	for k, g := range good {
		dt := seconds(g.t-good[len(good)-1].t) - st/n
		tt += weight[k] * dt * dt
		tv += weight[k] * dt * (g.v - sv/n)
	}
	if tt/n < 0.01 {
		return math.NaN()
	}
	return tv / tt
}

// seenAll says whether good words, none of them 3 s after the one before, go
// back over all the time that a rise is looked for in.
func (w *twin) seenAll() bool {
	words := w.words[w.rises:]
	i := len(words) - 1
	for i > 0 && words[i].t/(500*ms)-words[i-1].t/(500*ms) <= 6 {
		i--
	}
	return words[len(words)-1].t/(500*ms)-words[i].t/(500*ms) >= 26
}

// rise is the greatest rise of a mean of 3 s within 10 s over which less than
// 0.05 m was hauled, beyond what that haul explains; -Inf: none to be seen.
func (w *twin) rise() float64 {
	cellOf := func(t int64) int64 { return t/(500*ms) + 1 }
	words := w.words[w.rises:]
	end := cellOf(words[len(words)-1].t) - 1
	last := func(cell int64) (x float64, ok bool) {
		for _, g := range words {
			if cellOf(g.t) == cell {
				x, ok = g.x, true
			}
		}
		return x, ok
	}
	mean := func(end int64) (float64, bool) {
		var sum float64
		var n, early, late int
		for _, g := range words {
			if i := cellOf(g.t); i > end-6 && i <= end {
				sum += g.v
				n++
				if i <= end-3 {
					early++
				} else {
					late++
				}
			}
		}
		return sum / float64(n), early > 0 && late > 0
	}
	stiff := 0.0
	if len(w.c.Rode) == 1 && w.line.HasX && w.line.RodeOut > 0 {
		stiff = float64(w.c.Rode[0].EA) / math.Min(float64(w.line.RodeOut), float64(w.c.Rode[0].Length))
	}
	most := math.Inf(-1)
	now, ok := mean(end)
	x, here := last(end)
	for back := end - 1; !here && back >= end-2; back-- {
		x, here = last(back)
	}
	if !ok || !here {
		return most
	}
	for i := end - 20; i < end; i++ {
		was, ok := mean(i)
		x0 := x
		for on := i - 5; on <= end; on++ {
			if at, some := last(on); some {
				x0 = math.Min(x0, at)
			}
		}
		if ok && x-x0 < 0.05 {
			most = math.Max(most, now-was-stiff*math.Max(0, x-x0))
		}
	}
	return most
}
