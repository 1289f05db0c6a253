package trial

import (
	"fmt"
	"strings"
)

// Quantity is one thing that is told of a pull. [Quantities] says what each is.
type Quantity uint8

// The quantities. Their order is that in which they are told.
const (
	PeakInstant Quantity = iota
	Peak1s
	Peak10s
	Peak1m
	EfficiencyInstant
	Efficiency1s
	Efficiency10s
	Efficiency1m
	HauledAtPeak
	TravelAtPeak
	ScopeAtPeak
	FairleadAngleAtPeak
	AnchorAngleAtPeak
	HeightAtPeak
	Mean0to10m
	Mean10to20m
	Mean20to30m
	MeanPlateau
	MeanSawTooth
	Travel1m
	Travel2m
	Travel5m
	Travel10m
	Travel20m
	TravelEnd
	HauledInPull
	SetOrNot
	BreakoutsAnchor
	BreakoutsUndecided
	FallsVessel
	FallsUndecided
	Resets
	ResetRatio
	ValleyToPeakTime
	ValleyToPeakLine
	SawToothWave
	SawToothSwing
	WorkLine
	WorkAnchor
	Relaxed10s
	Relaxed60s
	HoldLongest
	HoldLeast
	OvershootTension
	OvershootLine
	PeakAfter
	BreakoutForce
	RecoverySteps
	RecoveryWaits
	RecoveryTime
	BurialDepth
	SoakTime
	LineSpeed
	LineSpeedShare
	SampleRate
	NumQuantities // how many there are; not a quantity
)

// QuantityInfo is what a quantity is: the one place where it is defined. What is
// printed, the keys in JSON and CSV, and QUANTITIES.md are made from it.
type QuantityInfo struct {
	Key    string // a plain word; with the unit at its end the key in JSON and CSV
	Name   string // in the crew's words
	Unit   string // SI: "N", "m", "s", "rad", "J", "m/s", "1/s"; "" a ratio; "count"; "word"
	Window string // over what it is taken; "" it has none
	What   string // its definition
	// Loads: it is told in three readings, see [Readings].
	Loads bool
	Group string // the heading it is told under
}

// Readings are how a load is told: key, and what it is.
var Readings = [...]struct{ Key, Name, What string }{
	{"deck", "at deck", "as the load cell has it, less its zero"},
	{"less_bare", "less bare rode", "less what a bare rode takes at the same line hauled, over the same window"},
	{"anchor", "at anchor", "at the lower end, by the statics of the rode as it is hauled, over the same window"},
}

// Stretch is a stretch of line hauled, m, over which a mean is asked for.
type Stretch struct{ From, To Length }

// WithUnit is a key with the unit at its end.
func WithUnit(key, unit string) string {
	end := map[string]string{"N": "_n", "m": "_m", "s": "_s", "rad": "_rad", "J": "_j", "m/s": "_m_per_s", "1/s": "_per_s", "": "_ratio"}[unit]
	return key + end
}

// ReadingKey is the key of a reading of the quantity, with its unit: "peak_1s_deck_n".
func (i *QuantityInfo) ReadingKey(reading int) string {
	if !i.Loads {
		return WithUnit(i.Key, i.Unit)
	}
	return WithUnit(i.Key+"_"+Readings[reading].Key, i.Unit)
}

const (
	inPullAndHold = "in the stages pull and hold"
	asLevel       = "; it stands for a level, so its uncertainty holds the scatter about it, by as many values as are independent by their lag-1 autocorrelation"
	forTheFirst   = "line hauled for the first time in the pull, weighted by distance"
)

func peakOver(window string) string {
	return "the greatest mean tension over " + window + ", " + inPullAndHold + ", no window reaching over a stop of the pull or a hole in the samples"
}

func efficiencyOf(window string) string {
	return "the peak (" + window + ") over the anchor's weight in air: mass times 9.80665 m/s2; not to be compared over sizes"
}

func heldAt(d string) string {
	return "the mean tension over the second in which the anchor has first come " + d + " towards the vessel since the knee"
}

// Quantities says what each quantity is.
var Quantities = [NumQuantities]QuantityInfo{
	PeakInstant: {"peak_instant", "peak, instant", "N", "one sample", "the greatest valid sample " + inPullAndHold + "; it depends on the rate and filter of the box", true, "peaks"},
	Peak1s:      {"peak_1s", "peak, 1 s", "N", "1 s", peakOver("1 s"), true, "peaks"},
	Peak10s:     {"peak_10s", "peak, 10 s", "N", "10 s", peakOver("10 s"), true, "peaks"},
	Peak1m:      {"peak_1m", "peak, 1 m hauled", "N", "1 m hauled", peakOver("1 m hauled, weighted by distance"), true, "peaks"},

	EfficiencyInstant: {"efficiency_instant", "efficiency, instant", "", "one sample", efficiencyOf("instant"), true, "efficiency"},
	Efficiency1s:      {"efficiency_1s", "efficiency, 1 s", "", "1 s", efficiencyOf("1 s"), true, "efficiency"},
	Efficiency10s:     {"efficiency_10s", "efficiency, 10 s", "", "10 s", efficiencyOf("10 s"), true, "efficiency"},
	Efficiency1m:      {"efficiency_1m", "efficiency, 1 m hauled", "", "1 m hauled", efficiencyOf("1 m hauled"), true, "efficiency"},

	HauledAtPeak:        {"hauled_at_peak", "line hauled at the peak", "m", "at the instant peak", "since the rode out was said", false, "at the peak"},
	TravelAtPeak:        {"travel_at_peak", "anchor travel at the peak", "m", "at the instant peak", "how far the anchor had come towards the vessel since the knee, by the statics; drag", false, "at the peak"},
	ScopeAtPeak:         {"scope_at_peak", "scope at the peak", "", "at the instant peak", "rode out over the fairlead's height above the bottom, incl. roller height", false, "at the peak"},
	FairleadAngleAtPeak: {"fairlead_angle_at_peak", "fairlead angle at the peak", "rad", "at the instant peak", "under the horizontal, by the statics", false, "at the peak"},
	AnchorAngleAtPeak:   {"anchor_angle_at_peak", "anchor angle at the peak", "rad", "at the instant peak", "over the horizontal, by the statics", false, "at the peak"},
	HeightAtPeak:        {"height_at_peak", "fairlead height at the peak", "m", "at the instant peak", "depth of water and height of the roller above it: what the scope is taken by", false, "at the peak"},

	Mean0to10m:   {"mean_0_10m", "mean, 0 to 10 m hauled", "N", "0 to 10 m hauled", "mean tension over " + forTheFirst, true, "means by distance"},
	Mean10to20m:  {"mean_10_20m", "mean, 10 to 20 m hauled", "N", "10 to 20 m hauled", "mean tension over " + forTheFirst, true, "means by distance"},
	Mean20to30m:  {"mean_20_30m", "mean, 20 to 30 m hauled", "N", "20 to 30 m hauled", "mean tension over " + forTheFirst, true, "means by distance"},
	MeanPlateau:  {"mean_plateau", "mean, plateau", "N", "the stretches called plateau", "mean tension over " + forTheFirst + asLevel, true, "means by distance"},
	MeanSawTooth: {"mean_saw_tooth", "mean, saw-tooth", "N", "the stretches called saw-tooth", "mean tension over " + forTheFirst + asLevel, true, "means by distance"},

	Travel1m:     {"holding_at_1m", "holding at 1 m travel", "N", "1 s", heldAt("1 m"), true, "by anchor travel"},
	Travel2m:     {"holding_at_2m", "holding at 2 m travel", "N", "1 s", heldAt("2 m"), true, "by anchor travel"},
	Travel5m:     {"holding_at_5m", "holding at 5 m travel", "N", "1 s", heldAt("5 m"), true, "by anchor travel"},
	Travel10m:    {"holding_at_10m", "holding at 10 m travel", "N", "1 s", heldAt("10 m"), true, "by anchor travel"},
	Travel20m:    {"holding_at_20m", "holding at 20 m travel", "N", "1 s", heldAt("20 m"), true, "by anchor travel"},
	TravelEnd:    {"travel_end", "anchor travel, greatest", "m", "", "the farthest the anchor has come towards the vessel in pull and hold since the knee; less what the vessel moved only where that is known", false, "by anchor travel"},
	HauledInPull: {"hauled_in_pull", "line hauled in pull and hold", "m", "", "from the least to the greatest line hauled of each stay, added", false, "by anchor travel"},

	SetOrNot:           {"set", "set or not", "word", "", "set: 2 m on end above twice the dead-weight level, or 8 times that level at once; not set, weak engagement: as the phases have it", false, "what it did"},
	BreakoutsAnchor:    {"breakouts_anchor", "breakouts, cause anchor", "count", "", "tension under half of the highest of the last 1.5 m or 2 s while hauling, in the pull, and the anchor let go; what comes in the recovery is not counted", false, "what it did"},
	BreakoutsUndecided: {"breakouts_undecided", "breakouts, cause undecided", "count", "", "the same, the cause left open", false, "what it did"},
	FallsVessel:        {"falls_vessel", "falls, cause vessel", "count", "", "a fall by half that is no breakout: the vessel came nearer", false, "what it did"},
	FallsUndecided:     {"falls_undecided", "falls, cause undecided", "count", "", "a fall by half that is not counted as a breakout: nobody can say", false, "what it did"},
	Resets:             {"resets", "re-sets", "count", "", "a climb after a breakout to 0.7 of the running peak", false, "what it did"},
	ResetRatio:         {"reset_ratio", "re-set ratio", "", "1 s", "greatest mean over 1 s after the breakout and before the next, over the greatest before it; of the first breakout that was followed by a re-set", false, "what it did"},
	ValleyToPeakTime:   {"valley_to_peak_time", "valley to peak, time", "s", "", "from the lowest sample of that breakout to the greatest mean over 1 s after it", false, "what it did"},
	ValleyToPeakLine:   {"valley_to_peak_line", "valley to peak, line hauled", "m", "", "the same, in line hauled", false, "what it did"},
	SawToothWave:       {"saw_tooth_wave", "saw-tooth, wave", "m", "the stretches called saw-tooth", "mean length of a wave in line hauled, weighted by distance", false, "what it did"},
	SawToothSwing:      {"saw_tooth_swing", "saw-tooth, swing", "", "the stretches called saw-tooth", "mean swing over mean tension, weighted by distance", false, "what it did"},
	WorkLine:           {"work_line", "work done on the line", "J", "", "tension times line hauled, summed in pull and hold", false, "what it did"},
	WorkAnchor:         {"work_anchor", "work done at the anchor", "J", "", "tension at the anchor times anchor travel, summed in pull and hold since the knee", false, "what it did"},

	Relaxed10s:       {"relaxed_10s", "relaxed in 10 s", "", "1 s", "share of the tension lost 10 s after the winch stopped; of the first standing in pull, hold or stopped that lasts so long", false, "holds and stops"},
	Relaxed60s:       {"relaxed_60s", "relaxed in 60 s", "", "1 s", "the same after 60 s", false, "holds and stops"},
	HoldLongest:      {"hold_longest", "longest standing", "s", "", "from the last line hauled until line is hauled again or the stage is left, in pull, hold or stopped", false, "holds and stops"},
	HoldLeast:        {"hold_least", "least tension kept in it", "", "1 s", "the least mean over 1 s in the longest standing, over that when the winch stopped", false, "holds and stops"},
	OvershootTension: {"overshoot_tension", "overshoot at a stop, tension", "N", "one sample", "greatest tension until the winch stands, or for 10 s, over that when the stop was set; the greatest of all stops set while hauling", false, "holds and stops"},
	OvershootLine:    {"overshoot_line", "overshoot at a stop, line", "m", "", "line hauled after a stop was set until the winch stands, or for 10 s; the greatest of all", false, "holds and stops"},

	PeakAfter:     {"peak_after", "peak after the pull, instant", "N", "one sample", "the greatest valid sample in ease, stopped and recover, once the pull had begun", true, "recovery"},
	BreakoutForce: {"breakout_force", "breakout force, vertical", "N", "highest before the fall", "greatest tension from the load on the anchor, up and down, until it came off the bottom", false, "recovery"},
	RecoverySteps: {"recovery_steps", "steps to break out", "count", "", "loads put on, with waits of 5 s or more between them", false, "recovery"},
	RecoveryWaits: {"recovery_waits", "waits while breaking out", "s", "", "time with the winch standing 5 s or more under load, added", false, "recovery"},
	RecoveryTime:  {"recovery_time", "time to break out", "s", "", "from twice the dead-weight level at a scope under 2 until aweigh", false, "recovery"},
	BurialDepth:   {"burial", "burial at up and down", "m", "", "rode out less the height of the fairlead when the load came on at up and down, less line over the roller and shank; one of these that the trial file does not say is not taken off, and is in the uncertainty", false, "recovery"},

	SoakTime:       {"soak", "soak", "s", "", "time in the stage soak before the pull", false, "how it was pulled"},
	LineSpeed:      {"line_speed", "line speed", "m/s", "", "line hauled in pull over the time in which the winch hauled it", false, "how it was pulled"},
	LineSpeedShare: {"line_speed_share", "line speed, of that planned", "", "", "line speed over that of the plan", false, "how it was pulled"},
	SampleRate:     {"sample_rate", "load samples that came", "1/s", "", "valid samples in pull and hold, over the time between them", false, "how it was pulled"},
}

// String is the quantity in the crew's words.
func (q Quantity) String() string {
	if q >= NumQuantities {
		return fmt.Sprintf("quantity(%d)", uint8(q))
	}
	return Quantities[q].Name
}

// UnitText is the unit as it is printed in a table.
func (i *QuantityInfo) UnitText() string {
	switch i.Unit {
	case "":
		return "ratio"
	case "word":
		return "a word"
	}
	return i.Unit
}

// QuantitiesDoc is the table of all quantities in Markdown.
func QuantitiesDoc() string {
	var b strings.Builder
	b.WriteString(`# The quantities of one pull

Made from the code (` + "`trial/quantities.go`" + `), and checked against it. What is printed, the keys of ` + "`--json`" + ` and the
columns of ` + "`--csv`" + ` come from the same table.

A quantity marked * is told in three readings:

`)
	for _, r := range Readings {
		fmt.Fprintf(&b, "- **%s** (`_%s`): %s.\n", r.Name, r.Key, r.What)
	}
	b.WriteString(`
">" marks a lower bound: when hauling ended, for whatever reason, the figure had not yet been left by 10 % while line was
hauled, or the load cell was over range. Each window is judged for itself. A quantity that cannot be had is missing, with
the reason. The uncertainty beside it is combined as JCGM 100:2008 has it; ` + "`hawse results --budget`" + ` prints what it is
made of. Uncertainty in print is expanded, k = 2; in JSON and CSV (` + "`_u`" + `) it is the standard uncertainty.
`)
	group := ""
	for q := range NumQuantities {
		i := &Quantities[q]
		if i.Group != group {
			group = i.Group
			fmt.Fprintf(&b, "\n## %s%s\n\n| quantity | key | unit | window | definition |\n|---|---|---|---|---|\n", strings.ToUpper(group[:1]), group[1:])
		}
		name, key := i.Name, "`"+i.ReadingKey(0)+"`"
		if i.Loads {
			name += " *"
		}
		window := i.Window
		if window == "" {
			window = "–"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", name, key, i.UnitText(), window, i.What)
	}
	return b.String()
}
