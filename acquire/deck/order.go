package deck

import (
	"errors"
	"fmt"
	"slices"
)

// Orders are the words [Deck.Order] takes.
var Orders = []string{"haul", "stop", "ease", "ahead", "script"}

// Order is a person's order to the winch: haul, stop, ease, or ahead for the
// vessel to go over the anchor. The lever is the person's from then on, until
// the order "script" gives it back to the scripted operator, who goes on where
// the script stood. Hauling that the relay has ended needs a new order.
func (d *Deck) Order(word string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if !slices.Contains(Orders, word) {
		return fmt.Errorf("deck: %s is no order to the winch; say haul, stop, ease, ahead or script", quoted(word))
	}
	if d.closed || d.over {
		return errors.New("deck: it has ended; nobody is at the winch")
	}
	if d.running {
		d.catchUp(d.clock.Now())
	}
	w := d.w
	switch word {
	case "script":
		if w.hand {
			w.hand = false
			w.lever(w.scripted.verb, w.scripted.speed)
		}
	case "ahead":
		if len(d.s.recovery.rows) == 0 {
			return errors.New("deck: this scenario has no recovery table; the vessel stays where it is")
		}
		w.ground.goAhead(w.x)
	default:
		w.hand = true
		w.lever(word, d.s.Speed)
	}
	return nil
}
