package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"hawse/cmd/hawse/cli"
)

// strangeBox is an invented box on a pseudo-terminal. It speaks every 20 ms, or,
// where asked says what, each time it is asked.
func strangeBox(t *testing.T, asked string, line func(i int) string) (port string) {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Skip("no pseudo-terminals here: ", err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		buf := make([]byte, 256)
		for i := 0; ; i++ {
			if asked != "" {
				n, err := master.Read(buf)
				if err != nil {
					return
				}
				if !bytes.Contains(buf[:n], []byte(asked)) {
					continue
				}
			}
			if _, err := master.Write([]byte(line(i))); err != nil {
				return
			}
			if asked == "" {
				time.Sleep(20 * time.Millisecond)
			}
		}
	}()
	t.Cleanup(func() {
		slave.Close()
		master.Close()
		<-done
	})
	return slave.Name()
}

func TestListen(t *testing.T) {
	port := strangeBox(t, "", func(i int) string { return fmt.Sprintf("\x02ST,NT,%+08.1f,lb\x03\r", float64(i%17)*2.5) })
	code, out, errOut := hawse("listen", port, "--for", "1500ms", "--json")
	var d listenDoc
	if err := json.Unmarshal([]byte(out), &d); err != nil || code != cli.ExitDone {
		t.Fatal(code, err, errOut)
	}
	if d.Kind != "load" || d.Unit != "lb" || d.Baud != 9600 || d.Fits < d.Of || d.Step != 2.5 || !strings.Contains(d.Block, "[load]") || !strings.Contains(d.Pattern, "(?P<unit>lb)") {
		t.Errorf("%+v", d)
	}
	code, page, errOut := hawse("listen", port, "--for", "1s", "--baud", "4800", "--frame", "7E1")
	if code != cli.ExitDone || !strings.Contains(page, `\x02ST,NT`) || !strings.Contains(page, "4800 7E1") || !strings.Contains(page, "a load in lb") || strings.ContainsAny(page, "\x02\x03\r") {
		t.Errorf("%d, %s\n%s", code, errOut, page)
	}
}

func TestListenAsks(t *testing.T) {
	port := strangeBox(t, "R", func(i int) string { return fmt.Sprintf("%6.2f kN\r\n", float64(i%9)/4) })
	code, page, errOut := hawse("listen", port, "--for", "1500ms", "--baud", "9600", "--ask", `R\r`)
	if code != cli.ExitDone || !strings.Contains(page, "a load in kN") {
		t.Errorf("%d, %s\n%s", code, errOut, page)
	}
}

func TestListenBadInput(t *testing.T) {
	silent := strangeBox(t, "never", func(int) string { return "" })
	noise := strangeBox(t, "", func(i int) string { return "\x93\xa1\x00\xfe\x0b\x81\r" })
	for _, tt := range []struct {
		name string
		args []string
		code int
		want string
	}{
		{"no port said", nil, cli.ExitUsage, "one port"},
		{"no such port", []string{"/dev/ttyNowhere9"}, cli.ExitFailed, "no such port"},
		{"too short", []string{silent, "--for", "1ms"}, cli.ExitUsage, "from 500ms"},
		{"as a boat", []string{silent, "--as", "boat"}, cli.ExitUsage, "load or line"},
		{"a frame alone", []string{silent, "--frame", "8N1"}, cli.ExitUsage, "--baud"},
		{"a bad frame", []string{silent, "--baud", "9600", "--frame", "9X9"}, cli.ExitFailed, "8N1"},
		{"a bad question", []string{silent, "--ask", `\q`}, cli.ExitUsage, "after a backslash"},
		{"half a byte", []string{silent, "--ask", `\x4`}, cli.ExitUsage, "after a backslash"},
		{"registers of a boat", []string{silent, "--registers", "boat"}, cli.ExitUsage, "such as 0-31"},
		{"too many registers", []string{silent, "--registers", "0-999"}, cli.ExitUsage, "256 at most"},
		{"too many units", []string{silent, "--registers", "0", "--units", "1-99"}, cli.ExitUsage, "1 to 32"},
		{"unit 0", []string{silent, "--registers", "0", "--units", "0"}, cli.ExitUsage, "1 to 247"},
		{"a text and registers", []string{silent, "--registers", "0", "--ask", "R"}, cli.ExitUsage, "do not go together"},
		{"nobody has registers", []string{silent, "--registers", "0", "--baud", "9600", "--for", "500ms"}, cli.ExitFailed, "functions 3 or 4"},
		{"a silent box", []string{silent, "--for", "500ms", "--baud", "9600"}, cli.ExitFailed, "hawse: 9600 8N1: not a byte came\n"},
		{"noise", []string{noise, "--for", "1s", "--baud", "9600"}, cli.ExitFailed, "are text: the speed is wrong"},
	} {
		code, out, errOut := hawse(append([]string{"listen"}, tt.args...)...)
		if code != tt.code || !strings.Contains(errOut, tt.want) || out != "" || strings.ContainsAny(errOut, "\x1b\x00") {
			t.Errorf("%s: code %d, want %d; %q and %q, want %q", tt.name, code, tt.code, out, errOut, tt.want)
		}
	}
}

// withCRC adds the checksum of Modbus RTU.
func withCRC(f []byte) []byte {
	c := uint16(0xffff)
	for _, b := range f {
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

// reading is a 32-bit float that moves, the most significant byte first.
func reading(i int) []byte {
	v := math.Float32bits(float32(900 * math.Sin(float64(i)/15)))
	return []byte{byte(v >> 24), byte(v >> 16), byte(v >> 8), byte(v)}
}

// sentence is an NMEA 0183 sentence with its checksum.
func sentence(format string, a ...any) string {
	body, sum := fmt.Sprintf(format, a...), byte(0)
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

func TestListenOther(t *testing.T) {
	for _, tt := range []struct {
		name, kind string
		make       func(i int) string
		want       []string // of the block
		seen       string   // in the rest
	}{
		{"sentences", "nmea", func(i int) string {
			return sentence("SDDPT,%.1f,0.50,", 6+float64(i)/100) + sentence("HEHDT,182.5,T")
		}, []string{"[depth]", "[heading]\non = \"depth\""}, "m under the transducer"},
		{"Modbus between others", "modbus", func(i int) string {
			if i%2 == 0 {
				return string(withCRC([]byte{9, 3, 0, 20, 0, 2}))
			}
			return string(withCRC(append([]byte{9, 3, 4}, reading(i)...)))
		}, []string{"[load.modbus]\naddress = 9\nfunction = 3\nregister = 20\nholds = \"float32\"\norder = \"ABCD\""}, "another master"},
		{"binary frames", "frames", func(i int) string {
			return string(withCRC(append([]byte{0xaa, 0x55, byte(i)}, reading(i)...)))
		}, []string{"sync = \"AA 55\"\nlength = 9\nchecksum = \"crc16\"", "at = 3\nholds = \"float32\""}, "byte 2 counts frames"},
	} {
		port := strangeBox(t, "", tt.make)
		code, out, errOut := hawse("listen", port, "--baud", "9600", "--for", "2500ms", "--json")
		var d otherDoc
		if err := json.Unmarshal([]byte(out), &d); err != nil || code != cli.ExitDone || d.Kind != tt.kind {
			t.Errorf("%s: %d, %v, %s\n%s", tt.name, code, err, errOut, out)
			continue
		}
		for _, w := range tt.want {
			if !strings.Contains(d.Block, w) {
				t.Errorf("%s: no %q in\n%s", tt.name, w, d.Block)
			}
		}
		if all := strings.Join(append(d.Seen, d.Notes...), "\n"); !strings.Contains(all, tt.seen) {
			t.Errorf("%s: no %q in %s", tt.name, tt.seen, all)
		}
		code, page, errOut := hawse("listen", port, "--for", "2s")
		if code != cli.ExitDone || !strings.Contains(page, "FOR THE TRIAL FILE") || strings.ContainsAny(page, "\x00\x03\r") {
			t.Errorf("%s: %d, %s\n%q", tt.name, code, errOut, page)
		}
	}
}

// TestListenReadsRegisters: nothing but reads is sent, and the number is found.
func TestListenReadsRegisters(t *testing.T) {
	master, slave, err := pty.Open()
	if err != nil {
		t.Skip("no pseudo-terminals here: ", err)
	}
	done := make(chan struct{})
	var others []byte // functions that are no reads
	go func() {
		defer close(done)
		buf, n := make([]byte, 0, 64), 0
		for {
			k, err := master.Read(buf[len(buf):cap(buf)])
			if err != nil {
				return
			}
			if buf = buf[:len(buf)+k]; len(buf) < 8 {
				continue
			}
			q := buf[:8]
			n++
			if q[1] != 3 && q[1] != 4 {
				others = append(others, q[1])
			}
			switch first, count := int(q[3]), int(q[5]); {
			case q[0] != 2:
			case q[1] != 4 || first+count > 6:
				_, err = master.Write(withCRC([]byte{2, q[1] | 0x80, 2}))
			default:
				regs := append(append(make([]byte, 4), reading(n)...), 0, 0, 0, 0)
				_, err = master.Write(withCRC(append([]byte{2, 4, byte(2 * count)}, regs[2*first:2*(first+count)]...)))
			}
			if err != nil {
				return
			}
			buf = buf[:0]
		}
	}()
	code, out, errOut := hawse("listen", slave.Name(), "--registers", "0-9", "--units", "1-2", "--baud", "19200", "--frame", "8E1", "--for", "2s", "--json")
	slave.Close()
	master.Close()
	<-done
	var d otherDoc
	if err := json.Unmarshal([]byte(out), &d); err != nil || code != cli.ExitDone || len(others) > 0 {
		t.Fatalf("%d, %v, %s, functions % X\n%s", code, err, errOut, others, out)
	}
	if len(d.Numbers) != 1 || !strings.Contains(d.Block, "address = 2\nfunction = 4\nregister = 2\nholds = \"float32\"\norder = \"ABCD\"") || strings.Contains(strings.Join(d.Notes, ""), "another master") {
		t.Errorf("%+v", d)
	}
}
