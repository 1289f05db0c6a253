package session

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// pullTo hauls to that count, 0.004 m a line, with the load going straight to kgf.
func (h *hand) pullTo(n int, kgf float64) {
	var was float64
	fmt.Sscanf(h.load, "%f", &was)
	for from, to := h.counts, n; h.counts < to; {
		ripple := 0.1 * float64(h.counts/4%3) // a value that never changes is a stuck one
		h.load = fmt.Sprintf("%+07.1f kgf", ripple+was+(kgf-was)*float64(h.counts-from)/float64(to-from))
		h.haul(min(h.counts+4, to), 4)
	}
	h.load = fmt.Sprintf("%+07.1f kgf", kgf)
	h.run(100 * time.Millisecond)
}

// toThePlateau and outAndIn are an invented pull: to 380 kgf and back to 300 at
// 6 m, then out of the bottom, and in again past 0.7 times the first.
func (h *hand) toThePlateau() {
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.pulling()
	h.pullTo(1000, 9)
	h.pullTo(3000, 380)
	h.pullTo(3500, 300)
	h.pullTo(6000, 300)
}

func (h *hand) outAndIn() {
	h.pullTo(7000, 300)
	h.pullTo(7008, 60)
	h.pullTo(8500, 60)
	h.pullTo(10500, 240)
	h.pullTo(11500, 285)
	h.pullTo(12500, 285)
}

// eventsOf are the moments that a Judge says of a dry run's records: one for the
// head it was given, as live, or for the one in its records, as a replay. Places are
// by 0.1 m: where bins of time fall is each log's own.
func eventsOf(t *testing.T, d *Dry, live bool) (out []string) {
	t.Helper()
	core, step := new(Core), new(Step)
	var j *Judge
	var says []logfmt.Record
	for i := range d.Records {
		if err := core.Apply(&d.Records[i], step); err != nil {
			t.Fatal(err)
		}
		if j == nil && core.Ready() {
			head := core.Head()
			if live {
				head = d.core.Head()
			}
			j = NewJudge(head)
		}
		if j != nil && d.Records[i].Kind != logfmt.Say {
			for _, in := range step.Samples {
				says = j.Apply(in, says)
			}
		}
	}
	for _, r := range says {
		if r.Str("what") == "event" {
			x, _ := r.Float("x_m")
			from, _ := r.Float("from_n")
			out = append(out, fmt.Sprintf("%s at %.1f m from %.1f N, %s", r.Str("event"), x, from, r.Str("cause")))
		}
	}
	return append(out, j.Digest())
}

// A pull broken off in its plateau goes on in another log, breaks out there and
// re-sets: that log, a replay of it, and the results of both parts say the same of
// it as one log of the whole pull.
func TestPhasesGoOnInAnotherLog(t *testing.T) {
	dir := t.TempDir()
	whole := byHand(t)
	whole.toThePlateau()
	whole.outAndIn()
	want := eventsOf(t, whole.d, true)
	if want = want[:len(want)-1]; len(want) != 2 {
		t.Fatalf("unbroken %q, want a breakout and a re-set", want)
	}

	h := byHand(t)
	h.toThePlateau()
	one := h.put(t, dir, "A1-1.log")
	g := after(t, one)
	if p := g.d.core.Head().After.Phases; p == nil || p.Stage != trial.Pull || math.Abs(p.Tension[0]-379*kgf) > 60 {
		t.Fatalf("handed over: %+v", p)
	}
	g.load, g.counts = h.load, h.counts
	g.run(2 * time.Second)
	g.must(safety.Director, ActCarry, "all")
	g.must(safety.Director, ActWaive, "weight done before the crash")
	g.must(safety.Director, ActRead, "")
	for _, who := range []safety.Who{safety.WinchOperator, safety.Logger, safety.Director} {
		g.must(who, ActReady, "all live")
	}
	g.run(time.Second)
	g.must(safety.Director, ActArm, "")
	g.outAndIn()
	live := eventsOf(t, g.d, true)
	if diff := cmp.Diff(want, live[:len(live)-1]); diff != "" {
		t.Errorf("in the log that goes on (-unbroken +got)\n%s", diff)
	}
	if diff := cmp.Diff(live, eventsOf(t, g.d, false)); diff != "" {
		t.Errorf("by the head in the log (-live +replay)\n%s", diff)
	}
	g.end()
	two := g.sealed(t, dir, "A1-2.log")

	f := resultOf(t, two).Figures
	u := resultOf(t, whole.sealed(t, t.TempDir(), "A1.log")).Figures
	moments := func(f trial.Figures) (out string) {
		for _, b := range f.Breaks {
			out += fmt.Sprintf("breakout %v at %.1f m from %.1f N, %v, re-set %v; ", b.Breakout, b.X, b.From, b.Cause, b.Reset)
		}
		return out
	}
	if a, b := moments(f), moments(u); a != b || len(f.Breaks) != 1 || !f.Breaks[0].Reset {
		t.Errorf("results of both parts %s, of the unbroken pull %s", a, b)
	}

	// Cut in its head or with a number that cannot be, nothing is taken over.
	head := g.d.core.Head()
	for _, break1 := range []func(*trial.PhasesCame){
		func(c *trial.PhasesCame) { c.Tension[0] = math.NaN() },
		func(c *trial.PhasesCame) { c.Wave = -time.Second },
		func(c *trial.PhasesCame) { c.Stage = trial.Ease },
	} {
		bad, over := *head.After.Phases, *head.After
		break1(&bad)
		over.Phases, head.After = &bad, &over
		if _, ok := NewJudge(head).phase.Came(); ok {
			t.Errorf("%+v was taken over", bad)
		}
	}
}

// With another load cell, or before any haul, nothing is handed over.
func TestPhasesAreOfTheirCell(t *testing.T) {
	h := byHand(t)
	h.toThePlateau()
	path := filepath.Join(t.TempDir(), "A1-1.log")
	if err := os.WriteFile(path, logOf(h.d), 0o644); err != nil {
		t.Fatal(err)
	}
	other := *h.d.core.Head().Trial
	other.Load.Range /= 2
	if u, err := ReadUnfinished(path, &other, ""); err != nil || u.Phases != nil {
		t.Errorf("another cell: %+v, %v", u.Phases, err)
	}
	early := byHand(t)
	early.run(time.Second)
	if u, err := ReadUnfinished(early.put(t, t.TempDir(), "A1-1.log"), h.d.core.Head().Trial, ""); err != nil || u.Phases != nil {
		t.Errorf("before any haul: %+v, %v", u.Phases, err)
	}
	if !slices.ContainsFunc(h.d.core.Head().Trial.SI(), func(kv trial.KV) bool { return kv.Key == "load_range_n" }) {
		t.Error("the trial no longer says the cell's range")
	}
}
