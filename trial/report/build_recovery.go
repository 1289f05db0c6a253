package report

import (
	"math"
	"strings"

	"hawse/trial"
)

// recovery is how the anchors came up.
func (b *builder) recovery() {
	c := b.campaign
	_, fName := b.u.force()
	t := &table{name: "recovery", title: "Recovery", columns: []column{{"run", "run", false}, {"what", "what", false}, {"breakout force, " + fName, "breakout_force_n", true}, {"time, s", "recovery_time_s", true}, {"waits, s", "recovery_waits_s", true}, {"burial, " + b.lengthName(), "burial_m", true}, {"after the pull, " + fName, "peak_after_deck_n", true}, {"what came up, as marked", "came_up", false}}}
	some := false
	for i := range c.Pulls {
		p := &c.Pulls[i]
		if p.Run.Kind != trial.KindPull || p.Figures == nil || !p.Figures.Told {
			continue
		}
		var up []string
		for _, m := range p.Marks {
			if _, form := trial.ParseCameUpMark(m.Text); form {
				continue // it stands in a table of its own
			}
			if low := strings.ToLower(m.Text); strings.Contains(low, "came up") || strings.Contains(low, "clog") || strings.Contains(low, "damage") || strings.Contains(low, "fluke") {
				up = append(up, m.Text)
			}
		}
		q := func(k trial.Quantity) cell { return b.u.quantity(&p.Figures.Quantities[k], k, 0) }
		row := []cell{plain(p.ID), plain(treatmentText(p)), q(trial.BreakoutForce), q(trial.RecoveryTime), q(trial.RecoveryWaits), b.burial(&p.Figures.Quantities[trial.BurialDepth]), q(trial.PeakAfter), plain(strings.Join(up, "; "))}
		some = some || p.Figures.Stages[trial.Recover].Time > 0
		t.rows = append(t.rows, row)
	}
	forms := b.cameUp()
	if !some && forms == nil {
		return
	}
	b.head(2, "Recovery")
	if !some {
		b.table(forms)
		return
	}
	t.note = "Breakout force is vertical, from the load at up and down until the anchor came off. Burial is rode out less fairlead height when that load came on, less what the trial file says of roller and shank, with its band (k = 2); \"not resolved\" where it is no more than that, as it mostly is in sand. A wait of minutes under steady load changes both."
	b.table(t)
	if forms != nil {
		b.table(forms)
	}
}

// cameUp is what the anchors came up with, as it was answered on deck; nil where
// nobody answered.
func (b *builder) cameUp() *table {
	_, fName := b.u.force()
	t := &table{name: "came-up", title: "What came up", columns: []column{{"run", "run", false}}}
	for _, l := range trial.CameUpLists {
		t.columns = append(t.columns, column{l.Name, l.Key, false})
	}
	t.columns = append(t.columns, column{"fluke angle, deg", "fluke_rad", true}, column{"cell free, " + fName, "zero_n", true}, column{"photo", "photo", false}, column{"remark", "remark", false}, column{"said by", "said_by", false})
	var without []string
	for i := range b.campaign.Pulls {
		p := &b.campaign.Pulls[i]
		c := p.CameUp
		switch {
		case p.Run.Kind != trial.KindPull:
			continue
		case c == nil:
			without = append(without, p.ID)
			continue
		}
		row := []cell{plain(p.ID)}
		for _, l := range trial.CameUpLists {
			row = append(row, cell{orNothing(l.Of(&c.CameUp)), l.Word(&c.CameUp)})
		}
		angle, zero := cell{dash, ""}, cell{dash, ""}
		if c.Angle != 0 {
			angle = num(digits3(float64(c.Angle)*180/math.Pi), float64(c.Angle))
		}
		if c.Zeroed {
			zero = num(b.u.n(float64(c.Zero)), float64(c.Zero))
		}
		t.rows = append(t.rows, append(row, angle, zero, cell{orNothing(c.Photo), c.Photo}, plain(c.Remark), plain(c.Said)))
	}
	if len(t.rows) == 0 {
		return nil
	}
	if len(without) > 0 {
		t.note = "Not said: runs " + strings.Join(without, ", ") + "."
	}
	return t
}

// orNothing is a text, or the sign that there is none.
func orNothing(s string) string {
	if s == "" {
		return dash
	}
	return s
}

// burial is a depth with its band (k = 2), in words where it is no more than that.
func (b *builder) burial(f *trial.Figure) cell {
	v := f.Read[0]
	switch {
	case !v.Known:
		return cell{dash, ""}
	case strings.HasPrefix(f.Note, "not resolved"):
		return cell{"not resolved", raw(v.V)}
	}
	text := b.u.m(v.V)
	if v.U > 0 {
		text += " ± " + b.u.m(2*v.U)
	}
	return cell{text, raw(v.V)}
}
