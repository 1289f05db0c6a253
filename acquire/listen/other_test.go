package listen

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"hawse/acquire"
	"hawse/trial"
)

// put writes a 32-bit number in an order of bytes.
func put(v uint32, order string) []byte {
	var b [4]byte
	binary.BigEndian.PutUint32(b[:], v)
	out := make([]byte, len(order))
	for i, c := range order {
		out[i] = b[4-len(order)+int(c-'A')]
	}
	return out
}

// swing is a reading that moves as a pull does, with a flicker.
func swing(i int, r *rand.Rand) float64 { return 2500*math.Sin(float64(i)/25) + 3*r.NormFloat64() }

// summedUp adds a checksum.
func summedUp(f []byte, kind string, from int) []byte {
	switch kind {
	case trial.SumXor8, trial.SumAdd8:
		x, s := byte(0), byte(0)
		for _, c := range f[from:] {
			x, s = x^c, s+c
		}
		if kind == trial.SumAdd8 {
			x = s
		}
		return append(f, x)
	case trial.SumCRC16:
		return crc(f, from)
	}
	return f
}

// crc adds the checksum of Modbus RTU: polynomial A001, from FFFF, low byte first
// (MODBUS over Serial Line V1.02, 6.2.2, from memory).
func crc(f []byte, from int) []byte {
	c := uint16(0xffff)
	for _, b := range f[from:] {
		c ^= uint16(b)
		for range 8 {
			if c&1 != 0 {
				c = c>>1 ^ 0xa001
			} else {
				c >>= 1
			}
		}
	}
	return append(f, byte(c), byte(c>>8))
}

// shapes are invented boxes that send binary frames. None is that of a real box.
var shapes = []struct {
	name string
	form trial.Frames // as it should be found
	make func(v float64, i int) []byte
}{
	{"float, crc", trial.Frames{Sync: []byte{0xaa, 0x55}, Length: 9, Checksum: trial.SumCRC16, At: 3, Number: trial.Number{Holds: "float32", Order: "ABCD"}},
		func(v float64, i int) []byte {
			return append([]byte{0xaa, 0x55, 0x00}, put(math.Float32bits(float32(v)), "ABCD")...)
		}},
	{"float little end first, counter, sum", trial.Frames{Sync: []byte{0x7e, 0x10}, Length: 9, Checksum: trial.SumAdd8, At: 3, Number: trial.Number{Holds: "float32", Order: "DCBA"}},
		func(v float64, i int) []byte {
			return append(append([]byte{0x7e, 0x10, byte(i)}, put(math.Float32bits(float32(v)), "DCBA")...), 0)
		}},
	{"16 bits, xor", trial.Frames{Sync: []byte{0x02, 0x41}, Length: 6, Checksum: trial.SumXor8, At: 2, Number: trial.Number{Holds: "int16", Order: "AB"}},
		func(v float64, i int) []byte {
			return append(append([]byte{0x02, 0x41}, put(uint32(int32(v)), "AB")...), 0x20)
		}},
	{"16 bits little end first, sum from byte 1", trial.Frames{Sync: []byte{0xfe}, Length: 6, Checksum: trial.SumAdd8, SumFrom: 1, At: 2, Number: trial.Number{Holds: "int16", Order: "BA"}},
		func(v float64, i int) []byte {
			return append(append([]byte{0xfe, 0}, put(uint32(int32(v)), "BA")...), 0)
		}},
	{"32 bits, words swapped, crc", trial.Frames{Sync: []byte{0xa5, 0x5a}, Length: 10, Checksum: trial.SumCRC16, At: 3, Number: trial.Number{Holds: "int32", Order: "CDAB"}},
		func(v float64, i int) []byte {
			return append(append([]byte{0xa5, 0x5a, byte(3 * i)}, put(uint32(int32(v*100)), "CDAB")...), 0)
		}},
	{"no checksum", trial.Frames{Sync: []byte{0xaa, 0xbb, 0xcc}, Length: 7, Checksum: trial.SumNone, At: 3, Number: trial.Number{Holds: "float32", Order: "ABCD"}},
		func(v float64, i int) []byte {
			return append([]byte{0xaa, 0xbb, 0xcc}, put(math.Float32bits(float32(v)), "ABCD")...)
		}},
}

func TestBinaryFrames(t *testing.T) {
	for _, s := range shapes {
		r := rand.New(rand.NewPCG(5, 6))
		var chunks []Chunk
		var values []float64
		for i := range 200 {
			v := swing(i, r)
			values = append(values, v)
			f := summedUp(s.make(v, i), s.form.Checksum, s.form.SumFrom)
			if i == 0 {
				f = f[3:] // it was in the middle of one
			}
			if i%40 == 17 {
				f = append([]byte{0x13, 0x77}, f...) // noise
			}
			k := min(4, len(f))
			chunks = append(chunks, Chunk{int64(i) * 50e6, f[:k]}, Chunk{int64(i)*50e6 + 1e6, f[k:]})
		}
		b, err := FindFrames(chunks)
		if err != nil {
			t.Errorf("%s: %v", s.name, err)
			continue
		}
		got := b.Form
		got.Number.Factor = 0
		if !slices.Equal(got.Sync, s.form.Sync) || got.Length != s.form.Length || got.Checksum != s.form.Checksum || got.SumFrom != s.form.SumFrom || got.At != s.form.At || got.Number != s.form.Number {
			t.Errorf("%s: %+v, want %+v; numbers %+v", s.name, got, s.form, b.Numbers)
			continue
		}
		if math.Abs(b.Rate-20) > 0.5 || b.Share < 0.9 || b.Fits < 180 {
			t.Errorf("%s: rate %g, share %g, %d frames", s.name, b.Rate, b.Share, b.Fits)
		}
		if counted := strings.Contains(s.name, "counter") || strings.Contains(s.name, "swapped"); counted != (len(b.Counter) == 1) {
			t.Errorf("%s: counters %v", s.name, b.Counter)
		}
		last := b.Numbers[0].Last()
		want := values[len(values)-1]
		if got.Number.Holds == "int32" {
			want *= 100
		}
		if math.Abs(last-want) > 1 {
			t.Errorf("%s: last %g, want %g", s.name, last, want)
		}
		takes(t, s.name, b.Block(Load, "./deck/load", 9600, "8N1"))
	}
	for name, raw := range map[string][]byte{"noise": noise(4000), "nothing": nil, "one byte again and again": make([]byte, 3000)} {
		if b, err := FindFrames([]Chunk{{0, raw}}); err == nil && b.Form.Checksum != trial.SumNone || err == nil && name == "noise" {
			t.Errorf("%s: %+v", name, b)
		}
	}
}

func noise(n int) []byte {
	r := rand.New(rand.NewPCG(7, 8))
	out := make([]byte, n)
	for i := range out {
		out[i] = byte(r.Uint32())
	}
	return out
}

// takes holds that a trial file takes a block once a person has filled it in.
func takes(t *testing.T, name, block string) {
	t.Helper()
	block = strings.NewReplacer(`unit = ""`, `unit = "kgf"`, `range = ""   #`, `range = "900 kN" #`, `place = ""`, `place = "here"`, `serial = ""`, `serial = "1"`, `filter = ""`, `filter = "none"`).Replace(block)
	text := trial.Template()
	from, to := strings.Index(text, "[load]\n"), strings.Index(text, "[load.calibration]\n")
	if _, err := trial.ParseTrial("t.toml", []byte(text[:from]+block+"\n"+text[to:])); err != nil {
		t.Errorf("%s: the block is refused: %v\n%s", name, err, block)
	}
}

// bus is an invented Modbus unit: registers as a function of time.
type bus struct {
	address, fn, first, count int
	at                        func(i int) []byte // of all its registers
}

func (b bus) question() []byte {
	return crc([]byte{byte(b.address), byte(b.fn), byte(b.first >> 8), byte(b.first), 0, byte(b.count)}, 0)
}

func (b bus) answer(i int) []byte {
	return crc(append([]byte{byte(b.address), byte(b.fn), byte(2 * b.count)}, b.at(i)...), 0)
}

func TestModbusOverheard(t *testing.T) {
	for _, tt := range []struct {
		holds, order string
		at           int
		write        func(v float64) []byte
	}{
		{"float32", "ABCD", 11, func(v float64) []byte { return put(math.Float32bits(float32(v)), "ABCD") }},
		{"float32", "CDAB", 11, func(v float64) []byte { return put(math.Float32bits(float32(v)), "CDAB") }},
		{"float32", "BADC", 11, func(v float64) []byte { return put(math.Float32bits(float32(v)), "BADC") }},
		{"float32", "DCBA", 11, func(v float64) []byte { return put(math.Float32bits(float32(v)), "DCBA") }},
		{"int32", "ABCD", 11, func(v float64) []byte { return put(uint32(int32(100*v)), "ABCD") }},
		{"int32", "CDAB", 11, func(v float64) []byte { return put(uint32(int32(100*v)), "CDAB") }},
		{"int16", "AB", 11, func(v float64) []byte { return append(put(uint32(int32(v)), "AB"), 0, 0) }},
		{"uint16", "AB", 11, func(v float64) []byte { return append(put(uint32(int32(32768+v)), "AB"), 0, 0) }},
	} {
		name := tt.holds + " " + tt.order
		r := rand.New(rand.NewPCG(9, 10))
		var v float64
		cell := bus{17, 3, 10, 5, func(i int) []byte {
			v = swing(i, r)
			return append(append([]byte{0, 7}, tt.write(v)...), 0, 0, 0x12, 0x34)
		}}
		other := bus{4, 4, 0, 1, func(i int) []byte { return []byte{0, 9} }}
		var m Traffic
		m.Feed(0, []byte{0x11, 0x03}) // half a frame
		for i := range 120 {
			at := int64(i) * 100e6
			m.Feed(at, cell.question())
			a := cell.answer(i)
			m.Feed(at+5e6, a[:3])
			m.Feed(at+9e6, a[3:])
			m.Feed(at+20e6, other.question())
			if i%10 == 3 {
				m.Feed(at+22e6, []byte{0xff, 0x81}) // noise
				continue
			}
			m.Feed(at+25e6, other.answer(i))
		}
		if !m.Is() || m.Share < 0.95 || len(m.Units) != 2 || m.Orphan != 0 {
			t.Errorf("%s: %+v", name, m)
			continue
		}
		found := m.Find()
		if len(found) == 0 {
			t.Errorf("%s: nothing moved", name)
			continue
		}
		f := found[0]
		if at, known := f.Register(); f.Unit.Address != 17 || at != tt.at || !known || f.Number.Holds != tt.holds || f.Number.Order != tt.order {
			t.Errorf("%s: %d at %d: %+v; all %v", name, f.Unit.Address, at, f.Number, len(found))
		}
		if rate := f.Unit.Rate(); math.Abs(rate-10) > 0.2 {
			t.Errorf("%s: rate %g", name, rate)
		}
		if notes := strings.Join(m.Notes(), "; "); !strings.Contains(notes, "another master") {
			t.Errorf("%s: %s", name, notes)
		}
		takes(t, name, ModbusBlock(Load, "./deck/load", 9600, "8N1", f))
	}
}

// TestModbusHalfHeard: only the answers, a refusal, a write.
func TestModbusHalfHeard(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	b := bus{3, 4, 100, 2, func(i int) []byte { return put(math.Float32bits(float32(swing(i, r))), "ABCD") }}
	var m Traffic
	for i := range 60 {
		m.Feed(int64(i)*100e6, b.answer(i))
	}
	f := m.Find()
	if m.Orphan != 60 || len(f) != 1 {
		t.Fatalf("%+v", m)
	}
	if _, known := f[0].Register(); known || !strings.Contains(ModbusBlock(Load, "p", 9600, "8N1", f[0]), "not heard") || !strings.Contains(strings.Join(m.Notes(), ""), "without their question") {
		t.Errorf("%+v, %v", f[0], m.Notes())
	}
	m = Traffic{}
	for range 5 {
		m.Feed(0, b.question())
		m.Feed(0, crc([]byte{3, 0x84, 2}, 0))
		m.Feed(0, crc([]byte{3, 6, 0, 1, 0, 9}, 0))
	}
	if m.Writes != 5 || m.Units[0].Refused != 5 || !strings.Contains(strings.Join(m.Notes(), ""), "no such register") || !strings.Contains(strings.Join(m.Notes(), ""), "frames write") {
		t.Errorf("%+v, %v", m, m.Notes())
	}
	m = Traffic{}
	if m.Feed(0, noise(20000)); m.Is() {
		t.Errorf("noise is no Modbus: %d frames, %g", m.Frames, m.Share)
	}
}

// served answers as a unit that has only some registers, of which two move.
func served(q []byte, i int, r *rand.Rand) []byte {
	address, fn, first, count := int(q[0]), int(q[1]), int(q[2])<<8|int(q[3]), int(q[4])<<8|int(q[5])
	if address != 5 {
		return nil
	}
	if fn != 3 || first < 4 || first+count > 11 {
		return crc([]byte{5, byte(fn | 0x80), 2}, 0)
	}
	all := make([]byte, 14) // 4 to 10
	copy(all[6:], put(math.Float32bits(float32(swing(i, r))), "CDAB"))
	return crc(append([]byte{5, 3, byte(2 * count)}, all[2*(first-4):2*(first-4+count)]...), 0)
}

func TestAsker(t *testing.T) {
	a, err := NewAsker([]int{4, 5, 6}, 0, 40)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(13, 14))
	for i := range 400 {
		q, ok := a.Next()
		if !ok {
			t.Fatalf("nothing to ask after %d", i)
		}
		if q[1] != 3 && q[1] != 4 || len(q) != 8 || !acquire.ModbusFits(q) {
			t.Fatalf("% X is no question that reads", q)
		}
		got := served(q, i, r)
		if got != nil && !a.Whole(append([]byte{0}, got...)) {
			t.Fatalf("% X is not taken for an answer to % X", got, q)
		}
		a.Answer(int64(i)*20e6, append([]byte{0}, got...))
	}
	f := a.Traffic.Find()
	if len(f) != 1 {
		t.Fatalf("%d numbers of %+v", len(f), a.Traffic.Units)
	}
	if at, _ := f[0].Register(); at != 7 || f[0].Unit.Address != 5 || f[0].Number.Holds != "float32" || f[0].Number.Order != "CDAB" {
		t.Errorf("register %d: %+v", at, f[0].Number)
	}
	for _, bad := range []struct {
		units       []int
		first, last int
	}{{nil, 0, 1}, {make([]int, 33), 0, 1}, {[]int{0}, 0, 1}, {[]int{248}, 0, 1}, {[]int{1}, 5, 4}, {[]int{1}, -1, 4}, {[]int{1}, 0, 65536}, {[]int{1}, 0, 256}} {
		if _, err := NewAsker(bad.units, bad.first, bad.last); err == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
}

// TestAskerEnds: however units answer, it asks a bounded number of questions
// before it only repeats, and only ever reads.
func TestAskerEnds(t *testing.T) {
	a, _ := NewAsker([]int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32}, 0, 255)
	n := 0
	for a.Looking() {
		q, ok := a.Next()
		if !ok || q[1] != 3 && q[1] != 4 {
			t.Fatalf("% X", q)
		}
		if n++; n > mostLooks {
			t.Fatal("it does not end")
		}
		a.Answer(0, crc([]byte{q[0], q[1] | 0x80, 2}, 0)) // each is there and refuses all
	}
	if _, ok := a.Next(); ok {
		t.Error("it repeats what nobody has")
	}
}

func TestNMEA(t *testing.T) {
	var l Lines
	say := func(i int, body string) {
		x := byte(0)
		for k := range len(body) {
			x ^= body[k]
		}
		l.Feed(int64(i)*100e6, fmt.Appendf(nil, "$%s*%02X\r\n", body, x))
	}
	for i := range 40 {
		switch i % 4 {
		case 0:
			say(i, fmt.Sprintf("SDDPT,%.1f,0.5,", 6+float64(i)/100))
		case 1:
			say(i, "GPRMC,101530,A,5045.0720,N,00118.2640,W,0.1,200.0,030526,,,A")
		case 2:
			say(i, "HEHDT,182.5,T")
		case 3:
			l.Feed(int64(i)*100e6, []byte("$PXXXA,1,2*00\r\n"))
		}
	}
	v, ok := FindNMEA(l.All)
	if !ok || len(v.Sentences) != 3 || v.Others == 0 {
		t.Fatalf("%+v", v)
	}
	block := v.Block("/dev/ttyUSB0", 4800, "8N1")
	for _, want := range []string{"[depth]\nport = \"/dev/ttyUSB0\"\nbaud = 4800", "[position]\non = \"depth\"", "[heading]\non = \"depth\"", "[clock]\non = \"depth\""} {
		if !strings.Contains(block, want) {
			t.Errorf("no %q in\n%s", want, block)
		}
	}
	filled := strings.NewReplacer(`transducer = ""`, `transducer = "0.4 m"`, `antenna_aft = ""`, `antenna_aft = "4 m"`).Replace(block)
	if _, err := trial.ParseTrial("t.toml", []byte(strings.Replace(trial.Template(), "\n[stop]\n", "\n"+filled+"\n[stop]\n", 1))); err != nil {
		t.Errorf("the block is refused: %v\n%s", err, block)
	}
	// A load box in the dress of a sentence is none of a vessel's.
	for i, box := range boxes {
		s, _ := stream(box.write, 30)
		if _, ok := FindNMEA(s.All); ok {
			t.Errorf("%d: %s was taken for NMEA", i, box.name)
		}
	}
}

// FuzzOther: whatever came, nothing is found that is out of bounds, and it ends.
func FuzzOther(f *testing.F) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, s := range shapes {
		var raw []byte
		for i := range 30 {
			raw = append(raw, summedUp(s.make(swing(i, r), i), s.form.Checksum, s.form.SumFrom)...)
		}
		f.Add(raw, uint16(7))
	}
	b := bus{17, 3, 10, 2, func(i int) []byte { return put(uint32(i), "ABCD") }}
	var raw []byte
	for i := range 20 {
		raw = append(append(raw, b.question()...), b.answer(i)...)
	}
	f.Add(raw, uint16(3))
	f.Add([]byte("$SDDPT,6.1,0.5,*60\r\n$GPGGA,,,,,,0,,,,,,,*66\r\n"), uint16(0))
	f.Fuzz(func(t *testing.T, raw []byte, cut uint16) {
		k := min(int(cut), len(raw))
		chunks := []Chunk{{0, raw[:k]}, {50e6, raw[k:]}}
		if b, err := FindFrames(chunks); err == nil {
			if b.Form.Length > mostFrame || len(b.Form.Sync) == 0 || len(b.Form.Sync) > mostSync || b.Share > 1 {
				t.Fatalf("%+v", b)
			}
			for _, n := range b.Numbers {
				if n.At+n.Number.Bytes() > b.Form.Length || n.Different < 2 {
					t.Fatalf("%+v of %+v", n, b.Form)
				}
			}
			_ = b.Block(Counts, "p", 9600, "8N1")
		}
		var m Traffic
		var l Lines
		a, _ := NewAsker([]int{1, 17}, 8, 20)
		for _, c := range chunks {
			m.Feed(c.T, c.Raw)
			l.Feed(c.T, c.Raw)
			a.Next()
			a.Whole(c.Raw)
			a.Answer(c.T, c.Raw)
		}
		for _, n := range m.Find() {
			_ = ModbusBlock(Load, "p", 9600, "8N1", n)
		}
		m.Notes()
		if v, ok := FindNMEA(l.All); ok {
			_ = v.Block("p", 4800, "8N1")
		}
	})
}
