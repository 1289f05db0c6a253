package acquire

import (
	"encoding/binary"
	"math"

	"hawse/trial"
)

// ordered puts the bytes of a number in order, the most significant first, and
// reads them as an unsigned number.
func ordered(p []byte, order string) uint32 {
	var b [4]byte
	at := len(b) - len(order)
	for i := range order {
		b[at+int(order[i]-'A')] = p[i]
	}
	return binary.BigEndian.Uint32(b[:])
}

// readNumber reads the number that stands at the start of p, without its factor.
// p is long enough.
func readNumber(p []byte, n trial.Number) float64 {
	v := ordered(p[:n.Bytes()], n.Order)
	if n.Holds == "float32" {
		return float64(math.Float32frombits(v))
	}
	return float64(readWhole(p, n))
}

// readWhole is readNumber for whole numbers.
func readWhole(p []byte, n trial.Number) int64 {
	v := ordered(p[:n.Bytes()], n.Order)
	switch n.Holds {
	case "int8":
		return int64(int8(v))
	case "int16":
		return int64(int16(v))
	case "int32":
		return int64(int32(v))
	}
	return int64(v)
}
