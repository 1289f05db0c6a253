package trial

import "strings"

// briefs are the reasons why a quantity is not known, by how they begin, in the
// few words a screen has room for. ever: nothing that may still come in the pull
// changes it.
var briefs = []struct {
	begins, brief string
	ever          bool
}{
	{whyNoPull, "stage pull not said", false},
	{whyNoUp, "stage recover not said", false},
	{whyNoCell, "no load reading", false},
	{"the load cell was over range and gave no number", "over range, no number", false},
	{"the load cell sends too slowly", "load cell sends too slowly", true},
	{whyNoBare, "no bare-rode level", true},
	{whyNoDead, "no dead-weight level", true},
	{whyNoLine, "line hauled not known", false},
	{"line hauled was not known then", "line hauled not known then", false},
	{whyNoScope, "scope not known then", false},
	{whyNoMass, "no anchor in this run", true},
	{"no anchor is pulled in this run", "no anchor in this run", true},
	{whyNoKnee, "knee not reached", false},
	{whyNoBreak, "no breakout", false},
	{whyNoReset, "no re-set", false},
	{whyNoStand, "the winch has not stood", false},
	{whyNoStop, "no stop while hauling", false},
	{whyNotUp, "anchor not off the bottom", false},
	{whyOver, "over range then", false},
	{whyStatics, "statics not known", false},
	{whyThen, "statics not known then", false},
	{"rode: ", "statics not solved", false},
	{"the rode of the trial file", "rode cannot be solved", true},
	{"no metre was hauled in one", "no metre hauled in one", false},
	{"the pull has no such time", "not so long without a hole", false},
	{"a hole in the samples", "a hole in the samples then", false},
	{whyNotHauled, "not hauled in stage pull", false},
	{"too few samples to tell", "too few samples", false},
	{"no valid reading in ease", "no ease or recovery", false},
	{"rode out or depth was not known", "rode out or depth not known", false},
	{"the line was never loaded up and down", "not loaded up and down", false},
	{"the stage soak was never said", "stage soak not said", false},
}

// Brief is the reason why a value is not known in a few words, and whether
// nothing that may still come in the pull changes that.
func (v *Value) Brief() (words string, ever bool) {
	for i := range briefs {
		if strings.HasPrefix(v.Why, briefs[i].begins) {
			return briefs[i].brief, briefs[i].ever
		}
	}
	if of, ok := strings.CutPrefix(v.Why, whyNoStretch); ok {
		return "no " + of, false
	}
	if been, ok := strings.CutPrefix(v.Why, whyNotCome); ok {
		return "the anchor came " + been, false
	}
	if part, _, ok := strings.Cut(v.Why, " m were hauled and measured"); ok {
		return part + " m measured", false
	}
	if part, _, ok := strings.Cut(v.Why, " m hauled, and neither"); ok {
		return part + " m hauled, undecided", false
	}
	words, _, _ = strings.Cut(v.Why, ":")
	return words, false
}
