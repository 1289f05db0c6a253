package logfmt

import (
	"bytes"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"
	"time"
)

// benchLog is a log of records as two busy ports give them, of about 8 MB.
func benchLog() (file []byte, records int) {
	var prev uint32
	for len(file) < 8<<20 {
		r := typical()
		r.T, r.N = int64(records)*1_000_000, uint64(records+1)
		r.Fields[2].Val = strconv.Itoa(records)
		file, prev = AppendRecord(file, &r, prev)
		records++
	}
	return file, records
}

func BenchmarkAppend(b *testing.B) {
	r := typical()
	buf, prev := AppendRecord(nil, &r, 0)
	b.SetBytes(int64(len(buf)))
	b.ReportAllocs()
	for b.Loop() {
		buf, prev = AppendRecord(buf[:0], &r, prev)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "records/s")
}

func BenchmarkParseLine(b *testing.B) {
	r := typical()
	line, _ := AppendRecord(nil, &r, 0)
	b.SetBytes(int64(len(line)))
	b.ReportAllocs()
	for b.Loop() {
		if _, _, _, err := ParseLine(line); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLogPut is the whole way to a file: the time of Put, the writer and
// the syncs beside it.
func BenchmarkLogPut(b *testing.B) {
	r := typical()
	line, _ := AppendRecord(nil, &r, 0)
	l, err := Create(filepath.Join(b.TempDir(), "bench.log"), Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(line)))
	b.ReportAllocs()
	n := uint64(0)
	for b.Loop() {
		n++
		r.N = n
		l.Put(r)
		if n%4096 == 0 {
			for s := l.Status(); s.Queued-s.Written > 1<<16; s = l.Status() {
				time.Sleep(50 * time.Microsecond)
			}
		}
	}
	if err := l.Close(); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "records/s")
	if s := l.Status(); s.OnDisk != n || s.Dropped > 0 {
		b.Fatalf("%d records put, status %+v", n, s)
	}
}

func BenchmarkStatus(b *testing.B) {
	l, err := Create(filepath.Join(b.TempDir(), "bench.log"), Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer l.Close()
	l.Put(typical())
	b.ReportAllocs()
	for b.Loop() {
		runtime.KeepAlive(l.Status())
	}
}

func BenchmarkReader(b *testing.B) {
	file, records := benchLog()
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		for r := NewReader(bytes.NewReader(file)); r.Next(); n++ {
			if rec := r.Record(); rec.Kind != Rx {
				b.Fatal(rec)
			}
		}
		if n != records {
			b.Fatalf("%d records, want %d", n, records)
		}
	}
	b.ReportMetric(float64(b.N*records)/b.Elapsed().Seconds(), "records/s")
}

func BenchmarkVerify(b *testing.B) {
	file, records := benchLog()
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		if rep, err := Verify(bytes.NewReader(file)); err != nil || rep.Records != uint64(records) || len(rep.Damages) > 0 {
			b.Fatal(rep, err)
		}
	}
	b.ReportMetric(float64(b.N*records)/b.Elapsed().Seconds(), "records/s")
}
