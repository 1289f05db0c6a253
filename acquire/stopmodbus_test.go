package acquire

import (
	"bytes"
	"encoding/hex"
	"errors"
	"io"
	"log"
	"net"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/simonvetter/modbus"
	"pgregory.net/rapid"

	"hawse/trial"
)

// The values are in testdata/crc16-modbus.csv with their sources.
func TestCRC16(t *testing.T) {
	for _, row := range tableOf(t, "crc16-modbus.csv", 9) {
		frame, err := hex.DecodeString(row[2])
		if err != nil {
			t.Fatal(err)
		}
		want, err := strconv.ParseUint(row[3], 16, 16)
		if err != nil {
			t.Fatal(err)
		}
		if got := crc16(frame); uint64(got) != want {
			t.Errorf("%s: crc16(%s) = %04x, want %04x", row[0], row[2], got, want)
		}
		if got := hex.EncodeToString(sealCRC(bytes.Clone(frame), 0)[len(frame):]); got != row[4] {
			t.Errorf("%s: sealed with %s, want %s", row[0], got, row[4])
		}
	}
}

// questionsOf has another implementation ask over a socket, and gives the
// frames it sends. answer is what it is told.
func questionsOf(t *testing.T, unit uint8, ask func(*modbus.ModbusClient) error, answer []byte) []byte {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Skipf("no socket here: %v", err)
	}
	defer l.Close()
	got := make(chan []byte, 1)
	go func() {
		c, err := l.Accept()
		if err != nil {
			got <- nil
			return
		}
		defer c.Close()
		buf := make([]byte, 256)
		n, _ := c.Read(buf)
		_, _ = c.Write(answer)
		got <- buf[:n]
		_, _ = io.Copy(io.Discard, c)
	}()
	client, err := modbus.NewClient(&modbus.ClientConfiguration{URL: "rtuovertcp://" + l.Addr().String(), Speed: 115200,
		Timeout: 2 * time.Second, Logger: log.New(io.Discard, "", 0)})
	if err != nil {
		t.Fatal(err)
	}
	if err := client.Open(); err != nil {
		t.Fatal(err)
	}
	defer client.Close()
	_ = client.SetUnitId(unit)
	if err := ask(client); err != nil {
		t.Errorf("the other implementation does not take the answer % x: %v", answer, err)
	}
	return <-got
}

var modbusAt = trial.Modbus{Unit: 17, Coil: 0xAC, Session: 0x6B, Beat: 0x102}

// TestModbusFramesAgainstAnotherImplementation: what is sent here is, byte for
// byte, what a Modbus library sends, and the answers understood here are those
// it understands.
func TestModbusFramesAgainstAnotherImplementation(t *testing.T) {
	form := modbusForm{at: modbusAt}
	const session = 0xCAFE0D0A
	tests := []struct {
		name   string
		ours   []byte
		ask    func(*modbus.ModbusClient) error
		answer []byte // without checksum
	}{
		{"session", form.Beat(nil, session, 1, false),
			func(c *modbus.ModbusClient) error { return c.WriteUint32(0x6B, session) }, []byte{17, 16, 0, 0x6B, 0, 2}},
		{"coil on", form.Beat(nil, session, 2, false),
			func(c *modbus.ModbusClient) error { return c.WriteCoil(0xAC, true) }, []byte{17, 5, 0, 0xAC, 0xFF, 0}},
		{"coil off", form.Open(nil, session),
			func(c *modbus.ModbusClient) error { return c.WriteCoil(0xAC, false) }, []byte{17, 5, 0, 0xAC, 0, 0}},
		{"heartbeat", form.Beat(nil, session, 0x10203, true),
			func(c *modbus.ModbusClient) error { return c.WriteRegister(0x102, 0x0203) }, []byte{17, 6, 1, 2, 2, 3}},
		{"session read", form.Beat(nil, session, 4, false),
			func(c *modbus.ModbusClient) error {
				v, err := c.ReadUint32(0x6B, modbus.HOLDING_REGISTER)
				if err == nil && v != session {
					err = errors.New("another number")
				}
				return err
			}, []byte{17, 3, 4, 0xCA, 0xFE, 0x0D, 0x0A}},
		{"coil read", form.Beat(nil, session, 8, true),
			func(c *modbus.ModbusClient) error {
				v, err := c.ReadCoil(0xAC)
				if err == nil && !v {
					err = errors.New("read as off")
				}
				return err
			}, []byte{17, 1, 1, 1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			answer := sealCRC(bytes.Clone(tt.answer), 0)
			if theirs := questionsOf(t, 17, tt.ask, answer); !bytes.Equal(tt.ours, theirs) {
				t.Errorf("we send % x, the other implementation % x", tt.ours, theirs)
			}
			var words []StopWord
			NewStopDecoder(trial.StopModbus).Feed(answer, func(w StopWord) { words = append(words, w) })
			if len(words) != 1 || !words[0].Good {
				t.Errorf("the answer % x gives %+v; want one good word", answer, words)
			}
		})
	}
}

func TestModbusBeatsTakeTurns(t *testing.T) {
	f := modbusForm{at: trial.DefaultModbus}
	names := map[byte]string{fnWriteRegisters: "session", fnWriteCoil: "coil", fnWriteRegister: "beat", fnReadRegisters: "which", fnReadCoils: "how"}
	for _, tt := range []struct {
		heard bool
		want  string
	}{
		{false, "session coil beat which beat how beat beat session coil beat which"},
		{true, "beat beat beat how beat beat beat how beat beat beat how"},
	} {
		var got []string
		for n := range uint64(12) {
			msg := f.Beat(nil, 7, n+1, tt.heard)
			got = append(got, names[msg[1]])
			want := ClassBeat
			if msg[1] == fnWriteRegisters || msg[1] == fnWriteCoil {
				want = ClassArm
			}
			if c := f.Class(msg); c != want {
				t.Errorf("class of % x is %d, want %d", msg, c, want)
			}
		}
		if s := strings.Join(got, " "); s != tt.want {
			t.Errorf("heard %v: beats 1 to 12 are\n%s, want\n%s", tt.heard, s, tt.want)
		}
	}
	if c := f.Class(f.Open(nil, 7)); c != ClassOpen {
		t.Errorf("class of coil off is %d, want OPEN", c)
	}
	all := append(f.Open(nil, 7), f.Beat(nil, 7, 1, false)...)
	if n := f.Count(append(all, f.Beat(nil, 7, 2, false)...)); n != 3 {
		t.Errorf("Count of three frames = %d", n)
	}
	for _, junk := range [][]byte{nil, {1}, {1, 5}, {1, 16, 0, 0, 0, 9, 255}} {
		f.Class(junk)
		if n := f.Count(junk); n > 1 {
			t.Errorf("Count(% x) = %d", junk, n)
		}
	}
}

func answerFrame(p ...byte) string { return string(sealCRC(p, 0)) }

func TestStopDecoder(t *testing.T) {
	said := func(w StopWord) string {
		var b strings.Builder
		switch {
		case !w.Good:
			b.WriteString("bad")
		case w.Refused != "":
			b.WriteString(w.Refused)
		case !w.State:
			b.WriteString("heard")
		case w.Closed:
			b.WriteString("closed " + strconv.FormatUint(uint64(w.Session), 10))
		default:
			b.WriteString("open " + strconv.FormatUint(uint64(w.Session), 10) + " " + w.Reason)
		}
		return b.String()
	}
	const (
		text   = trial.StopText
		mod    = trial.StopModbus
		pulses = trial.StopPulse
	)
	session := answerFrame(1, 3, 4, 0, 0, 0x0D, 0x0A)
	closed, open := answerFrame(1, 1, 1, 1), answerFrame(1, 1, 1, 0)
	beat := answerFrame(1, 6, 0, 2, 0x0A, 0x0D)
	tests := []struct {
		name, kind, raw string
		want            []string
	}{
		{"text", text, string(relayWord("RELAY CLOSED 7")) + string(relayWord("RELAY OPEN 7 beat-lost")) + "\n", []string{"closed 7", "open 7 beat-lost"}},
		{"text garbled", text, "RELAY CLOSED 7*00\nRELAY CLO", []string{"bad"}},
		{"a Modbus answer on text", text, closed + "\n", []string{"bad"}},
		{"closed, session read before", mod, session + closed, []string{"heard", "closed 3338"}},
		{"closed, session unknown", mod, closed, []string{"closed 0"}},
		{"open", mod, open, []string{"open 0 coil-off"}},
		{"a beat taken", mod, beat + beat, []string{"heard", "heard"}},
		{"coil on taken says nothing yet", mod, answerFrame(1, 5, 0, 0, 0xFF, 0), []string{"heard"}},
		{"coil off taken", mod, session + answerFrame(1, 5, 0, 0, 0, 0), []string{"heard", "open 3338 told-off"}},
		{"session taken", mod, answerFrame(1, 16, 0, 0, 0, 2), []string{"heard"}},
		{"refused", mod, answerFrame(1, 0x85, 4) + open, []string{"function 5 refused, code 4", "open 0 coil-off"}},
		{"garbage before", mod, "\x00\xff\x13garbage" + open, []string{"bad", "open 0 coil-off"}},
		{"garbage between", mod, open + "\xff" + closed, []string{"open 0 coil-off", "bad", "closed 0"}},
		{"one bit wrong", mod, closed[:3] + "\x00" + closed[4:] + beat, []string{"bad", "heard"}},
		{"half an answer, then a whole one", mod, beat[:5] + open, []string{"bad", "open 0 coil-off"}},
		{"half an answer", mod, closed[:4], nil},
		{"two coils read", mod, answerFrame(1, 1, 2, 1, 0) + open, []string{"bad", "open 0 coil-off"}},
		{"words on Modbus", mod, string(relayWord("RELAY CLOSED 7")), []string{"bad"}},
		{"a pulse train has no answer", pulses, string(relayWord("RELAY CLOSED 7")), []string{"bad"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var got []string
			NewStopDecoder(tt.kind).Feed([]byte(tt.raw), func(w StopWord) { got = append(got, said(w)) })
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("%q (-want +got):\n%s", tt.raw, diff)
			}
		})
	}

	t.Run("Reset forgets session and half a frame", func(t *testing.T) {
		d := NewStopDecoder(mod)
		var got []string
		emit := func(w StopWord) { got = append(got, said(w)) }
		d.Feed([]byte(session+closed[:3]), emit)
		d.Reset()
		d.Feed([]byte(closed), emit)
		if diff := cmp.Diff([]string{"heard", "closed 0"}, got); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	})
}

func relayWord(s string) []byte { return sealWord([]byte(s), 0) }

// TestModbusAnswersSurviveAnyCut: good words come out the same whatever pieces
// they arrive in, with or without garbage between them.
func TestModbusAnswersSurviveAnyCut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		answers := rapid.SliceOf(rapid.SampledFrom([]string{answerFrame(1, 3, 4, 0, 0, 0, 9), answerFrame(1, 1, 1, 1), answerFrame(1, 1, 1, 0),
			answerFrame(1, 6, 0, 2, 0, 1), answerFrame(1, 5, 0, 0, 0, 0), answerFrame(1, 0x86, 2)})).Draw(t, "answers")
		noise := rapid.SampledFrom([]string{"", "\xf8", "\x00\x00"}).Draw(t, "noise") // never the start of an answer
		stream := []byte(strings.Join(answers, noise))
		var got []string
		d := NewStopDecoder(trial.StopModbus)
		for len(stream) > 0 {
			n := rapid.IntRange(1, len(stream)).Draw(t, "cut")
			d.Feed(stream[:n], func(w StopWord) {
				if w.Good {
					got = append(got, string(w.Frame))
				}
			})
			stream = stream[n:]
		}
		if diff := cmp.Diff(append([]string{}, answers...), append([]string{}, got...)); diff != "" {
			t.Fatalf("good words (-sent +decoded):\n%s", diff)
		}
	})
}

func FuzzStopDecoder(f *testing.F) {
	f.Add([]byte(answerFrame(1, 1, 1, 1)+answerFrame(1, 3, 4, 1, 2, 3, 4)), uint8(3))
	f.Add(relayWord("RELAY CLOSED 7"), uint8(1))
	f.Fuzz(func(t *testing.T, raw []byte, cut uint8) {
		for _, kind := range []string{trial.StopText, trial.StopModbus, trial.StopPulse} {
			d := NewStopDecoder(kind)
			at := min(int(cut), len(raw))
			for _, p := range [][]byte{raw[:at], raw[at:]} {
				d.Feed(p, func(w StopWord) {
					if w.State && kind == trial.StopModbus && crc16(w.Frame) != 0 {
						t.Errorf("%q: the state of the relay from a frame with a wrong checksum, % x", raw, w.Frame)
					}
					if kind == trial.StopPulse && w.Good {
						t.Errorf("%q: a good word on a pulse train", raw)
					}
				})
			}
			if len(d.scan.buf) > answerMost {
				t.Errorf("%d bytes are held back", len(d.scan.buf))
			}
		}
	})
}

// TestModbusOneQuestionAtATime: the next question waits for the answer, or for
// its time to be over, and never longer than a beat.
func TestModbusOneQuestionAtATime(t *testing.T) {
	line := newModbusLine(9600)
	const beat = 50 * time.Millisecond
	if line.answer >= beat {
		t.Fatalf("an answer is waited for %v, longer than a beat", line.answer)
	}
	form := modbusForm{at: trial.DefaultModbus, line: line}
	off, on := form.Open(nil, 1), form.Beat(nil, 1, 2, false)
	answer := answerFrame(1, 6, 0, 2, 0, 1)
	tests := []struct {
		name   string
		answer []string // pieces, 3 ms apart, after 10 ms
		want   time.Duration
	}{
		{"answered", []string{answer}, 10*time.Millisecond + line.quiet},
		{"answered in pieces", []string{answer[:3], answer[3:]}, 13*time.Millisecond + line.quiet},
		{"not answered", nil, line.answer},
		{"garbage is no answer", []string{"\x00\x01\x02"}, line.answer},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				p := newFakePort()
				c, err := form.Wrap(p)
				if err != nil {
					t.Fatal(err)
				}
				begin := time.Now()
				if _, err := c.Write(on); err != nil {
					t.Fatal(err)
				}
				if d := time.Since(begin); d != 0 {
					t.Errorf("the first question waited %v", d)
				}
				go func() {
					buf := make([]byte, 64)
					for {
						if _, err := c.Read(buf); err != nil {
							return
						}
					}
				}()
				go func() {
					time.Sleep(10 * time.Millisecond)
					for i, s := range tt.answer {
						if i > 0 {
							time.Sleep(3 * time.Millisecond)
						}
						p.sends(s)
					}
				}()
				if _, err := c.Write(off); err != nil {
					t.Fatal(err)
				}
				if d := time.Since(begin); d != tt.want {
					t.Errorf("the second question went out after %v, want %v", d, tt.want)
				}
				// Two in one message go out one after the other.
				begin = time.Now()
				if n, err := c.Write(append(bytes.Clone(off), on...)); n != 16 || err != nil {
					t.Errorf("Write of two frames = %d, %v", n, err)
				}
				if d := time.Since(begin); d < line.answer {
					t.Errorf("two unanswered questions within %v", d)
				}
				begin = time.Now()
				time.AfterFunc(time.Millisecond, func() { c.Close() })
				if n, err := c.Write(on); n != 0 || !errors.Is(err, ErrClosed) || time.Since(begin) != time.Millisecond {
					t.Errorf("Write while it is closed = %d, %v after %v; want ErrClosed at once", n, err, time.Since(begin))
				}
				var wrote []string
				for len(p.wrote) > 0 {
					wrote = append(wrote, string(<-p.wrote))
				}
				if diff := cmp.Diff([]string{string(on), string(off), string(off), string(on)}, wrote); diff != "" {
					t.Errorf("written (-want +got):\n%s", diff)
				}
			})
		})
	}
}
