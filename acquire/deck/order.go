package deck

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"hawse/trial"
)

// Orders are the words with which what [Deck.Order] takes begins.
var Orders = []string{"haul", "stop", "ease", "cell", "ahead", "script"}

// mostOrdered is the fastest a person orders the winch: common practice, no source.
const mostOrdered = trial.Speed(1)

// Order is a person's order. To the winch: haul or ease, with a speed behind it if
// it is not the scenario's ("haul 1.2 m/min"), or stop. The lever is the person's
// from then on, until the order "script" gives it back to the scripted operator, who
// goes on where the script stood. Hauling that the relay has ended needs a new order.
//
// "ahead" has the vessel go over the anchor. "cell free" makes the rode fast and
// takes the load cell out of it, for a zero; "cell hook 50 kg" hangs this mass, or
// this force, on it; "cell rode" puts it back, and so does line that moves. The
// lever stays whose it is. Only with the winch standing can the cell be taken out.
func (d *Deck) Order(word string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.closed || d.over {
		return errors.New("deck: it has ended; nobody is at the winch")
	}
	if d.running {
		d.catchUp(d.clock.Now())
	}
	return d.sim.Order(word)
}

// Order is a person's order, as [Deck.Order].
func (m *Sim) Order(order string) error {
	w := m.w
	word, said, _ := strings.Cut(strings.TrimSpace(order), " ")
	word = strings.ToLower(word)
	if word == "cell" {
		return w.orderCell(strings.TrimSpace(said))
	}
	said = strings.ToLower(said)
	speed := w.s.Speed
	if said != "" && (word == leverHaul || word == leverEase) {
		v, err := trial.ParseSpeed(said)
		switch {
		case err != nil:
			return fmt.Errorf("deck: %s at %s: %w", word, quoted(said), err)
		case !(v > 0 && v <= mostOrdered):
			return fmt.Errorf("deck: %s at %s: above 0 and at most %s", word, quoted(said), mostOrdered)
		}
		speed, said = v, ""
	}
	switch {
	case said != "":
		return fmt.Errorf("deck: %s takes no %s behind it; a speed goes with haul and ease alone", quoted(word), quoted(said))
	case !slices.Contains(Orders, word):
		return fmt.Errorf("deck: %s is no order; say haul, stop, ease, cell free, cell hook 50 kg, cell rode, ahead or script", quoted(word))
	case word == "script":
		if w.hand {
			w.hand = false
			w.lever(w.scripted.verb, w.scripted.speed)
		}
	case word == "ahead" && len(w.s.recovery.rows) == 0 && w.s.model == nil:
		return errors.New("deck: this scenario has no recovery table; the vessel stays where it is")
	case word == "ahead":
		w.goAhead()
	default:
		w.hand = true
		w.lever(word, speed)
	}
	return nil
}

// orderCell is a person's order to take the load cell out of the rode or to put it
// back. A cell that runs with the line cannot be taken out.
func (w *world) orderCell(what string) error {
	on, weight, _ := strings.Cut(what, " ")
	on = strings.ToLower(on)
	var hung trial.Force
	switch {
	case on == "hook":
		n, err := parseWeight(strings.TrimSpace(weight))
		switch {
		case err != nil:
			return fmt.Errorf("deck: cell hook %s: %w", quoted(weight), err)
		case !(n > 0):
			return fmt.Errorf("deck: cell hook %s: above 0; nothing on it is: cell free", quoted(weight))
		}
		hung = trial.Force(n)
	case weight != "" || on != "free" && on != "rode":
		return fmt.Errorf("deck: cell %s is no order; say cell free, cell hook 50 kg or cell rode", quoted(what))
	}
	switch {
	case on != "rode" && w.winch.lever == leverStop && w.winch.v != 0:
		return errors.New("deck: line still moves; say it again once it stands")
	case on != "rode" && w.winch.lever != leverStop:
		return fmt.Errorf("deck: the winch is at %s; say stop first: the rode must be made fast", w.winch.lever)
	}
	w.hang(on, hung)
	w.byHand = on != "rode"
	return nil
}
