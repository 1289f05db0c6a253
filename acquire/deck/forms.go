package deck

import "slices"

// What a script may say, section by section, in the form of [fit].
var (
	winchForms = []string{
		"haul", "haul at SPEED", "stop", "ease", "ease at SPEED", "ahead", "wait TIME", "step NAME", "done",
		"cell free|rode", "cell hook WEIGHT",
		"until relay closed|open", "until x LENGTH", "until rode_out LENGTH", "until tension below|above FORCE",
	}
	crewForms = slices.Concat([]string{
		"wait TIME", "until order stop|ease|abandon|none", "until x LENGTH", "until rode_out LENGTH",
		"until tension below|above FORCE", "until haul stopped", "until load live", "until log on_disk",
	}, actForms, []string{"refused ACT", "say TEXT"})
	actForms = []string{
		"act stop|arm|ack|abandon|zero|read|cell-off|cell-on", "act stage|rearm STAGE", "act depth|payout|pass LENGTH",
		"act weight WEIGHT", "act waive zero|weight TEXT", "act correct sign", "act correct unit FORCEUNIT", "act accept TEXT",
		"act ready|not-ready winch|logger|director TEXT", "act clear TEXT", "act lower LIMIT TEXT", "act mark|note|end TEXT",
	}
	tensionForms = []string{
		"x LENGTH FORCE",
		"ripple FORCE every LENGTH from x LENGTH to LENGTH",
		"scratch FORCE every LENGTH from x LENGTH to LENGTH",
		"saw-tooth FORCE to FORCE every LENGTH falling in LENGTH from x LENGTH to LENGTH",
	}
	whenForms  = []string{"at TIME", "at x LENGTH", "at step NAME"}
	faultForms = []string{
		"unplug load|line|stop|depth|load2|load3 TIME", "rename load|line|stop|depth TIME", "hub-reset TIME", "half-open load|line|depth TIME",
		"silence load|line|depth|position|heading|clock|load2|load3 TIME", "garbage load|line|depth|load2|load3 TIME", "baud load|line|depth TIME",
		"swapped load|line|depth TIME", "bit-errors load|line|depth SHARE TIME", "wet load TIME", "sign load TIME", "unit load FORCEUNIT TIME",
		"late load|line TIME TIME", "drop load|line SHARE TIME", "refuse load|line COUNT TIME", "echo load|line TIME",
		"turn-round load|line TIME", "one-address load|line TIME", "no-bottom depth TIME", "double-depth depth TIME", "no-fix position TIME", "time-step clock TIME",
		"stuck load|line|load2|load3 TIME",
		"slow load|line RATE TIME", "over_range load|load2|load3 TIME", "nan load TIME", "peak-hold load TIME", "half_line load|line TIME",
		"burst load|line TIME", "reset count", "wrap count", "one-way line", "reverse line", "slip line SHARE", "zero FORCE", "zero load2|load3 FORCE in TIME", "wake FORCE TIME",
		"surge LENGTH in TIME", "surge ahead LENGTH in TIME", "drift LENGTH in TIME", "drift ahead LENGTH in TIME",
		"snag", "release", "weld relay",
	}
	factForms = []string{
		"depth LENGTH", "fairlead LENGTH", "payout LENGTH", "start LENGTH", "speed SPEED", "ramp TIME", "run-on TIME",
		"operator TIME", "window TIME", "stiffness FORCE", "slack FORCE", "noise FORCE", "swell FORCE every TIME",
		"relax SHARE in TIME", "load RATE", "load-line TEXT", "load-unit FORCEUNIT", "load-step FORCE", "load-top FORCE",
		"load-sign reversed", "line RATE", "count COUNT", "run RUN", "relay text|modbus",
		"boxes lines|shared|one-line|asked|modbus|frames", "boxes lines|shared|one-line|asked|modbus|frames nmea", "boxes nmea",
		"cells pin|outboard|inboard", "cells pin|outboard outboard|inboard", "cells pin outboard inboard", "roller ANGLE friction NUMBER",
		"registers 3|4 int16|uint16|int32|uint32|float32 AB|BA|ABCD|CDAB|BADC|DCBA", "latency TIME", "baud COUNT", "tide LENGTH in TIME",
	}
)
