package acquire

// scan finds frames in a stream by their length and checksum. Silences between
// frames, by which Modbus ends them, do not survive a USB adapter.
type scan struct {
	buf []byte
	// length is how long a frame that begins like p is: 0 for none, more than
	// len(p) while that is open.
	length func(p []byte) int
	sound  func(frame []byte) bool // its checksum fits
}

// answers finds what a Modbus stop relay answers.
var answers = scan{length: answerLen, sound: soundCRC}

// soundCRC: a frame with its own checksum gives 0.
func soundCRC(frame []byte) bool { return crc16(frame) == 0 }

// feed hands out whole frames, and what lies between them as bad. It keeps no
// more than the longest frame. A frame is valid only until emit returns.
func (s *scan) feed(raw []byte, emit func(frame []byte, good bool)) {
	s.buf = append(s.buf, raw...)
	p, bad := s.buf, 0 // the first bad bytes of p are no frame
	for bad < len(p) {
		n := s.length(p[bad:])
		if n > len(p)-bad {
			break // the rest is still to come
		}
		if n == 0 || !s.sound(p[bad:bad+n]) {
			bad++
			continue
		}
		if bad > 0 {
			emit(p[:bad], false)
		}
		emit(p[bad:bad+n], true)
		p, bad = p[bad+n:], 0
	}
	if bad > 0 {
		emit(p[:bad], false)
	}
	s.buf = s.buf[:copy(s.buf, p[bad:])]
}

func (s *scan) reset() { s.buf = s.buf[:0] }
