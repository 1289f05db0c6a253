package safety

import (
	"fmt"
	"math"
	"strings"

	"hawse/trial"
)

// Check is one of the things that are looked at before hauling is permitted for
// the first time. Some a person does or says, the others are read from the
// state.
type Check uint8

const (
	CheckZero     Check = iota // the cell was read with nothing on it
	CheckWeight                // the cell was read with a known weight on it
	CheckHorn                  // horn and lamp were tried
	CheckSlowCell              // the director accepts a cell under 3 Hz
	CheckLimits                // the limits were read out
	ReadyWinch
	ReadyLogger
	ReadyDirector
	// From here on the state tells by itself.
	CheckGear  // every piece has its rating
	CheckClock // the computer's clock runs
	CheckDisk  // the record reaches the disk
	CheckLoad  // the load cell is live at its rate
	CheckLine  // the line encoder is live at its rate
	CheckStop  // the stop output is open
	CheckCells // where the largest of several load cells guards: each tells a tension
	NumChecks
)

// CheckState is how a check stands.
type CheckState uint8

const (
	CheckOpen CheckState = iota
	CheckPassed
	CheckFailed
	CheckWaived // the director goes without it, for a reason that is in the record
)

// CheckItem is one line of the list before arming.
type CheckItem struct {
	Check Check
	State CheckState
	Text  string // how it stands, or what to do; "" where State says it all
}

// Good says whether the line does not stand against arming.
func (l CheckItem) Good() bool { return l.State == CheckPassed || l.State == CheckWaived }

// Bounds of the checks before arming: zero within 0.5 % of the range, a known
// weight within 1 %: common practice, no source. A zero further off than 2 % of
// the range, or than a slack rode weighs, is not taken for one.
const (
	ZeroBand    = 0.005 // of the range, between two zeros
	zeroMost    = 0.02
	weightBand  = 0.01
	weightLeast = 0.01 // of the range: less says nothing of the scale
	checkLeast  = 3    // samples
	slowCell    = 3.0  // Hz: a cell under it may not guard unasked
	rateLeast   = 0.7  // of the rate the box is set to
	rateMost    = 1.5
)

// Reading is what the load cell showed over the last second: mean and spread of
// n valid samples, in newtons, with the calibration but without software zero.
type Reading struct {
	N         int
	Mean      trial.Force
	Low, High trial.Force
}

// JudgeZero says whether a reading may be taken as the new zero. last is the
// zero in force; moved says that the new one differs from it by more than 0.5 %
// of the range. refused is "" if it may.
func JudgeZero(r Reading, last trial.Force, c *Config) (moved bool, refused string) {
	most := math.Max(zeroMost*float64(c.Range), float64(c.Slack))
	switch {
	case r.N < checkLeast:
		return false, "the load cell sent too little in the last second; wait until it is live"
	case !(math.Abs(float64(r.Mean)) <= most):
		return false, fmt.Sprintf("the cell shows %s, more than %s; take the load off it first, or have it checked",
			forceText(float64(r.Mean), c.Show), forceText(most, c.Show))
	case !(float64(r.High-r.Low) <= ZeroBand*float64(c.Range)*2):
		return false, fmt.Sprintf("the reading moves between %s and %s; let it come to rest first", forceText(float64(r.Low), c.Show), forceText(float64(r.High), c.Show))
	}
	return math.Abs(float64(r.Mean-last)) > ZeroBand*float64(c.Range), ""
}

// JudgeWeight compares a reading, less the zero in force, with the weight that
// hangs on the cell. "" says that it fits within 1 %; otherwise the fault, with
// the factor that is suspected. tooLittle says that nothing can be said.
func JudgeWeight(r Reading, zero, weight trial.Force, c *Config) (fault string, tooLittle bool) {
	got, want := float64(r.Mean-zero), float64(weight)
	switch {
	case r.N < checkLeast:
		return "the load cell sent too little in the last second; wait until it is live", true
	case !(want >= weightLeast*float64(c.Range)):
		return fmt.Sprintf("%s is under 1 %% of the cell's range, so it says nothing; hang on more", forceText(want, c.Show)), true
	case math.Abs(got-want) <= weightBand*want:
		return "", false
	}
	var said []string
	if got < 0 {
		said = append(said, "the sign is reversed")
	}
	ratio := math.Abs(got) / want
	if why := SuspectUnit(ratio, 2*weightBand); why != "" {
		said = append(said, fmt.Sprintf("it is %.4g times what hangs there: %s", ratio, why))
	}
	if len(said) == 0 || got < 0 && len(said) == 1 && math.Abs(ratio-1) > weightBand {
		said = append(said, fmt.Sprintf("it is %.3g times what hangs there", ratio))
	}
	return fmt.Sprintf("the cell shows %s for %s: %s", weightText(got, want, c.Show), weightText(want, want, c.Show), strings.Join(said, "; ")), false
}

// weightText is a force with digits enough to see a misfit of 1 % of a known weight.
func weightText(v, weight float64, show trial.Show) string {
	u := show.Tension
	if !(u.N > 0) {
		u = trial.ForceUnit{Name: "N", N: 1}
	}
	return fixed(v/u.N, max(digits(u.N/10), digits(u.N/(weight*weightBand/10)))) + " " + u.Name
}
