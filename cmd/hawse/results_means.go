package main

import (
	"fmt"
	"strings"

	"hawse/acquire/session"
	"hawse/trial"
)

// parseStretches reads stretches of line hauled, "12 m..18 m".
func parseStretches(said []string) (out []trial.Stretch, err error) {
	for _, text := range said {
		from, to, two := strings.Cut(text, "..")
		var x trial.Stretch
		if two {
			if x.From, err = trial.ParseLength(strings.TrimSpace(from)); err == nil {
				x.To, err = trial.ParseLength(strings.TrimSpace(to))
			}
		}
		switch {
		case !two:
			return nil, fmt.Errorf(`--mean %q: say from where to where, as "12 m..18 m"`, text)
		case err != nil:
			return nil, fmt.Errorf("--mean %q: %w", text, err)
		case !(x.To > x.From):
			return nil, fmt.Errorf("--mean %q: it ends before it begins", text)
		}
		out = append(out, x)
	}
	return out, nil
}

func stretchName(show trial.Show, x trial.Stretch) string {
	from, _, _ := strings.Cut(lengthIn(show, x.From), " ")
	return "mean, " + from + " to " + lengthIn(show, x.To)
}

// stretchInfo is such a mean as the table of quantities has those of its own.
func stretchInfo(x trial.Stretch) *trial.QuantityInfo {
	info := trial.Quantities[trial.Mean0to10m]
	key := strings.NewReplacer(".", "p", "-", "minus_").Replace(fmt.Sprintf("mean_over_%g_%gm", float64(x.From), float64(x.To)))
	info.Key, info.Window = key, fmt.Sprintf("%g to %g m hauled", float64(x.From), float64(x.To))
	return &info
}

func stretchDocs(r *session.Result, over []trial.Stretch, budget bool) (out []map[string]any) {
	if !r.Ready {
		return nil
	}
	doc := func(x trial.Stretch, f *trial.Figure, corrected bool) {
		d := quantityDoc(stretchInfo(x), f, budget)
		d["from_m"], d["to_m"], d["corrected"] = float64(x.From), float64(x.To), corrected
		if v := &f.Read[0]; !v.Known {
			d["missing"] = v.Why
		}
		out = append(out, d)
	}
	for i, x := range over {
		doc(x, &r.Stretches[i], false)
		if len(r.CorrectedOver) > 0 {
			doc(x, &r.CorrectedOver[i], true)
		}
	}
	return out
}

func stretchColumns(over []trial.Stretch) (out []resultColumn) {
	for i, x := range over {
		info := stretchInfo(x)
		for j := range trial.Readings {
			get := func(of func(*session.Result) []trial.Figure, what func(trial.Value) float64) func(*session.Result) string {
				return func(r *session.Result) string {
					if all := of(r); i < len(all) {
						return numberCell(what(all[i].Read[j]))
					}
					return ""
				}
			}
			recorded := func(r *session.Result) []trial.Figure { return r.Stretches }
			corrected := func(r *session.Result) []trial.Figure { return r.CorrectedOver }
			value, u := func(v trial.Value) float64 { return v.V }, func(v trial.Value) float64 { return v.U }
			key := info.ReadingKey(j)
			out = append(out, resultColumn{key, get(recorded, value)}, resultColumn{key + "_u", get(recorded, u)},
				resultColumn{"corrected_" + key, get(corrected, value)}, resultColumn{"corrected_" + key + "_u", get(corrected, u)})
		}
	}
	return out
}
