package deck

import "strings"

// Step is one step of the winch operator or of the crew. A step begins when
// the one before it is over.
//
// The winch's are played by the deck. The crew's are only checked here; who
// plays them watches what the director's screen shows, never the deck itself:
//
//	wait 2 s
//	until order stop|ease|abandon  this order is in force, or a stronger one
//	until order none
//	until x 29.5 m                 line hauled has reached it
//	until rode out 8 m             rode out has come down to it
//	until tension below|above 0.3 kN
//	until haul stopped
//	until load live                the load cell's reading is known
//	until log on disk
//	act ...                        an act that must be granted
//	refused act ...                the same, and it must be refused
//	say "a caption for the screen"
//
// The acts are
//
//	act stop | arm | ack | abandon | zero | read | cell-off | cell-on
//	act stage|rearm STAGE
//	act depth|payout|pass LENGTH
//	act weight 25 kg               of this mass, or this force, hangs on the cell
//	act waive zero|weight "reason"
//	act correct sign
//	act correct unit lb
//	act accept "slow cell"
//	act ready winch|logger|director "reason"
//	act not-ready winch|logger|director "reason"
//	act clear "NAME"
//	act lower tension_stop|tension_warn|haul|scope_min "7.0 kN"
//	act mark|note|end "text"
type Step struct {
	Line int    // in the script, from 1
	Verb string // "until", "wait", "act", "refused", "say", "haul", ...
	// Args is the rest in order, words that belong together as one: until
	// rode out 8 m has "rode out" and "8 m", log on disk has "log" and "on
	// disk". Quantities keep their unit, texts have lost their quotes, a stage
	// is its key word. Those of "refused" are those of the act.
	Args []string
	// SI is the quantity among Args in N, m, s or m/s; 0 without one. A mass
	// that hangs on the cell is its weight.
	SI float64
}

// String is the step as a script says it.
func (s Step) String() string {
	words := append([]string{s.Verb}, s.Args...)
	if s.Verb == "refused" {
		words[0] = "refused act"
	}
	return strings.Join(words, " ")
}
