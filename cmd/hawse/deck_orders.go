package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"time"

	"hawse/acquire/deck"
	"hawse/cmd/hawse/system"
)

// deckOrders is what may be typed at the deck's terminal, in lines of 80 characters.
const deckOrders = `orders, each with ENTER:  haul  stop  ease  haul 1.2 m/min  ahead  script
  the load cell:  cell free (for a zero)  cell hook 50 kg  cell rode
  ENTER alone:    how it stands`

// deckLog tells at the deck's terminal what changes there. A person types between its
// lines, so it says no more than it must: what has changed, and every few seconds
// where the line is while it moves.
type deckLog struct {
	out   io.Writer
	seen  int    // changes of the relay that are told
	stood string // lever and cell as last told
	at    int64  // when
}

// whileMoving is how often the place of a line that moves is told: common practice,
// no source.
const whileMoving = int64(5 * time.Second)

// order gives the deck a person's order, and tells what it came to.
func (l *deckLog) order(d *deck.Deck, order string) {
	if order == "" {
		l.tell(d.State())
		return
	}
	if err := d.Order(order); err != nil {
		fmt.Fprintln(l.out, visible(err.Error()))
		return
	}
	s := d.State()
	fmt.Fprintf(l.out, "%7.1f s  ordered: %s\n", float64(s.T)/1e9, visible(order))
	if s.Lever == "haul" && s.Hand && !s.RelayClosed {
		fmt.Fprintln(l.out, "           the relay is open, no line comes in: haul again once it is closed")
	}
}

// tick tells what there is to tell now.
func (l *deckLog) tick(s deck.State) {
	for ; l.seen < len(s.RelayLog); l.seen++ {
		ch := s.RelayLog[l.seen]
		fmt.Fprintf(l.out, "%9.3f s  relay %s\n", float64(ch.T)/1e9, relayWord(ch.Closed, ch.Reason))
	}
	if s.Lever+s.Cell != l.stood || s.Speed != 0 && s.T-l.at >= whileMoving {
		l.tell(s)
	}
}

// tell is how the deck stands, in a line of less than 80 characters.
func (l *deckLog) tell(s deck.State) {
	l.stood, l.at = s.Lever+s.Cell, s.T
	load := fmt.Sprintf("%.2f kN", float64(s.Tension)/1000)
	switch s.Cell {
	case "free":
		load = "cell free"
	case "hook":
		load = "hook " + load
	}
	fmt.Fprintf(l.out, "%7.1f s  %-4s  hauled %.2f m  out %.2f m  %s  relay %s\n", float64(s.T)/1e9,
		s.Lever, float64(s.X), float64(s.L), load, relayWord(s.RelayClosed, s.RelayReason))
}

// ordersFrom reads orders, a line each, until the input ends or a line is longer
// than any order. Its goroutine waits in a read that nothing can end; it goes with
// the program.
func ordersFrom(in io.Reader) <-chan string {
	orders := make(chan string)
	system.IgnoreNoTerminal()
	go func() {
		defer close(orders)
		lines := bufio.NewScanner(in)
		lines.Buffer(nil, 1024)
		for lines.Scan() {
			orders <- strings.Join(strings.Fields(lines.Text()), " ")
		}
	}()
	return orders
}
