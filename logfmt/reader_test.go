package logfmt

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
)

func TestWholeLog(t *testing.T) {
	file := sampleLog(30, true)
	recs, damage, rep := readAll(file)
	if diff := cmp.Diff(sampleRecords(30), recs[:30]); diff != "" {
		t.Errorf("records (-want +got):\n%s", diff)
	}
	if len(damage) > 0 || !rep.Whole || !rep.Sealed || !rep.SealGood || rep.Records != 31 || rep.FirstN != 1 || rep.LastN != 31 ||
		rep.LastT != 29*50_000_000 || rep.Bytes != int64(len(file)) || rep.Reason != "done" || rep.Lost != 0 {
		t.Errorf("damage %v, report %+v; want a whole log of 31 records", damage, rep)
	}
	if want := "whole: sealed, 31 records, n=1 to 31, t=0.000000000 to 1.450000000 s"; rep.Verdict() != want {
		t.Errorf("verdict %q, want %q", rep.Verdict(), want)
	}
}

// Whatever byte a power cut stops at, all records before it are there, and
// nothing else is.
func TestCutAtEveryByte(t *testing.T) {
	file := sampleLog(12, true)
	for cut := range len(file) {
		part := file[:cut]
		whole := bytes.Count(part, []byte("\n"))
		torn := cut > 0 && part[cut-1] != '\n'
		if torn && file[cut] == '\n' {
			whole++ // only its LF is missing: the crc proves it
		}
		recs, damage, rep := readAll(part)
		if len(recs) != whole || rep.Records != uint64(whole) {
			t.Fatalf("cut at byte %d of %d: %d records, report %d, want %d", cut, len(file), len(recs), rep.Records, whole)
		}
		if rep.Whole {
			t.Fatalf("cut at byte %d: called whole: %+v", cut, rep)
		}
		if rep.Sealed != (cut == len(file)-1) {
			t.Errorf("cut at byte %d of %d: sealed %v", cut, len(file), rep.Sealed)
		}
		kinds := []DamageKind{}
		for _, d := range damage {
			kinds = append(kinds, d.Kind)
		}
		want := []DamageKind{}
		if torn {
			want = append(want, Cut)
		}
		if whole > 0 && !slices.Equal(kinds, want) {
			t.Errorf("cut at byte %d: damage %v, want %v", cut, damage, want)
		}
	}
}

// Every file gets a clear verdict and as many records as it has.
func TestVerdicts(t *testing.T) {
	whole := sampleLog(10, true)
	lines := splitLines(whole) // 11
	open := sampleLog(10, false)
	join := func(parts ...[]byte) []byte { return bytes.Join(parts, nil) }
	without := func(drop ...int) []byte {
		var kept [][]byte
		for i, l := range lines {
			if !slices.Contains(drop, i+1) {
				kept = append(kept, l)
			}
		}
		return join(kept...)
	}
	long := bytes.Repeat([]byte("x"), 3*MaxLine)
	recs := sampleRecords(10)
	hole := encode(append(slices.Clone(recs[:4]), recs[7:]...), false)
	back := slices.Clone(recs)
	back[5].T, back[7].N = 1, 3
	replaced := func() []byte {
		r := recs[4]
		r.Fields = []Field{{"raw", "9.999 kN\r\n"}}
		_, prev, _, _ := ParseLine(lines[4])
		l, _ := AppendRecord(nil, &r, prev)
		return join(join(lines[:4]...), l, join(lines[5:]...))
	}()
	tests := []struct {
		name    string
		file    []byte
		records int
		damage  []string // beginnings of "line N: kind: text"
		verdict string   // a part of it
		lost    uint64
	}{
		{"empty", nil, 0, nil, "empty: not one record", 0},
		{"binary noise", noise(4096), 0, []string{"line 1: foreign: not a line"}, "not a log", 0},
		{"a foreign text", []byte("time,tension\n0.1,312\n0.2,313\n"), 0, []string{`line 1: foreign: not a line of a log: "time,tension"`}, "not a log", 0},
		{"UTF-16", utf16le(whole), 0, []string{"line 1: foreign: UTF-16"}, "UTF-16 text", 0},
		{"only an LF", []byte("\n"), 0, []string{"line 1: foreign: an empty line"}, "not a log", 0},
		{"not sealed", open, 10, nil, "cut short: no end", 0},
		{"CR LF", bytes.ReplaceAll(whole, []byte("\n"), []byte("\r\n")), 11, []string{"line 1: altered: lines end with CR LF"}, "the seal does not fit: bytes=", 0},
		{"UTF-8 byte order mark", join([]byte(byteOrderMark), whole), 11, []string{"line 1: altered: a UTF-8 byte order mark"}, "damaged in 1 place", 0},
		{"last LF lost", whole[:len(whole)-1], 11, []string{"line 11: cut: the last line is whole but for its LF"}, "damaged in 1 place", 0},
		{"last line torn", whole[:len(whole)-20], 10, []string{"line 11: cut: the last line is torn"}, "no end", 1},
		{"first line torn", whole[:30], 0, []string{"line 1: cut: the last line is torn after 30 bytes"}, "damaged: not one record is whole", 1},
		{"NUL tail", join(open, make([]byte, 5000)), 10, []string{"line 11: cut: 5000 NUL bytes"}, "no end", 0},
		{"long NUL tail", join(open, make([]byte, 3*MaxLine)), 10, []string{"line 11: cut: 3145728 NUL bytes"}, "no end", 0},
		{"noise at the end", join(open, noise(100)), 10, []string{"line 11: "}, "no end", 0},
		{"empty line inside", join(open[:len(lines[0])], []byte("\n"), open[len(lines[0]):]), 10, []string{"line 2: foreign: an empty line"}, "damaged", 0},
		{"long line inside", join(lines[0], long, []byte("\n"), join(lines[1:]...)), 11, []string{"line 2: foreign: 3145728 bytes without"}, "damaged", 0},
		{"long line over a record", join(join(lines[:3]...), long, []byte("\n"), join(lines[4:]...)), 10, []string{"line 4: altered: 3145728 bytes without"}, "damaged", 1},
		{"garbage over a record", join(join(lines[:3]...), []byte("\x00\x01\x02\n"), join(lines[4:]...)), 10, []string{"line 4: altered: not a line"}, "damaged", 1},
		{"two altered in a row", join(join(lines[:3]...), bytes.ReplaceAll(lines[3], []byte("n="), []byte("n=9")), bytes.ReplaceAll(lines[4], []byte("k="), []byte("k=x")), join(lines[5:]...)), 9, []string{"line 4: altered: crc="}, "line 4 (altered)", 2},
		{"one missing", without(5), 10, []string{"line 5: missing: record n=5 is gone"}, "line 5 (missing)", 1},
		{"three missing", without(5, 6, 7), 8, []string{"line 5: missing: records n=5 to n=7 are gone"}, "damaged", 3},
		{"first missing", without(1), 10, []string{"line 1: missing: record n=1 is gone"}, "damaged", 1},
		{"end missing", without(11), 10, nil, "cut short", 0},
		{"missing beside altered", join(join(lines[:3]...), []byte("t=0.000000000 n=4 k=\n"), join(lines[6:]...)), 8,
			[]string{"line 4: altered", "line 5: missing: 2 of the records n=4 to n=6 are gone"}, "damaged in 2 places", 3},
		{"repeated", join(join(lines[:5]...), lines[4], join(lines[5:]...)), 11, []string{"line 6: repeated: from record n=5 on"}, "damaged", 0},
		{"block repeated later", join(join(lines[:8]...), join(lines[2:5]...), join(lines[8:]...)), 11, []string{"line 9: repeated: from record n=3 on"}, "damaged", 0},
		{"moved on", join(join(lines[:3]...), join(lines[4:8]...), lines[3], join(lines[8:]...)), 11, []string{"line 8: moved: record n=4 out of place"}, "damaged", 0},
		{"moved back", join(join(lines[:2]...), lines[7], join(lines[2:7]...), join(lines[8:]...)), 11, []string{"line 3: moved: record n=8 out of place"}, "damaged", 0},
		{"block moved", join(join(lines[:2]...), join(lines[6:8]...), join(lines[2:6]...), join(lines[8:]...)), 11, []string{"line 3: moved: records n=7 to n=8"}, "damaged", 0},
		{"LF deleted", bytes.Replace(whole, []byte("\n"), nil, 1), 11, []string{"line 1: altered: the LF after the record is gone"}, "damaged", 0},
		{"LF overwritten", bytes.Replace(whole, []byte("\n"), []byte("?"), 1), 10, []string{"line 1: altered: no crc= at its end"}, "damaged", 1},
		{"text put before a record", bytes.Replace(whole, []byte("\nt="), []byte("\n> t="), 1), 11, []string{`line 2: foreign: not a line of a log: "> "`}, "damaged", 0},
		{"other log behind", join(open, sampleOther()), 10, []string{"line 11: foreign: another log begins here; 4 records"}, "no end", 0},
		{"same log twice", join(whole, whole), 11, []string{"line 12: repeated: from record n=1 on"}, "damaged", 0},
		{"text after the end", join(whole, []byte("# checked\n")), 11, []string{`line 12: foreign: not a line of a log: "# checked"; it stands after the end`}, "damaged", 0},
		{"record after the end", appended(whole), 12, []string{"line 12: disorder: a record after the end"}, "damaged", 0},
		{"hole made by a full disk", hole, 7, []string{"line 5: missing: records n=5 to n=7 never reached the disk"}, "damaged", 3},
		{"written in disorder", encode(back, false), 10, []string{"line 6: disorder: time falls from 0.200000000 to 0.000000001 s", "line 8: disorder: record n=3 was written after n=7"}, "damaged", 0},
		{"a record replaced by one with a right crc", replaced, 11, []string{"line 5: altered: record n=5 is not the one that n=6 was written after"}, "damaged", 0},
		{"end says another count", resealed(lines, "count=10", "count=11"), 11, nil, "not as it was sealed: count=", 0},
		{"end without sha256", resealed(lines, "sha256=", "sha255="), 11, nil, "sha256= is not in the end", 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			recs, damage, rep := readAll(tt.file)
			if len(recs) != tt.records || rep.Records != uint64(tt.records) {
				t.Errorf("%d records %v, report says %d; want %d", len(recs), numbers(recs), rep.Records, tt.records)
			}
			if rep.Whole {
				t.Errorf("called whole: %+v", rep)
			}
			ok := len(damage) >= len(tt.damage) && (len(damage) == len(tt.damage) || tt.records == 0 || strings.HasPrefix(tt.name, "noise"))
			for i := 0; ok && i < len(tt.damage); i++ {
				got := fmt.Sprintf("line %d: %s: %s", damage[i].Line, damage[i].Kind, damage[i].Text)
				ok = strings.HasPrefix(got, tt.damage[i])
			}
			if !ok {
				t.Errorf("damage:\n%v\nwant\n%v", damage, strings.Join(tt.damage, "\n"))
			}
			if got := rep.Verdict(); !strings.Contains(got, tt.verdict) {
				t.Errorf("verdict %q, want %q in it", got, tt.verdict)
			}
			if tt.lost != rep.Lost && !strings.HasPrefix(tt.name, "noise") {
				t.Errorf("lost %d, want %d: %v", rep.Lost, tt.lost, damage)
			}
		})
	}
}

func noise(n int) []byte {
	b := make([]byte, n)
	x := uint32(2463534242) // xorshift, so that the test is the same each time
	for i := range b {
		x ^= x << 13
		x ^= x >> 17
		x ^= x << 5
		b[i] = byte(x)
	}
	return b
}

func utf16le(b []byte) []byte {
	out := []byte("\xFF\xFE")
	for _, c := range b {
		out = append(out, c, 0)
	}
	return out
}

func sampleOther() []byte {
	recs := sampleRecords(4)
	recs[0].Fields = []Field{{"format", "1"}, {"station", "Heron Bar"}}
	return encode(recs, false)
}

func appended(file []byte) []byte {
	lines := splitLines(file)
	end, _, crc, _ := ParseLine(lines[len(lines)-1])
	out, _ := AppendRecord(bytes.Clone(file), &Record{T: end.T, N: end.N + 1, Kind: Tick}, crc)
	return out
}

// resealed changes the end and gives it the right crc for it.
func resealed(lines [][]byte, from, to string) []byte {
	body, _, _ := strings.Cut(string(lines[len(lines)-1]), " crc=")
	return append(bytes.Join(lines[:len(lines)-1], nil), line(strings.Replace(body, from, to, 1))...)
}

func TestReadingFault(t *testing.T) {
	file := sampleLog(10, true)
	broken := errors.New("cable out")
	for _, cut := range []int{0, 10, len(file) / 2, len(file)} {
		src := func() io.Reader {
			return io.MultiReader(iotest.OneByteReader(bytes.NewReader(file[:cut])), iotest.ErrReader(broken))
		}
		r := NewReader(src())
		records := 0
		for r.Next() {
			records++
		}
		if whole := bytes.Count(file[:cut], []byte("\n")); records != whole || !errors.Is(r.Err(), broken) {
			t.Errorf("fault at byte %d: %d records, %v; want %d and the fault", cut, records, r.Err(), whole)
		}
		if r.Next() {
			t.Errorf("fault at byte %d: Next after it is true", cut)
		}
		rep, err := Verify(src())
		if !errors.Is(err, broken) || rep.Whole {
			t.Errorf("fault at byte %d: Verify = %+v, %v; want the fault", cut, rep, err)
		}
	}
	r := NewReader(silent{})
	if r.Next() || !errors.Is(r.Err(), io.ErrNoProgress) {
		t.Errorf("a source that gives nothing: %v, want %v", r.Err(), io.ErrNoProgress)
	}
}

type silent struct{}

func (silent) Read([]byte) (int, error) { return 0, nil }

// Records are the caller's: reading on changes none.
func TestRecordsStay(t *testing.T) {
	file := sampleLog(5000, true)
	recs, _, rep := readAll(file)
	if again := encode(recs[:5000], true); !bytes.Equal(again, file) || !rep.Whole {
		t.Errorf("whole %v; the records kept are written in %d bytes, the log has %d", rep.Whole, len(again), len(file))
	}
}

// The longest line a log may have is read, one byte more is not.
func TestLongestLine(t *testing.T) {
	empty := encode([]Record{{N: 1, Kind: Head, Fields: []Field{{"trial", " "}}}}, false)
	for _, over := range []int{0, 1} {
		rec := Record{N: 1, Kind: Head, Fields: []Field{{"trial", strings.Repeat(" ", 1+MaxLine-len(empty)+over)}}}
		file := append(encode([]Record{rec}, false), sampleLog(3, false)...)
		recs, damage, _ := readAll(file)
		if over == 0 && (len(recs) != 1 || len(recs[0].Fields[0].Val) != len(rec.Fields[0].Val)) {
			t.Errorf("line of %d bytes: %d records, damage %v; want it", MaxLine, len(recs), damage)
		}
		if over == 1 && len(recs) != 3 {
			t.Errorf("line of %d bytes: %d records, damage %v; want the 3 after it", MaxLine+1, len(recs), damage)
		}
	}
}

// A file that is damaged in more places than are listed needs no more memory.
func TestMuchDamage(t *testing.T) {
	lines := splitLines(sampleLog(4000, false))
	var file []byte
	for i, l := range lines {
		switch {
		case i%3 == 1:
		case i%3 == 2:
			file = append(append(file, "noise\n"...), l...)
		default:
			file = append(file, l...)
		}
	}
	recs, damage, rep := readAll(file)
	if len(recs) != 2667 {
		t.Errorf("%d records, want 2667", len(recs))
	}
	if len(damage) > 4*maxListed || rep.Whole {
		t.Errorf("%d damages, want at most %d", len(damage), 4*maxListed)
	}
	if last := damage[len(damage)-1].Text; last != "more damage than is listed" {
		t.Errorf("last damage %q, want it said that there is more", last)
	}
}

func TestMuchDisorder(t *testing.T) {
	recs := sampleRecords(3000)
	for i := range recs {
		recs[i].T = int64(-i)
	}
	file := bytes.ReplaceAll(encode(recs, false), []byte("\n"), []byte("\r\n"))
	read, damage, _ := readAll(file)
	if len(read) != 3000 || len(damage) > maxListed+1 || damage[len(damage)-1].Text != "more damage than is listed" {
		t.Errorf("%d records of 3000, %d damages, the last %v; want at most %d and it said that there are more", len(read), len(damage), damage[len(damage)-1], maxListed)
	}
}

func TestVerifyFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "pull.log")
	write := func(name string, text []byte) {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("pull.log", sampleLog(10, true))
	rep, err := VerifyFile(path)
	if err != nil || !rep.Whole || rep.Beside != BesideNone {
		t.Errorf("without a checksum file: %+v, %v", rep, err)
	}
	for _, tt := range []struct {
		text string
		want Beside
	}{
		{sumLine(rep.SHA256, "pull.log"), BesideAgrees},
		{sumLine(strings.Repeat("0", 64), "pull.log"), BesideDiffers},
		{sumLine(rep.SHA256, "other.log"), BesideDiffers},
		{"", BesideUnread},
		{"\x1b[2J\n", BesideUnread},
	} {
		write("pull.log.sha256", []byte(tt.text))
		rep, err := VerifyFile(path)
		if err != nil || rep.Beside != tt.want || !rep.Whole {
			t.Errorf("checksum file %q: beside %q (%s), whole %v, %v; want %q", tt.text, rep.Beside, rep.BesideText, rep.Whole, err, tt.want)
		}
		if strings.Contains(rep.Verdict(), "\x1b") {
			t.Errorf("verdict %q has raw bytes of the file", rep.Verdict())
		}
	}
	for _, path := range []string{dir, filepath.Join(dir, "none.log")} {
		if _, err := VerifyFile(path); err == nil || !strings.Contains(err.Error(), path) {
			t.Errorf("VerifyFile(%q): %v, want an error with the path", path, err)
		}
	}
}

func TestSumLine(t *testing.T) {
	// From the manual of sha256sum: a name with backslash or line feed is
	// escaped and the line begins with a backslash.
	for name, want := range map[string]string{
		"pull.log": "00  pull.log\n", "a b.log": "00  a b.log\n", "a\\b\n.log": "\\00  a\\\\b\\n.log\n",
	} {
		if got := sumLine("00", name); got != want {
			t.Errorf("sumLine of %q = %q, want %q", name, got, want)
		}
	}
}
