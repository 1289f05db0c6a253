package tui

import (
	"fmt"
	"strings"

	"hawse/acquire/session"
	"hawse/safety"
)

// carriedText is what was taken over, in words.
func carriedText(k session.Carried) string {
	what, name, _ := strings.Cut(k.Item, " ")
	switch {
	case k.Item == session.CarryDepth:
		return "water depth " + k.Text
	case k.Item == session.CarryHaul || k.Item == session.CarryStop:
		return k.Text
	case k.Item == session.CarryCorrect:
		return "correction: " + k.Text
	case k.Item == session.CarryCell:
		return "load cell " + k.Text
	case what == "clear":
		return name + " " + k.Text
	case what == "lower":
		return strings.ReplaceAll(name, "_", " ") + " made stricter, " + k.Text
	}
	return k.Item + " " + k.Text
}

// openCarried are the items a person has not answered yet.
func openCarried(s *session.Snapshot) (open []session.Carried) {
	for _, k := range s.Carried {
		if k.State == session.CarryOpen {
			open = append(open, k)
		}
	}
	return open
}

// against are those that stand against arming: all but the stage, which arming
// says anew.
func against(s *session.Snapshot) (open []session.Carried) {
	for _, k := range openCarried(s) {
		if k.Item != session.CarryStage {
			open = append(open, k)
		}
	}
	return open
}

func carriedTexts(list []session.Carried) string {
	texts := make([]string, len(list))
	for i, k := range list {
		texts[i] = carriedText(k)
	}
	return strings.Join(texts, ", ")
}

// latchedStop says whether a stop that was taken over is still in force.
func latchedStop(s *session.Snapshot) bool {
	for _, k := range s.Carried {
		if k.State == session.CarryLatched {
			return true
		}
	}
	return false
}

// carriedMark tells how an item stands by a shape and a word.
func carriedMark(k session.Carried) (shape, text string, r role) {
	switch k.State {
	case session.CarryOpen:
		return "□", "to confirm", strong
	case session.CarryTaken:
		return "■", "confirmed", plain
	case session.CarryLatched:
		return "×", "LATCHED", caution
	}
	return "–", string(k.State), plain
}

// carriedRows are what was taken over as lines of the list before arming; with
// short set, one for all that is open.
func carriedRows(s *session.Snapshot, short bool) []checkRow {
	var rows []checkRow
	next := len(against(s)) > 0
	if short {
		open := against(s)
		for _, k := range openCarried(s) {
			if k.Item == session.CarryStage {
				open = append(open, k)
			}
		}
		if len(open) == 0 {
			return nil
		}
		return []checkRow{{shape: "□", key: "t", name: "taken over: " + carriedTexts(open), state: "to confirm", st: strong, next: next}}
	}
	for _, k := range s.Carried {
		r := checkRow{name: "taken over: " + carriedText(k)}
		r.shape, r.state, r.st = carriedMark(k)
		if k.State == session.CarryOpen {
			r.key = "t"
			if next && k.Item != session.CarryStage {
				r.next, next = true, false
			}
		}
		rows = append(rows, r)
	}
	return rows
}

// drawCarried is a line of what was taken over. How it stands is never cut.
func drawCarried(c *canvas, r rect, row checkRow) {
	if r.h == 0 {
		return
	}
	if row.next {
		c.text(r, 0, "►", accent)
	}
	c.text(r, 2, row.shape, row.st)
	c.text(r, 4, row.key, strong)
	end := max(r.w-width(row.state), 6)
	x := c.text(rect{r.x, r.y, max(min(end-2, r.w), 0), r.h}, 6, row.name, plain)
	c.text(r, min(x+2, end), row.state, row.st)
}

// mostDigits is how many items have a digit of their own; y and n answer for
// the others as well.
const mostDigits = 9

// toggle takes a digit of the question what still holds. The numbers are those
// of the whole list, so that none moves when another seat answers meanwhile.
func (d dialog) toggle(key string) (dialog, bool) {
	if len(key) != 1 || key[0] < '1' || key[0] > '0'+mostDigits {
		return d, false
	}
	d.dropped ^= 1 << (key[0] - '1')
	return d, true
}

// drops says whether the item at a place in the list was marked to be left
// behind.
func (d dialog) drops(i int) bool { return i < mostDigits && d.dropped&(1<<i) != 0 }

func (d dialog) carriedLines(s *session.Snapshot) (title string, body, choices []string) {
	some := false
	for i, k := range s.Carried {
		if k.State != session.CarryOpen {
			continue
		}
		some = some || d.drops(i)
		digit := " "
		if i < mostDigits {
			digit = fmt.Sprint(i + 1)
		}
		word := "confirm"
		if d.drops(i) {
			word = "DROP"
		}
		text := digit + " " + word + ": " + carriedText(k)
		if k.Item == session.CarryStage && s.Guard.Stop.Kind == safety.Trip {
			text += " (said by the re-arm)"
		}
		choices = append(choices, text)
	}
	body = []string{"y confirms what is marked so and drops the rest, n drops all. A digit changes one."}
	if !some {
		body[0] = "y confirms all, n drops all. A digit changes one."
	}
	return "Taken over from " + s.After + ": does it still hold?", body, choices
}

// carry hands over what a person has said of what was taken over: one act for
// all, or, where some are left behind, one for each with its text, so that only
// what was read is answered.
func (m model) carry(d dialog, take bool) (next model, done bool) {
	var drop, keep []session.Act
	for i, k := range m.snap.Carried {
		if k.State != session.CarryOpen {
			continue
		}
		value := strings.TrimSpace(k.Item + " " + k.Text)
		switch {
		case !take || d.drops(i):
			drop = append(drop, session.Act{What: session.ActDrop, Value: value})
		case k.Item != session.CarryStage || m.snap.Guard.Stop.Kind != safety.Trip:
			keep = append(keep, session.Act{What: session.ActCarry, Value: value})
		}
	}
	all := session.Act{Value: session.CarryAll}
	switch {
	case len(drop)+len(keep) == 0:
		return m, false
	case len(drop) == 0:
		all.What = session.ActCarry
		return m.act(all), true
	case !take:
		all.What = session.ActDrop
		return m.act(all), true
	}
	for _, a := range append(drop, keep...) {
		m = m.act(a)
	}
	return m, true
}
