package deck

import (
	"math"
	"math/rand/v2"

	"hawse/trial"
)

// The load box: steps of 0.1 kgf up to 1000 kgf. The line box: counts a metre.
const (
	kgf            = trial.Force(9.80665) // exact: standard gravity times 1 kg
	loadTop        = 10000                // tenths of kgf
	countsPerMetre = 1000
)

// appendLoad is the load box's line for a tension.
func appendLoad(dst []byte, t trial.Force) []byte {
	n := int64(math.Round(float64(t / kgf * 10)))
	if n > loadTop {
		return append(dst, "OL\r\n"...)
	}
	n = max(n, -99999)
	dst = appendSigned(dst, n, 5)
	last := dst[len(dst)-1]
	dst = append(dst[:len(dst)-1], '.', last)
	return append(dst, " kgf\r\n"...)
}

// appendLine is the line box's line for a count.
func appendLine(dst []byte, count int64) []byte {
	dst = append(dst, "N "...)
	dst = appendSigned(dst, count, 7)
	return append(dst, "\r\n"...)
}

// appendSigned writes a sign and at least digits digits.
func appendSigned(dst []byte, n int64, digits int) []byte {
	sign := byte('+')
	if n < 0 {
		sign, n = '-', -n
	}
	dst = append(dst, sign)
	at := len(dst)
	for n > 0 || len(dst)-at < digits {
		dst = append(dst, byte('0'+n%10))
		n /= 10
	}
	for i, j := at, len(dst)-1; i < j; i, j = i+1, j-1 {
		dst[i], dst[j] = dst[j], dst[i]
	}
	return dst
}

// maxHeld bounds what a burst can hold back: more than any box's own memory.
const maxHeld = 1 << 16

// box is what stands between an instrument and its port: mostly nothing, now
// and then a fault.
type box struct {
	fault   string // "", "silence", "garbage", ...
	until   int64
	last    []byte // the last honest line
	half    bool   // half a line has been sent
	held    []byte // of a burst, whole lines
	lost    uint64 // lines a burst had no room for
	rng     *rand.Rand
	scratch []byte
}

// begin puts a fault on the box.
func (b *box) begin(kind string, until int64) {
	b.fault, b.until, b.half = kind, until, false
}

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
		if len(b.last) == 0 {
			b.last = append(b.last, line...)
		}
		send(b.last)
	case "over":
		send([]byte("OL\r\n"))
	case "nan":
		send([]byte("NaN kgf\r\n"))
	case "half":
		if !b.half {
			b.half = true
			send(line[:len(line)/2])
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
