// Package deck is a simulated deck: a load cell's box, a line encoder's box and
// the stop relay, on three pseudo-terminals that speak like the instruments.
//
// A program that opens DIR/load, DIR/line and DIR/stop cannot tell them from
// serial adapters: bytes arrive at the instruments' own pace whether anybody
// reads or not, a port can be unplugged and come back, and nothing is kept for
// a reader who was not there. All tensions come from a script that says it is
// invented: from its table, or from its model of anchor, ground, rode and vessel.
//
// # What the ports say
//
//	load   "+0316.1 kgf\r\n"  steps of 0.1 kgf; "OL\r\n" beyond 1000 kgf
//	line   "N +0012345\r\n"   1000 counts per metre; counts rise while hauling
//	load2  as load, of another load cell; load3 likewise
//	stop   reads ARM, BEAT and OPEN, answers RELAY ...; see [Relay]
//
// # The parts
//
// [Sim] is the whole deck, pure: the winch, the tension model, the boxes and
// the [Relay]. Time arrives with each call, in nanoseconds of the deck's own
// clock, and bytes come and go without ports. [Deck] is the thin edge with the
// ports. It has one goroutine that does everything in the order of its due time
// and one that listens to the stop port; nothing in it waits for a reader.
//
// # The script
//
// A script is text, one statement a line; # begins a comment, also after a
// statement. Every quantity has its unit. Sections stand in square brackets:
//
//	[facts]      what the deck is, see below
//	[trial]      load.rate = "2 Hz"        where the trial file that goes with it
//	                                       differs from the template, as in the file
//	[tension]    x 18 m  3.10 kN           tension against line hauled
//	             ripple 0.15 kN every 0.8 m from x 18.5 m to 24 m
//	             scratch 0.07 kN every 0.1 m from x 3 m to 12 m
//	             saw-tooth 1.8 kN to 3.0 kN every 0.5 m falling in 0.012 m from x 4 m to 20 m
//	[model]      soil mud              in place of [tension] and [recovery]: MODEL.md
//	             anchor 16 kg          lists its statements and says what is invented
//	[recovery]   rode out 9 m  0.5 kN      tension against rode out, after "ahead"
//	[faults]     at x 9 m: unplug load 14 s
//	             at 30 s: silence line 3 s
//	             at step aweigh: garbage load 3 s
//	[winch]      the winch operator, one step after the other
//	[crew]       the director's part, for whoever watches the screen
//
// The facts, of which title to stiffness must be there, the rest with what
// holds without them:
//
//	title, caption     the rest of the line; the caption says the data is invented
//	depth, fairlead    of the water, and the roller's height above it
//	payout 60 m        rode out with nothing hauled
//	speed 2.4 m/min    of the winch, both ways
//	stiffness 400 kN   EA of the whole rode
//	start 0 m          line hauled when the deck begins
//	ramp 0.3 s         for the winch to come to speed, and to stop
//	run-on 0.2 s       until a winch told to stop begins to
//	operator 1 s       until the scripted operator hauls when the relay has closed again
//	window 300 ms      of the relay
//	relay text         what it speaks: text, or modbus at the default addresses
//	slack 0 kN         tension of a slack rode, the least when line is paid out
//	noise 0 kN         standard deviation of a reading
//	relax 4 % in 10 s  what the tension loses when the winch stops, by a table
//	swell 0.4 kN every 6 s   up and down, on whatever the rode carries
//	load 10 Hz         lines a second; also: line 10 Hz
//	count 0            where the line box stands at the beginning
//	run A1             the run of the trial file that is played
//
// and of the load box, where it is not the one above:
//
//	load-line "+0000.0 kgf"  what a line looks like: a plus sign if it sends one, a
//	                         0 for each digit at least, and what follows the number
//	load-unit kgf            in which it counts, whatever it writes: N kN lbf kgf tf lb kg t
//	load-step 0.1 kgf        of the display; without it, the last decimal
//	load-top 1000 kgf        beyond it, either way, it says OL
//	load-sign reversed
//
// and of the roller and the load cells at it, where there is more than one in the
// rode. The tension of script and model is that outboard of the roller:
//
//	cells pin outboard inboard  any of the three: the load cell is a pin in the
//	                         roller; another cell outboard, inboard, in order load2
//	                         and load3, in lines on ports of these names. A cell
//	                         that is no pin is inboard with another one outboard,
//	                         and outboard otherwise
//	roller 20 deg friction 0.1  how the inboard part leads, under the horizontal, and
//	                         the roller's friction, on top of the tension inboard
//	                         while hauling; standing, it stays as it last ran
//
// The line's angle outboard is that of the statics of the model's rode, or of the
// template's, at its tension; plumb with a model's vessel ahead, over the anchor, and
// with no more line out than reaches the anchor.
//
// Between the rows of a table the tension is a straight line, beyond its ends
// the last row holds. The faults are
//
//	unplug load|line|stop TIME       the port goes away and comes back
//	silence load|line TIME           no lines
//	garbage load|line TIME           noise bytes
//	stuck load|line TIME             the same line again and again
//	slow load|line RATE TIME         fewer lines a second than its own rate
//	over range load TIME             "OL"
//	nan load TIME                    "NaN kgf"
//	peak-hold load TIME              the most it has felt since
//	half line load|line TIME         half a line, then nothing
//	burst load|line TIME             lines held back, then all at once
//	reset count                      the line box counts from 0
//	reverse line                     its counts go the other way from here
//	slip line 8 %                    its wheel turns so much too little from here
//	zero FORCE                       the load cell's zero has moved by so much
//	zero load2|load3 FORCE in TIME   that of another cell wanders so far in that time;
//	                                 unplug, silence, garbage, stuck and over range
//	                                 take load2 and load3, too
//	wake FORCE TIME                  the vessel is jerked: one half sine on top
//	surge 0.22 m in 20 s             the vessel goes astern, and comes back in as
//	                                 many; also: surge ahead 0.22 m in 20 s
//	drift 0.3 m in 25 s              it goes astern and stays; also: drift ahead
//	snag                             the anchor no longer comes: EA/L a metre hauled
//	release                          the snag lets go; easing to slack does it, too
//	weld relay                       its contact welds closed: it says CLOSED, and the
//	                                 winch may haul, whatever it is told, until the end
//
// The winch knows haul, stop and ease (haul and ease also "at 6 m/min"), ahead
// (the vessel goes ahead over the anchor: from here the recovery table holds),
// wait TIME, step NAME (a place a fault can name), done, and
//
//	cell free               the load cell hangs free, with no rode on it
//	cell hook 25 kg         this mass, or this force, hangs on it
//	cell rode               the rode is on it, as at the beginning
//	                        (a person orders these three too, see [Deck.Order])
//	until relay closed|open
//	until x 29 m            line hauled has reached it
//	until rode out 8 m      rode out has come down to it
//	until tension below|above 0.3 kN
//
// The crew's steps are checked here and played by others; see [Step].
package deck
