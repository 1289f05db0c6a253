package deck

import (
	"bytes"
	"strconv"
	"time"
)

// Relay is the stop relay at the far end of the stop output. While it is open
// the winch cannot haul. It is pure: the time of its own clock comes with each
// call and never runs back.
//
// It is built so that a sender that stops, hangs or dies opens it. It closes
// only on ARM with a session number above 0 that it has not armed since it was
// powered; no BEAT closes it. It opens when no good BEAT of that session has
// come within the window, and on any OPEN, and then stays open until the next
// fresh ARM. A BEAT is good when its count is higher than the one before, so a
// buffer that repeats itself is not a living program. A word with a wrong
// checksum, or no word at all, is counted and otherwise as if it had not come.
//
// The words are lines, hh being the exclusive or of the bytes before the star
// as two upper-case hex digits:
//
//	ARM <session>*hh
//	BEAT <session> <count>*hh
//	OPEN <session>*hh
//
// It answers at each change and once a second:
//
//	RELAY CLOSED <session>*hh
//	RELAY OPEN <session of the last arm> <reason>*hh
type Relay struct {
	now, deadline, again int64 // again: when the next answer of its own accord is due
	window               int64
	closed               bool
	welded               bool   // the contact: closed, and nothing opens it any more
	session              uint32 // of the last arm; 0 none
	count                uint64 // of the last good beat
	beaten               bool   // a beat of this session has come
	reason               string
	used                 map[uint32]struct{}
	log                  []RelayChange
	out                  []byte
	bad                  uint64
	line                 []byte
	tooLong              bool
}

// The reasons why the relay is open.
const (
	reasonBoot  = "boot"      // powered and never armed
	reasonOpen  = "open"      // told to
	reasonBeats = "beat-lost" // no good beat within the window
	reasonFull  = "full"      // too many sessions to remember another
)

const (
	relayPeriod  = int64(time.Second)
	relayMaxLine = 64
	// A relay that forgot a session would close on it again, so one that can
	// remember no more stays open. At one arm a second this is 18 hours.
	relayMaxUsed = 1 << 16
)

// RelayChange is one change of the relay, by its own clock.
type RelayChange struct {
	T       int64
	Closed  bool
	Session uint32 // of the last arm; 0 none
	Reason  string // why it is open; empty when closed
}

// NewRelay powers a relay at time t: open, nothing armed yet.
func NewRelay(t int64, window time.Duration) *Relay {
	r := &Relay{now: t, again: t + relayPeriod, window: int64(window), used: map[uint32]struct{}{}}
	r.change(t, false, reasonBoot)
	return r
}

// Closed reports whether the winch may haul.
func (r *Relay) Closed() bool { return r.closed }

// Session is that of the last arm, 0 before the first.
func (r *Relay) Session() uint32 { return r.session }

// Reason says why the relay is open, or is empty.
func (r *Relay) Reason() string { return r.reason }

// Bad counts the lines that were no good word.
func (r *Relay) Bad() uint64 { return r.bad }

// Log is every change since the relay was powered, oldest first. It is not
// changed afterwards; the relay only adds to its own copy.
func (r *Relay) Log() []RelayChange { return r.log[:len(r.log):len(r.log)] }

// Due is the next time at which [Relay.Advance] has something to do.
func (r *Relay) Due() int64 {
	if r.watched() && r.deadline < r.again {
		return r.deadline
	}
	return r.again
}

// Advance lets time pass up to t: it opens the relay at its deadline and gives
// the answer that is due once a second.
func (r *Relay) Advance(t int64) {
	if t < r.now {
		return
	}
	if r.watched() && t >= r.deadline {
		r.now = r.deadline
		r.change(r.deadline, false, reasonBeats)
	}
	r.now = t
	if t >= r.again {
		r.again += (t - r.again) / relayPeriod * relayPeriod // one answer, not one for each second missed
		r.again += relayPeriod
		r.answer()
	}
}

// Feed takes bytes that arrived at time t, in pieces of any size.
func (r *Relay) Feed(t int64, p []byte) {
	r.Advance(t)
	for len(p) > 0 {
		part, rest, ended := bytes.Cut(p, []byte{'\n'})
		p = rest
		if len(r.line)+len(part) > relayMaxLine {
			r.tooLong = true
			r.line = r.line[:0]
		}
		if !r.tooLong {
			r.line = append(r.line, part...)
		}
		if !ended {
			return
		}
		line := bytes.TrimSuffix(r.line, []byte{'\r'})
		if r.tooLong || !r.word(line) {
			r.bad++
		}
		r.line, r.tooLong = r.line[:0], false
	}
}

// Take appends what the relay has to say since the last call.
func (r *Relay) Take(dst []byte) []byte {
	dst = append(dst, r.out...)
	r.out = r.out[:0]
	return dst
}

// word obeys one line without its end and reports whether it was a good word.
func (r *Relay) word(line []byte) bool {
	verb, session, count, ok := parseWord(line)
	if !ok {
		return false
	}
	switch verb {
	case "ARM":
		r.arm(session)
	case "BEAT":
		if r.closed && session == r.session && (!r.beaten || count > r.count) {
			r.beaten, r.count = true, count
			r.deadline = r.now + r.window
		}
	case "OPEN":
		if r.closed {
			r.change(r.now, false, reasonOpen)
		}
	}
	return true
}

func (r *Relay) arm(session uint32) {
	if _, again := r.used[session]; again || session == 0 {
		return
	}
	if len(r.used) >= relayMaxUsed {
		if !r.closed && r.reason != reasonFull {
			r.change(r.now, false, reasonFull)
		}
		return
	}
	r.used[session] = struct{}{}
	r.session, r.beaten = session, false
	r.deadline = r.now + r.window
	r.change(r.now, true, "")
}

// watched reports whether beats that stay away would open it.
func (r *Relay) watched() bool { return r.closed && !r.welded }

// weld is the fault every relay may come to: its contact welds closed at time
// t. From then on it says so, and nothing it is told opens it.
func (r *Relay) weld(t int64) {
	r.Advance(t)
	if !r.closed {
		r.change(t, true, "")
	}
	r.welded = true
}

func (r *Relay) change(t int64, closed bool, reason string) {
	if r.welded && !closed {
		return
	}
	r.closed, r.reason = closed, reason
	r.log = append(r.log, RelayChange{T: t, Closed: closed, Session: r.session, Reason: reason})
	r.answer()
}

func (r *Relay) answer() {
	at := len(r.out)
	if r.closed {
		r.out = append(r.out, "RELAY CLOSED "...)
		r.out = strconv.AppendUint(r.out, uint64(r.session), 10)
	} else {
		r.out = append(r.out, "RELAY OPEN "...)
		r.out = strconv.AppendUint(r.out, uint64(r.session), 10)
		r.out = append(r.out, ' ')
		r.out = append(r.out, r.reason...)
	}
	sum := xor(r.out[at:])
	r.out = append(r.out, '*', hexDigits[sum>>4], hexDigits[sum&15], '\n')
}

const hexDigits = "0123456789ABCDEF"

func xor(p []byte) (sum byte) {
	for _, b := range p {
		sum ^= b
	}
	return sum
}

// parseWord reads one word strictly: single spaces, plain decimal numbers.
func parseWord(line []byte) (verb string, session uint32, count uint64, ok bool) {
	n := len(line)
	if n < 4 || line[n-3] != '*' {
		return "", 0, 0, false
	}
	body, sum := line[:n-3], xor(line[:n-3])
	if line[n-2] != hexDigits[sum>>4] || line[n-1] != hexDigits[sum&15] {
		return "", 0, 0, false
	}
	fields := bytes.Split(body, []byte{' '})
	verb = string(fields[0])
	want := 2
	switch verb {
	case "ARM", "OPEN":
	case "BEAT":
		want = 3
	default:
		return "", 0, 0, false
	}
	if len(fields) != want {
		return "", 0, 0, false
	}
	s, ok := decimal(fields[1], 32)
	if ok && want == 3 {
		count, ok = decimal(fields[2], 64)
	}
	return verb, uint32(s), count, ok
}

// decimal reads digits and nothing else, in the one way to write them.
func decimal(p []byte, bits int) (uint64, bool) {
	if len(p) == 0 || p[0] < '0' || p[0] > '9' || (p[0] == '0' && len(p) > 1) {
		return 0, false
	}
	v, err := strconv.ParseUint(string(p), 10, bits)
	return v, err == nil
}
