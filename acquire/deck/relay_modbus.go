package deck

import (
	"time"

	"hawse/trial"
)

// stopRelay is a relay at the far end of the stop output, whatever it speaks.
type stopRelay interface {
	Closed() bool
	Session() uint32
	Reason() string
	Bad() uint64
	Log() []RelayChange
	Due() int64
	Advance(t int64)
	weld(t int64)
	Feed(t int64, p []byte)
	Take(dst []byte) []byte
}

func newStopRelay(speaks string, t int64, window time.Duration) stopRelay {
	if speaks == trial.StopModbus {
		return NewModbusRelay(t, window)
	}
	return NewRelay(t, window)
}

// ModbusRelay is the stop relay as a Modbus RTU unit at [trial.DefaultModbus]:
// a [Relay] with the same rules and its own watchdog, asked in frames instead
// of told in words. It answers only what it is asked.
//
//	coil on          close, if the session registers hold a fresh number; refused otherwise
//	coil off         open now
//	coil read        1 while closed
//	session written  another number opens it; the number is for the next coil on
//	beat written     another value than before: the guard is alive
type ModbusRelay struct {
	Relay
	at       trial.Modbus
	pending  uint32 // what the session registers hold
	beatWas  uint16
	heardAt  int64
	question []byte
	answers  []byte
}

// NewModbusRelay powers a Modbus relay at time t, as [NewRelay].
func NewModbusRelay(t int64, window time.Duration) *ModbusRelay {
	return &ModbusRelay{Relay: *NewRelay(t, window), at: trial.DefaultModbus}
}

// reasonSession: another session number was written while it was closed.
const reasonSession = "session"

// The functions the unit has, and why it refuses. Source: MODBUS Application
// Protocol V1.1b3, sections 6 and 7, from memory.
const (
	askCoils      = 1
	askRegisters  = 3
	setCoil       = 5
	setRegister   = 6
	setRegisters  = 16
	refused       = 0x80
	badFunction   = 1
	badAddress    = 2
	badValue      = 3
	deviceFailure = 4
)

// questionPause ends half a frame. On the wire it is three and a half
// characters; a pseudo-terminal has no characters' time.
const questionPause = int64(20 * time.Millisecond)

// Feed takes bytes that arrived at time t, in pieces of any size.
func (r *ModbusRelay) Feed(t int64, p []byte) {
	r.Advance(t)
	if len(r.question) > 0 && t-r.heardAt > questionPause {
		r.question = r.question[:0]
		r.bad++
	}
	r.heardAt = t
	r.question = append(r.question, p...)
	q, stray := r.question, false
	for len(q) > 0 {
		n := questionLen(q)
		if n > len(q) {
			break
		}
		if n == 0 || !sound(q[:n]) {
			q, stray = q[1:], true
			continue
		}
		if stray {
			r.bad, stray = r.bad+1, false
		}
		if int(q[0]) == r.at.Unit {
			r.obey(q[:n-2])
		}
		q = q[n:]
	}
	if stray {
		r.bad++
	}
	r.question = r.question[:copy(r.question, q)]
}

// Take appends the answers since the last call.
func (r *ModbusRelay) Take(dst []byte) []byte {
	r.Relay.out = r.Relay.out[:0] // the words nobody here understands
	dst = append(dst, r.answers...)
	r.answers = r.answers[:0]
	return dst
}

// questionLen is how long a question that begins like this is: 0 for none, more
// than len(q) while that is open.
func questionLen(q []byte) int {
	const short, head = 8, 7
	switch {
	case len(q) < 2:
		return short
	case q[1] == 0 || q[1] >= refused:
		return 0
	case q[1] != setRegisters:
		return short
	case len(q) < head:
		return head + 1
	}
	return head + int(q[6]) + 2
}

// obey does what a whole question says and answers it.
func (r *ModbusRelay) obey(q []byte) {
	at, value := word(q[2:]), word(q[4:])
	a := []byte{q[0], q[1]}
	code := byte(0)
	switch q[1] {
	case askCoils:
		switch {
		case value != 1:
			code = badValue
		case at != r.at.Coil:
			code = badAddress
		case r.closed:
			a = append(a, 1, 1)
		default:
			a = append(a, 1, 0)
		}
	case askRegisters:
		if value < 1 || value > 125 {
			code = badValue
			break
		}
		a = append(a, byte(2*value))
		for i := range value {
			v, ok := r.register(at + i)
			if !ok {
				code = badAddress
			}
			a = append(a, byte(v>>8), byte(v))
		}
	case setCoil:
		code = r.coil(at, value)
		a = append(a, q[2:]...)
	case setRegister:
		code = r.write(at, []byte{q[4], q[5]})
		a = append(a, q[2:]...)
	case setRegisters:
		if len(q) != 7+2*value || int(q[6]) != 2*value || value == 0 {
			code = badValue
			break
		}
		code = r.write(at, q[7:])
		a = append(a, q[2:6]...)
	default:
		code = badFunction
	}
	if code != 0 {
		a = []byte{q[0], q[1] | refused, code}
	}
	r.answers = append(append(r.answers, a...), checksum(a)...)
}

func (r *ModbusRelay) register(at int) (uint16, bool) {
	switch at {
	case r.at.Session:
		return uint16(r.pending >> 16), true
	case r.at.Session + 1:
		return uint16(r.pending), true
	case r.at.Beat:
		return r.beatWas, true
	}
	return 0, false
}

func (r *ModbusRelay) coil(at, value int) (code byte) {
	const on, off = 0xFF00, 0
	switch {
	case at != r.at.Coil:
		return badAddress
	case value == off:
		if r.closed {
			r.change(r.now, false, reasonOpen)
		}
	case value != on:
		return badValue
	case !r.closed:
		r.arm(r.pending)
		if !r.closed {
			return deviceFailure
		}
	}
	return 0
}

// write takes whole registers, all or none.
func (r *ModbusRelay) write(at int, values []byte) (code byte) {
	for i := range len(values) / 2 {
		if _, ok := r.register(at + i); !ok {
			return badAddress
		}
	}
	session := r.pending
	for i := range len(values) / 2 {
		v := uint16(word(values[2*i:]))
		switch at + i {
		case r.at.Session:
			session = session&0xFFFF | uint32(v)<<16
		case r.at.Session + 1:
			session = session&0xFFFF0000 | uint32(v)
		case r.at.Beat:
			r.beat(v)
		}
	}
	if session != r.pending && r.closed {
		r.change(r.now, false, reasonSession)
	}
	r.pending = session
	return 0
}

func (r *ModbusRelay) beat(v uint16) {
	if r.closed && (!r.beaten || v != r.beatWas) {
		r.beaten = true
		r.deadline = r.now + r.window
	}
	r.beatWas = v
}

func word(p []byte) int { return int(p[0])<<8 | int(p[1]) }

func sound(frame []byte) bool {
	n := len(frame) - 2
	sum := checksum(frame[:n])
	return frame[n] == sum[0] && frame[n+1] == sum[1]
}

// checksum is the CRC of MODBUS over Serial Line, as it is sent: low byte first.
func checksum(p []byte) []byte {
	low, high := byte(0xFF), byte(0xFF)
	for _, b := range p {
		at := crcTable[low^b]
		low, high = high^byte(at), byte(at>>8)
	}
	return []byte{low, high}
}

// crcTable is the polynomial A001, reflected, for each byte.
var crcTable = func() (t [256]uint16) {
	for i := range t {
		c := uint16(i)
		for range 8 {
			c = c>>1 ^ 0xA001*(c&1)
		}
		t[i] = c
	}
	return t
}()
