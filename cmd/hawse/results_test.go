package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// pulled drives a dry run of the invented campaign: the boxes send ten lines a
// second.
type pulled struct {
	t      *testing.T
	d      *session.Dry
	at     int64
	load   string
	counts int
	acts   uint32
}

func newPulled(t *testing.T, run string, started time.Time, after *session.Handover, edits ...string) *pulled {
	t.Helper()
	tr, err := trial.ParseTrial("trial.toml", []byte(changed(t, edits...)))
	if err != nil {
		t.Fatal(err)
	}
	r, ok := tr.Run(run)
	if !ok {
		t.Fatalf("the template has no run %s", run)
	}
	d, err := session.NewDry(session.Head{Tool: "hawse/test", Build: "test", Started: started, Mode: "simulated", Caption: "invented data, made by a test",
		Scale: 1, Trial: tr, File: "trial.toml", Run: r, After: after})
	if err != nil {
		t.Fatal(err)
	}
	d.Keep = true
	for _, src := range []string{session.SrcLoad, session.SrcLine, session.SrcStop} {
		d.Port(0, src, acquire.StateOpen, "")
	}
	return &pulled{t: t, d: d, load: "+0001.0 kgf"}
}

func (p *pulled) run(d time.Duration) *pulled {
	for end := p.at + int64(d); p.at < end; {
		p.at += 50e6
		if p.at%100e6 == 0 {
			p.d.Rx(p.at, session.SrcLoad, []byte(p.load+"\r\n"))
			continue
		}
		p.d.Rx(p.at, session.SrcLine, fmt.Appendf(nil, "N %+08d\r\n", p.counts))
	}
	return p
}

// haul hauls to a count at 2.4 m/min with so many kgf at the end.
func (p *pulled) haul(counts int, kgf float64) *pulled {
	var from float64
	fmt.Sscanf(p.load, "%f", &from)
	for start, whole := p.counts, counts-p.counts; p.counts < counts; {
		p.counts = min(p.counts+4, counts)
		p.load = fmt.Sprintf("%+07.1f kgf", from+(kgf-from)*float64(p.counts-start)/float64(whole))
		p.run(100 * time.Millisecond)
	}
	return p
}

func (p *pulled) do(who safety.Who, what, value string) *pulled {
	p.t.Helper()
	p.acts++
	a := session.Act{Who: who, Name: "J. Maker", What: what, Value: value}
	if what == session.ActStage || what == session.ActRearm {
		a.Stage, _ = trial.ParseStage(value)
		a.Value = ""
	}
	if out := p.d.Act(p.at, a, p.acts); out.Refused != "" && what != session.ActWeight {
		p.t.Fatalf("%s %s refused: %s", what, value, out.Refused)
	}
	return p
}

// arm arms once zero and weight are done or waived, in the stage as it is.
func (p *pulled) arm() *pulled {
	p.t.Helper()
	p.do(safety.Director, session.ActRead, "")
	for _, who := range []safety.Who{safety.WinchOperator, safety.Logger, safety.Director} {
		p.do(who, session.ActReady, "all live")
	}
	return p.run(time.Second).do(safety.Director, session.ActArm, "")
}

func (p *pulled) write(path string, sealed bool) string {
	p.t.Helper()
	log, err := logfmt.Create(path, logfmt.Options{})
	if err != nil {
		p.t.Fatal(err)
	}
	for _, r := range p.d.Records {
		log.Put(r)
	}
	if sealed {
		err = log.Seal(logfmt.Record{T: p.at, N: p.d.Snapshot().N + 1, Kind: logfmt.End, Fields: []logfmt.Field{{Key: "reason", Val: "test"}}})
	} else {
		err = log.Close()
	}
	if err != nil {
		p.t.Fatal(err)
	}
	return path
}

// campaignOfLogs is a folder of invented pulls: one in two parts with a
// correction, one whose load cell read wrong afterwards, one that came to
// nothing.
func campaignOfLogs(t *testing.T) (dir string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "logs")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	day := time.Date(2026, 4, 12, 9, 2, 11, 0, time.UTC)
	one := newPulled(t, "A1", day, nil).run(2*time.Second).do(safety.Logger, session.ActZero, "")
	one.load = "+0026.1 kgf"
	one.run(2*time.Second).do(safety.Logger, session.ActWeight, "25.0 kg")
	one.load = "+0001.0 kgf"
	one.run(2*time.Second).do(safety.Director, session.ActDepth, "6 m").do(safety.Director, session.ActPayout, "60 m").arm()
	one.do(safety.Director, session.ActStage, "pull").run(time.Second).haul(600, 310)
	path := one.write(filepath.Join(dir, "A1-20260412T090211Z.log"), false)
	tr, err := trial.ParseTrial("trial.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	u, err := session.ReadUnfinished(path, tr, "")
	if err != nil {
		t.Fatal(err)
	}
	two := newPulled(t, "A1", day.Add(90*time.Second), &u.Handover)
	two.load, two.counts = "+0250.0 kgf", 600
	two.run(2*time.Second).do(safety.Director, session.ActCarry, session.CarryAll).do(safety.Director, session.ActWaive, "weight the rode is loaded").arm()
	two.haul(1000, 240).do(safety.WinchOperator, session.ActStop, "").run(15*time.Second).do(safety.Director, session.ActAck, "")
	two.do(safety.Director, session.ActRearm, "recover").haul(1200, 90)
	two.do(safety.Logger, session.ActCameUp, "flukes=part soil_at=flukes soil=stiff-clay damage=none fit=cleaned angle=32.5 deg photo=7 zero=30 N remark==weed \x1b[31m")
	second := two.write(filepath.Join(dir, "A1-20260412T090341Z.log"), true)
	say(t, second, session.Addendum{Kind: session.AddendumCorrect, Factor: 1.02, Offset: -5, Text: "by the weight of the evening"})
	say(t, second, session.Addendum{Kind: session.AddendumRemark, Text: "=weed on the \x1b[31manchor"})

	b := newPulled(t, "A2", day.Add(time.Hour), nil).run(2*time.Second).do(safety.Logger, session.ActZero, "").do(safety.Director, session.ActWaive, "weight none at hand")
	b.do(safety.Director, session.ActPayout, "60 m").do(safety.Director, session.ActDepth, "6 m").arm()
	b.do(safety.Director, session.ActStage, "pull").run(time.Second).haul(400, 200).haul(600, 150).do(safety.Director, session.ActStage, "stand by")
	b.load = "+0026.6 kgf"
	b.run(3*time.Second).do(safety.Logger, session.ActWeight, "25.0 kg").run(time.Second)
	b.do(safety.Director, session.ActMark, "anchor up: flukes clean; soil sat on nowhere; soil none; damage none seen; fluke angle not measured; photo none; fit for another pull as it is; zero after not looked at")
	say(t, b.write(filepath.Join(dir, "A2.log"), true), session.Addendum{Kind: session.AddendumCameUp, CameUp: trial.CameUp{Damage: "fluke", Fit: "no"}})

	c := newPulled(t, "A3", day.Add(2*time.Hour), nil, `serial = "invented-01"`, `serial = "invented-02"`).run(2 * time.Second)
	c.write(filepath.Join(dir, "A3.log"), true)
	return dir
}

func say(t *testing.T, log string, a session.Addendum) {
	t.Helper()
	a.Who, a.Name, a.Written = "logger", "J. Maker", time.Date(2026, 4, 12, 18, 0, 0, 0, time.UTC)
	if _, err := session.WriteAddendum(log, a, logfmt.Options{}); err != nil {
		t.Fatal(err)
	}
}

// plain takes out of a page what depends on how long a head is.
func plain(page string) string {
	page = regexp.MustCompile(`[\d,]+ records`).ReplaceAllString(page, "# records")
	page = regexp.MustCompile(`"records":\d+`).ReplaceAllString(page, `"records":0`)
	page = regexp.MustCompile(`\d+\.\d{10,}`).ReplaceAllStringFunc(page, func(s string) string { // another processor may round the last digit otherwise
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return s
		}
		return strconv.FormatFloat(v, 'g', 10, 64)
	})
	return regexp.MustCompile(`[0-9a-f]{64}`).ReplaceAllString(page, "SHA-256")
}

// resultsIn runs hawse results from another folder, so that the paths that are
// printed are always the same.
func resultsIn(t *testing.T, dir string, args ...string) (code int, out, errOut string) {
	t.Helper()
	home, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	code, out, errOut = hawse(append([]string{"results"}, args...)...)
	t.Chdir(home)
	return code, out, errOut
}

func TestResultsOfAFolder(t *testing.T) {
	dir := filepath.Dir(campaignOfLogs(t))
	code, page, errOut := resultsIn(t, dir, "logs")
	if code != cli.ExitRecord || !strings.Contains(errOut, "of 1 of 3 pulls the record is not whole") {
		t.Errorf("a folder with a log that was cut short: code %d, %s", code, errOut)
	}
	golden(t, "results.folder.txt", plain(page))
	for line := range strings.Lines(page) {
		if n := ansi.StringWidth(strings.TrimSuffix(line, "\n")); n > 80 {
			t.Errorf("a line is %d wide: %q", n, line)
		}
	}
	if strings.Contains(page, "\x1b") {
		t.Error("an escape of an addendum is printed raw")
	}

	code, doc, _ := resultsIn(t, dir, "--json", "logs")
	golden(t, "results.folder.jsonl", plain(doc))
	lines := strings.Split(strings.TrimSpace(doc), "\n")
	if code != cli.ExitRecord || len(lines) != 3 {
		t.Fatalf("as JSON: code %d, %d lines; want one a pull", code, len(lines))
	}
	var pull struct {
		Figures map[string]any    `json:"figures"`
		Missing map[string]string `json:"missing"`
	}
	if err := json.Unmarshal([]byte(lines[2]), &pull); err != nil {
		t.Fatal(err)
	}
	if pull.Figures["pull_greatest"] != nil || pull.Figures["hauled_m"] != nil || pull.Missing["pull_greatest"] != "the stage pull was never said" {
		t.Errorf("a pull that came to nothing: %v, %v; want null and why", pull.Figures, pull.Missing)
	}

	code, sheet, _ := resultsIn(t, dir, "--csv", "logs")
	golden(t, "results.folder.csv", plain(sheet))
	rows, err := csv.NewReader(strings.NewReader(sheet)).ReadAll()
	if code != cli.ExitRecord || err != nil || len(rows) != 4 || !strings.Contains(sheet, "\r\n") {
		t.Fatalf("as CSV: code %d, %v, %d rows", code, err, len(rows))
	}
	for _, row := range rows {
		for i, cell := range row {
			if cell != "" && strings.Contains("=+-@", cell[:1]) {
				t.Errorf("column %s: %q is a formula to a spreadsheet", rows[0][i], cell)
			}
		}
	}
}

// TestResultsOfOneLog: whichever part is named the pull is one, and what was not
// looked at is told.
func TestResultsOfOneLog(t *testing.T) {
	dir := campaignOfLogs(t)
	first, second := filepath.Join(dir, "A1-20260412T090211Z.log"), filepath.Join(dir, "A1-20260412T090341Z.log")
	_, want, _ := hawse("results", first)
	for _, args := range [][]string{{second}, {first, second}} {
		if code, got, _ := hawse(append([]string{"results"}, args...)...); code != cli.ExitRecord || got != want {
			t.Errorf("results of %q: code %d\n%swant\n%s", args, code, got, want)
		}
	}
	if !strings.Contains(strings.Join(strings.Fields(want), " "), "logs of other pulls beside it: 2") {
		t.Errorf("not told that others lie beside it:\n%s", want)
	}
	code, out, errOut := hawse("results", filepath.Join(dir, "A2.log"))
	if out = strings.Join(strings.Fields(out), " "); code != cli.ExitDone || strings.Contains(out, "the last good one") || !strings.Contains(out, "no good one before it is known") {
		t.Errorf("a doubtful pull alone: code %d, %s\n%s", code, errOut, out)
	}
}

func TestResultsOfBadInput(t *testing.T) {
	dir := campaignOfLogs(t)
	good := filepath.Join(dir, "A2.log")
	empty := t.TempDir()
	foreign := write(t, filepath.Join(t.TempDir(), "foreign.log"), "\x00\x1b[31m\n")
	text, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	harmed := write(t, filepath.Join(t.TempDir(), "harmed.log"), strings.Replace(string(text), "CAMPAIGN", "campaign", 1))
	locked := write(t, filepath.Join(t.TempDir(), "locked.log"), string(text))
	if err := os.Chmod(locked, 0); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name string
		args []string
		code int
		want string
	}{
		{"nothing", nil, cli.ExitUsage, "which log"},
		{"both forms", []string{"--json", "--csv", good}, cli.ExitUsage, "not both"},
		{"no such log", []string{filepath.Join(dir, "none.log"), good}, cli.ExitFailed, "no such file"},
		{"no log", []string{foreign, good}, cli.ExitFailed, "no log of this program"},
		{"an empty folder", []string{empty, good}, cli.ExitFailed, "no log in it"},
		{"a head that is harmed", []string{harmed, good}, cli.ExitRecord, "of 1 of 2 pulls"},
	}
	if os.Getuid() != 0 {
		tests = append(tests, struct {
			name string
			args []string
			code int
			want string
		}{"not allowed", []string{locked, good}, cli.ExitFailed, "permission denied"})
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			code, out, errOut := hawse(append([]string{"results"}, tt.args...)...)
			if code != tt.code || !strings.Contains(errOut, tt.want) {
				t.Errorf("code %d, %q; want %d and %q", code, errOut, tt.code, tt.want)
			}
			if tt.code != cli.ExitUsage && !strings.Contains(out, "A2, anchor") {
				t.Errorf("the good log is not told:\n%s", out)
			}
			if strings.ContainsAny(out+errOut, "\x00\x1b") {
				t.Errorf("raw control characters: %q", out+errOut)
			}
		})
	}
}

func TestSheetText(t *testing.T) {
	for in, want := range map[string]string{"": "", "A1": "A1", "-1.5": "-1.5", "+1e3": "+1e3", "=1+1": `\x3d1+1`, "@cmd": `\x40cmd`,
		"-1+cmd|' /C calc'!A0": `\x2d1+cmd|' /C calc'!A0`, "\x1b[31m": `\x1b[31m`, "\t=1": `\t=1`, "J. Müller \u202e\xff": `J. Müller \xe2\x80\xae\xff`, `a\b "c"`: `a\b "c"`} {
		if got := sheetText(in); got != want {
			t.Errorf("sheetText(%q) = %q, want %q", in, got, want)
		}
	}
}
