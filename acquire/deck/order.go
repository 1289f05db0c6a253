package deck

import "errors"

// Orders are the words [Deck.Order] takes.
var Orders = []string{"haul", "stop", "ease", "ahead", "script"}

// Order is a person's order to the winch: haul or ease, with a speed behind it if
// it is not the scenario's ("haul 1.2 m/min"), stop, or ahead for the vessel to go
// over the anchor. The lever is the person's from then on, until
// the order "script" gives it back to the scripted operator, who goes on where
// the script stood. Hauling that the relay has ended needs a new order.
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
