package acquire

import "bytes"

// MaxFrame is the longest line taken for a frame, in bytes without its end.
const MaxFrame = 256

// Why a frame is bad before anyone tries to decode it.
const (
	BadLong = "too long"
	BadNUL  = "NUL byte" // what a driver puts in place of a byte with a parity or framing error
)

// Framer finds lines in the bytes of one port, whatever pieces they come in.
// Lines end with CR, LF or both; empty ones are ignored. The zero value is
// ready, and keeps no more than MaxFrame bytes.
type Framer struct {
	buf  [MaxFrame]byte
	n    int
	skip bool // the rest of a line that was too long is passed over
}

// Feed takes the next bytes and hands out each line they complete, in order.
// bad says why a line must not be decoded; it is empty for a good one. Of a line
// that is too long the first MaxFrame bytes are handed out, once, as soon as it
// is too long. The frame is valid only until emit returns.
func (f *Framer) Feed(raw []byte, emit func(frame []byte, bad string)) {
	for len(raw) > 0 {
		i := lineEnd(raw)
		if i < 0 {
			f.hold(raw, emit)
			return
		}
		if f.n == 0 && !f.skip && i <= MaxFrame {
			hand(raw[:i], emit)
		} else {
			f.hold(raw[:i], emit)
			f.end(emit)
		}
		raw = raw[i+1:]
	}
}

// Reset forgets half a line. It belongs wherever the stream is broken, so that
// the head of a line from before is not joined to what comes after.
func (f *Framer) Reset() { f.n, f.skip = 0, false }

// Half says whether the beginning of a line waits for its rest.
func (f *Framer) Half() bool { return f.n > 0 }

func (f *Framer) hold(part []byte, emit func([]byte, string)) {
	if f.skip {
		return
	}
	k := copy(f.buf[f.n:], part)
	f.n += k
	if k < len(part) {
		emit(f.buf[:], BadLong)
		f.n, f.skip = 0, true
	}
}

func (f *Framer) end(emit func([]byte, string)) {
	n := f.n
	f.n, f.skip = 0, false
	hand(f.buf[:n], emit)
}

func hand(frame []byte, emit func([]byte, string)) {
	switch {
	case len(frame) == 0:
	case bytes.IndexByte(frame, 0) >= 0:
		emit(frame, BadNUL)
	default:
		emit(frame, "")
	}
}

// lineEnd is the index of the first CR or LF, or -1.
func lineEnd(p []byte) int {
	for i, b := range p {
		if b == '\n' || b == '\r' {
			return i
		}
	}
	return -1
}
