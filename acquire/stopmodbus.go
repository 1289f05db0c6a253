package acquire

import (
	"sync"
	"time"

	"hawse/trial"
)

// The functions used here, and the bit of an answer that refuses one. Source:
// MODBUS Application Protocol V1.1b3, section 6, from memory; the frames are
// checked against published ones in testdata/crc16-modbus.csv and against
// another implementation.
const (
	fnReadCoils      = 0x01
	fnReadRegisters  = 0x03
	fnWriteCoil      = 0x05
	fnWriteRegister  = 0x06
	fnWriteRegisters = 0x10
	fnRefused        = 0x80
)

// modbusForm is Modbus RTU: a coil that closes the relay, a register that takes
// the heartbeats, two that take the session number. The unit must keep three
// rules of its own: the coil closes the relay only if the session number is one
// it has not closed on before; writing another session number opens it; and it
// opens when the heartbeat register has not been given another value within the
// window.
//
// On this line one speaks at a time, so each beat is one question: to close,
// the session, the coil, heartbeats and the way it stands in turn; later three
// heartbeats, then the coil read back. Nothing is sent before the first arming.
// After it, while hauling is not permitted, the coil is told off once a second;
// the unit's answer tells that it is open.
//
// There are Modbus libraries for Go. The one that is served and kept opens the
// port itself and waits for each answer, so that neither the lock on the port,
// nor the record, nor a stop that overtakes would hold; frames alone it does
// not give. Hence these few frames are made here, and tested against it.
type modbusForm struct {
	at   trial.Modbus
	line modbusLine
}

func (modbusForm) Lines() bool          { return false }
func (modbusForm) Again() time.Duration { return time.Second }

func (f modbusForm) Beat(dst []byte, session uint32, count uint64, heard bool) []byte {
	const perRound, polls = 8, 4
	if heard {
		if count%polls == 0 {
			return f.read(dst, fnReadCoils, f.at.Coil, 1)
		}
		return f.write(dst, fnWriteRegister, f.at.Beat, uint16(count))
	}
	switch (count - 1) % perRound {
	case 0:
		at := len(dst)
		dst = append(dst, byte(f.at.Unit), fnWriteRegisters, byte(f.at.Session>>8), byte(f.at.Session), 0, 2, 4,
			byte(session>>24), byte(session>>16), byte(session>>8), byte(session))
		return sealCRC(dst, at)
	case 1:
		return f.write(dst, fnWriteCoil, f.at.Coil, coilOn)
	case 3:
		return f.read(dst, fnReadRegisters, f.at.Session, 2)
	case 5:
		return f.read(dst, fnReadCoils, f.at.Coil, 1)
	}
	return f.write(dst, fnWriteRegister, f.at.Beat, uint16(count))
}

func (f modbusForm) Open(dst []byte, _ uint32) []byte {
	return f.write(dst, fnWriteCoil, f.at.Coil, coilOff)
}

const (
	coilOn  = 0xFF00
	coilOff = 0x0000
)

func (f modbusForm) write(dst []byte, fn byte, at int, value uint16) []byte {
	return appendShort(dst, byte(f.at.Unit), fn, at, value)
}

func (f modbusForm) read(dst []byte, fn byte, at int, quantity uint16) []byte {
	return appendShort(dst, byte(f.at.Unit), fn, at, quantity)
}

// appendShort appends a frame of an address and one value.
func appendShort(dst []byte, unit, fn byte, at int, value uint16) []byte {
	from := len(dst)
	dst = append(dst, unit, fn, byte(at>>8), byte(at), byte(value>>8), byte(value))
	return sealCRC(dst, from)
}

func (modbusForm) Class(msg []byte) Class {
	if len(msg) < 6 {
		return ClassArm
	}
	switch msg[1] {
	case fnWriteCoil:
		if msg[4] == 0 && msg[5] == 0 {
			return ClassOpen
		}
	case fnWriteRegister, fnReadCoils, fnReadRegisters:
		return ClassBeat
	}
	return ClassArm
}

func (modbusForm) Count(sent []byte) (n int) {
	for len(sent) > 0 {
		sent = sent[questionLen(sent):]
		n++
	}
	return n
}

func (f modbusForm) Wrap(c Conn) (Conn, error) { return newModbusConn(c, f.line), nil }

// questionLen is the length of the first frame of what we send.
func questionLen(p []byte) int {
	n := 8
	if len(p) > 6 && p[1] == fnWriteRegisters {
		n = 9 + int(p[6])
	}
	return min(n, len(p))
}

// sealCRC ends the frame that starts at at with its checksum, low byte first.
func sealCRC(dst []byte, at int) []byte {
	c := crc16(dst[at:])
	return append(dst, byte(c), byte(c>>8))
}

// crc16 is the checksum of MODBUS over Serial Line: polynomial A001 reflected,
// from FFFF. Check values: testdata/crc16-modbus.csv.
func crc16(p []byte) uint16 {
	c := uint16(0xFFFF)
	for _, b := range p {
		c ^= uint16(b)
		for range 8 {
			odd := c & 1
			c >>= 1
			if odd != 0 {
				c ^= 0xA001
			}
		}
	}
	return c
}

// modbusLine is what the speed of the line makes of its rules.
type modbusLine struct {
	answer time.Duration // how long an answer may take from the question's Write on
	quiet  time.Duration // between an answer and the next question
}

// newModbusLine: frames end by a silence of three and a half characters, 1.75 ms
// above 19,200 bits a second. Source: MODBUS over Serial Line V1.02, 2.5.1.1,
// from memory. A unit may think 10 ms longer than trial.ModbusTurn allows for
// before its answer is given up.
func newModbusLine(baud int) modbusLine {
	return modbusLine{answer: trial.ModbusTurn(baud) + 10*time.Millisecond, quiet: trial.ModbusQuiet(baud)}
}

// modbusConn is a port on which one question is out at a time: a Write waits
// until the one before is answered or given up, which is shorter than a beat.
// Read and Write belong to one goroutine each, as of any Conn.
type modbusConn struct {
	Conn
	line   modbusLine
	free   *time.Timer // when the next question may go out
	closed chan struct{}
	once   sync.Once
	scan   scan // the reader's
}

func newModbusConn(c Conn, line modbusLine) *modbusConn {
	return &modbusConn{Conn: c, line: line, free: time.NewTimer(0), closed: make(chan struct{}), scan: answers}
}

// Write sends one question after the other.
func (m *modbusConn) Write(p []byte) (n int, err error) {
	for n < len(p) {
		select {
		case <-m.free.C:
		case <-m.closed:
			return n, ErrClosed
		}
		k, err := m.Conn.Write(p[n : n+questionLen(p[n:])])
		m.free.Reset(m.line.answer)
		n += k
		if err != nil {
			return n, err
		}
	}
	return n, nil
}

// Read passes on what comes, and sees where an answer ends.
func (m *modbusConn) Read(p []byte) (int, error) {
	n, err := m.Conn.Read(p)
	if n > 0 {
		whole := false
		m.scan.feed(p[:n], func(_ []byte, good bool) { whole = whole || good })
		if whole {
			m.free.Reset(m.line.quiet)
		}
	}
	return n, err
}

// Close implements [Conn].
func (m *modbusConn) Close() error {
	m.once.Do(func() { close(m.closed) })
	return m.Conn.Close()
}
