package main

import (
	"bytes"
	"encoding/csv"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
)

// aRecord is a log of a whole invented pull, unpacked.
func aRecord(t *testing.T) string {
	t.Helper()
	src, err := logfmt.Open(filepath.Join("..", "..", "logfmt", "testdata", "recorded.log.zst"))
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	b, err := io.ReadAll(src)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// anotherSeal gives the end of a log the SHA-256 of something else; no line of it
// is damaged.
func anotherSeal(log string) string {
	at := strings.LastIndex(strings.TrimSuffix(log, "\n"), "\n") + 1
	rec, prev, _, err := logfmt.ParseLine([]byte(log[at:]))
	if err != nil {
		panic(err)
	}
	for i := range rec.Fields {
		if rec.Fields[i].Key == "sha256" {
			rec.Fields[i].Val = strings.Repeat("0", 64)
		}
	}
	line, _ := logfmt.AppendRecord([]byte(log[:at]), &rec, prev)
	return string(line)
}

// anAddendum is a log that comments on another one.
func anAddendum() string {
	var file []byte
	prev := uint32(0)
	for i, part := range []string{"log", "addendum"} {
		file, prev = logfmt.AppendRecord(file, &logfmt.Record{N: uint64(i + 1), Kind: logfmt.Head,
			Fields: []logfmt.Field{{Key: "part", Val: part}, {Key: "format", Val: "1"}, {Key: "of", Val: "A1.log"}}}, prev)
	}
	return string(file)
}

func below(t *testing.T, dir string) string {
	t.Helper()
	var names []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(dir, path)
			names = append(names, filepath.ToSlash(rel))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(names, " ")
}

// TestExport: where tables go, what is said, and with what exit code.
func TestExport(t *testing.T) {
	log := aRecord(t)
	cut := log[:strings.LastIndex(log[:len(log)*3/4], "\n")+1]
	altered := strings.Replace(log, "+0151.4 kgf", "+0951.4 kgf", 1)
	noHead := log[strings.Index(log, " k=port"):]
	noHead = noHead[strings.Index(noHead, "\n")+1:]
	another := anotherSeal(log)
	tests := []struct {
		name  string
		logs  map[string]string
		args  []string // @ stands for the folder of the test
		code  int
		says  []string // on stderr
		files string   // in @/out afterwards
	}{
		{"one, to standard output", map[string]string{"A1.log": log}, []string{"@/A1.log"}, cli.ExitDone, []string{" samples, its seal holds"}, ""},
		{"one, to a file", map[string]string{"A1.log": log, "out/x": ""}, []string{"@/A1.log", "-o", "@/out/a.csv"}, cli.ExitDone, nil, "a.csv x"},
		{"the ending says the format", map[string]string{"A1.log": log, "out/x": ""}, []string{"@/A1.log", "-o", "@/out/a.parquet"}, cli.ExitDone, nil, "a.parquet x"},
		{"the ending says another format", map[string]string{"A1.log": log}, []string{"@/A1.log", "--to", "csv", "-o", "@/a.parquet"}, cli.ExitUsage, []string{"do not fit"}, ""},
		{"one, to a folder that is made", map[string]string{"A1.log": log}, []string{"@/A1.log", "-o", "@/out/"}, cli.ExitDone, nil, "A1.samples.csv"},
		{"into no folder", map[string]string{"A1.log": log}, []string{"@/A1.log", "-o", "@/none/a.csv"}, cli.ExitStart, []string{"no such folder"}, ""},
		{"a folder", map[string]string{"logs/A1.log": log, "logs/day 2/B1.log": log, "logs/notes.txt": "x", "logs/A1.add.log": anAddendum()},
			[]string{"@/logs", "--of", "frames", "--to", "parquet", "-o", "@/out"}, cli.ExitDone, []string{"A1.add.log is an addendum"}, "A1.frames.parquet day 2/B1.frames.parquet"},
		{"exists", map[string]string{"A1.log": log, "out/A1.samples.csv": "old"}, []string{"@/A1.log", "-o", "@/out"}, cli.ExitStart, []string{"A1.samples.csv", "--force"}, "A1.samples.csv"},
		{"exists, force", map[string]string{"A1.log": log, "out/A1.samples.csv": "old"}, []string{"@/A1.log", "-o", "@/out", "--force"}, cli.ExitDone, nil, "A1.samples.csv"},
		{"onto a log", map[string]string{"A1.log": log, "out/B1.log": log}, []string{"@/A1.log", "-o", "@/out/B1.log", "--force"}, cli.ExitStart, []string{"where the record may lie"}, "B1.log"},
		{"onto a log that is called otherwise", map[string]string{"A1.log": log, "out/b": log}, []string{"@/A1.log", "-o", "@/out/b", "--force"}, cli.ExitStart, []string{"never replaced"}, "b"},
		{"the same name twice", map[string]string{"x/A1.log": log, "y/A1.log": log}, []string{"@/x/A1.log", "@/y/A1.log", "-o", "@/out"}, cli.ExitUsage, []string{"both become A1.samples.csv"}, ""},
		{"several, to nowhere", map[string]string{"A1.log": log}, []string{"@/A1.log", "@/A1.log"}, cli.ExitUsage, []string{"-o"}, ""},
		{"several, to standard output", map[string]string{"A1.log": log, "B1.log": log}, []string{"@", "-o", "-"}, cli.ExitUsage, []string{"one log"}, ""},
		{"Parquet to nowhere", map[string]string{"A1.log": log}, []string{"@/A1.log", "--to", "parquet"}, cli.ExitUsage, []string{"-o"}, ""},
		{"cut short", map[string]string{"A1.log": cut}, []string{"@/A1.log", "-o", "@/out/"}, cli.ExitRecord, []string{"cut short"}, "A1.samples.csv"},
		{"damaged", map[string]string{"A1.log": altered}, []string{"@/A1.log", "-o", "@/out/"}, cli.ExitRecord, []string{"altered", "line "}, "A1.samples.csv"},
		{"damaged, to standard output", map[string]string{"A1.log": altered}, []string{"@/A1.log"}, cli.ExitRecord, []string{"altered", "is not whole"}, ""},
		{"another seal, to standard output", map[string]string{"A1.log": another}, []string{"@/A1.log"}, cli.ExitRecord, []string{"its seal does not hold: sha256= is not that of the bytes", "is not whole"}, ""},
		{"one of three with another seal", map[string]string{"logs/A1.log": log, "logs/A2.log": another, "logs/A3.log": log}, []string{"@/logs", "-o", "@/out"}, cli.ExitRecord,
			[]string{"A2.log: its seal does not hold: sha256=", "1 of 3"}, "A1.samples.csv A2.samples.csv A3.samples.csv"},
		{"one of three damaged", map[string]string{"logs/A1.log": log, "logs/A2.log": altered, "logs/A3.log": log}, []string{"@/logs", "-o", "@/out"}, cli.ExitRecord, []string{"A2.log", "1 of 3"},
			"A1.samples.csv A2.samples.csv A3.samples.csv"},
		{"one of three no log", map[string]string{"logs/A1.log": log, "logs/A2.log": "\x1b[31mno\n", "logs/A3.log": log}, []string{"@/logs", "-o", "@/out"}, cli.ExitFailed, []string{"A2.log", "no whole record"},
			"A1.samples.csv A3.samples.csv"},
		{"no head", map[string]string{"A1.log": noHead}, []string{"@/A1.log", "-o", "@/out/"}, cli.ExitRecord, []string{"no whole head"}, ""},
		{"no head, frames", map[string]string{"A1.log": noHead}, []string{"@/A1.log", "--of", "frames", "-o", "@/out/"}, cli.ExitRecord, []string{"not whole"}, "A1.frames.csv"},
		{"an addendum by name", map[string]string{"A1.log": anAddendum()}, []string{"@/A1.log"}, cli.ExitFailed, []string{"comments on another log"}, ""},
		{"empty", map[string]string{"A1.log": ""}, []string{"@/A1.log", "-o", "@/out/"}, cli.ExitFailed, []string{"no whole record"}, ""},
		{"no such log", nil, []string{"@/A1.log"}, cli.ExitFailed, []string{"A1.log"}, ""},
		{"no log in the folder", map[string]string{"logs/x": ""}, []string{"@/logs", "-o", "@/out"}, cli.ExitFailed, []string{"no log in it"}, ""},
		{"nothing", nil, nil, cli.ExitUsage, []string{"which log"}, ""},
		{"unknown format", map[string]string{"A1.log": log}, []string{"@/A1.log", "--to", "xlsx"}, cli.ExitUsage, []string{"xlsx", "csv or parquet"}, ""},
		{"unknown table", map[string]string{"A1.log": log}, []string{"@/A1.log", "--of", "peaks"}, cli.ExitUsage, []string{"peaks", "samples, cells or frames"}, ""},
		{"jobs of nothing", map[string]string{"A1.log": log}, []string{"@/A1.log", "--jobs", "0"}, cli.ExitUsage, []string{"--jobs"}, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			for name, text := range tt.logs {
				if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755); err != nil {
					t.Fatal(err)
				}
				write(t, filepath.Join(dir, name), text)
			}
			args := []string{"export"}
			for _, a := range tt.args {
				args = append(args, strings.Replace(a, "@", dir, 1))
			}
			code, out, errOut := hawse(args...)
			if code != tt.code {
				t.Errorf("hawse %q: exit code %d, want %d\n%s", args, code, tt.code, errOut)
			}
			for _, w := range tt.says {
				if !strings.Contains(errOut, w) {
					t.Errorf("hawse %q says\n%swant it to say %q", args, errOut, w)
				}
			}
			if strings.ContainsAny(out+errOut, "\x00\x1b") {
				t.Errorf("raw control characters: %q", out+errOut)
			}
			if info, err := os.Stat(filepath.Join(dir, "out")); err == nil && info.IsDir() {
				if got := below(t, filepath.Join(dir, "out")); got != tt.files {
					t.Errorf("files: %s, want %s", got, tt.files)
				}
			} else if tt.files != "" {
				t.Errorf("no folder out, want %s in it", tt.files)
			}
			for name, text := range tt.logs {
				if strings.HasSuffix(name, ".log") {
					if b, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(b) != text {
						t.Errorf("the log %s is changed: %v", name, err)
					}
				}
			}
		})
	}
}

// TestExportedFilesRead: what was asked for is what is there.
func TestExportedFilesRead(t *testing.T) {
	dir := t.TempDir()
	log := write(t, filepath.Join(dir, "A1.log"), aRecord(t))
	code, out, _ := hawse("export", log)
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if code != cli.ExitDone || err != nil || len(rows) < 100 {
		t.Fatalf("standard output: code %d, %d rows, %v", code, len(rows), err)
	}
	path := filepath.Join(dir, "a.parquet")
	if code, _, errOut := hawse("export", log, "-o", path); code != cli.ExitDone {
		t.Fatalf("code %d: %s", code, errOut)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	p, err := parquet.OpenFile(bytes.NewReader(b), int64(len(b)))
	if err != nil || int(p.NumRows()) != len(rows)-1 {
		t.Errorf("Parquet: %v rows, %v; CSV has %d", p, err, len(rows)-1)
	}
	if tool, _ := p.Lookup("hawse.tool"); !strings.HasPrefix(tool, "hawse "+cli.Version) {
		t.Errorf("metadata hawse.tool is %q", tool)
	}
}

// TestExportSaysWhetherTheSealHolds: of each log, and in Parquet for good.
func TestExportSaysWhetherTheSealHolds(t *testing.T) {
	dir := t.TempDir()
	text := aRecord(t)
	good, bad := write(t, filepath.Join(dir, "A1.log"), text), write(t, filepath.Join(dir, "A2.log"), anotherSeal(text))
	cut := write(t, filepath.Join(dir, "A3.log"), text[:strings.LastIndex(text[:len(text)/2], "\n")+1])
	code, out, _ := hawse("export", good, bad, cut, "--to", "parquet", "-o", filepath.Join(dir, "out"))
	if code != cli.ExitRecord {
		t.Errorf("exit code %d, want %d", code, cli.ExitRecord)
	}
	for name, want := range map[string]string{"A1": "its seal holds", "A2": "its seal does not hold: sha256= is not that of the bytes before it", "A3": "no seal: the log has no end"} {
		b, err := os.ReadFile(filepath.Join(dir, "out", name+".samples.parquet"))
		if err != nil {
			t.Fatal(err)
		}
		p, err := parquet.OpenFile(bytes.NewReader(b), int64(len(b)))
		if err != nil {
			t.Fatal(err)
		}
		if got, _ := p.Lookup("hawse.seal"); got != want || !strings.Contains(out, name+".log, "+want+"\n") {
			t.Errorf("%s: hawse.seal is %q, want %q, also in\n%s", name, got, want, out)
		}
	}
	if !strings.Contains(out, "2 not whole, 2 without a seal that holds, 0 not exported") {
		t.Errorf("summary: %s", out)
	}
}

// TestExportToAFullDisk: told, and nothing half made is left.
func TestExportToAFullDisk(t *testing.T) {
	if _, err := os.Stat("/dev/full"); err != nil {
		t.Skip("no /dev/full here")
	}
	log := write(t, filepath.Join(t.TempDir(), "A1.log"), aRecord(t))
	for _, to := range []string{"csv", "parquet"} {
		code, _, errOut := hawse("export", log, "--to", to, "-o", "/dev/full")
		if code != cli.ExitFailed || !strings.Contains(errOut, "no space") {
			t.Errorf("to %s: code %d, %s", to, code, errOut)
		}
	}
	if left, _ := filepath.Glob("/dev/.export*"); left != nil {
		t.Errorf("left behind: %q", left)
	}
}

func TestCat(t *testing.T) {
	dir := t.TempDir()
	text := aRecord(t)
	log := write(t, filepath.Join(dir, "A1.log"), text)
	cut := write(t, filepath.Join(dir, "cut.log"), text[:len(text)/2])
	binary := write(t, filepath.Join(dir, "binary.log"), "\x00\x01\xff\x1b[31m\n\x00")
	other := write(t, filepath.Join(dir, "other.log"), anotherSeal(text))
	lines := strings.Count(text, "\n")
	tests := []struct {
		name  string
		args  []string
		code  int
		lines int // on stdout
		says  string
	}{
		{"whole", []string{log}, cli.ExitDone, lines, ""},
		{"as JSON", []string{"--json", log}, cli.ExitDone, lines, ""},
		{"followed to its end", []string{"--follow", log}, cli.ExitDone, lines, ""},
		{"packed", []string{filepath.Join("..", "..", "logfmt", "testdata", "recorded.log.zst")}, cli.ExitDone, lines, ""},
		{"packed, followed", []string{"-f", filepath.Join("..", "..", "logfmt", "testdata", "recorded.log.zst")}, cli.ExitDone, lines, ""},
		{"another seal", []string{other}, cli.ExitRecord, lines, "its seal does not hold: sha256="},
		{"another seal, followed", []string{"-f", other}, cli.ExitRecord, lines, "its seal does not hold: sha256="},
		{"cut short", []string{cut}, cli.ExitRecord, strings.Count(text[:len(text)/2], "\n"), "no end"},
		{"no log", []string{binary}, cli.ExitFailed, 0, "no whole record"},
		{"none there", []string{filepath.Join(dir, "none.log")}, cli.ExitFailed, 0, "none.log"},
		{"none there, followed", []string{"-f", filepath.Join(dir, "none.log")}, cli.ExitFailed, 0, "none.log"},
		{"a folder", []string{dir}, cli.ExitFailed, 0, "folder"},
		{"a folder, followed", []string{"-f", dir}, cli.ExitFailed, 0, "folder"},
		{"nothing", nil, cli.ExitUsage, 0, "one log"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			code, out, errOut := hawse(append([]string{"cat"}, tt.args...)...)
			if code != tt.code || strings.Count(out, "\n") != tt.lines || !strings.Contains(errOut, tt.says) {
				t.Errorf("code %d, %d lines, says %q; want %d, %d, %q", code, strings.Count(out, "\n"), errOut, tt.code, tt.lines, tt.says)
			}
			if strings.ContainsAny(out+errOut, "\x00\x1b") {
				t.Errorf("raw control characters: %.500q", out+errOut)
			}
		})
	}
}

// TestQuietOnABrokenPipe: a reader that has had enough is no fault.
func TestQuietOnABrokenPipe(t *testing.T) {
	log := write(t, filepath.Join(t.TempDir(), "A1.log"), aRecord(t))
	for _, args := range [][]string{{"cat", log}, {"cat", "--follow", log}, {"export", log}} {
		r, w, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		r.Close()
		var errOut bytes.Buffer
		if code := run(args, w, &errOut); code != cli.ExitDone || errOut.Len() > 0 {
			t.Errorf("hawse %q into a closed pipe: code %d, says %q", args, code, errOut.String())
		}
		w.Close()
	}
}
