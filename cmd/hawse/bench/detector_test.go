package bench

import (
	"strings"
	"testing"
	"time"

	"hawse/acquire/deck"
	"hawse/acquire/dryrun"
)

// The score by groups holds the figures of each group, under its own heading.
func TestScoreByGroups(t *testing.T) {
	all := func(keys ...string) map[string]*dryrun.Score {
		m := map[string]*dryrun.Score{}
		for i, k := range keys {
			m[k] = &dryrun.Score{Pulls: i + 7}
		}
		return m
	}
	s := &dryrun.Scores{ByRate: all(dryrun.RateGroups...), BySoil: all("mud", "clay", "sand", "stones"),
		ByRode: all(deck.MadeRodes...), BySwell: all(dryrun.SwellGroups...)}
	var b strings.Builder
	if err := scoreReport(s, 24, 1, machine{}, time.Second).writeJSON(&b); err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(b.String()), "")
	for _, want := range []string{`"chain_and_fibre":{"pulls":7}`, `"all_chain":{"pulls":8}`, `"wire":{"pulls":9}`, `"under_30_mm":{"pulls":8}`, `"from_30_mm":{"pulls":9}`, `"stones":{"pulls":10}`} {
		if !strings.Contains(text, want) {
			t.Errorf("the report has no %s", want)
		}
	}
	if t.Failed() {
		t.Log(b.String())
	}
}
