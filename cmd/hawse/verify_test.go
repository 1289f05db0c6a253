package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"golang.org/x/crypto/ssh"

	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
)

// writeLog makes a sealed log of n records and returns its path.
func writeLog(t *testing.T, path string, n int) string {
	t.Helper()
	l, err := logfmt.Create(path, logfmt.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range n {
		l.Put(logfmt.Record{T: int64(i) * 5e7, N: uint64(i + 1), Kind: logfmt.Tick})
	}
	if err := l.Seal(logfmt.Record{T: int64(n) * 5e7, N: uint64(n + 1), Fields: []logfmt.Field{{Key: "reason", Val: "done"}}}); err != nil {
		t.Fatal(err)
	}
	return path
}

func readText(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// A folder is verified with those below it, in a stable order however many
// logs are read at once, and the exit code tells scripts.
func TestVerifyAFolder(t *testing.T) {
	dir := t.TempDir()
	sub := filepath.Join(dir, "c")
	if err := os.Mkdir(sub, 0o755); err != nil {
		t.Fatal(err)
	}
	var names []string
	for i := range 20 {
		names = append(names, writeLog(t, filepath.Join(dir, fmt.Sprintf("a%02d.log", i)), 1+(19-i)*100))
	}
	names = append(names, writeLog(t, filepath.Join(sub, "late.log"), 3))
	write(t, filepath.Join(dir, "notes.txt"), "no log")

	code, out, errOut := hawse("verify", dir)
	if code != cli.ExitDone || !strings.Contains(out, "21 logs") || !strings.Contains(out, "21 whole, 0 not, 0 not read") {
		t.Errorf("a good folder: exit code %d\n%s%s", code, out, errOut)
	}
	told := func(out string) (paths []string) {
		for line := range strings.Lines(out) {
			if path, _, ok := strings.Cut(line, ": whole"); ok {
				paths = append(paths, path)
			}
		}
		return paths
	}
	for _, jobs := range []string{"1", "2", "16"} {
		if _, out, _ := hawse("verify", "--jobs", jobs, dir); !slices.Equal(told(out), names) {
			t.Errorf("--jobs %s tells %v\nwant the order %v", jobs, told(out), names)
		}
	}
	// Several arguments, one of them twice.
	if _, out, _ := hawse("verify", sub, names[3], sub); len(told(out)) != 3 || told(out)[1] != names[3] {
		t.Errorf("several arguments: %s", out)
	}

	text := readText(t, names[5])
	write(t, names[5], strings.Replace(text, "n=7 ", "n=8 ", 1))
	code, out, _ = hawse("verify", dir)
	if code != cli.ExitRecord || !strings.Contains(out, "a05.log: damaged in 1 place") || !strings.Contains(out, "  line 7, byte ") || !strings.Contains(out, "altered: crc=") || !strings.Contains(out, "20 whole, 1 not") {
		t.Errorf("one altered: exit code %d\n%s", code, out)
	}
	if readText(t, names[5]) == text {
		t.Fatal("the damage was not made")
	}
	// What cannot be read is told, the others are verified all the same.
	code, out, errOut = hawse("verify", filepath.Join(dir, "none.log"), sub)
	if code != cli.ExitFailed || !strings.Contains(errOut, "none.log") || !strings.Contains(out, "late.log: whole") {
		t.Errorf("one missing: exit code %d\n%s%s", code, out, errOut)
	}
	if code, _, errOut := hawse("verify", t.TempDir()); code != cli.ExitFailed || !strings.Contains(errOut, "no log in it") {
		t.Errorf("an empty folder: exit code %d, %s", code, errOut)
	}
	code, out, errOut = hawse("verify", t.TempDir(), sub)
	if code != cli.ExitFailed || !strings.Contains(errOut, "no log in it") || !strings.Contains(out, "late.log: whole") {
		t.Errorf("an empty folder and another: exit code %d\n%s%s", code, out, errOut)
	}
	if code, _, errOut := hawse("verify", "--jobs", "0", dir); code != cli.ExitUsage || !strings.Contains(errOut, "--jobs 0") {
		t.Errorf("--jobs 0: exit code %d, %s", code, errOut)
	}
}

// A log whose checksum file says otherwise is whole in itself but does not hold.
func TestVerifyHeedsTheChecksumFile(t *testing.T) {
	path := writeLog(t, filepath.Join(t.TempDir(), "a.log"), 5)
	write(t, path+".sha256", strings.Repeat("0", 64)+"  a.log\n")
	code, out, _ := hawse("verify", path)
	if code != cli.ExitRecord || !strings.Contains(out, "the checksum file beside it says otherwise") {
		t.Errorf("exit code %d, %s", code, out)
	}
}

// The signature beside a log is held against it, packed or not: one of other
// bytes is found even where the log is whole in itself.
func TestVerifyHeedsTheSignature(t *testing.T) {
	dir := t.TempDir()
	key, err := ssh.NewSignerFromKey(newEd25519(t))
	if err != nil {
		t.Fatal(err)
	}
	log := writeLog(t, filepath.Join(dir, "a.log"), 9)
	print, err := logfmt.SignFile(log, key, nil)
	if err != nil {
		t.Fatal(err)
	}
	enc, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	packed := write(t, log+".zst", string(enc.EncodeAll([]byte(readText(t, log)), nil)))
	other := writeLog(t, filepath.Join(dir, "b.log"), 10)
	write(t, other+".sig", readText(t, log+".sig"))
	for _, tt := range []struct {
		path string
		code int
		want string
	}{
		{log, cli.ExitDone, "signed with the key " + print},
		{packed, cli.ExitDone, "signed with the key " + print},
		{other, cli.ExitRecord, "whole in itself, but its signature is not good: it is not one of these bytes"},
		{writeLog(t, filepath.Join(dir, "c.log"), 2), cli.ExitDone, "whole: sealed"},
	} {
		code, out, errOut := hawse("verify", tt.path)
		if code != tt.code || !strings.Contains(out, tt.want) {
			t.Errorf("%s: exit code %d, want %d\n%s%s\nwant %q", filepath.Base(tt.path), code, tt.code, out, errOut, tt.want)
		}
	}
	if _, out, _ := hawse("verify", "--json", log, other); !strings.Contains(out, `"signature":"good"`) || !strings.Contains(out, `"signature":"bad"`) {
		t.Errorf("--json: %s", out)
	}
}

// A log that goes on from one which has not so many whole records as its head
// says does not hold.
func TestVerifyCountsTheLogBefore(t *testing.T) {
	dir := t.TempDir()
	before := writeLog(t, filepath.Join(dir, "a.log"), 9)
	sum, err := logfmt.SumFile(before)
	if err != nil {
		t.Fatal(err)
	}
	for records, want := range map[string]int{"10": cli.ExitDone, "12": cli.ExitRecord} {
		path := filepath.Join(t.TempDir(), "b.log")
		write(t, filepath.Join(filepath.Dir(path), "a.log"), readText(t, before))
		l, err := logfmt.Create(path, logfmt.Options{})
		if err != nil {
			t.Fatal(err)
		}
		l.Put(logfmt.Record{N: 1, Kind: logfmt.Head, Fields: []logfmt.Field{{Key: "part", Val: "chain"}, {Key: "predecessor", Val: "a.log"},
			{Key: "sha256", Val: sum}, {Key: "records", Val: records}}})
		if err := l.Seal(logfmt.Record{N: 2}); err != nil {
			t.Fatal(err)
		}
		code, out, _ := hawse("verify", path)
		if told := strings.Contains(out, `but 10 whole records, the head says "12"`); code != want || told != (want == cli.ExitRecord) {
			t.Errorf("records=%s: exit code %d, want %d\n%s", records, code, want, out)
		}
	}
}

func TestVerifyJSON(t *testing.T) {
	dir := t.TempDir()
	good := writeLog(t, filepath.Join(dir, "a.log"), 5)
	bad := write(t, filepath.Join(dir, "b.log"), strings.Replace(readText(t, good), "n=3 ", "n=4 ", 1))
	code, out, _ := hawse("verify", "--json", good, bad, filepath.Join(dir, "none.log"))
	if code != cli.ExitFailed {
		t.Errorf("exit code %d", code)
	}
	var got []verifiedJSON
	for line := range strings.Lines(out) {
		var v verifiedJSON
		if err := json.Unmarshal([]byte(line), &v); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		got = append(got, v)
	}
	if len(got) != 3 || !got[0].Holds || got[0].Records != 6 || got[0].Beside != "agrees" || got[0].Damage == nil || got[0].Links == nil ||
		got[1].Holds || got[1].Lost != 1 || len(got[1].Damage) != 1 || got[1].Damage[0].Line != 3 || got[2].Error == "" {
		t.Errorf("JSON: %+v", got)
	}
}

func TestSalvageCommand(t *testing.T) {
	dir := t.TempDir()
	good := writeLog(t, filepath.Join(dir, "a.log"), 9)
	text := readText(t, good)
	bad := write(t, filepath.Join(dir, "b.log"), strings.Replace(text, "n=3 ", "n=4 ", 1)+"garbage")

	code, out, errOut := hawse("salvage", bad)
	for _, want := range []string{"b.salvaged.log: 9 whole records", "missing: 1 records", "record n=3 is missing, between t=0.050000000 and t=0.150000000 s"} {
		if !strings.Contains(out, want) {
			t.Errorf("salvage says\n%swant %q", out, want)
		}
	}
	if code != cli.ExitRecord || !strings.Contains(errOut, "1 records are missing") {
		t.Errorf("exit code %d, %s", code, errOut)
	}
	made := filepath.Join(dir, "b.salvaged.log")
	if code, out, _ := hawse("verify", made); code != cli.ExitRecord || !strings.Contains(out, "could not be salvaged") || !strings.Contains(out, "salvaged from: \"b.log\" stands beside it and is the one meant") {
		t.Errorf("verify of the new log: exit code %d, %s", code, out)
	}

	before := readText(t, made)
	if code, _, errOut := hawse("salvage", bad); code != cli.ExitStart || !strings.Contains(errOut, "exists") || readText(t, made) != before {
		t.Errorf("salvage over a file: exit code %d, %s", code, errOut)
	}
	if code, _, errOut := hawse("salvage", bad, "-o", bad); code != cli.ExitStart || !strings.Contains(errOut, "exists") {
		t.Errorf("salvage over itself: exit code %d, %s", code, errOut)
	}
	if code, _, errOut := hawse("salvage", filepath.Join(dir, "none.log")); code != cli.ExitFailed || !strings.Contains(errOut, "none.log") {
		t.Errorf("salvage of nothing: exit code %d, %s", code, errOut)
	}
	empty := write(t, filepath.Join(dir, "empty.log"), "no record\n")
	if code, _, errOut := hawse("salvage", empty); code != cli.ExitRecord || !strings.Contains(errOut, "nothing was written") {
		t.Errorf("salvage of a foreign file: exit code %d, %s", code, errOut)
	}
	if _, err := os.Stat(filepath.Join(dir, "empty.salvaged.log")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a new log of nothing was made: %v", err)
	}

	whole := filepath.Join(dir, "whole.log")
	code, out, _ = hawse("salvage", "--json", "--out", whole, good)
	var got struct {
		Sealed         bool
		New            string
		Whole, Missing uint64
		Gaps           []gapJSON
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != cli.ExitDone || !got.Sealed || got.New != whole || got.Whole != 10 || got.Missing != 0 || got.Gaps == nil {
		t.Errorf("salvage of a whole log: exit code %d, %+v, %v", code, got, err)
	}
	if readText(t, good) != text || !strings.HasSuffix(readText(t, bad), "garbage") {
		t.Error("an old log was touched")
	}
}

// A log of a whole pull is salvaged out of its packing and out of disorder, and
// the fold of the new log says what was said then.
func TestASalvagedLogIsReplayed(t *testing.T) {
	packed := filepath.Join("..", "..", "logfmt", "testdata", "recorded.log.zst")
	if code, out, errOut := hawse("verify", packed); code != cli.ExitDone || !strings.Contains(out, "whole: sealed, 723 records") {
		t.Fatalf("verify %s: exit code %d\n%s%s", packed, code, out, errOut)
	}
	dir := t.TempDir()
	once, twice := filepath.Join(dir, "once.log"), filepath.Join(dir, "twice.log")
	if code, out, errOut := hawse("salvage", packed, "-o", once); code != cli.ExitDone {
		t.Fatalf("salvage: exit code %d\n%s%s", code, out, errOut)
	}
	lines := strings.SplitAfter(readText(t, once), "\n")
	moved := slices.Concat(lines[:300], lines[500:600], lines[300:500], lines[600:])
	if code, out, errOut := hawse("salvage", write(t, filepath.Join(dir, "moved.log"), strings.Join(moved, "")), "-o", twice); code != cli.ExitDone {
		t.Fatalf("salvage of a log with a block moved: exit code %d\n%s%s", code, out, errOut)
	}
	// Whatever a later build judges otherwise, it does of each of them.
	says := func(path string, records int) (code int, text string) {
		code, out, _ := hawse("replay", "--check", path)
		text, counted := strings.CutPrefix(out, fmt.Sprintf("%d records folded, ", records))
		if counted != (code == cli.ExitDone) {
			t.Errorf("replay --check %s: exit code %d\n%swant %d records", path, code, out, records)
		}
		return code, strings.ReplaceAll(text, " (the log is damaged before here)", "")
	}
	wantCode, want := says(packed, 723)
	for i, path := range []string{once, twice} {
		if code, text := says(path, 724+i); code != wantCode || text != want {
			t.Errorf("replay --check %s: exit code %d\n%swant %d, as for the log itself:\n%s", path, code, text, wantCode, want)
		}
	}
}
