package deck

import (
	"math"
	"math/rand/v2"

	"hawse/trial"
)

// countsPerMetre is the line box's scale.
const countsPerMetre = 1000

// wrap16 is what a count of 16 bits can hold.
const wrap16 = 1 << 16

// counter is the line box's measuring wheel.
type counter struct {
	base     int64        // the count at from
	from     trial.Length // line hauled
	perMetre float64      // counts; below zero they fall while hauling
}

func (c *counter) at(x trial.Length) int64 {
	return c.base + int64(math.Round(float64(x-c.from)*c.perMetre))
}

// turn has the counts go on at another rate from x metres hauled on.
func (c *counter) turn(x trial.Length, perMetre float64) {
	c.base, c.from, c.perMetre = c.at(x), x, perMetre
}

// appendLine is the line box's line for a count.
func appendLine(dst []byte, count int64) []byte {
	dst = append(dst, "N "...)
	dst = appendNumber(dst, count, true, 7, 0)
	return append(dst, "\r\n"...)
}

// maxHeld bounds what a burst can hold back: more than any box's own memory.
const maxHeld = 1 << 16

// box is what stands between an instrument and its port: mostly nothing, now
// and then a fault.
type box struct {
	fault   string // "", "silence", "garbage", ...
	from    int64
	until   int64
	value   float64 // of the fault
	word    string
	inValue bool        // its message has other things in it: a stuck number is stuck alone
	shown   trial.Force // last, before a fault held it
	held0   int64       // the count when a fault began
	last    []byte      // the last honest line
	half    bool        // half a line has been sent
	peak    trial.Force // most that was to be shown since a peak hold began
	slow    float64     // Hz, of a box that has become slow
	slowAt  int64       // when it speaks next
	instead []byte      // what it says for over range, or not a number
	held    []byte      // of a burst, whole lines
	lost    uint64      // lines a burst had no room for
	rng     *rand.Rand
	scratch []byte
}

// begin puts a fault on the box.
func (b *box) begin(kind string, t, until int64, value float64) {
	b.fault, b.from, b.until, b.half, b.value = kind, t, until, false, value
	b.peak, b.slow, b.slowAt = trial.Force(math.Inf(-1)), value, math.MinInt64
}

// shows is the tension the box shows at time t for the one it feels.
func (b *box) shows(t int64, felt trial.Force) trial.Force {
	b.over(t)
	switch b.fault {
	case "peak-hold":
		b.peak = max(b.peak, felt)
		return b.peak
	case "sign":
		return -felt
	case "wet":
		// Noise up to 400 N and a zero that wanders by 300 N: invented.
		worse := trial.Force(min(b.share(t)/wetSilent, 1))
		return felt + worse*(400*trial.Force(b.rng.NormFloat64())-300*trial.Force(math.Sin(float64(t-b.from)/4e9)))
	case "stuck":
		if b.inValue {
			return b.shown
		}
	}
	b.shown = felt
	return felt
}

// wetSilent is the share of its time after which a wet plug gives nothing.
const wetSilent = 2.0 / 3

// share is how much of a fault's time is over.
func (b *box) share(t int64) float64 { return float64(t-b.from) / float64(b.until-b.from) }

// over ends a fault whose time is over.
func (b *box) over(t int64) {
	if b.fault != "" && t >= b.until {
		b.fault = ""
	}
}

// say hands over what comes out of the box at time t instead of the line.
func (b *box) say(t int64, line []byte, send func([]byte)) {
	b.over(t)
	if b.fault != "stuck" {
		b.last = append(b.last[:0], line...)
	}
	if b.fault != "burst" && len(b.held) > 0 {
		for rest := b.held; len(rest) > 0; {
			n := lineEnd(rest)
			send(rest[:n])
			rest = rest[n:]
		}
		b.held = b.held[:0]
	}
	switch b.fault {
	case "silence":
	case "garbage":
		send(b.noise())
	case "stuck":
		if b.inValue {
			send(line)
			return
		}
		if len(b.last) == 0 {
			b.last = append(b.last, line...)
		}
		send(b.last)
	case "over", "nan":
		if len(b.instead) > 0 {
			line = b.instead
		}
		send(line)
	case "wet":
		if b.share(t) < wetSilent {
			send(line)
		}
	case "drop":
		if b.rng.Float64() >= b.value {
			send(line)
		}
	case "baud", "swapped", "bit-errors", "turn-round", "one-address":
		b.scratch = spoil(b.scratch[:0], b.fault, b.value, line, b.rng)
		send(b.scratch)
	case "half":
		if !b.half {
			b.half = true
			send(line[:len(line)/2])
		}
	case "slow":
		if t >= b.slowAt {
			b.slowAt = max(b.slowAt, t) + int64(math.Round(1e9/b.slow))
			send(line)
		}
	case "burst":
		if len(b.held)+len(line) > maxHeld {
			b.lost++
			return
		}
		b.held = append(b.held, line...)
	default:
		send(line)
	}
}

func lineEnd(p []byte) int {
	for i, c := range p {
		if c == '\n' {
			return i + 1
		}
	}
	return len(p)
}

// noise is what a wrong baud rate or a wet plug makes of a line: any bytes.
func (b *box) noise() []byte {
	n := 6 + b.rng.IntN(16)
	b.scratch = b.scratch[:0]
	for range n {
		b.scratch = append(b.scratch, byte(b.rng.Uint32()))
	}
	return b.scratch
}
