package acquire

import (
	"fmt"
	"math"

	"hawse/trial"
)

// appendRead appends the question that reads what r says, with its checksum.
func appendRead(dst []byte, r trial.Registers) []byte {
	first, count := r.Span()
	return appendShort(dst, byte(r.Address), byte(r.Function), first, uint16(count))
}

// registerAnswer is how long the answer to r's question is that begins like p: 0
// for none, more than len(p) while that is open.
func registerAnswer(p []byte, r trial.Registers) int {
	_, count := r.Span()
	n := 5 + 2*count
	switch {
	case p[0] != byte(r.Address):
		return 0
	case len(p) < 2:
		return n
	case p[1] == byte(r.Function)|fnRefused:
		return 5
	case p[1] != byte(r.Function):
		return 0
	case len(p) > 2 && int(p[2]) != 2*count:
		return 0
	}
	return n
}

// The refusals of a Modbus unit. Source: MODBUS Application Protocol V1.1b3,
// section 7, from memory; in our own words.
var modbusRefusals = map[byte]string{
	1:  "it does not know this function",
	2:  "it has no such register",
	3:  "it does not take this many registers",
	4:  "it has failed",
	5:  "it needs more time",
	6:  "it is busy",
	8:  "its memory has a parity error",
	10: "its gateway has no path",
	11: "nobody behind its gateway answers",
}

func refusal(code byte) string {
	if why, ok := modbusRefusals[code]; ok {
		return fmt.Sprintf("the unit refuses: %s (code %d)", why, code)
	}
	return fmt.Sprintf("the unit refuses, code %d", code)
}

// registers reads what an answer holds.
type registers struct{ at trial.Registers }

// value is the number of a whole answer. why is not empty if it holds none.
func (g *registers) value(frame []byte) (raw, v float64, over bool, why string) {
	p, why := g.data(frame)
	if why != "" {
		return math.NaN(), math.NaN(), false, why
	}
	first, _ := g.at.Span()
	raw = readNumber(p[2*(g.at.Register-first):], g.at.Number)
	v = raw * g.at.Number.Factor
	if !g.at.HasScale {
		return raw, v, false, ""
	}
	// More decimals than a number of 32 bits has are no decimals.
	const most = 9
	s := p[2*(g.at.Scale-first):]
	d := int16(uint16(s[0])<<8 | uint16(s[1]))
	if d < -most || d > most {
		return math.NaN(), math.NaN(), false, fmt.Sprintf("the scale register says %d decimals", d)
	}
	if d < 0 {
		return raw, v * math.Pow10(-int(d)), false, ""
	}
	return raw, v / math.Pow10(int(d)), false, "" // a division is exact where a product with 0.1 is not
}

// counts is the whole number of an answer.
func (g *registers) counts(frame []byte) (n int64, why string) {
	p, why := g.data(frame)
	if why != "" {
		return 0, why
	}
	return readWhole(p, g.at.Number), "" // a count has no scale, so it is the first
}

func (g *registers) data(frame []byte) (p []byte, why string) {
	_, count := g.at.Span()
	switch {
	case len(frame) == 5 && frame[1]&fnRefused != 0:
		return nil, refusal(frame[2])
	case len(frame) != 5+2*count || frame[0] != byte(g.at.Address) || frame[1] != byte(g.at.Function):
		return nil, "is no answer to what was asked"
	}
	return frame[3:], ""
}
