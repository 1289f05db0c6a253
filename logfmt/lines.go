package logfmt

import (
	"bytes"
	"io"
)

// A lineReader cuts a stream into lines with a buffer that never grows beyond
// MaxLine.
type lineReader struct {
	src        io.Reader
	buf        []byte
	start, end int   // buf[start:end] is read and not yet given out
	off        int64 // in the stream, of buf[start]
	err        error // why nothing more comes: io.EOF or a fault

	used func([]byte) // is told all bytes given out, in order, if not nil
	told int          // buf[told:start] is still to be told
}

// A rawLine is valid until the next call of next.
type rawLine struct {
	bytes []byte // without its LF; only the beginning if long
	off   int64  // in the stream
	size  int64  // of the whole line in the stream, with its LF
	lf    bool   // it ends with LF: only the last line may not
	long  bool   // longer than MaxLine
	nul   bool   // long, and nothing but NUL
}

const (
	firstBuffer = 64 << 10
	longSample  = 64 // bytes kept of a line that is too long
)

// next returns false at the end of the stream or at a fault in reading it.
func (s *lineReader) next() (rawLine, bool) {
	scanned := 0
	for {
		if i := bytes.IndexByte(s.buf[s.start+scanned:s.end], '\n'); i >= 0 {
			return s.give(scanned+i, 1), true
		}
		scanned = s.end - s.start
		if scanned == MaxLine {
			return s.skip(), true
		}
		if s.err != nil {
			if scanned == 0 {
				s.tell(s.start)
				return rawLine{}, false
			}
			return s.give(scanned, 0), true
		}
		s.fill()
	}
}

func (s *lineReader) give(length, lf int) rawLine {
	l := rawLine{bytes: s.buf[s.start : s.start+length], off: s.off, size: int64(length + lf), lf: lf > 0}
	s.drop(length + lf)
	return l
}

func (s *lineReader) drop(n int) {
	s.start += n
	s.off += int64(n)
}

// skip gives out a line that does not fit the buffer.
func (s *lineReader) skip() rawLine {
	l := rawLine{off: s.off, long: true, nul: true}
	l.bytes = bytes.Clone(s.buf[s.start : s.start+longSample])
	for {
		part := s.buf[s.start:s.end]
		i := bytes.IndexByte(part, '\n')
		if l.lf = i >= 0; l.lf {
			part = part[:i]
		}
		l.nul = l.nul && allNUL(part)
		s.drop(len(part))
		if l.lf {
			s.drop(1)
		}
		if l.lf || s.err != nil {
			l.size = s.off - l.off
			return l
		}
		s.fill()
	}
}

// fill reads once more, making room first.
func (s *lineReader) fill() {
	if s.end == len(s.buf) {
		s.tell(s.start)
		old := s.buf[s.start:s.end]
		if len(old) == len(s.buf) {
			s.buf = make([]byte, min(MaxLine, max(firstBuffer, 2*len(old))))
		}
		copy(s.buf, old)
		s.start, s.end, s.told = 0, len(old), 0
	}
	for range 100 {
		n, err := s.src.Read(s.buf[s.end:])
		s.end += n
		s.err = err
		if n > 0 || err != nil {
			return
		}
	}
	s.err = io.ErrNoProgress
}

// tell reports the bytes given out up to buf[to].
func (s *lineReader) tell(to int) {
	if s.used != nil && to > s.told {
		s.used(s.buf[s.told:to])
	}
	s.told = to
}

// tellBefore reports all bytes before off, a place in the line that was just
// given out.
func (s *lineReader) tellBefore(off int64) {
	s.tell(s.start - int(s.off-off))
}

func allNUL(b []byte) bool {
	for _, c := range b {
		if c != 0 {
			return false
		}
	}
	return true
}
