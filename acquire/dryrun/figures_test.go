package dryrun

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"hawse/acquire"
	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/trial"
)

var updateFigures = flag.Bool("update-figures", false, "write the goldens of the figures anew; read the diff before keeping them")

// playedLog plays a scenario with its crew, its Judge and its log, and returns
// what a screen showed last, and where the log is.
func playedLog(t *testing.T, name string, seed uint64) (live *trial.Figures, path string) {
	t.Helper()
	s, err := deck.Load(name)
	if err != nil {
		t.Fatal(err)
	}
	return playedLogOf(t, s, seed)
}

func playedLogOf(t *testing.T, s *deck.Scenario, seed uint64) (live *trial.Figures, path string) {
	t.Helper()
	r, _, err := newRig(s, seed)
	if err != nil {
		t.Fatal(err)
	}
	r.dry.WithJudge, r.dry.Keep = true, true
	var ports [][2]string // a new rig has these behind it
	for _, port := range r.ports {
		ports = append(ports, [2]string{port, acquire.StateOpen})
	}
	for _, port := range append(ports, [2]string{session.SrcScreen, "attached"}, [2]string{session.SrcRecord, "ok"}) {
		r.dry.Records = append(r.dry.Records, logfmt.Record{N: uint64(len(r.dry.Records) + 1), Kind: logfmt.PortEvent,
			Fields: []logfmt.Field{{Key: "src", Val: port[0]}, {Key: "state", Val: port[1]}}})
	}
	people := crew.New(s.Crew)
	r.crewed(people, playsAtMost)
	if fault := people.Fault(); fault != "" {
		t.Fatalf("%s: %s", s.Name, fault)
	}
	path = filepath.Join(t.TempDir(), s.Name+".log")
	log, err := logfmt.Create(path, logfmt.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, rec := range r.dry.Records {
		log.Put(rec)
	}
	end := logfmt.Record{T: r.t, N: r.dry.Snapshot().N + 1, Kind: logfmt.End, Fields: []logfmt.Field{{Key: "reason", Val: "test"}}}
	if err := log.Seal(end); err != nil {
		t.Fatal(err)
	}
	r.dry.End(r.t)
	return r.dry.Snapshot().Figures, path
}

// figureLines are the quantities of a pull, a line each.
func figureLines(f *trial.Figures) string {
	var b strings.Builder
	for q := range trial.NumQuantities {
		i, v := &trial.Quantities[q], &f.Quantities[q]
		fmt.Fprintf(&b, "%-24s", i.Key)
		if v.Word != "" {
			fmt.Fprintf(&b, " %s", v.Word)
		}
		for j, r := range v.Read {
			switch {
			case j > 0 && !i.Loads || v.Word != "":
			case r.Known && r.U == r.U:
				fmt.Fprintf(&b, " %.4g+-%.2g", r.V, r.U)
			case r.Known:
				fmt.Fprintf(&b, " %.4g", r.V)
			default:
				fmt.Fprintf(&b, " [%s]", r.Why)
			}
		}
		if v.Bound != "" {
			fmt.Fprintf(&b, " > %s", v.Bound)
		}
		if v.Note != "" {
			fmt.Fprintf(&b, " (%s)", v.Note)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// What each scenario comes to, live and out of its log.
func TestFiguresOfScenarios(t *testing.T) {
	told := map[string]bool{}
	for _, name := range []string{"textbook", "too-good", "called-stop", "breakout", "saw-tooth", "never-sets", "over-range", "slow-cell", "swell", "vessel-moves", "snag", "unplug"} {
		told[name] = true
	}
	for _, name := range deck.Names() {
		if testing.Short() && !told[name] {
			continue
		}
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			live, path := playedLog(t, name, 1)
			pulls, faults := session.FindPulls([]string{path}, nil)
			if len(pulls) != 1 || len(faults) > 0 {
				t.Fatalf("%d pulls, %v", len(pulls), faults)
			}
			after := session.ReadResult(pulls[0])
			got := figureLines(&after.Figures)
			if told[name] {
				against(t, filepath.Join("testdata", "figures", name+".txt"), got)
			}
			if diff := cmp.Diff(figureLines(live), got); diff != "" {
				t.Errorf("- live, + out of the log:\n%s", diff)
			}
			// Bit for bit: a float prints to the digits that make it again.
			if diff := cmp.Diff(fmt.Sprintf("%+v", *live), fmt.Sprintf("%+v", after.Figures)); diff != "" {
				t.Errorf("not the same to the bit: - live, + out of the log:\n%.2000s", diff)
			}
		})
	}
}

func against(t *testing.T, golden, got string) {
	t.Helper()
	if *updateFigures {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("- want, + got:\n%s", diff)
	}
}
