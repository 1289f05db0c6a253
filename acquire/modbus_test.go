package acquire

import (
	"bytes"
	"encoding/binary"
	"io"
	"log"
	"math"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/simonvetter/modbus"
	"pgregory.net/rapid"

	"hawse/trial"
)

// modbusPeer is another implementation's server, with registers of its own. It
// speaks Modbus TCP only; ask puts a question of ours into its envelope, and its
// answer into ours, with a checksum.
type modbusPeer struct {
	holding, input [300]uint16
	conn           net.Conn
}

func (p *modbusPeer) HandleCoils(*modbus.CoilsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}
func (p *modbusPeer) HandleDiscreteInputs(*modbus.DiscreteInputsRequest) ([]bool, error) {
	return nil, modbus.ErrIllegalFunction
}
func (p *modbusPeer) HandleHoldingRegisters(r *modbus.HoldingRegistersRequest) ([]uint16, error) {
	return p.read(p.holding[:], r.UnitId, r.Addr, r.Quantity)
}
func (p *modbusPeer) HandleInputRegisters(r *modbus.InputRegistersRequest) ([]uint16, error) {
	return p.read(p.input[:], r.UnitId, r.Addr, r.Quantity)
}
func (p *modbusPeer) read(regs []uint16, unit uint8, at, n uint16) ([]uint16, error) {
	if unit == 9 {
		return nil, modbus.ErrServerDeviceBusy
	}
	if int(at)+int(n) > len(regs) {
		return nil, modbus.ErrIllegalDataAddress
	}
	return regs[at : at+n], nil
}

func newModbusPeer(t *testing.T) *modbusPeer {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Skipf("no socket here: %v", err)
	}
	at := l.Addr().String()
	l.Close()
	p := &modbusPeer{}
	s, err := modbus.NewServer(&modbus.ServerConfiguration{URL: "tcp://" + at, Timeout: 30 * time.Second, MaxClients: 2, Logger: log.New(io.Discard, "", 0)}, p)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Stop() })
	if p.conn, err = net.Dial("tcp", at); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.conn.Close() })
	return p
}

func (p *modbusPeer) ask(t testing.TB, question []byte) []byte {
	t.Helper()
	if crc16(question) != 0 {
		t.Fatalf("% x has another checksum than its own", question)
	}
	body := question[:len(question)-2]
	head := binary.BigEndian.AppendUint16([]byte{0, 1, 0, 0}, uint16(len(body)))
	if _, err := p.conn.Write(append(head, body...)); err != nil {
		t.Fatal(err)
	}
	var in [6]byte
	if _, err := io.ReadFull(p.conn, in[:]); err != nil {
		t.Fatal(err)
	}
	out := make([]byte, binary.BigEndian.Uint16(in[4:]))
	if _, err := io.ReadFull(p.conn, out); err != nil {
		t.Fatal(err)
	}
	return sealCRC(out, 0)
}

// modbusCell is a load cell read so.
func modbusCell(r trial.Registers) trial.LoadCell {
	return trial.LoadCell{Unit: "N", Range: math.MaxFloat32, Wire: trial.Wire{Kind: trial.WireModbus, Registers: r}}
}

// TestModbusAgainstAnotherServer: what another implementation serves is read as
// what was put there, of every kind, in every order, under both functions, with
// and without a scale register before and behind it.
func TestModbusAgainstAnotherServer(t *testing.T) {
	peer := newModbusPeer(t)
	// Where the four bytes of a value go, A the most significant: as the orders
	// are commonly written, worked out by hand.
	words := map[string]func(v uint32) [2]uint16{
		"ABCD": func(v uint32) [2]uint16 { return [2]uint16{uint16(v >> 16), uint16(v)} },
		"CDAB": func(v uint32) [2]uint16 { return [2]uint16{uint16(v), uint16(v >> 16)} },
		"BADC": func(v uint32) [2]uint16 {
			return [2]uint16{uint16(v>>16)<<8 | uint16(v>>24), uint16(v)<<8 | uint16(v)>>8}
		},
		"DCBA": func(v uint32) [2]uint16 {
			return [2]uint16{uint16(v)<<8 | uint16(v)>>8, uint16(v>>16)<<8 | uint16(v>>24)}
		},
	}
	rapid.Check(t, func(rt *rapid.T) {
		r := trial.Registers{Address: rapid.IntRange(1, 8).Draw(rt, "unit"), Function: rapid.IntRange(3, 4).Draw(rt, "function"),
			Register: rapid.IntRange(10, 200).Draw(rt, "register"), Number: trial.Number{Factor: rapid.SampledFrom([]float64{1, 0.1, -1, 1e-3}).Draw(rt, "factor")}}
		r.Number.Holds = rapid.SampledFrom([]string{"int16", "uint16", "int32", "uint32", "float32"}).Draw(rt, "holds")
		regs := &peer.holding
		if r.Function == 4 {
			regs = &peer.input
		}
		*regs = [300]uint16{}
		bits := rapid.Uint32().Draw(rt, "bits")
		var want float64
		if r.Number.Bytes() == 2 {
			r.Number.Order = rapid.SampledFrom([]string{"AB", "BA"}).Draw(rt, "order")
			v := uint16(bits)
			if want = float64(v); r.Number.Holds == "int16" {
				want = float64(int16(v))
			}
			if r.Number.Order == "BA" {
				v = v<<8 | v>>8
			}
			regs[r.Register] = v
		} else {
			r.Number.Order = rapid.SampledFrom([]string{"ABCD", "CDAB", "BADC", "DCBA"}).Draw(rt, "order")
			w := words[r.Number.Order](bits)
			regs[r.Register], regs[r.Register+1] = w[0], w[1]
			switch want = float64(bits); r.Number.Holds {
			case "int32":
				want = float64(int32(bits))
			case "float32":
				want = float64(math.Float32frombits(bits))
			}
		}
		want *= r.Number.Factor
		if rapid.Bool().Draw(rt, "scale") {
			r.HasScale = true
			r.Scale = r.Register + rapid.SampledFrom([]int{-7, -1, 2, 60}).Draw(rt, "scale register")
			d := rapid.IntRange(-3, 4).Draw(rt, "decimals")
			regs[r.Scale] = uint16(int16(d))
			want *= math.Pow10(-d)
		}
		d, err := NewLoadDecoder(modbusCell(r))
		if err != nil {
			rt.Fatal(err)
		}
		got := d.Decode(peer.ask(t, appendRead(nil, r)))
		same := math.Abs(float64(got.Indicated)-want) <= 1e-12*math.Abs(want) || math.IsNaN(want) && math.IsNaN(float64(got.Indicated))
		if !same || got.Kind != Good && math.Abs(want) < math.MaxFloat32 {
			rt.Errorf("%+v with bits %08x: %+v, want %v", r, bits, got, want)
		}
	})
}

// TestModbusFloatsAgainstAnotherClient: the four orders are those the other
// implementation calls high or low word first, big or little endian.
func TestModbusFloatsAgainstAnotherClient(t *testing.T) {
	for order, enc := range map[string]struct {
		e modbus.Endianness
		w modbus.WordOrder
	}{
		"ABCD": {modbus.BIG_ENDIAN, modbus.HIGH_WORD_FIRST}, "CDAB": {modbus.BIG_ENDIAN, modbus.LOW_WORD_FIRST},
		"BADC": {modbus.LITTLE_ENDIAN, modbus.HIGH_WORD_FIRST}, "DCBA": {modbus.LITTLE_ENDIAN, modbus.LOW_WORD_FIRST},
	} {
		r := trial.Registers{Address: 17, Function: 4, Register: 0x6B, Number: trial.Number{Holds: "float32", Order: order, Factor: 1}}
		answer := sealCRC([]byte{17, 4, 4, 0x45, 0x1A, 0x2B, 0x3C}, 0)
		var theirs float32
		question := questionsOf(t, 17, func(c *modbus.ModbusClient) (err error) {
			_ = c.SetEncoding(enc.e, enc.w)
			theirs, err = c.ReadFloat32(0x6B, modbus.INPUT_REGISTER)
			return err
		}, answer)
		if ours := appendRead(nil, r); !bytes.Equal(ours, question) {
			t.Errorf("%s: we ask % x, the other implementation % x", order, ours, question)
		}
		d, err := NewLoadDecoder(modbusCell(r))
		if err != nil {
			t.Fatal(err)
		}
		if got := d.Decode(answer); float64(got.Indicated) != float64(theirs) {
			t.Errorf("%s: % x is %v, for the other implementation %v", order, answer, got.Indicated, theirs)
		}
	}
}

func TestModbusRefusals(t *testing.T) {
	peer := newModbusPeer(t)
	for _, tt := range []struct {
		r    trial.Registers
		want string
	}{
		{trial.Registers{Address: 1, Function: 3, Register: 299, Number: trial.Number{Holds: "int32", Order: "ABCD", Factor: 1}}, "it has no such register (code 2)"},
		{trial.Registers{Address: 9, Function: 4, Register: 1, Number: trial.Number{Holds: "int16", Order: "AB", Factor: 1}}, "it is busy (code 6)"},
	} {
		d, err := NewLoadDecoder(modbusCell(tt.r))
		if err != nil {
			t.Fatal(err)
		}
		answer := peer.ask(t, appendRead(nil, tt.r))
		if got := d.Decode(answer); got.Kind != Garbled || !strings.Contains(got.Why, tt.want) {
			t.Errorf("%+v: % x is %+v, want garbled with %q", tt.r, answer, got, tt.want)
		}
		if n := registerAnswer(answer, tt.r); n != len(answer) {
			t.Errorf("the answer % x is taken to be %d bytes long", answer, n)
		}
	}
	if got := refusal(99); !strings.Contains(got, "code 99") {
		t.Error(got)
	}
}

// TestModbusOneBitWrong: an answer with any one or two bits changed is never
// taken, nor is one to another unit, function or length; what follows is.
func TestModbusOneBitWrong(t *testing.T) {
	r := trial.Registers{Address: 17, Function: 3, Register: 0x6B, Number: trial.Number{Holds: "int32", Order: "ABCD", Factor: 1}, Wait: 100 * time.Millisecond, Late: 500 * time.Millisecond}
	good := sealCRC([]byte{17, 3, 4, 1, 2, 3, 4}, 0)
	ins := trial.Instrument{Table: "load", Port: trial.Port{Baud: 9600}, Rate: 10, Wire: trial.Wire{Kind: trial.WireModbus, Registers: r}}
	taken := func(raw []byte) (n int) {
		a := NewAsking([]trial.Instrument{ins}, nil)
		a.Asked(0, a.Ask(0))
		a.Bytes(1e6, raw, func(_ string, _ []byte, bad string) {
			if bad == "" {
				n++
			}
		})
		return n
	}
	if taken(good) != 1 || taken(append([]byte{0, 17, 17, 3, 255}, good...)) != 1 {
		t.Fatal("the good answer is not taken, alone or behind noise")
	}
	for i := range 8 * len(good) {
		for j := i; j < 8*len(good); j++ {
			wrong := bytes.Clone(good)
			wrong[i/8] ^= 1 << (i % 8)
			if j != i {
				wrong[j/8] ^= 1 << (j % 8)
			}
			if taken(wrong) != 0 {
				t.Errorf("% x is taken", wrong)
			}
			if i == j && taken(append(wrong, good...)) != 1 {
				t.Errorf("what follows % x is lost", wrong)
			}
		}
	}
	for _, other := range [][]byte{{18, 3, 4, 1, 2, 3, 4}, {17, 4, 4, 1, 2, 3, 4}, {17, 3, 2, 1, 2}, {17, 3, 6, 1, 2, 3, 4, 5, 6}} {
		if taken(sealCRC(other, 0)) != 0 {
			t.Errorf("% x is taken for an answer to unit 17, function 3, two registers", other)
		}
	}
}

// Whatever stands in an answer: the decoders read it or say why not, and never
// past its end.
func FuzzRegisters(f *testing.F) {
	f.Add([]byte{17, 3, 4, 1, 2, 3, 4, 0, 0}, byte(4), int16(0), true)
	f.Add([]byte{17, 0x83, 2, 0, 0}, byte(1), int16(-7), false)
	f.Fuzz(func(t *testing.T, frame []byte, kind byte, scale int16, hasScale bool) {
		n := []trial.Number{{Holds: "int16", Order: "BA", Factor: 0.1}, {Holds: "uint16", Order: "AB", Factor: 1}, {Holds: "int32", Order: "CDAB", Factor: -1},
			{Holds: "uint32", Order: "BADC", Factor: 1}, {Holds: "float32", Order: "DCBA", Factor: 1}}[kind%5]
		r := trial.Registers{Address: 17, Function: 3, Register: 200, Number: n, Scale: 200 + int(scale)%60, HasScale: hasScale}
		d, err := NewLoadDecoder(modbusCell(r))
		if err != nil {
			t.Fatal(err)
		}
		got := d.Decode(frame)
		_, count := r.Span()
		if got.Kind != Garbled && (len(frame) != 5+2*count || frame[0] != 17 || frame[1] != 3) || got.Kind == Garbled && got.Why == "" {
			t.Errorf("% x of %+v: %+v", frame, r, got)
		}
		if len(frame) > 0 {
			if n := registerAnswer(frame, r); n != 0 && n != 5 && n != 5+2*count {
				t.Errorf("% x: an answer of %d bytes", frame, n)
			}
		}
		r.HasScale = false
		l, err := NewLineDecoder(trial.Encoder{Wire: trial.Wire{Kind: trial.WireModbus, Registers: r}})
		if err != nil {
			t.Fatal(err)
		}
		if got := l.Decode(frame); got.Kind == Garbled && got.Why == "" {
			t.Errorf("% x: %+v", frame, got)
		}
	})
}
