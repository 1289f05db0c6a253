package main

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
)

// fewRuns plays some runs of the example campaign into a folder. It returns the
// ids of their runs by their names.
func fewRuns(t *testing.T, dir string, seed uint64, names ...string) (ids map[string]string) {
	t.Helper()
	c, err := newCampaign(seed)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	ids = map[string]string{}
	for i := range c.pulls {
		if name := c.pulls[i].name; slices.Contains(names, name) {
			ids[name] = c.pulls[i].id
			wg.Go(func() {
				if err := c.play(i, dir); err != nil {
					t.Errorf("run %s: %v", name, err)
				}
			})
		}
	}
	wg.Wait()
	if len(ids) != len(names) {
		t.Fatalf("of %v the campaign has %v", names, ids)
	}
	return ids
}

func logOf(t *testing.T, dir, id string) string {
	t.Helper()
	all, _ := filepath.Glob(filepath.Join(dir, id+"-2*.log"))
	if len(all) != 1 {
		t.Fatalf("%s: %d logs in %s", id, len(all), dir)
	}
	return all[0]
}

func change(t *testing.T, path string, how func([]byte) []byte) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, how(b), 0o644); err != nil {
		t.Fatal(err)
	}
}

// otherVersion writes a log anew, sealed and whole, in a format of another version.
func otherVersion(t *testing.T, path string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{path, path + ".sha256"} {
		if err := os.Remove(name); err != nil {
			t.Fatal(err)
		}
	}
	log, err := logfmt.Create(path, logfmt.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for read := logfmt.NewReader(bytes.NewReader(b)); read.Next(); {
		rec := read.Record()
		for i := range rec.Fields {
			if rec.Kind == logfmt.Head && rec.Fields[i].Key == "format" {
				rec.Fields[i].Val = "9"
			}
		}
		if rec.Kind == logfmt.End {
			if err := log.Seal(rec); err != nil {
				t.Fatal(err)
			}
			return
		}
		log.Put(rec)
	}
}

func TestCampaignIsTheSameBySeedAndWhole(t *testing.T) {
	a, b := t.TempDir(), t.TempDir()
	ids := fewRuns(t, a, 1, "A16-4", "B16s-1")
	fewRuns(t, b, 1, "A16-4")
	x, _ := os.ReadFile(logOf(t, a, ids["A16-4"]))
	y, _ := os.ReadFile(logOf(t, b, ids["A16-4"]))
	if len(x) == 0 || !bytes.Equal(x, y) {
		t.Errorf("the same seed gives %d and %d bytes that differ", len(x), len(y))
	}
	var out, errs bytes.Buffer
	if code := run([]string{"verify", a}, &out, &errs); code != cli.ExitDone {
		t.Errorf("verify: exit %d\n%s%s", code, out.String(), errs.String())
	}
	for _, id := range []string{"A16-4", "B16s-1"} { // a stop that was called, and a trip
		out.Reset()
		if code := run([]string{"replay", "--check", logOf(t, a, ids[id])}, &out, &errs); code != cli.ExitDone {
			t.Errorf("replay --check of %s: exit %d\n%s%s", id, code, out.String(), errs.String())
		}
	}
}

// TestReportOfABadFolder: whatever lies in the folder, the report is made and says
// what it could not use.
func TestReportOfABadFolder(t *testing.T) {
	dir := t.TempDir()
	logs := filepath.Join(dir, "logs")
	ids := fewRuns(t, logs, 1, "A16-1", "C16-1", "C16-2", "B16-3", "R-1", "B16-1")
	cut := logOf(t, logs, ids["C16-1"])
	change(t, cut, func(b []byte) []byte { return b[:len(b)*2/3] })
	damaged := logOf(t, logs, ids["C16-2"])
	change(t, damaged, func(b []byte) []byte { b[len(b)/2] ^= 0x20; return b })
	version := logOf(t, logs, ids["B16-1"])
	otherVersion(t, version)
	want := map[string]string{
		"a cut log":                      ids["C16-1"] + `-2\S*\.log \|.*torn after`,
		"a damaged log":                  ids["C16-2"] + `-2.*damaged`,
		"a copy":                         `copy\.log \|.*the same`,
		"a foreign file":                 `foreign\.log \|`,
		"an empty file":                  `empty\.log \|`,
		"another version":                ids["B16-1"] + `-2\S*\.log \|.*format`,
		"a failed set":                   ids["B16-3"] + ` .*not set`,
		"a row of the cut":               `(?m)^\| ` + ids["C16-1"] + ` \|.*record not whole`,
		"another state":                  `another state of the trial file`,
		"a link":                         `link\.log \|.*no file of its own`,
		"no bare rode":                   `No dead-weight run is among them`,
		"a name that colours the screen": `ev\\\\x1b\S*il\.log \|`,
	}
	whole, _ := os.ReadFile(logOf(t, logs, ids["A16-1"]))
	for name, b := range map[string][]byte{"copy.log": whole, "foreign.log": []byte("12:00 dragged? maybe\n\x00\x01"), "empty.log": nil} {
		if err := os.WriteFile(filepath.Join(logs, name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink("foreign.log", filepath.Join(logs, "link.log")); err != nil {
		t.Log(err) // not every system lets anybody
		delete(want, "a link")
	}
	evil := "ev\x1b[31mil.log"
	if err := os.WriteFile(filepath.Join(logs, evil), nil, 0o644); err != nil {
		t.Log(err)
		delete(want, "a name that colours the screen")
	}
	other := filepath.Join(logs, "other")
	fewRuns(t, other, 2, "A16-2") // another seed, so another state of the trial file
	var out, errs bytes.Buffer
	code := run([]string{"report", dir}, &out, &errs)
	if code != cli.ExitFailed && code != cli.ExitRecord {
		t.Errorf("exit %d; want %d or %d: not all could be used\n%s", code, cli.ExitFailed, cli.ExitRecord, errs.String())
	}
	if strings.Contains(errs.String(), "\x1b") {
		t.Errorf("a name of a file reaches the screen raw: %q", errs.String())
	}
	b, err := os.ReadFile(filepath.Join(dir, "report", "report.md"))
	if err != nil {
		t.Fatalf("no report: %v\n%s", err, errs.String())
	}
	md := string(b)
	for name, want := range want {
		if !regexp.MustCompile(want).MatchString(md) {
			t.Errorf("%s: the report has nothing like %q", name, want)
		}
	}
	if t.Failed() {
		i := strings.Index(md, "## Appendix")
		t.Log(md[max(i, 0):])
	}
	page, _ := os.ReadFile(filepath.Join(dir, "report", "report.html"))
	if !bytes.HasPrefix(page, []byte(reportMark)) {
		t.Errorf("report.html begins with %q; --again would not know it", page[:min(len(page), 150)])
	}
	if code = run([]string{"report", dir}, &out, &errs); code != cli.ExitStart {
		t.Errorf("a second time: exit %d; want %d, a report is there", code, cli.ExitStart)
	}
	if code = run([]string{"report", dir, "--out", logs}, &out, &errs); code != cli.ExitStart {
		t.Errorf("into the folder of logs: exit %d; want %d", code, cli.ExitStart)
	}
	if code = run([]string{"report", dir, "--again", "--by", "peak_1s"}, &out, &errs); code != cli.ExitFailed && code != cli.ExitRecord {
		t.Errorf("--again: exit %d", code)
	}
}

func TestReportOfOneLog(t *testing.T) {
	dir := t.TempDir()
	id := fewRuns(t, dir, 1, "A16-4")["A16-4"]
	path := logOf(t, dir, id)
	var out, errs bytes.Buffer
	if code := run([]string{"report", path}, &out, &errs); code != cli.ExitDone {
		t.Fatalf("exit %d\n%s", code, errs.String())
	}
	b, err := os.ReadFile(strings.TrimSuffix(path, ".log") + "-report/report.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"# Pull " + id, "INVENTED DATA", "ended by a person", "came up:"} {
		if !strings.Contains(string(b), want) {
			t.Errorf("the page of one pull lacks %q", want)
		}
	}
	if strings.Contains(string(b), "Held against each other") {
		t.Error("one pull is held against others")
	}
}

func TestReportUsage(t *testing.T) {
	dir := t.TempDir()
	for _, args := range [][]string{{"report"}, {"report", dir, dir}, {"report", dir, "--by", "beauty"}} {
		var out, errs bytes.Buffer
		if code := run(args, &out, &errs); code != cli.ExitUsage {
			t.Errorf("%v: exit %d; want %d: %s", args, code, cli.ExitUsage, errs.String())
		}
	}
	var out, errs bytes.Buffer
	if code := run([]string{"report", filepath.Join(dir, "nowhere")}, &out, &errs); code != cli.ExitFailed {
		t.Errorf("nowhere: exit %d; want %d: %s", code, cli.ExitFailed, errs.String())
	}
}

// TestReportAgainLeavesNothingBehind: a smaller report in the place of a larger one
// takes away what that wrote, and nothing else.
func TestReportAgainLeavesNothingBehind(t *testing.T) {
	dir := t.TempDir()
	logs, out := filepath.Join(dir, "logs"), filepath.Join(dir, "out")
	ids := fewRuns(t, logs, 1, "A16-1", "A16-4", "B16-3")
	make := func(args ...string) string {
		t.Helper()
		var text, errs bytes.Buffer
		if code := run(append([]string{"report", "--out", out}, args...), &text, &errs); code != cli.ExitDone && code != cli.ExitRecord {
			t.Fatalf("exit %d\n%s", code, errs.String())
		}
		return errs.String()
	}
	names := func() (all []string) {
		if err := filepath.WalkDir(out, func(p string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() {
				p, err = filepath.Rel(out, p)
				all = append(all, filepath.ToSlash(p))
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return all
	}
	make(logs)
	many := names()
	plot := func(run, ext string) string { return "plots/pull-" + strings.ToLower(ids[run]) + ext }
	for _, name := range []string{plot("A16-1", ".svg"), plot("B16-3", ".svg"), plot("B16-3", ".png"), "report.sha256"} {
		if !slices.ContainsFunc(many, func(n string) bool { return strings.EqualFold(n, name) }) {
			t.Fatalf("no %s among %v", name, many)
		}
	}
	find := func(name string) string {
		i := slices.IndexFunc(many, func(n string) bool { return strings.EqualFold(n, name) })
		return many[i]
	}
	// Of others: a file, a file of a report that was drawn over, a link in the place
	// of one, and names in the list that lead elsewhere.
	own, drawn, link := write(t, filepath.Join(out, "plots", "mine.svg"), "mine"), filepath.Join(out, find(plot("B16-3", ".svg"))), filepath.Join(out, find(plot("B16-3", ".png")))
	away := write(t, filepath.Join(dir, "away.txt"), "away")
	change(t, drawn, func(b []byte) []byte { return append(b, "<!-- drawn over -->"...) })
	if err := errors.Join(os.Remove(link), os.Symlink(away, link)); err != nil {
		t.Fatal(err)
	}
	sum := fmt.Sprintf("%x", sha256.Sum256([]byte("away")))
	change(t, filepath.Join(out, "report.sha256"), func(b []byte) []byte {
		for _, name := range []string{"../away.txt", away, "plots/../../away.txt", "plots/mine.svg"} {
			b = append(b, sum+"  "+name+"\n"...)
		}
		return append(b, "\x1b[2J not a line\n"...)
	})

	said := make(logOf(t, logs, ids["A16-4"]), "--again")
	if !strings.Contains(said, filepath.Base(drawn)) || !strings.Contains(said, "mine.svg") || strings.Contains(said, "away.txt") {
		t.Errorf("it says %q; want the two that were changed", said)
	}
	few := names()
	for _, name := range many {
		path := filepath.Join(out, name)
		if _, err := os.Lstat(path); err != nil && slices.Contains([]string{own, drawn, link}, path) {
			t.Errorf("%s of somebody else was removed", name)
		}
	}
	for _, name := range few {
		if strings.EqualFold(name, plot("A16-1", ".svg")) || strings.EqualFold(name, plot("A16-1", ".png")) || name == "tables/repeats.csv" {
			t.Errorf("%s of the larger report was left behind", name)
		}
	}
	if b, err := os.ReadFile(away); err != nil || string(b) != "away" {
		t.Errorf("a file outside: %q, %v", b, err)
	}
	// The list is that of the new report, as it lies.
	list, err := os.ReadFile(filepath.Join(out, "report.sha256"))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(list)) {
		sum, name, _ := strings.Cut(strings.TrimSpace(line), "  ")
		b, err := os.ReadFile(filepath.Join(out, name))
		if err != nil || fmt.Sprintf("%x", sha256.Sum256(b)) != sum {
			t.Errorf("%s is listed with %s: %v", name, sum, err)
		}
	}
	if n := strings.Count(string(list), "\n"); n < 4 || len(few) < n+3 {
		t.Errorf("%d listed of %v", n, few)
	}
}
