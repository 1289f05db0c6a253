package safety

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"hawse/trial"
)

// Text is one line for people, in the units of show; without units, newtons
// and metres.
func (e Event) Text(show trial.Show) string {
	title := e.Cause.Title()
	switch e.What {
	case AlarmUp:
		text := strings.ToUpper(e.Priority.String()) + ": " + title + e.against(show)
		if e.Cause == PersonStop && (e.Who != Nobody || !e.Taken) {
			text += " by " + e.Who.String()
		}
		if e.Taken {
			text += takenText
		}
		return text
	case AlarmLess:
		if e.On {
			return title + ": only a warning here"
		}
		return title + ": back under the stop limit, still above the warning"
	case AlarmDown:
		if e.On {
			return title + ": not judged here"
		}
		return title + ": back to normal"
	case AlarmAcked:
		return title + ": acknowledged by " + e.Who.String()
	case EndReached:
		return "planned end: " + e.reached(show)
	case StopSet, StopMore:
		text := "STOP: "
		if e.What == StopMore {
			text = "STOP stays, now also: "
		}
		switch {
		case e.Kind == PlannedEnd:
			return text + e.reached(show)
		case e.Cause == PersonStop && (e.Who != Nobody || !e.Taken):
			text += "called by " + e.Who.String()
		default:
			text += strings.ToLower(title) + e.against(show)
		}
		if e.Taken {
			text += takenText
		}
		return text
	case StopTop:
		if e.On {
			return "after the stop more than the load cell could tell, limit " + limitText(e.Cause, e.Limit, show)
		}
		return "after the stop up to " + measured(e.Cause, e.Value, show) + ", limit " + limitText(e.Cause, e.Limit, show)
	case StopLifted:
		return "stop lifted by " + e.Who.String() + ", it was: " + strings.ToLower(title)
	case OrderIs:
		if e.Order == NoOrder {
			return e.Order.String()
		}
		return "order: " + e.Order.String()
	case StageIs:
		return "stage: " + e.Stage.String()
	case PermitIs:
		if e.On {
			return fmt.Sprintf("haul permitted, relay session %d", e.Session)
		}
		return "haul not permitted"
	case ArmedIs:
		if e.On {
			return "armed by " + e.Who.String()
		}
		return "no longer armed"
	case CheckIs:
		return e.Check.String() + ": " + e.To.String() + ", " + e.Who.String()
	case CellIs:
		if e.Cell != CellOn {
			return "load cell " + e.Cell.String() + ": tension not measured: treat as loaded"
		}
		return "load cell " + e.Cell.String() + " and zeroed"
	case ClearedIs:
		if e.On {
			return e.Name + " counts as outboard again: so much rode is out"
		}
		return e.Name + " taken in, says the " + e.Who.String()
	case LimitIs:
		return e.Key.String() + " made stricter by " + e.Who.String() + ": " + limitText(e.Cause, e.Value, show) + e.was(show)
	case UsedIs:
		return "line hauled in " + e.Stage.String() + ", with that before the log broke off: " + measured(e.Cause, e.Value, show) +
			" of " + limitText(e.Cause, e.Limit, show)
	case Ending:
		return "end granted to " + e.Who.String()
	}
	return e.What.String()
}

// takenText marks what was taken over from the log before this one.
const takenText = ", taken over"

// end is what a planned end is the end of: "minimum scope", "tension".
func (c Cause) end() string { return strings.TrimSuffix(strings.ToLower(c.Title()), " reached") }

// was is the limit that was made stricter, if there was one.
func (e Event) was(show trial.Show) string {
	if e.Limit == 0 {
		return ", there was none"
	}
	return ", it was " + limitText(e.Cause, e.Limit, show)
}

// reached is "minimum scope 4.00 reached (limit 4.0)".
func (e Event) reached(show trial.Show) string {
	if e.Name != "" {
		return e.Name + " at the fairlead, " + measured(e.Cause, e.Value, show) + " left (limit " + limitText(e.Cause, e.Limit, show) + ")"
	}
	return e.Cause.end() + " " + measured(e.Cause, e.Value, show) + " reached (limit " + limitText(e.Cause, e.Limit, show) + ")"
}

// against is " 8.02 kN (limit 8.0 kN)", as far as there is something to say.
func (e Event) against(show trial.Show) string {
	if e.Cause.row().unit == noUnit || e.Limit == 0 {
		return ""
	}
	if text := InWords(e.Cause, e.Value, e.Limit); text != "" {
		return text
	}
	word := "limit "
	if e.What == AlarmUp && !e.On {
		word = "warning at "
	}
	limit := " (" + word + limitText(e.Cause, e.Limit, show) + ")"
	if e.Value == 0 {
		return limit
	}
	return " " + measured(e.Cause, e.Value, show) + limit
}

// InWords is what a cause was measured at, against its limit, where that is a factor
// and no quantity of the deck's; "" for the others.
func InWords(c Cause, value, limit float64) string {
	switch c.row().unit {
	case inTimes:
		return " " + measured(c, value, trial.Show{}) + " what it was (limit " + strings.TrimSuffix(limitText(c, limit, trial.Show{}), " times") + ")"
	case inUnits:
		if why := slipWhy(limit); why != "" {
			return " " + timesText(limit) + ": " + why + "?"
		}
	}
	return ""
}

// measured is a value with its unit.
func measured(c Cause, v float64, show trial.Show) string {
	switch c.row().unit {
	case inNewtons:
		return forceText(v, show)
	case inShare:
		return fixed(100*v, 1) + " %"
	case inMetres:
		return lengthText(v, show)
	case inScope:
		return fixed(v, 2)
	case inSeconds:
		return timeText(v)
	case inTimes:
		if v >= 10 {
			return fixed(v, 0) + " times"
		}
		return fixed(v, 1) + " times"
	}
	return fixed(v, 2)
}

// limitText is a limit with its unit, without zeros that say nothing.
func limitText(c Cause, v float64, show trial.Show) string {
	text := measured(c, v, show)
	number, unit, spaced := strings.Cut(text, " ")
	if strings.Contains(number, ".") {
		number = strings.TrimRight(number, "0")
		if strings.HasSuffix(number, ".") {
			number += "0"
		}
	}
	if !spaced {
		return number
	}
	return number + " " + unit
}

func fixed(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', decimals, 64) }

// forceText and lengthText show about two digits more than a deck works with.
func forceText(v float64, show trial.Show) string {
	u := show.Tension
	if !(u.N > 0) {
		u = trial.ForceUnit{Name: "N", N: 1}
	}
	return fixed(v/u.N, digits(u.N/10)) + " " + u.Name
}

func lengthText(v float64, show trial.Show) string {
	u := show.Length
	if !(u.M > 0) {
		u = trial.LengthUnit{Name: "m", M: 1}
	}
	return fixed(v/u.M, digits(u.M*100)) + " " + u.Name
}

// digits is how many decimals tell a unit apart that is n small steps wide.
func digits(n float64) int {
	return int(max(0, min(4, math.Floor(math.Log10(n)+0.5))))
}

func timeText(s float64) string {
	if s >= 120 && s == math.Trunc(s) {
		if m := s / 60; m == math.Trunc(m) {
			return fixed(m, 0) + " min"
		}
	}
	if s < 1 {
		return fixed(s, 2) + " s"
	}
	return fixed(s, 1) + " s"
}

// Fields are the event's parts for the record, in order, in SI: value and limit
// end in _n, _m or _s by their unit, a ratio has no ending. Floats are written
// so that they read back to the same bits. The event's time is not among them.
func (e Event) Fields() []struct{ Key, Val string } {
	f := make([]struct{ Key, Val string }, 0, 10)
	put := func(key, val string) { f = append(f, struct{ Key, Val string }{key, val}) }
	put("what", e.What.String())
	if e.Cause != NoCause {
		put("cause", e.Cause.String())
	}
	if e.Priority != NoPriority {
		put("priority", e.Priority.String())
	}
	if e.Kind != NoStop {
		put("kind", strings.ReplaceAll(e.Kind.String(), " ", "-"))
	}
	switch e.What {
	case AlarmUp:
		level := "warn"
		if e.On {
			level = "limit"
		}
		put("level", level)
	case OrderIs:
		order := "none"
		if e.Order != NoOrder {
			order = strings.ToLower(e.Order.String())
		}
		put("order", order)
	case PermitIs:
		put("on", yesNo(e.On))
		put("session", strconv.FormatUint(uint64(e.Session), 10))
	case ArmedIs:
		put("on", yesNo(e.On))
	case CheckIs:
		put("check", strings.ReplaceAll(e.Check.String(), " ", "-"))
		put("to", strings.ReplaceAll(e.To.String(), " ", "-"))
	case CellIs:
		put("cell", [...]string{CellOn: "on", CellOff: "off", CellBack: "back"}[e.Cell])
	case LimitIs:
		put("key", e.Key.String())
	}
	if e.Name != "" {
		put("name", e.Name)
	}
	put("stage", e.Stage.Key())
	if unit := e.Cause.row().unit; unit != noUnit {
		end := [...]string{inNewtons: "_n", inShare: "", inMetres: "_m", inScope: "", inSeconds: "_s", inTimes: "", inUnits: ""}[unit]
		if e.What == StopTop && e.On {
			put("past", "yes")
		} else {
			put("value"+end, shortest(e.Value))
		}
		put("limit"+end, shortest(e.Limit))
	}
	if e.Who != Nobody {
		put("who", strings.ReplaceAll(e.Who.String(), " ", "-"))
	}
	if e.Taken {
		put("taken_over", "yes")
	}
	if e.Loud() {
		put("loud", "yes")
	}
	return f
}

func yesNo(v bool) string {
	if v {
		return "yes"
	}
	return "no"
}

func shortest(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// Loud says whether people must be told at once.
func (e Event) Loud() bool {
	switch e.What {
	case AlarmUp:
		return e.Priority >= Warning
	case StopSet, StopMore, EndReached, CellIs, LimitIs:
		return true
	case OrderIs:
		return e.Order > OrderStop
	}
	return false
}
