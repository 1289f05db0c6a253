package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"hawse/acquire/export"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// resultColumn is a column of `hawse results --csv`: its name ends in the unit.
// An empty field is not known, or there is none; the column missing says why.
type resultColumn struct {
	name string
	get  func(r *session.Result) string
}

var resultColumns = slices.Concat([]resultColumn{
	{"run", func(r *session.Result) string { return r.Head.Run.ID }},
	{"trial", func(r *session.Result) string { return trialOf(r).Name }},
	{"kind", func(r *session.Result) string { return r.Head.Run.Kind }},
	{"anchor", func(r *session.Result) string { return r.Head.Run.Anchor }},
	{"station", func(r *session.Result) string { return r.Head.Run.Station }},
	{"lane", func(r *session.Result) string { return ready(r, strconv.Itoa(r.Head.Run.Lane)) }},
	{"mode", func(r *session.Result) string { return r.Head.Mode }},
	{"invented_data", func(r *session.Result) string { return ready(r, strconv.FormatBool(invented(r))) }},
	{"started_utc", func(r *session.Result) string {
		return strings.ReplaceAll(utc(r.Started, "2006-01-02T15:04:05.000Z"), dash, "")
	}},
	{"length_s", func(r *session.Result) string { return ready(r, logfmt.FormatNs(r.Length)) }},
	{"not_recorded_s", func(r *session.Result) string { return ready(r, logfmt.FormatNs(r.Figures.Lost)) }},
	{"files", func(r *session.Result) string { return strings.Join(baseNames(r), "; ") }},
	{"record_holds", func(r *session.Result) string { return strconv.FormatBool(r.Holds()) }},
	{"record", recordCell},
	{"doubtful", func(r *session.Result) string { return strconv.FormatBool(len(r.Doubts) > 0) }},
	{"doubts", func(r *session.Result) string {
		return joined(r.Doubts, func(d session.Doubt) string { return d.Text })
	}},
}, figureColumns("", func(r *session.Result) *trial.Figures { return &r.Figures }), stageColumns(), quantityColumns("", func(r *session.Result) *trial.Figures { return &r.Figures }),
	figureColumns("corrected_", func(r *session.Result) *trial.Figures { return r.Corrected }), quantityColumns("corrected_", func(r *session.Result) *trial.Figures { return r.Corrected }), []resultColumn{
		{"stops", func(r *session.Result) string {
			return joined(r.Stops, func(s session.StopTold) string {
				return clock(s.T) + " " + s.Text + " [" + strings.TrimSpace(s.Who+" "+s.Name) + "]"
			})
		}},
		{"stop_causes", func(r *session.Result) string {
			return joined(r.Stops, func(s session.StopTold) string { return s.Cause })
		}},
		{"checks", func(r *session.Result) string {
			return joined(r.Checks, func(c session.CheckTold) string { return checkText(&c, trialOf(r).Show) })
		}},
		{"known_weights_failed", func(r *session.Result) string {
			n := 0
			for _, c := range r.Checks {
				if c.Check == safety.CheckWeight && c.State == safety.CheckFailed {
					n++
				}
			}
			return ready(r, strconv.Itoa(n))
		}},
	}, cameUpColumns(), []resultColumn{
		{"addenda", func(r *session.Result) string {
			return joined(r.Addenda, func(c session.Comment) string {
				text := filepath.Base(c.Path) + ": " + addendumText(c.Addendum)
				if !c.Applied {
					text += "; NOT applied: " + c.Why
				}
				return text
			})
		}},
		{"missing", func(r *session.Result) string {
			return joined(missingOf(r, &r.Figures), func(m reason) string { return m.key + ": " + m.why })
		}},
	})

// figureColumns are those of the recorded figures, or of the corrected ones.
func figureColumns(before string, of func(*session.Result) *trial.Figures) []resultColumn {
	var out []resultColumn
	add := func(name string, get func(f *trial.Figures) string) {
		out = append(out, resultColumn{before + name, func(r *session.Result) string {
			if f := of(r); f != nil && r.Ready {
				return get(f)
			}
			return ""
		}})
	}
	for _, g := range []struct {
		name string
		of   func(*trial.Figures) *trial.Greatest
	}{
		{"pull_greatest", func(f *trial.Figures) *trial.Greatest { return &f.Pull }},
		{"after_greatest", func(f *trial.Figures) *trial.Greatest { return &f.After }},
	} {
		one := func(name string, get func(*trial.Greatest) string) {
			add(name, func(f *trial.Figures) string {
				if x := g.of(f); x.Known {
					return get(x)
				}
				return ""
			})
		}
		one(g.name+"_instant_n", func(x *trial.Greatest) string { return numberCell(float64(x.Value)) })
		one(g.name+"_lower_bound", func(x *trial.Greatest) string { return strconv.FormatBool(x.Bound != "") })
		one(g.name+"_lower_bound_why", func(x *trial.Greatest) string { return string(x.Bound) })
		one(g.name+"_at_s", func(x *trial.Greatest) string { return logfmt.FormatNs(x.T) })
		one(g.name+"_stage", func(x *trial.Greatest) string { return x.Stage.String() })
		one(g.name+"_hauled_m", func(x *trial.Greatest) string { return numberCell(float64(x.X)) })
		one(g.name+"_scope_ratio", func(x *trial.Greatest) string { return numberCell(x.Scope) })
	}
	if before != "" {
		return out // a correction of tension moves no line
	}
	line := func(name string, get func(*trial.Figures) trial.Length) {
		add(name, func(f *trial.Figures) string {
			if len(f.Hauls) == 0 {
				return ""
			}
			return numberCell(float64(get(f)))
		})
	}
	line("hauled_m", func(f *trial.Figures) trial.Length { return f.Hauled })
	add("rode_out_said_anew", func(f *trial.Figures) string { return strconv.Itoa(len(f.Anew)) })
	add("hauls", func(f *trial.Figures) string { return strconv.Itoa(len(f.Hauls) + f.More) })
	return out
}

// stageColumns are the times in each stage; empty: it was never in force.
func stageColumns() (out []resultColumn) {
	for s := range trial.NumStages {
		out = append(out, resultColumn{"time_in_" + s.Key() + "_s", func(r *session.Result) string {
			if t := r.Figures.Stages[s].Time; t > 0 {
				return logfmt.FormatNs(t)
			}
			return ""
		}})
	}
	return out
}

func resultsCSV(out io.Writer, all []*session.Result, over []trial.Stretch) error {
	w := csv.NewWriter(out)
	w.UseCRLF = true
	columns := slices.Concat(resultColumns, stretchColumns(over))
	row := make([]string, len(columns))
	for i, c := range columns {
		row[i] = c.name
	}
	if err := w.Write(row); err != nil {
		return err
	}
	for _, r := range all {
		for i, c := range columns {
			row[i] = sheetText(c.get(r))
		}
		if err := w.Write(row); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

// sheetText is a field for a spreadsheet: the first character of what it might
// calculate is escaped as in the log. A plain number stays one.
func sheetText(s string) string {
	s = printable(s)
	if !export.Formula(s) {
		return s
	}
	return fmt.Sprintf(`\x%02x`, s[0]) + s[1:]
}

func numberCell(v float64) string {
	if numberOf(v) == nil {
		return ""
	}
	return logfmt.FormatFloat(v)
}

func recordCell(r *session.Result) string {
	var out []string
	for i := range r.Parts {
		p := &r.Parts[i]
		text := p.State()
		for _, why := range []string{p.Seal.Fault, p.Broken, p.Fault} {
			if why != "" {
				text += ": " + why
			}
		}
		for _, d := range p.Damage[:min(len(p.Damage), mostDamage)] {
			text += "; " + d.String()
		}
		out = append(out, text)
	}
	return strings.Join(out, " | ")
}

func trialOf(r *session.Result) *trial.Trial {
	if r.Head.Trial == nil {
		return &trial.Trial{}
	}
	return r.Head.Trial
}

// ready is a text that says something only of a pull that could be read.
func ready(r *session.Result, text string) string {
	if !r.Ready {
		return ""
	}
	return text
}

func joined[T any](all []T, text func(T) string) string {
	out := make([]string, len(all))
	for i, v := range all {
		out[i] = text(v)
	}
	return strings.Join(out, "; ")
}
