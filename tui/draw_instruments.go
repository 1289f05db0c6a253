package tui

import (
	"fmt"
	"math"

	"hawse/acquire/session"
	"hawse/safety"
)

// logStreams are the ports the logger watches: those of all seats, then the other
// load cells and the instruments of the vessel, as far as they are fitted.
func logStreams(s *session.Snapshot) []session.Stream {
	list := streams(s)
	for _, c := range s.Cells {
		list = append(list, c.Stream)
	}
	for _, st := range []session.Stream{s.Aids.Depth, s.Aids.Position, s.Aids.Heading, s.Aids.Clock} {
		if st.Src != "" {
			list = append(list, st)
		}
	}
	return list
}

// instrumentText is what an instrument says beside its port: the tension of another
// load cell, how a pin's is made, depth, place, heading, and how far the clocks are
// apart. "" says nothing but its last frame.
func (m model) instrumentText(src string) (string, role) {
	s := m.snap
	u, a := unitsOf(s), &s.Aids
	switch src {
	case "load":
		return pinText(s, u)
	case "depth":
		return depthText(s, u)
	case "position":
		if math.IsNaN(a.Lat) || math.IsNaN(a.Lon) {
			return "no position", dim
		}
		text := fmt.Sprintf("%.5f %.5f", a.Lat, a.Lon)
		if a.HasMoved {
			text = fmt.Sprintf("moved %s ahead, %s to starboard, ± %s", u.metresUnit(a.Along), u.metresUnit(a.Across), u.metresUnit(a.Uncertain))
		}
		return text, plain
	case "heading":
		if math.IsNaN(float64(a.Course)) {
			return "no heading", dim
		}
		return fmt.Sprintf("heading %03.0f deg", float64(a.Course)*180/math.Pi), plain
	case "clock":
		switch off := a.ClockOff; {
		case !a.ClockKnown:
			return "no satellite time held against this computer's", dim
		case off < 0:
			return "this computer " + ageText(-off) + " ahead of satellites", plain
		default:
			return "this computer " + ageText(off) + " behind satellites", plain
		}
	}
	for _, c := range s.Cells {
		if c.Src == src {
			return cellText(s, c, u)
		}
	}
	return "", dim
}

func depthText(s *session.Snapshot, u units) (string, role) {
	a := &s.Aids
	text, st := "no sounding in 10 s", dim
	if !math.IsNaN(float64(a.Sounded)) {
		text, st = "sounded "+u.metresUnit(a.Sounded), plain
	}
	if !math.IsNaN(float64(a.Refused)) {
		text, st = text+", refused "+u.metresUnit(a.Refused), caution
	}
	if a.ByHand && !math.IsNaN(float64(a.Hand)) {
		text += "; by hand " + u.metresUnit(a.Hand) + " is in force"
	}
	return text, st
}

func pinText(s *session.Snapshot, u units) (string, role) {
	p := s.Tension.Pin
	if p == nil {
		return "", dim
	}
	if p.Why != "" {
		return "pin: " + p.Why, caution
	}
	if math.IsNaN(float64(p.Felt)) {
		return "pin in the roller: nothing felt yet", dim
	}
	return fmt.Sprintf("pin feels %s at %.1f deg, likely %s ± %s", u.tensionUnit(p.Felt),
		float64(p.Bend)*180/math.Pi, u.tension(p.Likely), u.tensionUnit(p.U)), plain
}

// pinBrief is the same in the 30 columns a narrow table has for it.
func pinBrief(s *session.Snapshot, u units) (string, role) {
	p := s.Tension.Pin
	switch {
	case math.IsNaN(float64(p.Felt)):
		return "pin: nothing felt yet", dim
	case p.Why == "":
		return fmt.Sprintf("pin %s, %.0f°: %s ± %s", u.tension(p.Felt), float64(p.Bend)*180/math.Pi, u.tension(p.Likely), u.tensionUnit(p.U)), plain
	case !s.Haul.Known:
		return "pin: no angle; say rode out", caution
	case !s.Haul.DepthOK:
		return "pin: no angle; say the depth", caution
	}
	return "pin: bend tells no tension", caution
}

func cellText(s *session.Snapshot, c session.CellShot, u units) (string, role) {
	text, st := "tension unknown", caution
	switch {
	case c.Over:
		text = "over range"
	case !math.IsNaN(float64(c.Tension)):
		text, st = u.tensionUnit(c.Tension), plain
	}
	if c.Sits != "" {
		text = c.Sits + " " + text
	}
	if !c.Zero.Known {
		text += ", not zeroed"
	}
	if s.Guard.Alarms[safety.CellsDisagree].Standing() && c.Apart > 0 {
		return text + ", DISAGREES by " + u.tensionUnit(c.Apart), caution
	}
	if s.Trial != nil && !s.Trial.LargerGuards {
		text += ", told only"
	}
	return text, st
}

// lateText is what came late on the ports, "" nothing.
func lateText(s *session.Snapshot) string {
	text := ""
	for _, st := range logStreams(s) {
		if st.Bursts > 0 {
			text += fmt.Sprintf("; %s: %d late lines in %s", st.Src, st.Late, times(st.Bursts))
		}
	}
	return text
}

func times(n uint64) string {
	if n == 1 {
		return "1 burst"
	}
	return fmt.Sprintf("%d bursts", n)
}

// atMost is said beside a tension that is the most it can be.
func atMost(s *session.Snapshot) string {
	switch {
	case s.Tension.Pin != nil:
		return "at most, by the pin"
	case s.Trial != nil && s.Trial.LargerGuards && len(s.Cells) > 0:
		return largestOf(s.Cells)
	}
	return ""
}

// largestOf names the cells that the largest tension is not of: nobody knows what
// they would tell.
func largestOf(list []session.CellShot) string {
	text := ""
	for _, c := range list {
		if !c.Over && math.IsNaN(float64(c.Tension)) {
			text += " " + c.Src
		}
	}
	if text != "" {
		return "without" + text
	}
	return "largest cell"
}
