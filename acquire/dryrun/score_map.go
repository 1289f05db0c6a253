package dryrun

import (
	"fmt"
	"slices"
)

// TruthPhase is what the anchor truly did over a stretch of line hauled, made from
// the model's contact, travel and capacity by the rules of [Map], never from
// tension by a detector's.
type TruthPhase uint8

// The true phases.
const (
	NotScored TruthPhase = iota // the vessel surges, a snag has just let go, the winch stands
	TrueSlack
	TrueTakeUp
	TrueNotMoving
	TrueSliding // before the flukes first bite
	TrueNotSet
	TrueEmbedding
	TruePlateau
	TrueDecline
	TrueSawTooth
	TrueWeak
	TrueSnag
	TrueBreakout
	TrueDragging
	TrueResetting
	TrueReset
	NumTruths
)

// MapRow is one row of the map from the model's state to the words of a detector.
type MapRow struct {
	Truth TruthPhase
	Name  string
	When  string   // in the model
	Right []string // words that are right; none: not scored
}

// Map is how the model's truth becomes phases. It is printed with the score.
var Map = [NumTruths]MapRow{
	{NotScored, "not scored", "the vessel surges or has done so in the last 0.6 m; a snag has let go less than 1 m ago", nil},
	{TrueSlack, "slack", "still, never moved, and the bottom's friction keeps all pull from the anchor", []string{"slack", "take-up"}},
	{TrueTakeUp, "take-up", "still or creeping, never more than 0.1 m of travel, pull on the anchor", []string{"take-up", "anchor not moving"}},
	{TrueNotMoving, "not moving", "anchor travel under 0.3 of the line hauled, after it had moved, or pull above 2 D and no travel", []string{"anchor not moving", "take-up", "snag"}},
	{TrueSliding, "sliding before the bite", "slips free, has never bitten, under 3 m of travel", []string{"take-up", "dragging", "weak engagement", "slack"}},
	{TrueNotSet, "not set", "the same, after 3 m of travel", []string{"not set", "dragging"}},
	{TrueEmbedding, "embedding", "slides in soil, capacity grows by 3 % of its peak a metre or more", []string{"embedding"}},
	{TruePlateau, "plateau", "slides in soil, capacity level within 3 % a metre, at 2 D or more", []string{"plateau"}},
	{TrueDecline, "decline", "slides in soil, capacity falls by 3 % or more a metre", []string{"decline"}},
	{TrueSawTooth, "saw-tooth", "slides in soil, 3 wedges or more give way within 5 m and the tension falls by 15 % or more each time", []string{"saw-tooth"}},
	{TrueWeak, "weak engagement", "slides in soil, level, under 2 D", []string{"weak engagement", "dragging", "not set"}},
	{TrueSnag, "snag", "caught, after 1 m of travel", []string{"snag", "anchor not moving"}},
	{TrueBreakout, "breakout", "slips free after it held, until the tension's lowest", []string{"breakout"}},
	{TrueDragging, "dragging", "slips free, or still, after a breakout and before a new bite", []string{"dragging", "breakout"}},
	{TrueResetting, "re-setting", "slides in soil after a breakout, capacity grows, under 0.7 of the running peak", []string{"re-setting"}},
	{TrueReset, "re-set", "the same at 0.7 of it or more", []string{"re-set", "re-setting", "embedding", "plateau"}},
}

func (p TruthPhase) String() string {
	if p >= NumTruths {
		return fmt.Sprintf("truth(%d)", uint8(p))
	}
	return Map[p].Name
}

// wider are words that stand for several: those of a detector that tells less.
var wider = map[string][]string{
	"loading":                {"take-up", "embedding", "re-setting", "re-set", "anchor not moving", "snag"},
	"falling":                {"breakout", "decline"},
	"at the bare-rode level": {"dragging", "not set"},
}

// allows says whether a word is right for this truth.
func (p TruthPhase) allows(word string) bool {
	if slices.Contains(Map[p].Right, word) {
		return true
	}
	for _, narrow := range wider[word] {
		if slices.Contains(Map[p].Right, narrow) {
			return true
		}
	}
	return false
}

// Leniencies are what the figures forgive. [EventScore.Strict] counts it all.
var Leniencies = []string{
	"A breakout is asked for only where the tension before it is 2.2 D or more (D what the anchor's weight alone drags with),",
	"falls below 0.45 of that, no surge is on, and the anchor has held 2 D for 2 m before; the detector asks for 2 D, half and",
	"2 m. Below that, or as a snag lets go, either is right.",
	"A re-set is asked for only where its breakout is, the anchor reaches 0.75 of its peak and the pull goes on for 0.5 m; it is",
	"not false from 0.63 on. The detector, and the truth, draw the line at 0.7.",
	"A \"not set\" is not false of an anchor that has bitten and held 2 D for less than 2 m.",
	"An aweigh is asked for only where the tension falls by half as it comes off.",
	"A breakout said of the vessel's fall, its cause left undecided, is not false. One said and taken back is a fall.",
	"One said with the vessel as its cause is none; a true one said so has a row of its own, and is missed besides.",
	"A fall of the vessel is told only of an anchor that has set: before, there is nothing to fall from. The share named is of all.",
}
