package safety

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/trial"
)

var update = flag.Bool("update", false, "write the golden files anew; read the diff before keeping it")

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (- want, + got; -update writes it anew):\n%s", path, diff)
	}
}

func TestCauseTable(t *testing.T) { golden(t, "causes.txt", Table()) }

// brink is a way to bring one cause about, with 1 kN and 10 Hz before it.
type brink struct {
	cause Cause
	warn  bool // look for the warning rather than the limit
	how   string
	do    func(r *rig)
	for_  time.Duration
}

var brinks = []brink{
	{TensionLimit, true, "just past the warning", func(r *rig) { r.kN = 1.01e-3 * float64(r.g.cfg.Limits[r.g.s.Stage].TensionWarn) }, time.Second},
	{TensionLimit, false, "just past the limit", func(r *rig) { r.kN = 1.01e-3 * float64(r.g.cfg.Limits[r.g.s.Stage].TensionStop) }, time.Second},
	{WLLShare, true, "7.1 kN", func(r *rig) { r.kN = 7.1 }, time.Second},
	{WLLShare, false, "9.1 kN", func(r *rig) { r.kN = 9.1 }, time.Second},
	{LoadOverRange, false, "20 kN, the cell's range", func(r *rig) { r.kN = 20 }, time.Second},
	{LoadNotNumber, false, "infinite", func(r *rig) { r.kN = math.Inf(1) }, time.Second},
	{LoadSilent, true, "no load", func(r *rig) { r.noLoad = true }, 3 * time.Second},
	{LoadSilent, false, "no load", func(r *rig) { r.noLoad = true }, 3 * time.Second},
	{LineSilent, true, "no line", func(r *rig) { r.noLine = true }, 6 * time.Second},
	{LineSilent, false, "no line", func(r *rig) { r.noLine = true }, 6 * time.Second},
	{PersonStop, false, "a call", func(r *rig) { r.do(CallStop, 0, Watcher) }, time.Second},
	{StoodStill, false, "no record for 0.3 s", func(r *rig) { r.tick(300 * time.Millisecond) }, time.Second},
	{RelayOpened, false, "relay says open", func(r *rig) { r.g.Relay(r.now, false, r.g.s.Session, &r.ev) }, time.Second},
	{StopOutLost, false, "port lost", func(r *rig) { r.g.Port(r.now, StopOut, false, &r.ev) }, time.Second},
	{ScreenGone, false, "screen lost", func(r *rig) { r.g.Port(r.now, Screen, false, &r.ev) }, time.Second},
	{Terminated, false, "told to end", func(r *rig) { r.do(Terminate, 0, Program) }, time.Second},
	{LineHauled, false, "hauled 32 m", func(r *rig) { r.x += 32 }, time.Second},
	{MinimumScope, false, "scope 3.9", func(r *rig) { r.x = 60 - 3.9*7.5 }, time.Second},
	{StageDuration, false, "20 min", func(*rig) {}, 1201 * time.Second},
	{RecordFailing, false, "disk full", func(r *rig) { r.g.Port(r.now, Record, false, &r.ev) }, time.Second},
	{JudgeGone, false, "judge gone", func(r *rig) { r.g.Port(r.now, Judge, false, &r.ev) }, time.Second},
}

// said is what the guard makes of a brink, and after how long.
func (b brink) said(r *rig) string {
	if b.cause == StageDuration && r.g.cfg.Limits[r.g.s.Stage].Duration == 0 {
		return "-" // twenty minutes for nothing
	}
	r.said = nil
	start := r.now
	b.do(r)
	r.take()
	r.run(b.for_)
	var word string
	var at int64
	for _, e := range r.said {
		if e.Cause != b.cause {
			continue
		}
		switch {
		case e.What == AlarmUp && e.On != b.warn && word == "":
			word, at = e.Priority.String(), e.T
		case e.What == EndReached && word == "":
			word, at = "told", e.T
		case e.What == StopSet && !b.warn && e.Kind == Trip:
			word, at = "STOP", e.T
		case e.What == StopSet && !b.warn:
			word, at = "end", e.T
		case e.What == StopMore && word != "STOP":
			word, at = "later", e.T
		}
	}
	if word == "" {
		return "-"
	}
	return fmt.Sprintf("%s %.1f", word, seconds(at-start))
}

// Limit by stage: what is said, and how many seconds after it came about.
func TestSaid(t *testing.T) {
	var b strings.Builder
	table := func(title string, start func(trial.Stage) *rig) {
		fmt.Fprintf(&b, "%s\n%-16s %-24s", title, "cause", "brought about by")
		for stage := range trial.NumStages {
			fmt.Fprintf(&b, " %-14s", stage)
		}
		b.WriteString("\n")
		for _, br := range brinks {
			fmt.Fprintf(&b, "%-16s %-24s", br.cause, br.how)
			for stage := range trial.NumStages {
				fmt.Fprintf(&b, " %-14s", br.said(start(stage)))
			}
			b.WriteString("\n")
		}
	}
	table("Once armed: the word, and seconds until it is said.", func(s trial.Stage) *rig { return armed(t, s) })
	b.WriteString("\n")
	table("Before the first arming.", func(s trial.Stage) *rig {
		r := newRig(t, testConfig())
		r.run(time.Second)
		if s != trial.StandBy {
			r.must(NextStage, s)
		}
		return r
	})
	b.WriteString(`
STOP: a trip, latched. end: a planned end, lifted by the next stage. later: a
trip that follows another at once. emergency, alarm, warning, caution: an alarm
alone. told: said, no stop. -: not judged in this stage.
`)
	lines := strings.Split(b.String(), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	golden(t, "said.txt", strings.Join(lines, "\n"))
}
