package listen

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"hawse/acquire"
	"hawse/trial"
)

// Found is a number that stands at one place of bytes that come again and again.
type Found struct {
	At        int // its first byte
	Number    trial.Number
	Values    []float64
	Different int     // how many values it took
	Rough     float64 // 0 each value follows from the last, 1 as if drawn by lot

	half bool // a float whose lesser half never moved: perhaps half of one beside it
}

// Bounds of what is believed of a number: common practice, no source.
const (
	floatLeast = 1e-4 // a reading that is not 0 is at least so large,
	floatMost  = 1e7  // and at most
	roughFloat = 0.6  // a float that jumps more must keep within some decades
	decades    = 3.0
	roughApart = 0.2     // by so much the low half alone must be rougher than both together
	wholeMost  = 1 << 30 // a whole number of 32 bits past it is a float read wrongly
	mostRows   = 400     // looked at
)

// findNumbers looks for numbers in rows of bytes of one length. They begin at
// every step-th byte and keep off those that are dead: sync bytes, counters,
// checksums. A number that never moves is not found. The plainest come first:
// floats, then whole numbers, in the order of how many values they took.
func findNumbers(rows [][]byte, step int, dead []bool) []Found {
	if len(rows) < 3 {
		return nil
	}
	if len(rows) > mostRows {
		rows = rows[:mostRows]
	}
	wide := len(rows[0])
	var all []Found
	moving := make([]bool, wide)
	for at := range wide {
		for i := 1; i < len(rows) && !moving[at]; i++ {
			moving[at] = rows[i][at] != rows[0][at]
		}
	}
	for at := 0; at < wide; at += step {
		if !slices.Contains(moving[at:min(at+4, wide)], true) {
			continue
		}
		for _, bytes := range []int{4, 2} {
			if at+bytes > wide || slices.Contains(dead[at:at+bytes], true) {
				continue
			}
			if f, ok := bestAt(rows, at, bytes); ok {
				all = append(all, f)
			}
		}
	}
	rank := func(f Found) int {
		switch {
		case f.Number.Holds == "float32" && !f.half:
			return 0
		case f.Number.Holds == "int32":
			return 1
		case f.half:
			return 2
		}
		return 3
	}
	slices.SortStableFunc(all, func(a, b Found) int {
		if d := rank(a) - rank(b); d != 0 {
			return d
		}
		return cmp.Compare(a.Rough, b.Rough)
	})
	taken := slices.Clone(dead)
	var out []Found
	for _, f := range all {
		part := taken[f.At : f.At+f.Number.Bytes()]
		if slices.Contains(part, true) {
			continue
		}
		for i := range part {
			part[i] = true
		}
		out = append(out, f)
	}
	slices.SortStableFunc(out, func(a, b Found) int { return b.Different - a.Different })
	return out
}

// bestAt is the best reading of so many bytes at one place.
func bestAt(rows [][]byte, at, bytes int) (best Found, ok bool) {
	half := false
	try := func(n trial.Number, good func(Found) bool) {
		f := read(rows, at, n)
		f.half = half && n.Holds == "float32"
		if f.Different > 1 && good(f) && (!ok || best.half && !f.half || best.half == f.half && f.Rough < best.Rough-1e-9) {
			best, ok = f, true
		}
	}
	if bytes == 2 {
		for _, order := range []string{"AB", "BA"} {
			high, low := read(rows, at, trial.Number{Holds: "uint8", Order: "A"}), read(rows, at+1, trial.Number{Holds: "uint8", Order: "A"})
			if order == "BA" {
				high, low = low, high
			}
			// Of two bytes the low one moves more.
			if low.Different < high.Different || low.Different < 2 {
				continue
			}
			try(trial.Number{Holds: sign16(rows, at, order), Order: order, Factor: 1}, func(Found) bool { return true })
		}
		return best, ok
	}
	for _, order := range []string{"ABCD", "CDAB", "BADC", "DCBA"} {
		lowAt, lowOrder := at+2, "AB"
		if order == "CDAB" || order == "DCBA" {
			lowAt = at
		}
		if order == "BADC" || order == "DCBA" {
			lowOrder = "BA"
		}
		low := read(rows, lowAt, trial.Number{Holds: "uint16", Order: lowOrder})
		lowSigned := read(rows, lowAt, trial.Number{Holds: "int16", Order: lowOrder})
		alone := min(low.Rough, lowSigned.Rough) // of the low half
		half = low.Different < 2
		try(trial.Number{Holds: "float32", Order: order, Factor: 1}, func(f Found) bool {
			return plausible(f) && (low.Different < 2 || alone > f.Rough+roughApart || f.Rough > 1-roughApart)
		})
		high := read(rows, 2*at+2-lowAt, trial.Number{Holds: "int16", Order: lowOrder})
		if high.Different < 2 {
			continue // 16 bits are enough
		}
		try(trial.Number{Holds: "int32", Order: order, Factor: 1}, func(f Found) bool {
			for _, v := range f.Values {
				if math.Abs(v) > wholeMost {
					return false
				}
			}
			return low.Different > 1 && graded(rows, at, order) && (signOnly(high, lowSigned) || alone > f.Rough+roughApart)
		})
	}
	return best, ok
}

// graded says that of the bytes of a whole number the lesser ones change at least
// as often, as they do in one that is read rightly.
func graded(rows [][]byte, at int, order string) bool {
	var changes [4]int // of A, B, C, D
	for i := 1; i < len(rows); i++ {
		for k := range order {
			if rows[i][at+k] != rows[i-1][at+k] {
				changes[order[k]-'A']++
			}
		}
	}
	for k := 1; k < len(changes); k++ {
		if 10*changes[k] < 9*changes[k-1] {
			return false
		}
	}
	return true
}

// signOnly says that the high half is nothing but the sign of the low one.
func signOnly(high, low Found) bool {
	for i, h := range high.Values {
		if h != 0 && h != -1 || (h < 0) != (low.Values[i] < 0) {
			return false
		}
	}
	return true
}

// sign16 is int16 unless the bits are read more smoothly without a sign.
func sign16(rows [][]byte, at int, order string) string {
	leap := func(holds string) (most float64) {
		f := read(rows, at, trial.Number{Holds: holds, Order: order})
		for i := 1; i < len(f.Values); i++ {
			most = max(most, math.Abs(f.Values[i]-f.Values[i-1]))
		}
		return most
	}
	if leap("uint16") < leap("int16") {
		return "uint16"
	}
	return "int16"
}

// read is the number at one place in all rows.
func read(rows [][]byte, at int, n trial.Number) Found {
	f := Found{At: at, Number: n, Values: make([]float64, len(rows))}
	seen := map[float64]bool{}
	for i, r := range rows {
		v := acquire.ReadNumber(r[at:], n)
		f.Values[i] = v
		if v == v {
			seen[v] = true
		}
	}
	f.Different = len(seen)
	f.Rough = rough(f.Values)
	return f
}

// plausible says that floats are readings, all of them: none is NaN, and their
// size is that of readings; where they jump, it keeps within some decades.
func plausible(f Found) bool {
	least, most := math.Inf(1), 0.0
	for _, v := range f.Values {
		a := math.Abs(v)
		if a == 0 {
			continue
		}
		if !(a >= floatLeast && a <= floatMost) {
			return false
		}
		least, most = min(least, a), max(most, a)
	}
	return most > 0 && (f.Rough < roughFloat || math.Log10(most/least) < decades)
}

// rough is the rank version of von Neumann's ratio, halved: near 0 for values of
// which each follows from the last, about 1 for values drawn by lot (R. Bartels,
// Journal of the American Statistical Association 77 (1982), from memory). Ranks
// leave size and unit out.
func rough(v []float64) float64 {
	n := len(v)
	at := make([]int, n)
	for i := range at {
		at[i] = i
	}
	sort.SliceStable(at, func(a, b int) bool { return v[at[a]] < v[at[b]] })
	rank := make([]float64, n)
	for i := 0; i < n; { // like values share their mean rank
		j := i + 1
		for j < n && v[at[j]] == v[at[i]] {
			j++
		}
		for k := i; k < j; k++ {
			rank[at[k]] = float64(i+j-1) / 2
		}
		i = j
	}
	mean, square, steps := float64(n-1)/2, 0.0, 0.0
	for i, r := range rank {
		square += (r - mean) * (r - mean)
		if i > 0 {
			steps += (r - rank[i-1]) * (r - rank[i-1])
		}
	}
	if square == 0 {
		return 0
	}
	return steps / square / 2
}

// Last is the newest value, NaN for none.
func (f Found) Last() float64 {
	if len(f.Values) == 0 {
		return math.NaN()
	}
	return f.Values[len(f.Values)-1]
}
