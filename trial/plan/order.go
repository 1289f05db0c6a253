package plan

// splitMix is the generator the order is drawn by: small enough to be done again
// by hand. Steele, Lea and Flood, Fast splittable pseudorandom number generators
// (2014), from memory; its first number for seed 0 is held in the tests.
type splitMix struct{ state uint64 }

func (s *splitMix) next() uint64 {
	s.state += 0x9e3779b97f4a7c15
	z := s.state
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// under is a number from 0 to n-1, each as likely: what would favour the low ones
// is drawn again.
func (s *splitMix) under(n int) int {
	limit := -uint64(n) % uint64(n) // 2^64 mod n
	for {
		if v := s.next(); v >= limit {
			return int(v % uint64(n))
		}
	}
}

// drawn is an order of n, from the last place to the first (Fisher and Yates).
func (s *splitMix) drawn(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	for i := n - 1; i > 0; i-- {
		j := s.under(i + 1)
		out[i], out[j] = out[j], out[i]
	}
	return out
}
