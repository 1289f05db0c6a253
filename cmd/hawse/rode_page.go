package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
	"hawse/trial/rode"
)

func (q *rodeAsk) force(f trial.Force) string   { return q.show.ForceText(f) }
func (q *rodeAsk) length(l trial.Length) string { return q.show.LengthText(l) }

const degree = math.Pi / 180

// page is the answer for people.
func (q *rodeAsk) page(s rode.State) string {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	force := func(v float64) string { return q.force(trial.Force(v)) }
	length := func(v float64) string { return q.length(trial.Length(v)) }
	angle := func(v float64) string { return fmt.Sprintf("%.4g deg", v/degree) }

	say("%s", q.title)
	for _, n := range q.notes {
		say("%s", n)
	}
	say("A line at rest, dragged in, on level ground; no current, waves or burial.\n")
	const row = "%-12s %-14s %-14s %-14s %s"
	say(row, "", "tension", "horizontal", "vertical", "angle")
	say(row, "at fairlead", force(s.T), force(s.H), force(s.V), angle(s.FairleadAngle)+" down")
	anchor := angle(s.AnchorAngle)
	switch {
	case s.AnchorT == 0:
		anchor = "none: friction or slack takes it"
	case s.AnchorV > 0:
		anchor += " up: lifted"
	case s.AnchorV < 0:
		anchor += ": sags below it"
	default:
		anchor += ": level"
	}
	say(row, "at anchor", force(s.AnchorT), force(s.AnchorH), force(s.AnchorV), anchor)
	if lo, hi := s.AnchorBand(); lo != hi {
		say("%-12s once eased the anchor has %s to %s", "", force(lo), force(hi))
	}
	b.WriteByte('\n')
	span := length(s.Span)
	if s.SpanMin != s.SpanMax && q.hasSpan {
		span += ", anywhere from " + length(s.SpanMin) + " to " + length(s.SpanMax)
	} else if s.SpanMin != s.SpanMax {
		span = length(s.SpanMin) + " to " + length(s.SpanMax)
	}
	scope := fmt.Sprintf("scope %.3g", s.Scope)
	if q.fairlead > 0 {
		if depth := s.Height - float64(q.fairlead); depth > 0 {
			scope += fmt.Sprintf(" incl. roller height, %.3g by depth", rode.ScopeByDepth(s.Out, depth))
		}
	}
	say("lies         %s, %s on the bottom", s.Regime, length(s.OnBottom))
	say("span         %s (taut %s)", span, length(rode.TautSpan(s.Out, s.Height)))
	say("rode out     %s over %s: %s", length(s.Out), length(s.Height), scope)
	say("stretch      %s, energy %s", length(s.Stretch), energyText(s.Energy))
	say("stiffness    %s", q.stiffText(s.Stiffness))
	if t, err := q.rode.LiftsFrom(); err == nil {
		say("lifts        the anchor end from %s up, with this rode out", force(t))
	}
	if l, err := q.rode.NoUplift(s.T); err == nil {
		say("no lift      at this tension from %s of rode out", length(l))
	}
	b.WriteByte('\n')
	b.WriteString(q.sideView(s, 72, 9))
	return b.String()
}

func energyText(j float64) string {
	if j >= 1000 {
		return fmt.Sprintf("%.4g kJ", j/1000)
	}
	return fmt.Sprintf("%.4g J", j)
}

func (q *rodeAsk) stiffText(k float64) string {
	if math.IsInf(k, 1) {
		return "without end: straight, and nothing stretches"
	}
	per := q.show.Length
	return fmt.Sprintf("%s for each %s hauled", q.force(trial.Force(k*per.M)), per.Name)
}

// sideView draws the rode from the side, the height as large as it will go.
func (q *rodeAsk) sideView(s rode.State, wide, high int) string {
	points := q.rode.Shape(s, 4*wide, nil)
	low, right := 0.0, 0.0
	for _, p := range points {
		low, right = min(low, p.Z), max(right, p.X)
	}
	cells := make([][]byte, high)
	for i := range cells {
		cells[i] = []byte(strings.Repeat(" ", wide))
	}
	at := func(x, z float64) (col, row int) {
		col = int(math.Round(x / max(right, 1e-9) * float64(wide-1)))
		row = int(math.Round((s.Height - z) / (s.Height - low) * float64(high-1)))
		return min(max(col, 0), wide-1), min(max(row, 0), high-1)
	}
	for _, p := range points {
		c, r := at(p.X, p.Z)
		cells[r][c] = '.'
		if p.Z == 0 && p.S < s.OnBottom {
			cells[r][c] = '_'
		}
	}
	c, r := at(0, 0)
	cells[r][c] = 'A'
	if c, r = at(right, s.Height); c > 0 {
		cells[r][c] = 'F'
	}
	var b strings.Builder
	for _, line := range cells {
		b.WriteString("  " + strings.TrimRight(string(line), " ") + "\n")
	}
	tall := 0.0
	if right > 0 { // a character is about twice as high as it is wide
		tall = (float64(high-1) * 2 / (s.Height - low)) / (float64(wide-1) / right)
	}
	fmt.Fprintf(&b, "  A anchor, F fairlead, _ on the bottom")
	if tall > 0 {
		fmt.Fprintf(&b, "; a metre up is drawn as %.2g metres along", tall)
	}
	return b.String() + "\n"
}

// rodeDoc is `hawse rode --json`: SI, the unit at the end of each key.
type rodeDoc struct {
	Regime       string   `json:"regime"`
	RodeOut      float64  `json:"rode_out_m"`
	Height       float64  `json:"height_m"`
	Span         float64  `json:"span_m"`
	SpanMin      float64  `json:"span_min_m"`
	SpanMax      float64  `json:"span_max_m"`
	Horizontal   float64  `json:"horizontal_n"` // at the fairlead
	Vertical     float64  `json:"vertical_n"`
	Tension      float64  `json:"fairlead_tension_n"`
	Angle        float64  `json:"fairlead_angle_rad"`
	AnchorH      float64  `json:"anchor_horizontal_n"`
	AnchorV      float64  `json:"anchor_vertical_n"`
	AnchorT      float64  `json:"anchor_tension_n"`
	AnchorAngle  float64  `json:"anchor_angle_rad"`
	AnchorLow    float64  `json:"anchor_tension_least_n"` // once eased
	AnchorHigh   float64  `json:"anchor_tension_most_n"`
	OnBottom     float64  `json:"on_bottom_m"`
	Stretch      float64  `json:"stretch_m"`
	Stiffness    *float64 `json:"stiffness_n_per_m"` // null: without end
	StiffCounted *float64 `json:"stiffness_counted_n_per_m"`
	SpanStiff    *float64 `json:"span_stiffness_n_per_m"`
	Energy       float64  `json:"energy_j"`
	Scope        float64  `json:"scope"`
}

func rodeJSON(out io.Writer, s rode.State) error {
	finite := func(v float64) *float64 {
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return nil
		}
		return &v
	}
	lo, hi := s.AnchorBand()
	return cli.WriteJSON(out, rodeDoc{
		s.Regime.String(), s.Out, s.Height, s.Span, s.SpanMin, s.SpanMax, s.H, s.V, s.T, s.FairleadAngle,
		s.AnchorH, s.AnchorV, s.AnchorT, s.AnchorAngle, lo, hi, s.OnBottom, s.Stretch,
		finite(s.Stiffness), finite(s.StiffnessCounted), finite(s.SpanStiffness), s.Energy, s.Scope,
	})
}
