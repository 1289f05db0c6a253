package export

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/klauspost/compress/zstd"
	"github.com/parquet-go/parquet-go"

	"hawse/acquire/session"
	"hawse/logfmt"
)

var update = flag.Bool("update", false, "write the golden files anew; read the diff")

// TestGolden: what a small log with one of everything becomes. The numbers of
// records are counted from the end of the head, which has a record for each key
// that a trial file may have.
func TestGolden(t *testing.T) {
	records := small(t)
	log := lines(records, nil)
	head := 0
	for _, r := range records {
		if r.Kind == logfmt.Head {
			head++
		}
	}
	number := regexp.MustCompile(`(?m)^(A1,simulated,)(\d+)`)
	for _, of := range []Of{Samples, Cells, Frames} {
		got, res := table(t, log, of, CSV)
		if !res.Whole() {
			t.Errorf("%s: the log is whole, but the result says %+v", of, res)
		}
		got = number.ReplaceAllFunc(got, func(b []byte) []byte {
			m := number.FindSubmatch(b)
			n, err := strconv.Atoi(string(m[2]))
			if err != nil {
				t.Fatal(err)
			}
			return fmt.Appendf(nil, "%shead+%d", m[1], n-head)
		})
		path := filepath.Join("testdata", "small."+string(of)+".csv")
		if *update {
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), string(got)); diff != "" {
			t.Errorf("%s differs from %s (-want +got); if it should, run with -update:\n%s", of, path, diff)
		}
	}
}

// TestCSVIsRFC4180: section 2 of RFC 4180: each row ends with CR LF, all have as
// many fields, and no row break stands anywhere else.
func TestCSVIsRFC4180(t *testing.T) {
	for _, of := range []Of{Samples, Cells, Frames} {
		file, res := table(t, lines(small(t), nil), of, CSV)
		text := string(file)
		if n := strings.Count(text, "\r\n"); n != int(res.Rows)+1 || !strings.HasSuffix(text, "\r\n") {
			t.Errorf("%s: %d line ends for %d rows and a header", of, n, res.Rows)
		}
		if rest := strings.ReplaceAll(text, "\r\n", ""); strings.ContainsAny(rest, "\r\n\x1b") {
			t.Errorf("%s: control characters inside a row: %q", of, text)
		}
		for _, r := range rowsOf(t, file) {
			for name, v := range r {
				if v == "NaN" || strings.Contains(v, "Inf") {
					t.Errorf("%s: column %s holds %s; what is missing is empty", of, name, v)
				}
			}
		}
	}
}

// TestColumnsCarryTheirUnit: a number's column ends in its unit.
func TestColumnsCarryTheirUnit(t *testing.T) {
	ends := map[string][]string{"N": {"_n"}, "m": {"_m"}, "s": {"_s"}, "rad": {"_rad"}, "m/s": {"_m_per_s"}, "ns": {"_ns"},
		"1": {"n", "_ratio", "_counts", "_records", "chunk"}}
	for _, of := range []Of{Samples, Cells, Frames} {
		cols, err := Columns(of)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range cols {
			isNumber := c.Kind == Int || c.Kind == Real || c.Kind == Seconds
			ok := !isNumber && c.Unit == ""
			for _, end := range ends[c.Unit] {
				ok = ok || isNumber && strings.HasSuffix(c.Name, end)
			}
			if !ok || c.About == "" {
				t.Errorf("%s: column %q of unit %q, about %q: want a name that ends in its unit, and a meaning", of, c.Name, c.Unit, c.About)
			}
		}
	}
	if _, err := Columns("ghosts"); err == nil {
		t.Error("Columns of no table: no error")
	}
}

// TestSpreadsheetCalculatesNothing: text from outside is no formula.
func TestSpreadsheetCalculatesNothing(t *testing.T) {
	tests := []struct{ in, want string }{
		{"+00312.4 lb\r\n", `+00312.4 lb\r\n`},
		{"-1.5 kN", "-1.5 kN"},
		{"N +0012000", "N +0012000"},
		{"=1+1", `\x3d1+1`},
		{"=cmd|' /C calc'!A0", `\x3dcmd|' /C calc'!A0`},
		{"+cmd|' /C calc'!A0", `\x2bcmd|' /C calc'!A0`},
		{"-1+cmd|' /C calc'!A0", `\x2d1+cmd|' /C calc'!A0`},
		{"@SUM(1)", `\x40SUM(1)`},
		{"-", "-"},
		{"", ""},
		{"\t=1+1", `\t=1+1`},
		{"a\"b\\c\x00\x7f\x80", `a\"b\\c\x00\x7f\x80`},
	}
	for _, tt := range tests {
		if got := cell(tt.in); got != tt.want {
			t.Errorf("cell(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}

// TestNoTable: what is not exported, and that nothing is written of it.
func TestNoTable(t *testing.T) {
	whole := small(t)
	addendum := lines([]logfmt.Record{
		{N: 1, Kind: logfmt.Head, Fields: []logfmt.Field{{Key: "part", Val: "log"}, {Key: "format", Val: "1"}}},
		{N: 2, Kind: logfmt.Head, Fields: []logfmt.Field{{Key: "part", Val: "addendum"}, {Key: "of", Val: "A1.log"}}}}, nil)
	tests := []struct {
		name string
		log  []byte
		o    Options
		want string
	}{
		{"empty", nil, Options{Of: Samples, To: CSV}, "no whole record"},
		{"not a log", []byte("\x00\x01\xffhello\nworld\n"), Options{Of: Frames, To: CSV}, "no whole record"},
		{"no head", lines(whole, func(n uint64) bool { return n < 20 }), Options{Of: Samples, To: Parquet}, "no whole head"},
		{"an addendum", addendum, Options{Of: Samples, To: CSV}, "comments on another log"},
		{"a format of the future", lines([]logfmt.Record{{N: 1, Kind: logfmt.Head, Fields: []logfmt.Field{{Key: "part", Val: "log"}, {Key: "format", Val: "99"}}}}, nil),
			Options{Of: Samples, To: CSV}, "format 99"},
		{"unknown table", lines(whole, nil), Options{Of: "ghosts", To: CSV}, `no table "ghosts"; choose samples, cells or frames`},
		{"unknown format", lines(whole, nil), Options{Of: Samples, To: "xlsx"}, `no format "xlsx"; choose csv or parquet`},
		{"packing damaged at once", []byte("\x28\xb5\x2f\xfdgarbage"), Options{Of: Samples, To: CSV}, "packing is damaged"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var out bytes.Buffer
			_, err := Write(&out, bytes.NewReader(tt.log), tt.o)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one that says %q", err, tt.want)
			}
			if out.Len() > 0 {
				t.Errorf("%d bytes written, want none: %q", out.Len(), out.String())
			}
		})
	}
}

// TestDamagedLogs: all rows that can be had, and where records are missing.
func TestDamagedLogs(t *testing.T) {
	records := small(t)
	whole := lines(records, nil)
	all, _ := table(t, whole, Samples, CSV)
	first := uint64(0) // number of the record with two frames
	for _, r := range records {
		if strings.HasPrefix(r.Str("raw"), "+00200.0") {
			first = r.N
		}
	}
	packed := pack(t, whole)
	end := records[len(records)-1]
	end.Fields = slices.Clone(end.Fields)
	end.Fields[slices.IndexFunc(end.Fields, func(f logfmt.Field) bool { return f.Key == "sha256" })].Val = strings.Repeat("0", 64)
	resealed := lines(append(slices.Clone(records[:len(records)-1]), end), nil)
	tests := []struct {
		name   string
		log    []byte
		rows   int
		lost   string // of the row after the damage
		whole  bool
		broken bool
		seal   string // how its words begin
	}{
		{"whole", whole, len(rowsOf(t, all)), "", true, false, "its seal holds"},
		{"packed", packed, len(rowsOf(t, all)), "", true, false, "its seal holds"},
		{"one record gone", lines(records, func(n uint64) bool { return n == first }), len(rowsOf(t, all)) - 2, "1", false, false, "its seal does not hold: count= says"},
		{"one byte altered", bytes.Replace(whole, []byte("+00200.0"), []byte("+00201.0"), 1), len(rowsOf(t, all)) - 2, "1", false, false, "its seal does not hold: count= says"},
		{"no line damaged, another seal", resealed, len(rowsOf(t, all)), "", false, false, "its seal does not hold: sha256= is not that"},
		{"cut short", whole[:bytes.Index(whole, []byte("+1234.5"))], 5, "", false, false, "no seal"},
		{"packing torn", packed[:len(packed)-12], 0, "", false, true, "no seal"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			for _, to := range []Format{CSV, Parquet} {
				var out bytes.Buffer
				res, err := Write(&out, bytes.NewReader(tt.log), Options{Of: Samples, To: to})
				if tt.broken && err != nil {
					continue // torn before anything of use: told as an error
				}
				if err != nil {
					t.Fatal(err)
				}
				if res.Whole() != tt.whole || !tt.broken && int(res.Rows) != tt.rows {
					t.Errorf("as %s: whole %v, %d rows; want %v, %d", to, res.Whole(), res.Rows, tt.whole, tt.rows)
				}
				if !strings.HasPrefix(res.SealText(), tt.seal) {
					t.Errorf("as %s: %q, want it to begin %q", to, res.SealText(), tt.seal)
				}
				if to == Parquet {
					if got := noteOf(t, out.Bytes(), "hawse.seal"); got != res.SealText() {
						t.Errorf("metadata hawse.seal is %q, want %q", got, res.SealText())
					}
					if got := noteOf(t, out.Bytes(), "hawse.whole"); got != strconv.FormatBool(tt.whole) {
						t.Errorf("metadata hawse.whole is %q, want %v", got, tt.whole)
					}
				}
				if to != CSV || tt.lost == "" {
					continue
				}
				rows := rowsOf(t, out.Bytes())
				marked := ""
				for _, r := range rows {
					if r["lost_records"] != "0" {
						marked += r["lost_records"] + " before n=" + r["n"] + ";"
					}
				}
				if !strings.HasPrefix(marked, tt.lost+" before n=") || strings.Count(marked, ";") != 1 {
					t.Errorf("rows marked: %q, want one with %s lost\n%s", marked, tt.lost, pick(rows, "n", "reading", "lost_records"))
				}
			}
		})
	}
}

// noteOf is one key of a Parquet file's metadata.
func noteOf(t testing.TB, file []byte, key string) string {
	t.Helper()
	p, err := parquet.OpenFile(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	text, _ := p.Lookup(key)
	return text
}

func pack(t testing.TB, b []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	w, err := zstd.NewWriter(&out)
	if err != nil {
		t.Fatal(err)
	}
	if _, err = w.Write(b); err == nil {
		err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// TestFramesAreTheBytes: the raws of one port, unescaped and joined, are its
// stream to the byte.
func TestFramesAreTheBytes(t *testing.T) {
	records := small(t)
	want := map[string]string{}
	for _, r := range records {
		if raw, ok := r.Get("raw"); ok {
			want[r.Str("src")] += raw
		}
	}
	file, _ := table(t, lines(records, nil), Frames, CSV)
	got := map[string]string{}
	for _, r := range rowsOf(t, file) {
		got[r["src"]] += unescape(t, r["raw"])
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("streams (-want +got):\n%s", diff)
	}
}

// unescape reads what escape writes.
func unescape(t testing.TB, s string) string {
	t.Helper()
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] != '\\' {
			b.WriteByte(s[i])
			continue
		}
		i++
		switch s[i] {
		case 'r':
			b.WriteByte('\r')
		case 'n':
			b.WriteByte('\n')
		case 't':
			b.WriteByte('\t')
		case 'x':
			hi, lo := strings.IndexByte(hexDigits, s[i+1]), strings.IndexByte(hexDigits, s[i+2])
			if hi < 0 || lo < 0 {
				t.Fatalf("%q: no two digits after \\x", s)
			}
			b.WriteByte(byte(hi<<4 | lo))
			i += 2
		default:
			b.WriteByte(s[i])
		}
	}
	return b.String()
}

type failing struct{ after int }

var errFull = errors.New("no space left")

func (f *failing) Write(p []byte) (int, error) {
	if f.after -= len(p); f.after < 0 {
		return 0, errFull
	}
	return len(p), nil
}

// TestWriteFails: a target that takes no more is an error, wherever it happens.
func TestWriteFails(t *testing.T) {
	log := lines(small(t), nil)
	for _, to := range []Format{CSV, Parquet} {
		full, _ := table(t, log, Samples, to)
		for _, after := range []int{0, len(full) / 2, len(full) - 1} {
			if _, err := Write(&failing{after}, bytes.NewReader(log), Options{Of: Samples, To: to, Name: "test.log", Tool: "hawse test"}); !errors.Is(err, errFull) {
				t.Errorf("%s, full after %d of %d bytes: error %v, want %v", to, after, len(full), err, errFull)
			}
		}
	}
}

// TestDemoSaysSo: a table of invented data says in every row that it is.
func TestDemoSaysSo(t *testing.T) {
	file, res := table(t, recorded(t), Samples, CSV)
	if !strings.Contains(strings.ToLower(res.Caption), "invented") {
		t.Errorf("caption %q", res.Caption)
	}
	for _, r := range rowsOf(t, file) {
		if r["mode"] != "demo" || r["run"] != "A1" {
			t.Fatalf("mode %q, run %q; want demo, A1", r["mode"], r["run"])
		}
	}
}

// BenchmarkWrite folds two minutes at 100 lines/s an instrument and writes the
// table: rows and bytes of log a second.
func BenchmarkWrite(b *testing.B) {
	d := newDry(b)
	director(d, 0, session.ActDepth, "6 m")
	for i := range int64(12000) {
		d.Rx(i*10*ms+1, session.SrcLine, fmt.Appendf(nil, "N +%07d\r\n", 12000+i/10))
		if i == 0 {
			director(d, 2, session.ActPayout, "30 m")
		}
		d.Rx(i*10*ms+3, session.SrcLoad, fmt.Appendf(nil, "+%06.1f kgf\r\n", float64(i%900)/10))
	}
	log := lines(d.Records, nil)
	for _, of := range []Of{Samples, Cells, Frames} {
		for _, to := range []Format{CSV, Parquet} {
			b.Run(string(of)+"/"+string(to), func(b *testing.B) {
				b.SetBytes(int64(len(log)))
				rows := uint64(0)
				for b.Loop() {
					res, err := Write(io.Discard, bytes.NewReader(log), Options{Of: of, To: to})
					if err != nil {
						b.Fatal(err)
					}
					rows += res.Rows
				}
				b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "rows/s")
			})
		}
	}
}
