package logfmt

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"strconv"
)

// sampleRecords makes n records as a capture gives them, of an invented pull.
func sampleRecords(n int) []Record {
	recs := make([]Record, n)
	for i := range recs {
		r := Record{T: int64(i) * 50_000_000, N: uint64(i + 1)}
		switch {
		case i == 0:
			r.Kind = Head
			r.Fields = []Field{{"format", "1"}, {"station", "Alder Flat"}, {"trial", "format = 1\nname = \"invented\"\n"}}
		case i%5 == 4:
			r.Kind = Tick
		case i%7 == 6:
			r.Kind = Act
			r.Fields = []Field{{"who", "director"}, {"act", "mark"}, {"text", "chain over the roller"}}
		default:
			r.Kind = Rx
			r.Fields = []Field{{"src", "load"}, {"chunk", strconv.Itoa(i)}, {"cut", "end"}, {"raw", fmt.Sprintf("%+09.3f kN\r\n", float64(i)/8)}}
		}
		recs[i] = r
	}
	return recs
}

// encode writes records as a log would.
func encode(recs []Record, sealed bool) []byte {
	var out []byte
	var prev uint32
	for i := range recs {
		out, prev = AppendRecord(out, &recs[i], prev)
	}
	if sealed {
		last := recs[len(recs)-1]
		end := Record{T: last.T, N: last.N + 1, Kind: End, Fields: []Field{{"reason", "done"},
			{"count", strconv.Itoa(len(recs))}, {"bytes", strconv.Itoa(len(out))}, {"sha256", fmt.Sprintf("%x", sha256.Sum256(out))}}}
		out, _ = AppendRecord(out, &end, prev)
	}
	return out
}

func sampleLog(n int, sealed bool) []byte { return encode(sampleRecords(n), sealed) }

// splitLines cuts a file into lines, each with its LF.
func splitLines(file []byte) [][]byte {
	lines := bytes.SplitAfter(file, []byte("\n"))
	if len(lines[len(lines)-1]) == 0 {
		lines = lines[:len(lines)-1]
	}
	return lines
}

// readAll returns the records of a file, the damage, and the report on it.
func readAll(file []byte) ([]Record, []Damage, Report) {
	var recs []Record
	r := NewReader(bytes.NewReader(file))
	for r.Next() {
		recs = append(recs, r.Record())
	}
	rep, err := Verify(bytes.NewReader(file))
	if err != nil {
		panic(err)
	}
	return recs, r.Damage(), rep
}

func numbers(recs []Record) []uint64 {
	ns := make([]uint64, len(recs))
	for i := range recs {
		ns[i] = recs[i].N
	}
	return ns
}
