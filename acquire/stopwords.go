package acquire

import (
	"bytes"
	"math"
	"strconv"
)

// The words of the stop output of kind text, the first of the three forms in
// stopform.go. Each line ends in '*', the XOR of all bytes
// before it as two upper-case hex digits, and LF:
//
//	ARM <session>          close, if this session number is fresh
//	BEAT <session> <count> the guard of that session is alive
//	OPEN <session>         open now
//
// The relay answers, at each change and once a second:
//
//	RELAY CLOSED <session>
//	RELAY OPEN <session of the last arm> <reason>

// AppendArm appends the line that asks the relay to close.
func AppendArm(dst []byte, session uint32) []byte {
	at := len(dst)
	dst = strconv.AppendUint(append(dst, "ARM "...), uint64(session), 10)
	return sealWord(dst, at)
}

// AppendBeat appends one heartbeat.
func AppendBeat(dst []byte, session uint32, count uint64) []byte {
	at := len(dst)
	dst = strconv.AppendUint(append(dst, beatWord...), uint64(session), 10)
	dst = strconv.AppendUint(append(dst, ' '), count, 10)
	return sealWord(dst, at)
}

// AppendOpen appends the line that asks the relay to open.
func AppendOpen(dst []byte, session uint32) []byte {
	at := len(dst)
	dst = strconv.AppendUint(append(dst, openWord...), uint64(session), 10)
	return sealWord(dst, at)
}

const (
	beatWord = "BEAT "
	openWord = "OPEN "
)

const hexUpper = "0123456789ABCDEF"

// sealWord ends the line that starts at at with its checksum.
func sealWord(dst []byte, at int) []byte {
	x := xorSum(dst[at:])
	return append(dst, '*', hexUpper[x>>4], hexUpper[x&15], '\n')
}

// xorSum is the checksum of the words, the one NMEA 0183 uses.
func xorSum(p []byte) (x byte) {
	for _, b := range p {
		x ^= b
	}
	return x
}

// ParseRelay reads one answer of the relay, given without its line end. It takes
// only the exact form: a wrong checksum, a sign, a leading zero or another space
// is no answer. session is that of the relay's last arm, reason why it is open.
func ParseRelay(frame []byte) (closed bool, session uint32, reason string, ok bool) {
	n := len(frame)
	if n < 3 || frame[n-3] != '*' {
		return false, 0, "", false
	}
	text := frame[:n-3]
	if x := xorSum(text); frame[n-2] != hexUpper[x>>4] || frame[n-1] != hexUpper[x&15] {
		return false, 0, "", false
	}
	if rest, found := bytes.CutPrefix(text, []byte("RELAY CLOSED ")); found {
		session, ok = parseSession(rest)
		return ok, session, "", ok
	}
	rest, found := bytes.CutPrefix(text, []byte("RELAY OPEN "))
	if !found {
		return false, 0, "", false
	}
	number, word, found := bytes.Cut(rest, []byte{' '})
	if !found || !reasonWord(word) {
		return false, 0, "", false
	}
	if session, ok = parseSession(number); !ok {
		return false, 0, "", false
	}
	return false, session, string(word), true
}

func parseSession(p []byte) (uint32, bool) {
	if len(p) == 0 || len(p) > 10 || p[0] == '0' && len(p) > 1 {
		return 0, false
	}
	var v uint64
	for _, c := range p {
		if c < '0' || c > '9' {
			return 0, false
		}
		v = v*10 + uint64(c-'0')
	}
	if v > math.MaxUint32 {
		return 0, false
	}
	return uint32(v), true
}

// reasonWord accepts one short word of lower-case letters, digits and hyphens.
func reasonWord(p []byte) bool {
	if len(p) == 0 || len(p) > 24 {
		return false
	}
	for _, c := range p {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return true
}
