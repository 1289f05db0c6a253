package logfmt

import (
	"bytes"
	"context"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// recorded is a log of a whole pull as the program wrote it: the invented deck
// of `hawse demo --scenario short`.
func recorded(t testing.TB) []byte {
	t.Helper()
	src, err := Open(filepath.Join("testdata", "recorded.log.zst"))
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	file, err := io.ReadAll(src)
	if err != nil {
		t.Fatal(err)
	}
	return file
}

// asForeign prints a file as the readers in testdata do.
func asForeign(file []byte) (lines []string, proved []uint64, seal string) {
	wantN, wantPrev := uint64(1), uint32(0)
	seal = "seal none"
	for _, line := range splitLines(file) {
		rec, prev, crc, err := ParseLine(line)
		if err != nil {
			lines = append(lines, "bad")
			continue
		}
		word, raw := "jump", "-"
		if rec.N == wantN && prev == wantPrev {
			word = "ok"
		}
		if val, ok := rec.Get("raw"); ok {
			raw = fmt.Sprintf("%x", val)
		}
		lines = append(lines, fmt.Sprintf("%s %d %d %s %s", word, rec.N, rec.T, rec.Kind, raw))
		proved = append(proved, rec.N)
		wantN, wantPrev = rec.N+1, crc
	}
	if rep, err := Verify(bytes.NewReader(file)); err == nil && rep.Sealed {
		seal = "seal bad"
		if rep.SealGood {
			seal = "seal good"
		}
	}
	return lines, proved, seal
}

// Two small readers in other languages, written from FORMAT.md, find the same
// records, bytes, jumps and damage as this package.
func TestReadersInOtherLanguagesFindTheSame(t *testing.T) {
	all := []struct {
		name, script string
		seals        bool
		command      []string
	}{{"Python", "reader.py", true, []string{"python3"}}, {"awk", "reader.awk", false, []string{"awk", "-f"}}}
	found := 0
	for _, language := range all {
		if _, err := exec.LookPath(language.command[0]); err == nil {
			found++
		}
	}
	if found == 0 {
		t.Skip("neither python3 nor awk is on this machine")
	}

	full := recorded(t)
	part := bytes.Join(splitLines(full)[170:260], nil) // awk is slow
	whole := sampleLog(12, true)
	lines := splitLines(whole)
	odd := Record{T: -5_000_000_001, N: 2, Kind: Rx, Fields: []Field{{"note", ` raw="no" \x41`}, {"raw", everyByte}, {"raw", "second"}}}
	first, crc := AppendRecord(nil, &Record{N: 1, Kind: Head, Fields: []Field{{"empty", ""}}}, 0)
	second, _ := AppendRecord(nil, &odd, crc)
	files := map[string][]byte{
		"recorded": full, "recorded, a part": part, "whole": whole, "not sealed": sampleLog(12, false), "empty": nil, "every byte": append(first, second...),
		"flipped":  bytes.Replace(bytes.Replace(whole, []byte("kN"), []byte("kM"), 1), []byte("chunk=5"), []byte("chunk=7"), 1),
		"torn":     whole[:len(whole)-30],
		"last LF":  whole[:len(whole)-1],
		"holes":    bytes.Join(slices.Concat(lines[:3], lines[5:8], lines[9:]), nil),
		"moved":    bytes.Join(slices.Concat(lines[:3], lines[7:], lines[3:7]), nil),
		"garbage":  bytes.Join([][]byte{whole[:300], []byte("\n\n# a note \\x41 \"\n"), whole[300:], noise(200)}, nil),
		"NUL tail": append(sampleLog(12, false), make([]byte, 500)...),
		"resealed": resealed(lines, "count=12", "count=11"),
	}
	dir := t.TempDir()
	for name, file := range files {
		path := filepath.Join(dir, "pull.log")
		if err := os.WriteFile(path, file, 0o644); err != nil {
			t.Fatal(err)
		}
		want, proved, seal := asForeign(file)
		ours := numbers(readerOnly(file))
		if !slices.Equal(ours, proved) {
			t.Errorf("%s: our reader returns records %v, line by line it is %v", name, ours, proved)
		}
		for _, language := range all {
			if _, err := exec.LookPath(language.command[0]); err != nil || !language.seals && name == "recorded" {
				continue
			}
			got := runForeign(t, slices.Concat(language.command, []string{filepath.Join("testdata", language.script), path}))
			want := want
			if language.seals {
				want = append(slices.Clone(want), seal)
			}
			if diff := cmp.Diff(want, got); !slices.Equal(want, got) {
				t.Errorf("%s read by %s (-ours +its):\n%s", name, language.name, diff)
			}
		}
	}
}

func readerOnly(file []byte) []Record {
	recs, _ := readOnce(file)
	return recs
}

func runForeign(t *testing.T, command []string) []string {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	c := exec.CommandContext(ctx, command[0], command[1:]...)
	c.Env = append(os.Environ(), "LC_ALL=C")
	var errOut bytes.Buffer
	c.Stderr = &errOut
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%v: %v\n%s", command, err, errOut.String())
	}
	return slices.DeleteFunc(strings.Split(string(out), "\n"), func(s string) bool { return s == "" })
}

// The page says what the code does: its example is a whole log, its table of
// escapes is that of the encoder, its kinds and numbers are the package's.
func TestTheFormatPageIsTrue(t *testing.T) {
	page, err := os.ReadFile("FORMAT.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(page), "```\n")
	example, _, _ := strings.Cut(rest, "```")
	recs, damage, rep := readAll([]byte(example))
	if !rep.Whole || len(damage) > 0 || len(recs) != 3 || recs[1].Str("raw") != "+00312.4 lb\r\n" {
		t.Errorf("the example: %+v", rep)
	}
	for what, is := range map[string]string{
		"a line has at most": fmt.Sprintf("A line has at most %d bytes with its LF", MaxLine),
		"check value":        fmt.Sprintf("The text `123456789` gives `%08x`", checksum("123456789")),
	} {
		if !strings.Contains(string(page), is) {
			t.Errorf("%s: the page does not say %q", what, is)
		}
	}
	kinds, escapes := map[string]bool{}, 0
	for line := range strings.Lines(string(page)) {
		cells := strings.Split(line, "|")
		if len(cells) != 5 {
			continue
		}
		word, byteText := strings.Trim(cells[1], " `"), strings.TrimSpace(cells[2])
		if b, err := strconv.ParseUint(byteText, 16, 8); err == nil && len(byteText) == 2 {
			escapes++
			if got := string(appendQuoted(nil, string([]byte{byte(b)}))); got != `"`+word+`"` {
				t.Errorf("byte %s is written %s, the page says %s", byteText, got, word)
			}
		} else if ValidName(word) && strings.Contains(cells[1], "`") {
			kinds[word] = true
		}
	}
	if escapes != 6 {
		t.Errorf("the page has %d escapes, want 6", escapes)
	}
	for _, k := range []Kind{Head, PortEvent, Rx, Tx, Tick, Clock, Act, End, Say} {
		if !kinds[string(k)] {
			t.Errorf("the page does not have the kind %s", k)
		}
	}
	if len(kinds) != 9 {
		t.Errorf("the page has kinds %v, the package 9", kinds)
	}
	reader, _, _ := strings.Cut(string(page), "\n## Sources and words\n") // what a reader is written from
	if lines := strings.Count(reader, "\n"); lines > 90 {
		t.Errorf("%d lines are more than a page", lines)
	}
}

// The reader that stands for an afternoon's work stays small.
func TestTheForeignReaderIsShort(t *testing.T) {
	script, err := os.ReadFile(filepath.Join("testdata", "reader.py"))
	if err != nil {
		t.Fatal(err)
	}
	if lines := bytes.Count(script, []byte("\n")); lines > 40 {
		t.Errorf("%d lines, promised are 40", lines)
	}
}

// A log as the program wrote it is whole, packed or not.
func TestARecordedLogIsWhole(t *testing.T) {
	rep, err := VerifyFile(filepath.Join("testdata", "recorded.log.zst"))
	if err != nil || !rep.Holds() || !rep.Packed || rep.Records != 723 {
		t.Errorf("%+v, %v; want a packed log, whole, of 723 records", rep, err)
	}
	if plain, err := Verify(bytes.NewReader(recorded(t))); err != nil || plain.SHA256 != rep.SHA256 || plain.Packed {
		t.Errorf("unpacked: %+v, %v; want the same", plain, err)
	}
}

func checksum(s string) uint32 { return crc32.Checksum([]byte(s), castagnoli) }
