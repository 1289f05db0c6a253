package trial

import "fmt"

// Phase is what the anchor is doing, as read from tension against line hauled.
// It is a reading, not an order: no stop depends on it.
type Phase uint8

// The phases. None shares a word with a [Stage].
const (
	Unclear    Phase = iota // no rule speaks, or what a rule needs is unknown
	Slack                   // tension under what the bare rode gives
	Loading                 // tension rises as line is hauled
	Plateau                 // tension level, well above a dead weight
	Falling                 // tension falls while line is hauled
	AtBareRode              // hauling, and no more tension than bare rode or dead weight give
	NumPhases               // how many there are; not a phase
)

var phaseNames = [NumPhases]string{
	"unclear", "slack", "loading", "plateau", "falling", "at the bare-rode level",
}

// String is the phase in the crew's words.
func (p Phase) String() string {
	if p >= NumPhases {
		return fmt.Sprintf("phase(%d)", uint8(p))
	}
	return phaseNames[p]
}
