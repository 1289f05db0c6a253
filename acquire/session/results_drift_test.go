package session

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// The day of the table: minutes after nine.
var nine = time.Date(2026, 4, 12, 9, 0, 0, 0, time.UTC)

func minutes(m float64) int64 { return int64(m * 60e9) }

// pulledAt is the result of a pull of one part that began so many minutes after
// nine and measured from one minute to another of it.
func pulledAt(t *testing.T, serial string, started, from, to float64) *Result {
	t.Helper()
	head := testHead(t)
	tr := *head.Trial
	tr.Load.Serial = serial
	head.Trial, head.Scale = &tr, 1
	r := &Result{Head: head, Ready: true, Started: nine.Add(time.Duration(minutes(started))), Parts: make([]ResultPart, 1)}
	r.Parts[0].cell = cellOf(&tr)
	r.Parts[0].measured[spanPull] = span{true, minutes(from), minutes(to)}
	return r
}

// hung is a known weight of 100 N in the log, at a minute of it.
func (r *Result) hung(at, shown float64) *Result {
	state := safety.CheckPassed
	if math.Abs(shown-100) > 1 {
		state = safety.CheckFailed
	}
	r.Checks = append(r.Checks, CheckTold{T: minutes(at), Check: safety.CheckWeight, State: state, Want: 100, Shown: trial.Force(shown)})
	return r
}

func (r *Result) zeroed(at, zero float64) *Result {
	r.Checks = append(r.Checks, CheckTold{T: minutes(at), Check: safety.CheckZero, State: safety.CheckPassed, Zero: trial.Force(zero), basis: "b",
		Shown: trial.Force(math.NaN()), Want: trial.Force(math.NaN())})
	return r
}

// evening is a known weight in an addendum, so many minutes after nine.
func (r *Result) evening(at, weight, shown float64, applied bool) *Result {
	r.Addenda = append(r.Addenda, Comment{Applied: applied, Addendum: Addendum{Kind: AddendumWeight, Written: nine.Add(time.Duration(minutes(at))),
		Weight: trial.Force(weight), Shown: trial.Force(shown)}})
	return r
}

func TestMarkDrift(t *testing.T) {
	const full = 1000 * kgf // of the cell: 0.5 % is 49 N, 1 % is 98 N
	a := func(started, from, to float64) *Result { return pulledAt(t, "a", started, from, to) }
	waived := a(0, 5, 15)
	waived.Checks = append(waived.Checks, CheckTold{T: 1, Check: safety.CheckWeight, State: safety.CheckWaived, Want: trial.Force(math.NaN()), Shown: trial.Force(math.NaN())})
	tests := []struct {
		name string
		in   []*Result
		want []string // of each pull, "" no doubt
	}{
		{"nothing checked", []*Result{a(0, 5, 15), a(30, 5, 15)}, []string{"", ""}},
		{"all good", []*Result{a(0, 5, 15).hung(1, 100), a(30, 5, 15).hung(1, 100.9)}, []string{"", ""}},
		{"waived is no check", []*Result{waived, a(30, 5, 15).hung(1, 100)}, []string{"", ""}},
		{"a bad one after the second pull, the last good one before the first", []*Result{a(0, 5, 15).hung(1, 100), a(30, 5, 15).hung(20, 102.4)},
			[]string{"the known weight read +2.4 % at 2026-04-12 09:50 UTC; the last good one was at 2026-04-12 09:01 UTC", "the known weight read +2.4 % at 2026-04-12 09:50 UTC; the last good one was at 2026-04-12 09:01 UTC"}},
		{"the last good one before the second", []*Result{a(0, 5, 15).hung(1, 100), a(30, 5, 15).hung(1, 100).hung(20, 97)},
			[]string{"", "the known weight read -3.0 % at 2026-04-12 09:50 UTC; the last good one was at 2026-04-12 09:31 UTC"}},
		{"bad before the pull, mended, good", []*Result{a(0, 5, 15).hung(1, 100).hung(20, 100), a(30, 5, 15).hung(1, 220).hung(2, 100)}, []string{"", ""}},
		{"bad before the pull, and gone on with", []*Result{a(0, 5, 15).hung(1, 100).hung(20, 100), a(30, 5, 15).hung(1, 102.4), a(60, 5, 15).hung(20, 100), a(90, 5, 15)},
			[]string{"", "the known weight read +2.4 % at 2026-04-12 09:31 UTC; no good one since", "the known weight read +2.4 % at 2026-04-12 09:31 UTC; no good one since", ""}},
		{"no good one ever", []*Result{a(0, 5, 15), a(30, 5, 15).hung(20, 90)},
			[]string{"the known weight read -10.0 % at 2026-04-12 09:50 UTC; no good one before it is known", "the known weight read -10.0 % at 2026-04-12 09:50 UTC; no good one before it is known"}},
		{"another cell", []*Result{pulledAt(t, "b", 0, 5, 15), a(30, 5, 15).hung(20, 90)}, []string{"", "the known weight read -10.0 % at 2026-04-12 09:50 UTC; no good one before it is known"}},
		{"in any order", []*Result{a(30, 5, 15).hung(20, 102.4), a(0, 5, 15).hung(1, 100).hung(20, 100)},
			[]string{"the known weight read +2.4 % at 2026-04-12 09:50 UTC; the last good one was at 2026-04-12 09:20 UTC", ""}},
		{"in the evening, by addendum", []*Result{a(0, 5, 15).hung(1, 100), a(30, 5, 15).evening(600, 200, 205, true)},
			[]string{"the known weight read +2.5 % at 2026-04-12 19:00 UTC; the last good one was at 2026-04-12 09:01 UTC", "the known weight read +2.5 % at 2026-04-12 19:00 UTC; the last good one was at 2026-04-12 09:01 UTC"}},
		{"a good one in the evening clears nothing before the bad one", []*Result{a(0, 5, 15).hung(20, 105).evening(600, 200, 200, true), a(700, 5, 15)},
			[]string{"the known weight read +5.0 % at 2026-04-12 09:20 UTC; no good one before it is known", ""}},
		{"an addendum that is not applied", []*Result{a(0, 5, 15).evening(600, 200, 205, false)}, []string{""}},
		{"a weight too light to say anything", []*Result{a(0, 5, 15).evening(600, 50, 60, true)}, []string{""}},
		{"a check in the middle of what was measured", []*Result{a(0, 5, 15).hung(1, 100).hung(10, 103)},
			[]string{"the known weight read +3.0 % at 2026-04-12 09:10 UTC; the last good one was at 2026-04-12 09:01 UTC"}},
		{"never measured", []*Result{{Head: testHead(t), Ready: true, Started: nine, Parts: []ResultPart{{cell: "serial a"}}}, a(30, 5, 15).hung(20, 90)},
			[]string{"", "the known weight read -10.0 % at 2026-04-12 09:50 UTC; no good one before it is known"}},

		{"zeros that hold", []*Result{a(0, 5, 15).zeroed(1, 1000), a(30, 5, 15).zeroed(1, 1040), a(60, 5, 15).zeroed(1, 1000).zeroed(20, 960)}, []string{"", "", ""}},
		{"a zero that moved between two pulls", []*Result{a(0, 5, 15).zeroed(1, 0), a(30, 5, 15).zeroed(1, 60), a(60, 5, 15).zeroed(1, 65)},
			[]string{"the zero had moved from 0 kN to 0.06 kN at 2026-04-12 09:31 UTC; the one before it was taken at 2026-04-12 09:01 UTC", "", ""}},
		{"a zero that moved in the log, after its pull", []*Result{a(0, 5, 15).zeroed(1, 0).zeroed(20, 60), a(30, 5, 15)},
			[]string{"the zero had moved from 0 kN to 0.06 kN at 2026-04-12 09:20 UTC; the one before it was taken at 2026-04-12 09:01 UTC", ""}},
		{"a good weight does not clear a zero, nor a zero a weight", []*Result{a(0, 5, 15).zeroed(1, 0).hung(2, 100), a(30, 5, 15).hung(1, 100).zeroed(20, 60), a(60, 5, 15).zeroed(1, 60).hung(20, 110)},
			[]string{"the zero had moved from 0 kN to 0.06 kN at 2026-04-12 09:50 UTC; the one before it was taken at 2026-04-12 09:01 UTC",
				"the known weight read +10.0 % at 2026-04-12 10:20 UTC; the last good one was at 2026-04-12 09:31 UTC | the zero had moved from 0 kN to 0.06 kN at 2026-04-12 09:50 UTC; the one before it was taken at 2026-04-12 09:01 UTC",
				"the known weight read +10.0 % at 2026-04-12 10:20 UTC; the last good one was at 2026-04-12 09:31 UTC"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if tt.in[0].Head.Trial.Load.Range != trial.Force(full) {
				t.Fatalf("the template's cell has %v", tt.in[0].Head.Trial.Load.Range)
			}
			MarkDrift(tt.in)
			var got []string
			for _, r := range tt.in {
				var said []string
				for _, d := range r.Doubts {
					said = append(said, d.Text)
				}
				got = append(got, strings.Join(said, " | "))
			}
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("doubts (-want +got):\n%s", diff)
			}
		})
	}
}

// The check by an addendum has the tolerance of the one before arming.
func TestAddendumFits(t *testing.T) {
	head := testHead(t)
	for _, tt := range []struct {
		weight, shown trial.Force
		fits, some    bool
	}{{1000, 1000, true, true}, {1000, 1010, true, true}, {1000, 1010.1, false, true}, {1000, -1000, false, true}, {90, 90, false, false}} {
		a := Addendum{Kind: AddendumWeight, Weight: tt.weight, Shown: tt.shown}
		if fits, some := a.Fits(&head); some != tt.some || some && fits != tt.fits {
			t.Errorf("%v shown for %v: fits %v, says something %v; want %v, %v", tt.shown, tt.weight, fits, some, tt.fits, tt.some)
		}
	}
}

func TestFindPulls(t *testing.T) {
	dir, one, two := inTwo(t)
	other := byHand(t)
	other.run(time.Second)
	alone := other.sealed(t, dir, "B-alone.log")
	remark := addend(t, one, Addendum{Kind: AddendumRemark, Text: "weed"})
	if err := os.WriteFile(filepath.Join(dir, "noise.log"), []byte("\x00\x01\x1b[31m\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	salvaged := filepath.Join(dir, "A1-1.salvaged.log")
	if _, _, err := logfmt.SalvageFile(one, salvaged, nil); err != nil {
		t.Fatal(err)
	}
	folder := []string{remark.Path, salvaged, two, filepath.Join(dir, "noise.log"), alone, one}
	show := func(pulls []PullLogs, faults []error) (out []string) {
		for _, p := range pulls {
			line := fmt.Sprintf("%d beside:", p.Beside)
			for _, part := range p.Parts {
				line += fmt.Sprintf(" %s+%d", filepath.Base(part.Path), len(p.Addenda[part.Path]))
			}
			out = append(out, line)
		}
		for _, err := range faults {
			out = append(out, strings.ReplaceAll(err.Error(), dir+string(filepath.Separator), ""))
		}
		return out
	}
	noise := "noise.log: no log of this program, or its head is damaged; 'hawse verify' tells more"
	tests := []struct {
		name         string
		named, found []string
		want         []string
	}{
		{"the folder", nil, folder, []string{"0 beside: A1-1.log+1 A1-2.log+0", "0 beside: B-alone.log+0", noise}},
		{"one part", []string{two}, nil, []string{"1 beside: A1-1.log+1 A1-2.log+0"}},
		{"a log twice", []string{alone, alone}, []string{alone}, []string{"2 beside: B-alone.log+0"}},
		{"an addendum", []string{remark.Path}, nil, []string{filepath.Base(remark.Path) + ": an addendum to A1-1.log; name that"}},
		{"a salvaged log", []string{salvaged, alone}, nil, []string{"2 beside: B-alone.log+0", "A1-1.salvaged.log: salvaged from A1-1.log, which is beside it; name that"}},
		{"none", []string{filepath.Join(dir, "gone.log")}, nil, []string{"stat gone.log: no such file or directory; give the path of a log or a folder"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, show(FindPulls(tt.named, tt.found))); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}

	// The log it was taken from is gone: the salvaged one is the pull, and the
	// second part says what it misses.
	for _, path := range []string{one, alone} {
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
	}
	want := []string{"0 beside: A1-1.salvaged.log+0", "0 beside: A1-2.log+0", filepath.Base(remark.Path) + ": an addendum to A1-1.log, which is not beside it"}
	pulls, faults := FindPulls(nil, []string{remark.Path, salvaged, two})
	if diff := cmp.Diff(want, show(pulls, faults)); diff != "" {
		t.Errorf("without the original (-want +got):\n%s", diff)
	}
	if got := ReadResult(pulls[0]); !near(got.Figures.Pull.Value, 299*kgf) || got.Figures.Pull.Bound == "" {
		t.Errorf("of the salvaged log: greatest %+v", got.Figures.Pull)
	}
	if got := ReadResult(pulls[1]); got.Holds() || !strings.Contains(got.Parts[0].Fault, "cannot be read") {
		t.Errorf("of the second part alone: fault %q, holds %v", got.Parts[0].Fault, got.Holds())
	}
}

// Logs of one pull are one, and the one that holds most is told; two that go on
// from the same log are two, and say so.
func TestDropCopies(t *testing.T) {
	h := byHand(t)
	h.run(time.Second)
	read := func(paths ...string) *Result {
		var parts []Part
		for _, path := range paths {
			o, err := ReadOpening(path)
			if err != nil {
				t.Fatal(err)
			}
			parts = append(parts, Part{Opening: o})
		}
		return ReadResult(PullLogs{Parts: parts})
	}
	short := read(h.put(t, t.TempDir(), "a.log"))
	a := read(h.sealed(t, t.TempDir(), "a.log"))
	b := read(h.sealed(t, t.TempDir(), "a.log"))
	kept, copies := DropCopies([]*Result{short, a, b})
	if len(kept) != 1 || kept[0] != a || len(copies) != 2 || copies[0] != short || copies[1] != b {
		t.Fatalf("kept %d, left out %d; want the whole log kept, the short one and its twin left out", len(kept), len(copies))
	}
	if !strings.Contains(short.CopyOf, "a shorter copy of") || !strings.Contains(b.CopyOf, "the same log as") {
		t.Errorf("left out: %q, %q", short.CopyOf, b.CopyOf)
	}
	later := func(r *Result, by time.Duration) *Result {
		two := *r
		p := r.Parts[0]
		p.Started = p.Started.Add(by)
		two.Parts = append(slices.Clone(r.Parts), p)
		two.Faults = nil
		return &two
	}
	one, other := later(a, time.Minute), later(a, time.Hour)
	kept, copies = DropCopies([]*Result{one, b, other})
	if len(kept) != 2 || len(copies) != 1 || len(one.Faults) != 1 || len(other.Faults) != 1 || !strings.Contains(one.Faults[0], "another log goes on from the same one") {
		t.Errorf("a fork: kept %d, left out %d, %q, %q", len(kept), len(copies), one.Faults, other.Faults)
	}
}
