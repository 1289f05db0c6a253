package session

import (
	"math"
	"slices"
	"strings"
	"time"

	"hawse/logfmt"
	"hawse/trial"
)

// phasesCameFields is what the phases stand on, as a head's part: the stage, its
// tensions in newtons, the wave of the swell in s, and in `is` the words that hold.
func phasesCameFields(c *trial.PhasesCame) []logfmt.Field {
	f := func(k, v string) logfmt.Field { return logfmt.Field{Key: k, Val: v} }
	out := []logfmt.Field{f("part", phasePart), f("stage", c.Stage.String()), f("wave", logfmt.FormatNs(int64(c.Wave)))}
	for i, key := range trial.PhasesCameKeys {
		out = append(out, f(key, logfmt.FormatFloat(c.Tension[i])))
	}
	var is []string
	for i, word := range trial.PhasesCameWords {
		if c.Is&(1<<i) != 0 {
			is = append(is, word)
		}
	}
	return append(out, f("is", strings.Join(is, ",")))
}

// takePhases reads that part. A number that cannot be read is none that can be,
// and a word that this program does not know changes nothing.
func (h *headOf) takePhases(r *logfmt.Record) {
	stage, err := trial.ParseStage(r.Str("stage"))
	wave, ok := r.Ns("wave")
	if h.After == nil || h.After.Phases != nil || err != nil || !ok {
		return
	}
	c := trial.PhasesCame{Stage: stage, Wave: time.Duration(wave)}
	for i, key := range trial.PhasesCameKeys {
		if c.Tension[i], ok = r.Float(key); !ok {
			c.Tension[i] = math.NaN()
		}
	}
	for word := range strings.SplitSeq(r.Str("is"), ",") {
		if i := slices.Index(trial.PhasesCameWords[:], word); i >= 0 {
			c.Is |= 1 << i
		}
	}
	h.After.Phases = &c
}
