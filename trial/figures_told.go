package trial

import "math"

// Figure is one quantity of a pull as it was found.
type Figure struct {
	// Read are its readings, as [Readings] has them; a quantity that is no load
	// has the first alone.
	Read  [len(Readings)]Value
	Word  string // of a quantity that is a word
	Bound Bound  // the true one may be greater, and is shown with ">"
	Note  string // what must be known to read it; "" nothing

	// Where it was taken, if Placed.
	Placed bool
	T      int64  // ns
	X      Length // line hauled, m; NaN unknown
	Scope  float64
	Travel Length // of the anchor, m; NaN not yet, or unknown
}

// Value is a number with its standard uncertainty, SI. What is not known says why.
type Value struct {
	Known  bool
	V      float64
	U      float64 // NaN: it has none, as a count
	Budget Budget  // what U is made of
	Why    string  // why it is not known
}

func known(v float64, b Budget) Value { return Value{Known: finite(v), V: v, U: b.U(), Budget: b} }

func counted(n int) Value { return Value{Known: true, V: float64(n), U: math.NaN()} }

func unknown(why string) Value { return Value{Why: why, V: math.NaN(), U: math.NaN()} }

// missing is a figure that is not known in any reading.
func missing(why string) (f Figure) {
	for i := range f.Read {
		f.Read[i] = unknown(why)
	}
	return f
}

func figureOf(v Value) Figure { return Figure{Read: [len(Readings)]Value{v}} }

// PhaseTotal is what is told of one phase, all its stretches together.
type PhaseTotal struct {
	Time   int64  // ns
	Length Length // of line hauled in it, m
	N      int    // stretches
}

// BreakTold is a fall of tension by half, a breakout or not.
type BreakTold struct {
	Breakout bool
	T        int64
	X        Length
	From, To Force // as the event has it: from what, to the lowest it had fallen to
	Cause    Cause

	Before Force  // greatest mean over 1 s in the pull before it; 0 none
	Low    Force  // lowest sample since, until a re-set
	LowT   int64  // ns
	LowX   Length // m
	Reset  bool   // the tension came back to most of the peak
	Top    Force  // greatest mean over 1 s since; 0 none
	TopT   int64
	TopX   Length
}

// HoldTold is one standing of the winch under load.
type HoldTold struct {
	T, End int64   // ns: the last line hauled, and the end
	X      Length  // line hauled there
	From   Force   // tension when it stopped: greatest mean over 1 s in the 2 s after
	Left10 float64 // tension left after 10 s, over From; NaN it did not last so long
	Left60 float64
	Least  float64 // the least
}

// OvershootTold is how far a stop that was set while hauling was passed.
type OvershootTold struct {
	T       int64
	Tension Force  // over that when it was set
	Line    Length // hauled since; NaN unknown
	Over    bool   // the load cell was over range in it
}

// What is listed of each.
const (
	mostBreaks = 64
	mostHolds  = 64
	mostStops  = 64
)
