package logfmt

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"math"
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
