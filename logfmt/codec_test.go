package logfmt

import (
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestCRC32C(t *testing.T) {
	f, err := os.Open("testdata/crc32c.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 6 {
		t.Fatalf("%d rows in the table of check values, want the vectors", len(rows))
	}
	for _, row := range rows[1:] {
		t.Run(row[0], func(t *testing.T) {
			input, err := hex.DecodeString(row[1])
			if err != nil {
				t.Fatal(err)
			}
			if got := fmt.Sprintf("%08x", crc32.Checksum(input, castagnoli)); got != row[2] {
				t.Errorf("crc of %s = %s, want %s (%s)", row[1], got, row[2], row[3])
			}
		})
	}
}

// line makes a log line of what stands before crc=, with the crc it should have.
func line(body string) string {
	return fmt.Sprintf("%s crc=%08x\n", body, crc32.Checksum([]byte(body), castagnoli))
}

var everyByte = func() string {
	var b [256]byte
	for i := range b {
		b[i] = byte(i)
	}
	return string(b[:])
}()

// The written forms by which a stranger can check a reader.
var forms = []struct {
	name string
	rec  Record
	prev uint32
	want string // up to crc=
}{
	{"no fields", Record{T: 0, N: 1, Kind: Tick}, 0, `t=0.000000000 n=1 k=tick prev=00000000`},
	{"received bytes", Record{T: 12345678901, N: 1042, Kind: Rx, Fields: []Field{
		{"src", "load"}, {"t0", FormatNs(12331002113)}, {"chunk", "977"}, {"cut", "end"}, {"raw", "+00312.4 lb\r\n"}}}, 0x1b22c004,
		`t=12.345678901 n=1042 k=rx src=load t0=12.331002113 chunk=977 cut=end raw="+00312.4 lb\r\n" prev=1b22c004`},
	{"raw is quoted though plain", Record{N: 2, Kind: Tx, Fields: []Field{{"raw", "B"}, {"raws", "B"}}}, 0, `t=0.000000000 n=2 k=tx raw="B" raws=B prev=00000000`},
	{"empty and spaced values", Record{N: 3, Kind: Act, Fields: []Field{{"who", ""}, {"text", "a b"}, {"text", "c"}}}, 0, `t=0.000000000 n=3 k=act who="" text="a b" text=c prev=00000000`},
	{"plain characters", Record{N: 4, Kind: Say, Fields: []Field{{"a", "azAZ09_.:+-/"}, {"b", "1,2"}, {"c", "a=b"}}}, 0, `t=0.000000000 n=4 k=say a=azAZ09_.:+-/ b="1,2" c="a=b" prev=00000000`},
	{"every byte", Record{N: 5, Kind: Rx, Fields: []Field{{"raw", everyByte}}}, 0xFFFFFFFF, `t=0.000000000 n=5 k=rx raw="` +
		`\x00\x01\x02\x03\x04\x05\x06\x07\x08\t\n\x0b\x0c\r\x0e\x0f\x10\x11\x12\x13\x14\x15\x16\x17\x18\x19\x1a\x1b\x1c\x1d\x1e\x1f` +
		` !\"#$%&'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[\\]^_` + "`abcdefghijklmnopqrstuvwxyz{|}~" + `\x7f` + highHalf() + `" prev=ffffffff`},
	{"greatest", Record{T: math.MaxInt64, N: math.MaxUint64, Kind: "z_9"}, 0, `t=9223372036.854775807 n=18446744073709551615 k=z_9 prev=00000000`},
	{"least", Record{T: math.MinInt64, N: 0, Kind: "a"}, 0, `t=-9223372036.854775808 n=0 k=a prev=00000000`},
	{"just before the start", Record{T: -1, N: 7, Kind: Clock}, 0, `t=-0.000000001 n=7 k=clock prev=00000000`},
	{"looks like a line's end", Record{N: 8, Kind: Rx, Fields: []Field{{"raw", " prev=00000000 crc=00000000\n"}}}, 0, `t=0.000000000 n=8 k=rx raw=" prev=00000000 crc=00000000\n" prev=00000000`},
}

func highHalf() string {
	var b strings.Builder
	for c := 0x80; c <= 0xFF; c++ {
		fmt.Fprintf(&b, `\x%02x`, c)
	}
	return b.String()
}

func TestForms(t *testing.T) {
	for _, tt := range forms {
		t.Run(tt.name, func(t *testing.T) {
			got, crc := AppendRecord([]byte("before "), &tt.rec, tt.prev)
			if diff := cmp.Diff("before "+line(tt.want), string(got)); diff != "" {
				t.Fatalf("AppendRecord(%+v) (-want +got):\n%s", tt.rec, diff)
			}
			for _, text := range []string{line(tt.want), strings.TrimSuffix(line(tt.want), "\n")} {
				rec, prev, gotCRC, err := ParseLine([]byte(text))
				if err != nil || prev != tt.prev || gotCRC != crc {
					t.Fatalf("ParseLine(%q) gives prev %08x crc %08x, %v; want %08x %08x", text, prev, gotCRC, err, tt.prev, crc)
				}
				if diff := cmp.Diff(tt.rec, rec); diff != "" {
					t.Errorf("ParseLine(%q) (-want +got):\n%s", text, diff)
				}
			}
		})
	}
}

// A wrong name is the program's mistake, but its record is kept.
func TestWrongNamesAreMended(t *testing.T) {
	rec := Record{N: 1, Kind: "Rx!", Fields: []Field{{"crc", "1"}, {"", "2"}, {"Wind dir", "3"}, {"é", "4"}}}
	got, _ := AppendRecord(nil, &rec, 0)
	want := line(`t=0.000000000 n=1 k=x_rx_ x_crc=1 x_=2 x_wind_dir=3 x___=4 prev=00000000`)
	if string(got) != want {
		t.Errorf("AppendRecord(%+v) = %q, want %q", rec, got, want)
	}
	if _, _, _, err := ParseLine(got); err != nil {
		t.Errorf("ParseLine(%q): %v", got, err)
	}
}

func TestParseLineRefuses(t *testing.T) {
	good := "t=1.000000000 n=1 k=tick a=b prev=00000000"
	tests := []struct{ name, line string }{
		{"nothing", ""},
		{"only LF", "\n"},
		{"two LF", line(good) + "\n"},
		{"CR LF", strings.Replace(line(good), "\n", "\r\n", 1)},
		{"wrong crc", good + " crc=00000000\n"},
		{"upper-case crc", strings.ToUpper(line(good))},
		{"short crc", strings.TrimSuffix(line(good), "\n")[:len(line(good))-2]},
		{"only a crc", " crc=00000000\n"},
		{"no prev", line("t=1.000000000 n=1 k=tick")},
		{"upper-case prev", line("t=1.000000000 n=1 k=tick prev=0000000A")},
		{"no t", line("n=1 k=tick prev=00000000")},
		{"t of ten places", line("t=1.0000000000 n=1 k=tick prev=00000000")},
		{"t of eight places", line("t=1.00000000 n=1 k=tick prev=00000000")},
		{"t with leading zero", line("t=01.000000000 n=1 k=tick prev=00000000")},
		{"t minus zero", line("t=-0.000000000 n=1 k=tick prev=00000000")},
		{"t with plus", line("t=+1.000000000 n=1 k=tick prev=00000000")},
		{"t too great", line("t=9223372036.854775808 n=1 k=tick prev=00000000")},
		{"t too small", line("t=-9223372036.854775809 n=1 k=tick prev=00000000")},
		{"n with leading zero", line("t=1.000000000 n=01 k=tick prev=00000000")},
		{"n too great", line("t=1.000000000 n=18446744073709551616 k=tick prev=00000000")},
		{"n negative", line("t=1.000000000 n=-1 k=tick prev=00000000")},
		{"n empty", line("t=1.000000000 n= k=tick prev=00000000")},
		{"no k", line("t=1.000000000 n=1 prev=00000000")},
		{"k empty", line("t=1.000000000 n=1 k= prev=00000000")},
		{"k upper case", line("t=1.000000000 n=1 k=Tick prev=00000000")},
		{"two spaces", line("t=1.000000000 n=1 k=tick  a=b prev=00000000")},
		{"space at the start", line(" t=1.000000000 n=1 k=tick prev=00000000")},
		{"space at the end", line("t=1.000000000 n=1 k=tick  prev=00000000")},
		{"key without value", line("t=1.000000000 n=1 k=tick a prev=00000000")},
		{"empty plain value", line("t=1.000000000 n=1 k=tick a= prev=00000000")},
		{"reserved key", line("t=1.000000000 n=1 k=tick n=2 prev=00000000")},
		{"key upper case", line("t=1.000000000 n=1 k=tick A=b prev=00000000")},
		{"key with digit first", line("t=1.000000000 n=1 k=tick 1a=b prev=00000000")},
		{"needless quotes", line(`t=1.000000000 n=1 k=tick a="b" prev=00000000`)},
		{"raw without quotes", line("t=1.000000000 n=1 k=tick raw=b prev=00000000")},
		{"quote not closed", line(`t=1.000000000 n=1 k=tick a="b prev=00000000`)},
		{"text after quote", line(`t=1.000000000 n=1 k=tick a="b c"d prev=00000000`)},
		{"needless escape", line(`t=1.000000000 n=1 k=tick a="\x41 b" prev=00000000`)},
		{"escape by code of one with a letter", line(`t=1.000000000 n=1 k=tick a="\x0a" prev=00000000`)},
		{"upper-case escape", line(`t=1.000000000 n=1 k=tick a="\xFF" prev=00000000`)},
		{"unknown escape", line(`t=1.000000000 n=1 k=tick a="\a" prev=00000000`)},
		{"escape cut", line(`t=1.000000000 n=1 k=tick a="\x0" prev=00000000`)},
		{"backslash last", line(`t=1.000000000 n=1 k=tick a="\ prev=00000000`)},
		{"bare tab", line("t=1.000000000 n=1 k=tick a=\"\t\" prev=00000000")},
		{"bare UTF-8", line("t=1.000000000 n=1 k=tick a=\"é\" prev=00000000")},
		{"bare LF inside", line("t=1.000000000 n=1 k=tick a=\"\n\" prev=00000000")},
		{"byte order mark", "\xEF\xBB\xBF" + line(good)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rec, _, _, err := ParseLine([]byte(tt.line))
			if err == nil {
				t.Fatalf("ParseLine(%q) = %+v, want an error", tt.line, rec)
			}
			if e, ok := errors.AsType[*LineError](err); !ok || e.At < 0 || e.At > len(tt.line) || !strings.HasPrefix(err.Error(), fmt.Sprintf("logfmt: byte %d of the line: ", e.At)) {
				t.Errorf("ParseLine(%q): error %T %v, want a *LineError with its place", tt.line, err, err)
			}
		})
	}
	if _, _, _, err := ParseLine([]byte(line(good))); err != nil {
		t.Errorf("ParseLine(%q): %v; the good line of this table is refused too", line(good), err)
	}
}

func TestAccessors(t *testing.T) {
	rec := Record{Fields: []Field{{"i", "-12"}, {"f", "1.5e-3"}, {"nan", "NaN"}, {"inf", "-Inf"}, {"ns", "0.000000042"}, {"hex", "0x1p3"}, {"big", "1e999"}, {"word", "infinity"}, {"i", "7"}}}
	if v, ok := rec.Get("i"); v != "-12" || !ok {
		t.Errorf(`Get("i") = %q, %v; want the first, "-12"`, v, ok)
	}
	if v, ok := rec.Get("none"); v != "" || ok || rec.Str("none") != "" {
		t.Errorf(`Get("none") = %q, %v; want "", false`, v, ok)
	}
	if v, ok := rec.Int("i"); v != -12 || !ok {
		t.Errorf(`Int("i") = %d, %v`, v, ok)
	}
	if v, ok := rec.Ns("ns"); v != 42 || !ok {
		t.Errorf(`Ns("ns") = %d, %v`, v, ok)
	}
	if v, ok := rec.Float("f"); v != 1.5e-3 || !ok {
		t.Errorf(`Float("f") = %v, %v`, v, ok)
	}
	if v, ok := rec.Float("nan"); v == v || !ok {
		t.Errorf(`Float("nan") = %v, %v`, v, ok)
	}
	if v, ok := rec.Float("inf"); !math.IsInf(v, -1) || !ok {
		t.Errorf(`Float("inf") = %v, %v`, v, ok)
	}
	for _, key := range []string{"hex", "big", "word", "none"} {
		if v, ok := rec.Float(key); ok {
			t.Errorf("Float(%q) = %v, true; want false", key, v)
		}
	}
	for _, key := range []string{"f", "none"} {
		if v, ok := rec.Int(key); ok {
			t.Errorf("Int(%q) = %v, true; want false", key, v)
		}
		if v, ok := rec.Ns(key); ok {
			t.Errorf("Ns(%q) = %v, true; want false", key, v)
		}
	}
}

func TestParseNsRefuses(t *testing.T) {
	for _, s := range []string{"", ".", "1", "1.0", ".000000000", "1.00000000x", "x.000000000", "-", "-.000000000", "1e3", "\x1b[2J", "00.000000000", "99999999999.000000000"} {
		ns, err := ParseNs(s)
		if err == nil || strings.Contains(err.Error(), "\x1b") || !strings.Contains(err.Error(), "nine decimal places") {
			t.Errorf("ParseNs(%q) = %d, %v; want an error that says the form", s, ns, err)
		}
	}
}

func TestAppendDoesNotAllocate(t *testing.T) {
	rec := typical()
	buf := make([]byte, 0, 1<<10)
	var prev uint32
	if n := testing.AllocsPerRun(100, func() { buf, prev = AppendRecord(buf[:0], &rec, prev) }); n != 0 {
		t.Errorf("AppendRecord allocates %v times, want 0", n)
	}
}

// typical is a record as the ports give by the thousand.
func typical() Record {
	return Record{T: 12345678901, N: 1042, Kind: Rx, Fields: []Field{
		{"src", "load"}, {"t0", "12.331002113"}, {"chunk", "977"}, {"cut", "end"}, {"raw", "+00312.4 lb\r\n"}}}
}
