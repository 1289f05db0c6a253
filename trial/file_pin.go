package trial

import "math"

// readRoller reads how the rode leads over the roller.
func (r *fileReader) readRoller(t *Trial, v *fileTable) {
	const most = 80 * math.Pi / 180
	lead := ask{name: "lead", what: "how the part of the rode inboard of the roller leads, under the horizontal, positive down to the winch", eg: `"0 deg"`, optional: true}
	t.Vessel.HasLead = v.n.vals[lead.name] != nil
	t.Vessel.Lead = quantity(v, lead, ParseAngle, bounds{least: -most, leastSay: "-80 deg", most: most, mostSay: "80 deg"})
	t.Vessel.RollerFriction, _ = v.plain(ask{name: "roller_friction", what: "the coefficient of friction of the roller, the most of it", eg: "0.2", optional: true},
		bounds{above: true, most: 1, mostSay: "1"})
}

var sitsWords = []string{SitsOutboard, SitsInboard, SitsRoller}

// readSits reads where a load cell sits, and what a pin in the roller needs.
func (r *fileReader) readSits(c *LoadCell, v *fileTable) {
	sits := ask{name: "sits", what: "where the cell sits: " + orList(sitsWords), eg: `"inboard"`, optional: true}
	c.Sits = v.text(sits, maxName)
	switch c.Sits {
	case "", SitsOutboard, SitsInboard, SitsRoller:
	default:
		v.fail(sits, shown(c.Sits)+" is none of them")
		c.Sits = ""
	}
	u := ask{name: "angle_u", what: "by how much the bend over the roller is uncertain, one standard deviation", eg: `"0.5 deg"`, optional: true}
	const least, most = 0.05 * math.Pi / 180, 10 * math.Pi / 180
	c.AngleU = quantity(v, u, ParseAngle, bounds{least: least, leastSay: "0.05 deg", most: most, mostSay: "10 deg"})
	switch {
	case c.Sits == SitsRoller && c.AngleU == 0:
		c.AngleU = defaultAngleU
	case c.Sits != SitsRoller && c.AngleU != 0:
		v.fail(u, "is given for a cell that is no pin in the roller")
	}
}

// checkPins: a pin in the roller needs the angle of both parts of the line.
func (r *fileReader) checkPins(t *Trial) {
	look := func(table string, c *LoadCell) {
		if key := table + ".sits"; c.Sits == SitsRoller && r.sound(key, "vessel", "rode", "gear") {
			r.checkPin(t, key)
		}
	}
	look(TableLoad, &t.Load)
	for i := range t.Others {
		look(t.Others[i].Table, &t.Others[i].LoadCell)
	}
}

func (r *fileReader) checkPin(t *Trial, key string) {
	if !t.Vessel.HasLead {
		r.failAt(key, "is \"roller\", and vessel.lead does not say how the inboard part leads",
			`write lead = "0 deg" under [vessel] for a level lead, more where it goes down to the winch`)
	}
	if _, err := t.Statics(1); err != nil {
		r.failAt(key, "is \"roller\", and the angle of this rode at the roller cannot be told: "+err.Error(), "use a cell in the rode")
	}
}

// readGuards reads which cell's tension the limits act on.
func (r *fileReader) readGuards(t *Trial, v *fileTable) {
	guards := ask{name: "guards", what: `which tension the limits act on, "load" or "larger", the largest of all load cells`, eg: `"load"`, optional: true}
	switch s := v.text(guards, maxName); s {
	case "", TableLoad:
	case "larger":
		t.LargerGuards = true
	default:
		v.fail(guards, shown(s)+" is neither")
	}
}
