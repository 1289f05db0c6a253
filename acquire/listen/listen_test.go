package listen

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"hawse/acquire"
	"hawse/trial"
)

// boxes are ten invented load boxes: what a line looks like for a reading in the
// box's unit, and the unit. None is that of a real box.
var boxes = []struct {
	name, unit string
	write      func(v float64, i int) string
}{
	{"sign, zeros, unit", "kgf", func(v float64, _ int) string { return fmt.Sprintf("%+07.1f kgf\r\n", v) }},
	{"padded with blanks", "kg", func(v float64, _ int) string { return fmt.Sprintf("%9.1f kg \r\n", v) }},
	{"status words and commas", "kg", func(v float64, i int) string {
		return fmt.Sprintf("%s,GS,%+08.1f kg\r\n", []string{"ST", "US"}[i/3%2], v)
	}},
	{"STX and ETX", "lb", func(v float64, _ int) string { return fmt.Sprintf("\x02%8.1flb\x03\r", v) }},
	{"the sign apart", "kg", func(v float64, _ int) string {
		s := "+"
		if v < 0 {
			s = "-"
		}
		return fmt.Sprintf("%s%8.1f kg G S\r\n", s, math.Abs(v))
	}},
	{"a decimal comma", "kN", func(v float64, _ int) string { return strings.Replace(fmt.Sprintf("%8.1f kN\n", v), ".", ",", 1) }},
	{"a name, a count and a status", "", func(v float64, i int) string { return fmt.Sprintf("CH1 %04d T=%.1f M%c\r\n", i%10000, v, "AB"[i/5%2]) }},
	{"the unit first", "N", func(v float64, _ int) string { return fmt.Sprintf("N %.1f\r", v) }},
	{"a checksum", "kN", func(v float64, _ int) string {
		body := fmt.Sprintf("LC,%.1f,kN,A", v)
		x := byte(0)
		for i := range len(body) {
			x ^= body[i]
		}
		return fmt.Sprintf("$%s*%02X\r\n", body, x)
	}},
	{"brackets and an address", "tf", func(v float64, _ int) string { return fmt.Sprintf("[07] <%+.1ftf>\r\n", v) }},
}

// stream is n readings of a box, ten a second, and what they are.
func stream(write func(v float64, i int) string, n int) (l *Lines, values []float64) {
	l = &Lines{}
	r := rand.New(rand.NewPCG(1, 2))
	for i := range n {
		v := math.Round((300*math.Sin(float64(i)/9)+r.NormFloat64())*10) / 10
		if v == 0 {
			v = 0 // never -0
		}
		values = append(values, v)
		text := write(v, i)
		l.Feed(int64(i)*100e6, []byte(text[:len(text)/2]))
		l.Feed(int64(i)*100e6+2e6, []byte(text[len(text)/2:]))
	}
	return l, values
}

// TestTenBoxes: without help each is found out, and the pattern, in a trial
// file's load cell, reads every line as it was meant.
func TestTenBoxes(t *testing.T) {
	for _, box := range boxes {
		l, values := stream(box.write, 80)
		s, err := Find(l.All, "")
		if err != nil {
			t.Errorf("%s: %v", box.name, err)
			continue
		}
		if s.Kind != Load || s.Unit != box.unit || s.Fits != s.Of || s.Of < 78 || math.Abs(s.Rate-10) > 0.05 || math.Abs(s.Step-0.1) > 1e-9 {
			t.Errorf("%s: %+v", box.name, s)
		}
		declared := s.Unit
		if declared == "" {
			declared = "kgf"
		}
		d, err := acquire.NewLoadDecoder(trial.LoadCell{Line: s.Pattern, Unit: declared, Range: 1e9})
		if err != nil {
			t.Errorf("%s: %s: %v", box.name, s.Pattern, err)
			continue
		}
		skipped := len(values) - len(l.All)
		for i, line := range l.All {
			r := d.Decode(line.Text)
			if r.Kind != acquire.Good || math.Abs(r.Unit.In(r.Indicated)-values[i+skipped]) > 1e-6 {
				t.Errorf("%s: %s reads %q as %v %v (%s), want %g", box.name, s.Pattern, line.Text, r.Kind, r.Indicated, r.Why, values[i+skipped])
				break
			}
		}
		// The block, filled in where a person must, is one a trial file takes.
		block := strings.NewReplacer(`range = ""   #`, `range = "900 kN" #`, `place = ""`, `place = "here"`, `serial = ""`, `serial = "1"`, `filter = ""`, `filter = "none"`,
			`unit = ""`, `unit = "kgf"`).Replace(s.Block("./deck/load", 9600, "8N1"))
		text := trial.Template()
		from, to := strings.Index(text, "[load]\n"), strings.Index(text, "[load.calibration]\n")
		if _, err := trial.ParseTrial("t.toml", []byte(text[:from]+block+"\n"+text[to:])); err != nil {
			t.Errorf("%s: the block is refused: %v\n%s", box.name, err, block)
		}
	}
}

// TestLineCounters: whole numbers without a unit are counts.
func TestLineCounters(t *testing.T) {
	for _, form := range []string{"N %+08d\r\n", "%d\r\n", "%8d,0\r\n", "CNT=%06d\n"} {
		var l Lines
		for i := range 40 {
			l.Feed(int64(i)*100e6, fmt.Appendf(nil, form, 12000+37*i))
		}
		s, err := Find(l.All, "")
		if err != nil || s.Kind != Counts {
			t.Errorf("%q: %+v, %v", form, s, err)
			continue
		}
		d, err := acquire.NewLineDecoder(trial.Encoder{Line: s.Pattern})
		if err != nil {
			t.Fatal(err)
		}
		if r := d.Decode(l.All[5].Text); r.Kind != acquire.Good || r.Counts != 12000+37*6 {
			t.Errorf("%q: %s reads %q as %+v", form, s.Pattern, l.All[5].Text, r)
		}
		if s.Step != 37 {
			t.Errorf("%q: step %g, want 37", form, s.Step)
		}
	}
}

func TestWhatReadingsGiveAway(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	notes := func(n int, rate float64, value func(i int) string) (*Shape, string) {
		var l Lines
		for i := range n {
			l.Feed(int64(float64(i)/rate*1e9), []byte(value(i)+" kg\r\n"))
		}
		s, err := Find(l.All, "")
		if err != nil {
			t.Fatal(err)
		}
		return s, strings.Join(s.Notes, "\n")
	}
	noise := make([]float64, 400)
	for i := range noise {
		noise[i] = 5 * r.NormFloat64()
	}
	white := func(i int) string { return fmt.Sprintf("%.1f", 100+noise[i]) }
	s, got := notes(300, 10, white)
	if got != "" || math.Abs(s.Noise-5) > 0.7 {
		t.Errorf("a plain box: noise %.2f, want 5; notes %q", s.Noise, got)
	}
	mean := func(i int) string {
		sum := 0.0
		for k := range 8 {
			sum += noise[i+k]
		}
		return fmt.Sprintf("%.1f", 100+sum/8)
	}
	if _, got = notes(300, 10, mean); !strings.Contains(got, "averages") {
		t.Errorf("a mean of eight: %q", got)
	}
	if _, got = notes(40, 10, func(i int) string { return fmt.Sprintf("%.1f", float64(i)) }); !strings.Contains(got, "peak hold") {
		t.Errorf("peak hold: %q", got)
	}
	if _, got = notes(40, 10, func(int) string { return "7.0" }); !strings.Contains(got, "never changed") {
		t.Errorf("stuck: %q", got)
	}
	if _, got = notes(40, 2, white); !strings.Contains(got, "2.0 readings a second") {
		t.Errorf("slow: %q", got)
	}
	if s, _ = notes(40, 10, func(i int) string { return fmt.Sprintf("%d", 5*(i*7%11)) }); s.Step != 5 {
		t.Errorf("step %g, want 5", s.Step)
	}
}

func TestOverAndStrangers(t *testing.T) {
	var l Lines
	for i := range 60 {
		text := fmt.Sprintf("%+07.1f kgf\r\n", float64(i%7))
		switch {
		case i%20 == 9:
			text = "OL\r\n"
		case i == 31:
			text = "BAT LOW\x1b[2J\r\n"
		case i > 50:
			text = fmt.Sprintf("%+07.1f lb\r\n", float64(i%7))
		}
		l.Feed(int64(i)*100e6, []byte(text))
	}
	s, err := Find(l.All, "")
	if err != nil || len(s.Over) != 1 || s.Over[0] != "OL" || len(s.Others) != 1 || strings.Contains(s.Others[0], "\x1b") {
		t.Fatalf("%+v, %v", s, err)
	}
	if s.Unit != "lb" || !strings.Contains(strings.Join(s.Notes, "\n"), "unit changed") {
		t.Errorf("unit %q, notes %q", s.Unit, s.Notes)
	}
}

func TestNothingToFind(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	var noise Lines
	raw := make([]byte, 4000)
	for i := range raw {
		raw[i] = byte(r.Uint32())
	}
	noise.Feed(1, raw)
	if _, err := Find(noise.All, ""); err == nil {
		t.Error("a shape in noise")
	}
	if l := Legible(raw); l > 0.6 {
		t.Errorf("noise is %.2f legible", l)
	}
	if _, err := Find(nil, ""); err == nil || !strings.Contains(err.Error(), "ask the box") {
		t.Error(err)
	}
	words := &Lines{}
	for range 9 {
		words.Feed(1, []byte("hello there\r\n"))
	}
	if _, err := Find(words.All, ""); err == nil || !strings.Contains(err.Error(), "no number") {
		t.Error(err)
	}
}

func FuzzFind(f *testing.F) {
	f.Add([]byte("+1.0 kg\r\n+2.0 kg\r\n+3.0 kg\r\n+1.5 kg\r\n"))
	f.Add([]byte("\x02 1,5\x03\r 2,5\r 3,0\r"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		var l Lines
		l.Feed(1, raw)
		s, err := Find(l.All, "")
		if err != nil {
			return
		}
		var fits func([]byte) bool
		if s.Kind == Load {
			d, err := acquire.NewLoadDecoder(trial.LoadCell{Line: s.Pattern, Unit: "kgf", Range: 1e9})
			if err != nil {
				t.Fatalf("%q gives %s: %v", raw, s.Pattern, err)
			}
			fits = d.Fits
		} else {
			d, err := acquire.NewLineDecoder(trial.Encoder{Line: s.Pattern})
			if err != nil {
				t.Fatalf("%q gives %s: %v", raw, s.Pattern, err)
			}
			fits = d.Fits
		}
		n := 0
		for _, line := range l.All {
			if fits(line.Text) {
				n++
			}
		}
		if n < s.Fits {
			t.Fatalf("%q: %s fits %d lines, %d said", raw, s.Pattern, n, s.Fits)
		}
		s.Block("port", 9600, "8N1")
	})
}
