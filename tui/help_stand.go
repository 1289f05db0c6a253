package tui

// standHelp explains each view in the words of the trade: what stands where, and
// what to make of it.
var standHelp = [numStands][]string{
	StandAll: {
		"Big digits: the tension at the load cell, the largest since they last changed, four times a second. Right of them the order to the winch and why it stands.",
		"Trace: tension against line hauled; t shows it against time, or both. Dotted lines are the stop and warning levels, what the bare rode gives and what a dead weight would. Above it the scope, below it the phases of the anchor. A cross is a gap in the record, a wedge a mark, a hollow one what was said afterwards.",
		"Thin dots beneath the trace are an earlier pull (w), laid there by line hauled, with its anchor, lane and peak beside them.",
		"Limits: what is left to each, and where it warns and stops. ► is the one that comes first.",
	},
	StandOperator: {
		"Big digits: the tension at the load cell, the largest since they last changed, four times a second. Dashes: not known; treat the line as loaded.",
		"The word below: STOP, EASE or ABANDON is an order, on a ground of its own. MAY HAUL: nothing here holds the winch; haul when the director says haul. NO HAUL: the winch is held, or this stage hauls nothing.",
		"The bar: how much of the nearest limit is used up. Full is the limit.",
		"Only STOP, marks and looking about are keys here: 4 is the director's view, with the director's keys.",
	},
	StandDirector: {
		"Limits: each with what is measured now, what is left, and in what time it is reached as things go: tension by its slope, line by the speed of hauling. ► is the one that comes first.",
		"Scope: rode out over the height of the fairlead above the bottom. The planned end is where it, or line hauled, or time, ends the stage.",
		"Steps: the stage, what comes after it, the key for it, what to call to the winch, and what stands against it.",
		"Alarms: !!! emergency, !! alarm, ! warning. NOT ACKNOWLEDGED until k; b silences the bell alone.",
	},
	StandLogger: {
		"Ports: age is the time since the last good frame; rate/s beside what the box is set to; bad is the share of frames that could not be read.",
		"Record: what was written, and what is known to be on disk. Lost records cannot be had again.",
		"The long line is the run so far: a cross is a gap in the load, a wedge a mark.",
		"Marks: m, then a digit; the time is that of the key. A doubt is a mark as well.",
	},
	StandFigures: {
		"What the pull has come to, once a second; hawse results works out the same of the log. ↑ and ↓ turn the page, f goes back to the first.",
		"deck: as the load cell has it, less its zero. less bare: less what a bare rode takes at the same line hauled. anchor: at the lower end, by the statics of the rode.",
		"± is expanded, k = 2, about 95 %. > is a lower bound: the figure had not been left by 10 % when hauling ended, or not yet; or the cell was over range.",
		"not yet: it may still come in this pull, and why it has not. A dash: nothing that comes changes that.",
	},
}
