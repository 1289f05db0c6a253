package logfmt

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func FuzzRoundTrip(f *testing.F) {
	f.Add(int64(12345678901), uint64(1042), "rx", "src", "load", "raw", "+00312.4 lb\r\n", uint32(0x1b22c004))
	f.Add(int64(math.MinInt64), uint64(math.MaxUint64), "z", "a", "", "b", everyByte, uint32(math.MaxUint32))
	f.Add(int64(-1), uint64(0), "", "crc", "\x00", "Ä", " prev=00000000 crc=00000000\n", uint32(0))
	f.Fuzz(func(t *testing.T, ns int64, n uint64, kind, key1, val1, key2, val2 string, prev uint32) {
		rec := Record{T: ns, N: n, Kind: Kind(kind), Fields: []Field{{key1, val1}, {key2, val2}}}
		text, crc := AppendRecord(nil, &rec, prev)
		back, backPrev, backCRC, err := ParseLine(text)
		if err != nil {
			t.Fatalf("ParseLine(%q) of %+v: %v", text, rec, err)
		}
		if back.T != ns || back.N != n || backPrev != prev || backCRC != crc || back.Fields[0].Val != val1 || back.Fields[1].Val != val2 {
			t.Errorf("%+v prev %08x came back as %+v prev %08x crc %08x, want crc %08x", rec, prev, back, backPrev, backCRC, crc)
		}
		if ValidName(kind) && ValidKey(key1) && ValidKey(key2) {
			if diff := cmp.Diff(rec, back); diff != "" {
				t.Errorf("came back changed (-want +got):\n%s", diff)
			}
		}
		if again, _ := AppendRecord(nil, &back, backPrev); !bytes.Equal(again, text) {
			t.Errorf("%q re-encodes to %q", text, again)
		}
	})
}

func FuzzReader(f *testing.F) {
	whole := sampleLog(6, true)
	f.Add(whole, false)
	f.Add(recordedPart(f), true)
	f.Add(whole[:len(whole)/2], false)
	f.Add(bytes.ReplaceAll(whole, []byte("\n"), []byte("\r\n")), false)
	f.Add(bytes.ReplaceAll(whole, []byte("\n"), nil), false)
	f.Add(append([]byte(byteOrderMark), whole...), false)
	f.Add(append(bytes.Clone(whole), sampleLog(9, false)...), false)
	f.Add([]byte("t=0.000000000 n=0 k=a prev=00000000 crc=00000000\nt=0.000000000 n=18446744073709551615 k=a prev=00000000 crc=00000000\n"), true)
	f.Add([]byte("\x00\x00\x00"), false)
	f.Add([]byte("just a text\nof two lines"), true)
	f.Fuzz(func(t *testing.T, file []byte, mend bool) {
		if mend {
			file = mendCRCs(file)
		}
		r := NewReader(bytes.NewReader(file))
		records := 0
		for r.Next() {
			records++
			rec := r.Record()
			line, crc := AppendRecord(nil, &rec, r.p.prev)
			_, at := r.Line()
			if got := file[at:min(int(at)+len(line)-1, len(file))]; !bytes.Equal(got, line[:len(line)-1]) || crc != r.p.crc {
				t.Fatalf("record %+v at byte %d is written %q, the file has %q", rec, at, line, got)
			}
		}
		if r.Err() != nil {
			t.Fatalf("error %v from a reader in memory", r.Err())
		}
		if len(r.lines.buf) > MaxLine || len(r.order.pieces)+len(r.order.scraps)+len(r.order.notes)+len(r.order.seen.spans) > 4*maxListed {
			t.Errorf("memory is not bounded: buffer %d, lists %d %d %d %d", len(r.lines.buf),
				len(r.order.pieces), len(r.order.scraps), len(r.order.notes), len(r.order.seen.spans))
		}
		for _, d := range r.Damage() {
			if d.Text == "" || d.Cost == "" || d.Line < 1 || d.Byte < 0 || d.Byte > int64(len(file)) {
				t.Errorf("damage without place, text or cost: %+v", d)
			}
			for _, c := range []byte(d.String()) {
				if c < 0x20 || c > 0x7E {
					t.Errorf("damage text %q has raw bytes of the file", d.String())
				}
			}
		}
		rep, err := Verify(bytes.NewReader(file))
		if err != nil || rep.Records != uint64(records) || rep.Bytes != int64(len(file)) || rep.Verdict() == "" {
			t.Errorf("Verify = %+v, %v; want %d records, %d bytes", rep, err, records, len(file))
		}
		if rep.Whole {
			again, prev := []byte(nil), uint32(0)
			for r = NewReader(bytes.NewReader(file)); r.Next(); {
				rec := r.Record()
				again, prev = AppendRecord(again, &rec, prev)
			}
			if !bytes.Equal(again, file) {
				t.Errorf("called whole, but its records are written\n%q, the file is\n%q", again, file)
			}
		}
	})
}

// recordedPart is some of a log as the program wrote it: the first lines of its
// head, some of the pull, its end.
func recordedPart(f *testing.F) []byte {
	lines := splitLines(recorded(f))
	return bytes.Join(slices.Concat(lines[:2], lines[3:6], lines[250:260], lines[len(lines)-3:]), nil)
}

// mendCRCs gives every line that ends like a record the crc it should have, so
// that a fuzzer gets behind it.
func mendCRCs(file []byte) []byte {
	lines := bytes.Split(file, []byte("\n"))
	for i, l := range lines {
		if n := len(l) - crcTail; n >= 0 && string(l[n:n+5]) == " crc=" {
			lines[i] = fmt.Appendf(bytes.Clone(l[:n+5]), "%08x", crc32.Checksum(l[:n], castagnoli))
		}
	}
	return bytes.Join(lines, []byte("\n"))
}

// Whatever the file, packed or not: salvage gives what the reader proves, each
// record once, and the log it makes is whole but for what it names as missing.
func FuzzSalvage(f *testing.F) {
	whole := sampleLog(6, true)
	lines := splitLines(whole)
	f.Add(whole, false)
	f.Add(recordedPart(f), false)
	f.Add(whole[len(lines[0]):], false)
	f.Add(bytes.Join([][]byte{lines[3], lines[4], lines[0], lines[2], lines[6]}, nil), false)
	f.Add(bytes.Join([][]byte{lines[0], lines[0], make([]byte, 40), []byte("\r\n"), lines[5]}, nil), true)
	f.Add(bytes.ReplaceAll(whole, []byte("\n"), []byte("\r\n")), false)
	f.Add(pack(f, whole), false)
	f.Add(pack(f, whole)[:60], false)
	f.Add([]byte("t=0.000000000 n=0 k=head part=salvage of=a sha256=b prev=00000000 crc=00000000\nt=0.000000000 n=0 k=end prev=00000000 crc=00000000\n"), true)
	f.Add([]byte("t=9.000000000 n=18446744073709551615 k=a prev=00000000 crc=00000000\nt=0.000000000 n=1 k=a prev=00000000 crc=00000000\n"), true)
	f.Fuzz(func(t *testing.T, file []byte, mend bool) {
		if mend {
			file = mendCRCs(file)
		}
		open := func() (io.ReadCloser, error) { return NewSource(bytes.NewReader(file)), nil }
		proved := map[uint64]int{}
		src, _ := open()
		for r := NewReader(src); r.Next(); {
			proved[r.p.n]++
		}
		s, err := NewSalvage(open)
		if err != nil {
			t.Fatalf("NewSalvage: %v", err)
		}
		given := map[uint64]int{}
		for rec, err := range s.Records() {
			if err != nil {
				t.Fatalf("Records: %v", err)
			}
			given[rec.N]++
		}
		if diff := cmp.Diff(proved, given); diff != "" {
			t.Fatalf("records by number (-proved +salvaged):\n%s", diff)
		}
		for i, g := range s.Gaps {
			if g.From > g.To || i > 0 && g.From <= s.Gaps[i-1].To || given[g.From] > 0 || given[g.To] > 0 {
				t.Fatalf("gap %+v after %v, but records %v", g, s.Gaps[:i], given)
			}
		}
		var out bytes.Buffer
		sum, err := s.WriteLog(&out, "a.log")
		if err != nil {
			t.Fatalf("WriteLog: %v", err)
		}
		rep, err := Verify(bytes.NewReader(out.Bytes()))
		if err != nil || rep.SHA256 != sum || rep.Bytes != int64(out.Len()) {
			t.Fatalf("the new log: %+v, %v; want SHA-256 %s", rep, err, sum)
		}
		for _, d := range rep.Damages {
			// Records whose numbers were written out of order stay so.
			if d.Kind == Missing && strings.Contains(d.Text, "could not be salvaged") || d.Kind == Disorder {
				continue
			}
			t.Fatalf("damage in the new log: %v\n%s", d, out.Bytes())
		}
	})
}

// A packed file from outside never panics, and what comes out of it is the same
// however it is asked for.
func FuzzPacked(f *testing.F) {
	whole := sampleLog(6, true)
	f.Add(pack(f, whole), 7)
	f.Add(append(pack(f, whole[:50]), pack(f, whole[50:])...), 1)
	f.Add([]byte("\x28\xb5\x2f\xfd"), 3)
	f.Add(whole, 100)
	f.Fuzz(func(t *testing.T, file []byte, step int) {
		if step < 1 || step > 1<<16 {
			step = 1 + step&0xFFF
		}
		all, allErr := io.ReadAll(io.LimitReader(NewSource(bytes.NewReader(file)), 1<<20))
		src := NewSource(bytes.NewReader(file))
		var got []byte
		var err error
		for buf := make([]byte, max(step, 1)); err == nil && len(got) < 1<<20; {
			var n int
			n, err = src.Read(buf)
			got = append(got, buf[:n]...)
		}
		if len(got) < 1<<20 && (!bytes.Equal(all, got) || (allErr == nil) != (err == io.EOF)) {
			t.Errorf("in pieces of %d: %d bytes, %v; at once: %d bytes, %v", step, len(got), err, len(all), allErr)
		}
		if !bytes.HasPrefix(file, zstdMagic) && !bytes.Equal(got, file) && len(got) < 1<<20 {
			t.Errorf("a file that is not packed came back changed: %q, %q", file, got)
		}
	})
}
