package bench

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire/deck"
	"hawse/acquire/dryrun"
	"hawse/cmd/hawse/cli"
)

// What is wanted of the phase detector: common practice, no source.
const (
	wantFound = 0.95 // precision and recall of every event, at least
	wantFalse = 0.02 // of the vessel's falls and of the saw-teeth said to be breakouts, at most
	wantRight = 0.90 // of the hauled length with the right phase, at least
)

// mostScored bounds --score, so that two runs share no pull: a run has so many
// seeds of its own. mostRun keeps their numbers apart.
const (
	mostScored = deck.MadeStride
	mostRun    = 1_000_000_000_000
)

// ScoreDetector plays made-up pulls and prints how the phase detector did.
func ScoreDetector(c *cobra.Command, n int, seed uint64, asJSON bool) error {
	if n < 1 || n > mostScored {
		return cli.Usage("--score %d: from 1 to %d pulls", n, mostScored)
	}
	if seed > mostRun {
		return cli.Usage("--seed %d: with --score it is the number of a run, to %d; run S has the pulls from seed S x %d on", seed, mostRun, deck.MadeStride)
	}
	ctx, cancel := cli.Interruptible(c)
	defer cancel()
	on, began, done := thisMachine(), time.Now(), 0
	s, err := dryrun.ScoreMany(seed, n, runtime.NumCPU(), func(*dryrun.ScoredPull) bool {
		if done++; done%500 == 0 {
			fmt.Fprintf(c.ErrOrStderr(), "hawse deck: %d of %d pulls\n", done, n)
		}
		return ctx.Err() == nil
	})
	if err != nil {
		return cli.Exit(cli.ExitFailed, "score: %w", err)
	}
	if ctx.Err() != nil {
		return cli.Exit(cli.ExitFailed, "stopped before the end: no figures")
	}
	r := scoreReport(s, n, seed, on, time.Since(began))
	if asJSON {
		return r.writeJSON(c.OutOrStdout())
	}
	return r.writeText(c.OutOrStdout())
}

func scoreReport(s *dryrun.Scores, n int, seed uint64, on machine, took time.Duration) *report {
	r := &report{name: "deck score", machine: on,
		title: fmt.Sprintf("The phase detector on %d made-up pulls of run %d (seeds from %d), %.0f h of their own time, %.1f pulls a second; all data is invented",
			s.All.Pulls, seed, deck.MadeSeed(seed, 0), s.Seconds/3600, float64(s.All.Pulls)/took.Seconds()),
		settings: []setting{{"pulls", n}, {"seed", seed}}}
	r.tables = append(r.tables, scoreTable(s))
	r.tables = append(r.tables, splitTable("by_soil", s.BySoil, func(yield func(group, key, heading string)) {
		for _, soil := range deck.Soils {
			yield(string(soil), string(soil), string(soil))
		}
	}))
	r.tables = append(r.tables, splitTable("by_rode", s.ByRode, func(yield func(group, key, heading string)) {
		for _, k := range deck.MadeRodes {
			yield(k, strings.ReplaceAll(k, " ", "_"), k)
		}
	}), splitTable("by_swell", s.BySwell, func(yield func(group, key, heading string)) {
		for i, k := range dryrun.SwellGroups {
			yield(k, []string{"none", "under_30_mm", "from_30_mm"}[i], "swell "+k)
		}
	}))
	r.tables = append(r.tables, kindTable(s))
	if s.All.EventsSaid() == 0 {
		r.note("No event was said at all: this build's detector says phases only.")
	}
	if !s.All.Segments {
		r.note("No phases dated back were given: only the phase as it was said is scored.")
	}
	r.note("\nConfusion, m hauled: what was so, and what was said of it:")
	for _, row := range s.All.ConfusionRows() {
		r.note("  %-24s %s", row.True, strings.Join(row.Said, ", "))
	}
	r.note("\nHow the model's truth becomes phases, and the words that are right:")
	for _, row := range dryrun.Map {
		right := strings.Join(row.Right, ", ")
		if right == "" {
			right = "nothing"
		}
		r.note("  %-24s %s\n  %-24s -> %s", row.Name, row.When, "", right)
	}
	r.note("Within %.1f m of a change either phase is right; unclear is no fault for %.0f m on end. An event counts from\n"+
		"%.1f m before it to %.0f m after it, by the line hauled when it was said.", dryrun.Edge, dryrun.UnclearFor, dryrun.Early, dryrun.Late)
	r.note("\nWhat the figures forgive, and the strict rows count:")
	for _, l := range dryrun.Leniencies {
		r.note("  %s", l)
	}
	if len(s.Worst) > 0 {
		r.note("\nThe worst pulls (hawse deck --model --seed N --show script prints one):")
	}
	for _, p := range s.Worst {
		r.note("  %s", p.Story())
	}
	return r
}

func cellShare(v float64) cell {
	if math.IsNaN(v) {
		return cell{nil, "-"}
	}
	return cell{v, fmt.Sprintf("%.3f", v)}
}

func cellDelay(v float64) cell {
	if math.IsNaN(v) {
		return cell{nil, "-"}
	}
	return cell{v, fmt.Sprintf("%.2f", v)}
}

// scoreTable is the score with what is wanted.
func scoreTable(s *dryrun.Scores) *table {
	t := &table{key: "score", columns: []column{{"all", "all"}, {"under_10_hz", "under 10 Hz"}, {"from_10_hz", "10 Hz and more"}, {"wanted", "wanted"}, {"met", "met"}}}
	groups := []*dryrun.Score{&s.All, s.ByRate[dryrun.RateGroups[0]], s.ByRate[dryrun.RateGroups[1]]}
	for i, g := range groups {
		if g == nil {
			groups[i] = &dryrun.Score{}
		}
	}
	row := func(key, label string, of func(*dryrun.Score) cell, wanted string, met func(float64) bool) {
		var cells []cell
		for _, g := range groups {
			cells = append(cells, of(g))
		}
		if met != nil {
			yes := cell{nil, "not measured"}
			if v, ok := cells[0].val.(float64); ok {
				yes = cell{met(v), map[bool]string{true: "yes", false: "no"}[met(v)]}
			}
			cells = append(cells, cell{wanted, wanted}, yes)
		}
		t.add(key, label, cells...)
	}
	atLeast := func(w float64) (string, func(float64) bool) {
		return fmt.Sprintf("%.2f", w), func(v float64) bool { return v >= w }
	}
	under := func(w float64) (string, func(float64) bool) {
		return fmt.Sprintf("under %.2f", w), func(v float64) bool { return v < w }
	}
	row("pulls", "pulls", func(g *dryrun.Score) cell { return cellInt(g.Pulls) }, "", nil)
	row("tripped", "of them ended by a trip", func(g *dryrun.Score) cell { return cellInt(g.Tripped) }, "", nil)
	found, isFound := atLeast(wantFound)
	for i, kind := range dryrun.EventKinds {
		key := strings.ReplaceAll(strings.ReplaceAll(kind, "-", "_"), " ", "_")
		row(key, kind+": so, said", func(g *dryrun.Score) cell {
			e := &g.Events[i]
			return cell{e.True, fmt.Sprintf("%d, %d", e.True, e.Said)}
		}, "", nil)
		row(key+"_precision", kind+": precision", func(g *dryrun.Score) cell { return cellShare(g.Events[i].Precision()) }, found, isFound)
		row(key+"_recall", kind+": recall", func(g *dryrun.Score) cell { return cellShare(g.Events[i].Recall()) }, found, isFound)
		row(key+"_strict_precision", kind+": precision, strict", func(g *dryrun.Score) cell { e := g.Events[i].Strict(); return cellShare(e.Precision()) }, "", nil)
		row(key+"_strict_recall", kind+": recall, strict", func(g *dryrun.Score) cell { e := g.Events[i].Strict(); return cellShare(e.Recall()) }, "", nil)
		row(key+"_forgiven", kind+": forgiven as missed, as false", func(g *dryrun.Score) cell {
			l := g.Events[i].Lenient
			return cell{l.Missed + l.Near + l.Open + l.Back, fmt.Sprintf("%d, %d", l.Missed, l.Near+l.Open+l.Back)}
		}, "", nil)
		for _, q := range []struct {
			name string
			at   float64
		}{{"p50", 0.5}, {"p95", 0.95}} {
			row(key+"_delay_"+q.name+"_m", kind+": said later, "+q.name+", m", func(g *dryrun.Score) cell { return cellDelay(quantile(g.Events[i].Delay, q.at)) }, "", nil)
		}
	}
	few, isFew := under(wantFalse)
	row("surges", "falls made by the vessel", func(g *dryrun.Score) cell { return cellInt(g.Surges) }, "", nil)
	row("surges_blamed", "said to be the anchor's, share", func(g *dryrun.Score) cell { return cellShare(ratio(g.Blamed, g.Surges)) }, few, isFew)
	row("surges_told", "told at all, share", func(g *dryrun.Score) cell { return cellShare(ratio(g.Told, g.Surges)) }, "", nil)
	row("surges_named", "said to be the vessel's, share", func(g *dryrun.Score) cell { return cellShare(ratio(g.Named, g.Surges)) }, "", nil)
	row("surges_named_of_told", "the same, of those told", func(g *dryrun.Score) cell { return cellShare(ratio(g.Named, g.Told)) }, "", nil)
	row("breakouts_excused", "breakouts, asked for or not, said to be the vessel's, share", func(g *dryrun.Score) cell {
		return cellShare(ratio(g.Excused, g.Events[0].Strict().True))
	}, few, isFew)
	row("undecided", "breakouts found with the cause left open, share", func(g *dryrun.Score) cell { return cellShare(ratio(g.Undecided, g.Events[0].Hit)) }, "", nil)
	row("teeth", "saw-teeth", func(g *dryrun.Score) cell { return cellInt(g.Teeth) }, "", nil)
	row("teeth_bitten", "said to be breakouts, share", func(g *dryrun.Score) cell { return cellShare(ratio(g.Bitten, g.Teeth)) }, few, isFew)
	row("other_false", "breakouts said that were neither", func(g *dryrun.Score) cell { return cellInt(g.Other) }, "", nil)
	row("left_open", "of what is forgiven: the vessel's falls said to be breakouts, cause undecided", func(g *dryrun.Score) cell { return cellInt(g.Events[0].Lenient.Open) }, "", nil)
	row("taken_back", "of what is forgiven: breakouts said and taken back", func(g *dryrun.Score) cell { return cellInt(g.Events[0].Lenient.Back) }, "", nil)
	row("arguable", "events too near a threshold to be asked for", func(g *dryrun.Score) cell { return cellInt(g.Arguable) }, "", nil)
	right, isRight := atLeast(wantRight)
	row("length_m", "line hauled that is scored, m", func(g *dryrun.Score) cell { return cellNumber(g.Length, "%.0f") }, "", nil)
	row("skipped_m", "line hauled that is not, m", func(g *dryrun.Score) cell { return cellNumber(g.Skipped, "%.0f") }, "", nil)
	row("right", "of it with the right phase as said", func(g *dryrun.Score) cell { return cellShare(g.Right / g.Length) }, right, isRight)
	row("right_dated_back", "of it with the right phase dated back", func(g *dryrun.Score) cell {
		if !g.Segments {
			return cellShare(math.NaN())
		}
		return cellShare(g.DatedBack / g.Length)
	}, right, isRight)
	return t
}

// splitTable is the score by groups.
func splitTable(key string, groups map[string]*dryrun.Score, each func(yield func(group, key, heading string))) *table {
	t := &table{key: key}
	var list []*dryrun.Score
	each(func(group, key, heading string) {
		t.columns = append(t.columns, column{key, heading})
		g := groups[group]
		if g == nil {
			g = &dryrun.Score{}
		}
		list = append(list, g)
	})
	row := func(key, label string, of func(*dryrun.Score) cell) {
		var cells []cell
		for _, g := range list {
			cells = append(cells, of(g))
		}
		t.add(key, label, cells...)
	}
	row("pulls", "pulls", func(g *dryrun.Score) cell { return cellInt(g.Pulls) })
	for i, kind := range dryrun.EventKinds {
		name := strings.ReplaceAll(strings.ReplaceAll(kind, "-", "_"), " ", "_")
		row(name+"_precision", kind+": precision", func(g *dryrun.Score) cell { return cellShare(g.Events[i].Precision()) })
		row(name+"_recall", kind+": recall", func(g *dryrun.Score) cell { return cellShare(g.Events[i].Recall()) })
	}
	row("right", "right phase as said", func(g *dryrun.Score) cell { return cellShare(g.Right / g.Length) })
	return t
}

// kindTable has a line for each kind of pull.
func kindTable(s *dryrun.Scores) *table {
	t := &table{key: "by_kind", columns: []column{{"pulls", "pulls"}, {"events", "events"}, {"missed", "missed"}, {"false", "false"}, {"right", "right phase"}}}
	for _, kind := range deck.MadeKinds() {
		g := s.ByKind[kind]
		if g == nil {
			continue
		}
		var so, missed, wrong int
		for i := range g.Events {
			e := &g.Events[i]
			so, missed, wrong = so+e.True, missed+e.True-e.Hit, wrong+e.Said-e.Hit
		}
		t.add(strings.NewReplacer(" ", "_", ",", "", "-", "_").Replace(kind), kind, cellInt(g.Pulls), cellInt(so), cellInt(missed), cellInt(wrong), cellShare(g.Right/g.Length))
	}
	return t
}

func ratio(part, of int) float64 {
	if of == 0 {
		return math.NaN()
	}
	return float64(part) / float64(of)
}

// quantile is the value a share of the list is not above; NaN of an empty one.
func quantile(list []float64, share float64) float64 {
	if len(list) == 0 {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(list))
	return sorted[min(len(sorted)-1, int(math.Ceil(share*float64(len(sorted))))-1)]
}
