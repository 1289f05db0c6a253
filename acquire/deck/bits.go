package deck

import "math/rand/v2"

// spoil is what becomes of a message on a cable that is wrong.
func spoil(dst []byte, fault string, share float64, line []byte, rng *rand.Rand) []byte {
	switch fault {
	case "baud":
		return resample(dst, line, false)
	case "swapped":
		return resample(dst, line, true)
	case "turn-round": // the adapter still drives the line while the answer begins
		const lost = 3
		return append(dst, line[min(lost, len(line)):]...)
	case "one-address": // the other unit answers a character later: the line is low if either says so
		for i := range len(line) + 1 {
			c := byte(0xFF)
			if i < len(line) {
				c &= line[i]
			}
			if i > 0 {
				c &= line[i-1]
			}
			dst = append(dst, c)
		}
		return dst
	}
	dst = append(dst, line...)
	if len(dst) > 0 && rng.Float64() < share {
		dst[rng.IntN(len(dst))] ^= 1 << rng.IntN(8)
	}
	return dst
}

// resample is what a receiver makes of characters of a start bit, eight data bits,
// least first, and a stop bit: one that samples at half their speed, or, if
// turned, at their own on a line whose two wires are swapped. It begins a
// character at a low line and takes whatever stands where its stop bit should be,
// as chips do that have a framing error to tell.
func resample(dst, line []byte, turned bool) []byte {
	const idle = 30 // bits of rest behind the last character
	bits := make([]bool, 0, 10*len(line)+idle)
	for _, c := range line {
		bits = append(bits, turned)
		for i := range 8 {
			bits = append(bits, c>>i&1 == 1 != turned)
		}
		bits = append(bits, !turned)
	}
	for range idle {
		bits = append(bits, !turned)
	}
	step := 2
	if turned {
		step = 1
	}
	at := func(i int) bool { return i < len(bits) && bits[i] }
	for i := 0; i < 10*len(line); {
		if bits[i] {
			i++
			continue
		}
		c := byte(0)
		for k := range 8 {
			if at(i + (k+1)*step) {
				c |= 1 << k
			}
		}
		dst = append(dst, c)
		i += 10 * step
	}
	return dst
}
