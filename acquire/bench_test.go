package acquire

import (
	"bytes"
	"testing"

	"hawse/trial"
)

var benchLine = []byte("+00312.4 lb\r\n")

func BenchmarkFramer(b *testing.B) {
	var f Framer
	emit := func([]byte, string) {}
	b.ReportAllocs()
	b.SetBytes(int64(len(benchLine)))
	for b.Loop() {
		f.Feed(benchLine, emit)
	}
}

func BenchmarkCutter(b *testing.B) {
	for _, bm := range []struct {
		name string
		read []byte
	}{
		{"one line a read", benchLine},
		{"fifty lines a read", bytes.Repeat(benchLine, 50)},
	} {
		b.Run(bm.name, func(b *testing.B) {
			c := NewCutter()
			emit := func(Cut) {}
			b.ReportAllocs()
			b.SetBytes(int64(len(bm.read)))
			for b.Loop() {
				c.Push(1, 1, bm.read, emit)
			}
		})
	}
}

func BenchmarkLoadDecoder(b *testing.B) {
	for _, bm := range []struct{ name, line, frame string }{
		{"good", `(?P<value>[-+]?[0-9]+\.[0-9]+) (?P<unit>[a-zA-Z]+)`, "+00312.4 lb"},
		{"garbled", `(?P<value>[-+]?[0-9]+\.[0-9]+) (?P<unit>[a-zA-Z]+)`, "+003#2.4 lb"},
		{"over range", `(?P<value>[-+]?[0-9]+\.[0-9]+) (?P<unit>[a-zA-Z]+)`, "OL"},
	} {
		b.Run(bm.name, func(b *testing.B) {
			d, err := NewLoadDecoder(cell(func(c *trial.LoadCell) {
				c.Line, c.Cal, c.CalUnit = bm.line, []float64{0.1, 1.002, 1e-6}, trial.ForceUnit{Name: "lbf", N: lbfN}
			}))
			if err != nil {
				b.Fatal(err)
			}
			frame := []byte(bm.frame)
			b.ReportAllocs()
			for b.Loop() {
				d.Decode(frame)
			}
		})
	}
}

func BenchmarkLineDecoder(b *testing.B) {
	d, err := NewLineDecoder(trial.Encoder{})
	if err != nil {
		b.Fatal(err)
	}
	frame := []byte("0012345")
	b.ReportAllocs()
	for b.Loop() {
		d.Decode(frame)
	}
}

func BenchmarkParseRelay(b *testing.B) {
	line := relayLine("RELAY CLOSED 17")
	b.ReportAllocs()
	for b.Loop() {
		ParseRelay(line)
	}
}
