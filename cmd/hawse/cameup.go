package main

import (
	"strings"

	"hawse/acquire/session"
	"hawse/trial"
)

// noCameUp says why it is not known what an anchor came up with.
const noCameUp = "nobody said it; 'hawse addendum LOG --came-up \"...\"' says it afterwards"

// cameUpText is what came up, by whom and from where.
func cameUpText(c *session.CameUpTold, show trial.Show) string {
	text := visible(c.Text(show)) + ", " + seat(c.Name, c.Who)
	if c.Addendum != "" {
		return text + ", in " + visible(c.Addendum)
	}
	return clock(c.T) + " " + text
}

// cameUp tells all that was said of what the anchor came up with.
func (p *resultsPage) cameUp(r *session.Result, show trial.Show) {
	for i := range r.CameUp {
		p.about("came up", "%s", cameUpText(&r.CameUp[i], show))
	}
}

// cameUpColumns are what holds of it, in SI.
func cameUpColumns() (out []resultColumn) {
	add := func(name string, get func(c *session.CameUpTold) string) {
		out = append(out, resultColumn{"came_up_" + name, func(r *session.Result) string {
			if c := r.LastCameUp(); c != nil {
				return get(c)
			}
			return ""
		}})
	}
	for _, l := range trial.CameUpLists {
		add(l.Key, func(c *session.CameUpTold) string { return l.Word(&c.CameUp) })
	}
	add("fluke_rad", func(c *session.CameUpTold) string {
		if c.Angle == 0 {
			return ""
		}
		return numberCell(float64(c.Angle))
	})
	add("photo", func(c *session.CameUpTold) string { return c.Photo })
	add("zero_n", func(c *session.CameUpTold) string {
		if !c.Zeroed {
			return ""
		}
		return numberCell(float64(c.Zero))
	})
	add("remark", func(c *session.CameUpTold) string { return c.Remark })
	add("said_by", func(c *session.CameUpTold) string { return strings.TrimSpace(c.Who + " " + c.Name) })
	add("said_in", func(c *session.CameUpTold) string { return c.Addendum })
	return out
}

// cameUpDocs are all that was said of it as JSON; of an answer the last holds.
func cameUpDocs(all []session.CameUpTold) []map[string]any {
	out := []map[string]any{}
	for i := range all {
		c := &all[i]
		d := cameUpDoc(&c.CameUp)
		d["part"], d["who"], d["name"] = c.Part+1, c.Who, c.Name
		if c.Addendum != "" {
			d["addendum"] = c.Addendum
		} else {
			d["at_s"] = secondsOf(c.T)
		}
		out = append(out, d)
	}
	return out
}

// cameUpDoc is the form as JSON, by the keys of the record; what was not said is
// left out.
func cameUpDoc(c *trial.CameUp) map[string]any {
	d := map[string]any{}
	for _, kv := range c.Fields() {
		d[kv.Key] = kv.Val
	}
	if c.Angle != 0 {
		d["fluke_rad"] = float64(c.Angle)
	}
	if c.Zeroed {
		d["zero_n"] = float64(c.Zero)
	}
	return d
}

// printableCameUp is the form with the person's own words made visible; all else
// in it is words of lists and numbers.
func printableCameUp(c trial.CameUp) trial.CameUp {
	c.Remark = printable(c.Remark)
	return c
}
