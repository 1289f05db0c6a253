package acquire

import "bytes"

// Why a cut ends where it ends.
const (
	CutEnd  = "end"  // a line end
	CutIdle = "idle" // half a line, then silence
	CutLong = "long" // bytes go on coming, and no line end
	CutFull = "full" // no line end in MaxCut bytes
	CutLost = "lost" // half a line when the port was lost or closed
	CutRead = "read" // what one Read gave: the port sends no lines
)

// MaxCut is the longest cut, in bytes.
const MaxCut = 4096

// idleAfter is how long half a line waits for the rest before it is cut, ns.
// Ten times the gaps a USB adapter makes in a line (common practice, no source),
// and short enough that the bytes reach the disk while someone still looks.
const idleAfter = 100e6

// longAfter is how long bytes that make no line may go on coming before they are
// cut, ns: a box read at a wrong speed or polarity never pauses, and who judges
// must know within the shortest silence a limit may have that bytes come (common
// practice, no source). A line of 80 characters takes less from 3,200 baud on;
// one that takes longer is cut, and framed as if it had not been.
const longAfter = 250e6

// Cut is a piece of one port's stream.
type Cut struct {
	T0, T int64  // return of the Read that brought the first byte, and the last one
	Chunk uint64 // number of the Read that brought the last byte
	Why   string
	Raw   []byte // the cut's own; never empty
}

// Cutter cuts one port's stream into records: at once after LF, and after CR
// unless the next byte of the same Read is LF. An LF that comes in a later Read
// is a cut of its own: waiting for it would hold back a whole line.
type Cutter struct {
	whole bool   // there are no lines: each Read is a cut
	held  []byte // half a line
	t0, t int64
	chunk uint64
}

// NewCutter returns a cutter that holds nothing.
func NewCutter() *Cutter { return &Cutter{} }

// newReadCutter returns a cutter for a port that sends no lines: nothing is held
// back, as a byte that looks like a line end says nothing.
func newReadCutter() *Cutter { return &Cutter{whole: true} }

// Push takes what one Read gave: t its return, chunk its number. p is not kept.
// Cuts of one Push may share memory, each with no room to grow into the next.
func (c *Cutter) Push(t int64, chunk uint64, p []byte, emit func(Cut)) {
	if c.whole {
		for ; len(p) > 0; p = p[min(len(p), MaxCut):] {
			emit(Cut{T0: t, T: t, Chunk: chunk, Why: CutRead, Raw: bytes.Clone(p[:min(len(p), MaxCut)])})
		}
		return
	}
	var block []byte // the whole lines of p, copied once for all their cuts
	for len(p) > 0 {
		n, why := nextCut(p, MaxCut-len(c.held))
		if why == "" {
			if c.hold(t, chunk, p); t-c.t0 >= longAfter {
				c.give(CutLong, emit)
			}
			return
		}
		if len(c.held) > 0 {
			c.hold(t, chunk, p[:n])
			c.give(why, emit)
		} else {
			if len(block) == 0 {
				block = bytes.Clone(p[:max(n, bytes.LastIndexAny(p, "\r\n")+1)])
			}
			emit(Cut{T0: t, T: t, Chunk: chunk, Why: why, Raw: block[:n:n]})
			block = block[n:]
		}
		p = p[n:]
	}
}

// Idle cuts half a line that has waited too long; now is any time from the same
// clock as Push's.
func (c *Cutter) Idle(now int64, emit func(Cut)) {
	if len(c.held) > 0 && now-c.t >= idleAfter {
		c.give(CutIdle, emit)
	}
}

// Lost cuts half a line whose rest will not come.
func (c *Cutter) Lost(_ int64, emit func(Cut)) {
	if len(c.held) > 0 {
		c.give(CutLost, emit)
	}
}

func (c *Cutter) hold(t int64, chunk uint64, p []byte) {
	if len(c.held) == 0 {
		c.t0 = t
	}
	c.held = append(c.held, p...)
	c.t, c.chunk = t, chunk
}

func (c *Cutter) give(why string, emit func(Cut)) {
	raw := c.held[:len(c.held):len(c.held)]
	c.held = nil // the cut owns it now
	emit(Cut{T0: c.t0, T: c.t, Chunk: c.chunk, Why: why, Raw: raw})
}

// nextCut is how many bytes of p the next cut takes and why; "" if p holds only
// half a line that still fits in room.
func nextCut(p []byte, room int) (int, string) {
	for i := 0; i < len(p) && i < room; i++ {
		switch p[i] {
		case '\n':
			return i + 1, CutEnd
		case '\r':
			if i+1 == len(p) || p[i+1] != '\n' {
				return i + 1, CutEnd
			}
		}
	}
	if len(p) >= room {
		return room, CutFull
	}
	return 0, ""
}
