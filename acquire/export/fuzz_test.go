package export

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"io"
	"slices"
	"strconv"
	"strings"
	"testing"

	"hawse/logfmt"
)

// allTables makes every table of a log, and prints it: what is written is
// harmless, and numbers are numbers.
func allTables(t *testing.T, log []byte) {
	for _, o := range []Options{{Of: Samples, To: CSV}, {Of: Frames, To: CSV}, {Of: Samples, To: Parquet}, {Of: Frames, To: Parquet}} {
		var out bytes.Buffer
		res, err := Write(&out, bytes.NewReader(log), o)
		if err != nil {
			shown(t, err.Error())
			continue
		}
		shown(t, res.SealText()+res.Caption)
		if o.To != CSV {
			continue
		}
		for _, r := range rowsOf(t, out.Bytes()) {
			if _, err := strconv.ParseInt(r["t_ns"], 10, 64); err != nil {
				t.Fatalf("t_ns: %v", err)
			}
			for name, v := range r {
				if v == "NaN" || strings.Contains(name, "_") && strings.HasSuffix(v, "Inf") {
					t.Fatalf("%s holds %s", name, v)
				}
			}
		}
	}
	for _, o := range []CatOptions{{}, {JSON: true}} {
		var out bytes.Buffer
		_, dumb, err := Cat(&out, bytes.NewReader(log), o)
		if err != nil {
			t.Fatal(err)
		}
		if dumb != nil {
			shown(t, dumb.Error())
		}
		shown(t, strings.ReplaceAll(out.String(), "\n", ""))
	}
}

// shown wants a text that can be shown on a terminal.
func shown(t *testing.T, text string) {
	t.Helper()
	for _, c := range []byte(text) {
		if c < 0x20 && c != '\n' || c == 0x7f {
			t.Fatalf("byte %#x is printed: %.200q", c, text)
		}
	}
}

// FuzzTables: whatever a file holds, nothing panics. With mend, each line that
// could be a record gets the checksum it should have, so that it is one.
func FuzzTables(f *testing.F) {
	f.Add(lines(small(f), nil), false)
	f.Add([]byte("t=0.000000000 n=1 k=rx raw=\"\" prev=00000000 crc=00000000\n"), true)
	src := logfmt.NewSource(bytes.NewReader(recorded(f)))
	defer src.Close()
	log, err := io.ReadAll(src)
	if err != nil {
		f.Fatal(err)
	}
	all := bytes.SplitAfter(log, []byte("\n"))
	f.Add(bytes.Join(slices.Concat(all[:2], all[3:6], all[250:270]), nil), true)
	f.Fuzz(func(t *testing.T, log []byte, mend bool) {
		if mend {
			file := bytes.Split(log, []byte("\n"))
			for i, l := range file {
				if n := len(l) - len(" crc=00000000"); n >= 0 && string(l[n:n+5]) == " crc=" {
					file[i] = fmt.Appendf(bytes.Clone(l[:n+5]), "%08x", crc32.Checksum(l[:n], crc32.MakeTable(crc32.Castagnoli)))
				}
			}
			log = bytes.Join(file, []byte("\n"))
		}
		allTables(t, log)
	})
}

// FuzzHead: whatever one field of a whole log's head holds, the log is
// understood or refused in words.
func FuzzHead(f *testing.F) {
	records := small(f)
	head := slices.DeleteFunc(slices.Clone(records), func(r logfmt.Record) bool { return r.Kind != logfmt.Head })
	for i, r := range head {
		for k, field := range r.Fields {
			if len(field.Val) < 200 && (i < 20 || i%10 == 0) {
				f.Add(uint16(i), uint8(k), field.Key, field.Val)
			}
		}
	}
	f.Add(uint16(0), uint8(0), "part", "chain")
	f.Add(uint16(0), uint8(1), "format", "99999999999999999999")
	f.Add(uint16(1), uint8(2), "scale", "1e308")
	f.Add(uint16(2), uint8(3), "text", "format = 1\n[load]\n\x1b[31m")
	f.Fuzz(func(t *testing.T, n uint16, k uint8, key, val string) {
		log := slices.Clone(records)
		r := &log[int(n)%len(head)]
		r.Fields = slices.Clone(r.Fields)
		r.Fields[int(k)%len(r.Fields)] = logfmt.Field{Key: key, Val: val}
		allTables(t, lines(log, nil))
	})
}
