package deck

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"hawse/trial"
	"hawse/trial/rode"
)

// What may be on the roller besides, and where another load cell sits.
const (
	boxPin      = "pin"
	boxOutboard = "outboard"
	boxInboard  = "inboard"
)

// Besides says whether a kind of box goes with any other.
func Besides(kind string) bool {
	return slices.Contains([]string{boxNMEA, boxPin, boxOutboard, boxInboard}, kind)
}

// besides adds such a kind.
func (w *wiring) besides(kind string) {
	switch kind {
	case boxNMEA:
		w.nmea = true
	case boxPin:
		w.pin = true
	case boxOutboard, boxInboard:
		if !slices.Contains(w.cells, kind) && len(w.cells) < len(cellPorts) {
			w.cells = append(slices.Clone(w.cells), kind)
		}
	}
}

// cellPorts are the ports of further load cells.
var cellPorts = [...]int{portLoad2, portLoad3}

// cellOf is the number of a further load cell on a port; -1 it is none.
func (w *wiring) cellOf(port int) int {
	i := slices.Index(cellPorts[:], port)
	if i >= len(w.cells) {
		return -1
	}
	return i
}

func isCell(port int) bool { return slices.Contains(cellPorts[:], port) }

// roller is the bow roller of the deck.
type roller struct {
	lead     float64 // rad, of the inboard part under the horizontal
	friction float64
}

// The deck's roller where the script does not say it: invented. The trial file says
// what its friction is at most.
const (
	usualLead     = 20 * math.Pi / 180
	usualFriction = 0.1
	mostFriction  = 0.2
)

// sits is where the first load cell is: "" where nobody asks. With another one
// outboard it is inboard, and the other way round.
func (w *wiring) sits() string {
	switch {
	case w.pin:
		return trial.SitsRoller
	case slices.Contains(w.cells, boxOutboard):
		return trial.SitsInboard
	case len(w.cells) > 0:
		return trial.SitsOutboard
	}
	return ""
}

// bend is how the rode leads over the roller: by the statics of the very rode that
// the deck has.
type bend struct {
	rode *rode.Rode
}

// newBend is for a deck with a pin, or with cells either side of the roller; nil
// for another.
func newBend(s *Scenario) *bend {
	if s.wiring.sits() == "" {
		return nil
	}
	r, _ := s.statics() // With and the parser have built it
	return &bend{r}
}

func (s *Scenario) statics() (*rode.Rode, error) {
	pieces := templateRode
	if s.model != nil {
		pieces = s.model.Pieces
	}
	list := make([]rode.Piece, len(pieces))
	for i, p := range pieces {
		list[i] = rode.Piece{Length: float64(p.Length), Weight: float64(p.Weight), EA: float64(p.EA), Friction: p.Friction}
	}
	r, err := rode.New(float64(s.Depth+s.Fairlead), list)
	if err != nil {
		return nil, fmt.Errorf("the rode over the roller: %w", err)
	}
	if r.Total() < float64(s.Payout) {
		return nil, fmt.Errorf("the rode over the roller: its pieces make %g m and %g m are paid out", r.Total(), float64(s.Payout))
	}
	return r, nil
}

// line is the angle of the outboard part under the horizontal, rad. What does not
// carry its own weight, or does not reach, is plumb.
func (b *bend) line(out, height, tension float64) float64 {
	const plumb = math.Pi / 2
	if out <= height || b.rode == nil || b.rode.SetHeight(height) != nil || b.rode.SetOut(min(out, b.rode.Total())) != nil {
		return plumb
	}
	s, err := b.rode.AtTension(tension)
	switch {
	case err == nil:
		return s.FairleadAngle
	case errors.Is(err, rode.ErrCannotHang), errors.Is(err, rode.ErrTooShort):
		return plumb
	}
	return math.Asin(height / out)
}

// leads is how the rode leads to the roller at a tension, rad under the horizontal.
// A model's recovery has the vessel over its anchor, with the tension of what hangs.
// A table's is a tension that some line bears: by how much it stands is its statics,
// as in the pull, down to the anchor's eye, which is as deep in the bottom as the
// line is longer than the height when the anchor breaks out.
func (w *world) leads(tension trial.Force) float64 {
	height := w.depth() + w.s.Fairlead
	if w.ahead {
		if w.s.model != nil {
			return math.Pi / 2
		}
		if eye := w.s.breaksOutAt() - height; eye > 0 && eye <= deepestEye {
			height += eye
		}
	}
	return w.bend.line(float64(w.s.Payout-w.x), float64(height), float64(tension))
}

// deepestEye is as deep as a small anchor's shank stands in the bottom; a table that
// says more has its lengths shortened. From memory: a few fluke lengths.
const deepestEye = trial.Length(2)

// breaksOutAt is the rode out with which the recovery's tension is largest; 0 there
// is no such table.
func (s *Scenario) breaksOutAt() trial.Length {
	var at point
	for _, p := range s.recovery.rows {
		if p.t > at.t {
			at = p
		}
	}
	if at.t == 0 {
		return 0
	}
	return s.Payout - at.at
}

// over is the tension inboard of the roller and what presses on its pin, N, of a
// tension outboard. The roller's friction adds to the inboard part while line is
// hauled and takes from it while it is paid out, e^(friction bend) (Euler and
// Eytelwein; from memory); standing, it stays as it last ran.
func (w *world) over(t trial.Force) (inboard, pressed trial.Force) {
	if t <= 0 {
		return t, 0
	}
	r := &w.s.wiring.roller
	line := w.leads(t)
	inboard = t * trial.Force(rode.Capstan(r.friction*float64(w.ran), max(line+r.lead, 0)))
	// Outboard the line pulls forward and down, inboard aft and down.
	level := float64(t)*math.Cos(line) - float64(inboard)*math.Cos(r.lead)
	down := float64(t)*math.Sin(line) + float64(inboard)*math.Sin(r.lead)
	return inboard, trial.Force(math.Hypot(level, down))
}

// carries is what a cell carries that sits so, without noise.
func (w *world) carries(sits string) trial.Force {
	t := w.tension()
	if w.bend == nil || w.cell != "rode" || sits == "" || sits == trial.SitsOutboard {
		return t
	}
	inboard, pressed := w.over(t)
	if sits == trial.SitsRoller {
		return pressed
	}
	return inboard
}

// wander is a zero that has moved, or moves until a time.
type wander struct {
	from, to trial.Force
	at, ends int64
}

func (z *wander) now(t int64) trial.Force {
	if t >= z.ends {
		return z.to
	}
	return z.from + (z.to-z.from)*trial.Force(float64(t-z.at)/float64(z.ends-z.at))
}

// ofRoller is where the trial file differs because of where the load cells sit.
func (s *Scenario) ofRoller(e *edit) {
	w := &s.wiring
	if w.sits() == "" {
		return
	}
	text := func(v string) string { return strconv.Quote(v) }
	places := map[string]string{trial.SitsRoller: "pin in the bow roller (invented)", trial.SitsInboard: "link inboard of the roller (invented)",
		trial.SitsOutboard: "link in the rode, outboard of the roller (invented)"}
	e.set("vessel", "roller_friction", strconv.FormatFloat(max(mostFriction, w.roller.friction), 'g', -1, 64))
	e.set("vessel", "lead", text(strconv.FormatFloat(math.Round(w.roller.lead*180/math.Pi*1e6)/1e6, 'f', -1, 64)+" deg"))
	e.set("load", "sits", text(w.sits()))
	e.set("load", "place", text(places[w.sits()]))
	for i, sits := range w.cells {
		s.ofCell(e, i)
		e.set(portNames[cellPorts[i]], "sits", text(sits))
		e.set(portNames[cellPorts[i]], "place", text(places[sits]))
	}
}

// rollerFact reads the facts of roller and cells; ok is false for another fact.
func (p *parser) rollerFact(key string, m match) (ok bool) {
	w := &p.s.wiring
	switch key {
	case "cells":
		for _, kind := range m.args {
			w.besides(kind)
		}
	case "roller":
		w.roller = roller{m.si[0], m.si[1]}
		p.bound("roller", math.Abs(m.si[0]) <= 80*math.Pi/180 && m.si[1] <= 1, "leads more than 80 deg, or its friction is above 1", "write for example: roller 20 deg friction 0.1")
	default:
		return false
	}
	return true
}
