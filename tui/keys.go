package tui

import (
	"slices"
	"strings"

	tea "github.com/charmbracelet/bubbletea"
)

// intent is what a person wants, whatever key said it.
type intent uint8

const (
	noIntent intent = iota
	callStop
	arm
	nextStage
	chooseStage
	acknowledge
	rearm
	sayDepth
	sayOut
	setMark
	sayCleared
	showAlarms
	showMore
	sayAbandon
	switchAxis
	showHelp
	leave
	pause
	faster
	slower
	oneStep
	showOperator
	showDirector
	showLogger
	showAll
	showFigures
	switchLight
	silenceBell
	zoomIn
	zoomOut
	panBack
	panOn
	follow
	jumpEvent
	jumpPhase
	jumpMark
	jumpAlarm
	jumpBack
	scrubBack
	scrubOn
	jumpEventBack
	jumpPhaseBack
	jumpMarkBack
	jumpAlarmBack
	showEarlier
	sayAfterwards
	compare
)

// onlyLooks says whether a key changes nothing but this screen.
func (in intent) onlyLooks() bool {
	if _, ok := standOf(in); ok || in.moves() {
		return true
	}
	return in == showEarlier || in == switchAxis || in == switchLight || in == silenceBell || in == showHelp || in == showAlarms || in == leave
}

// watches says whether a key is for a screen that only watches.
func (in intent) watches() bool { return in == noIntent || in == callStop || in.onlyLooks() }

// moves says whether a key moves or stretches the trace.
func (in intent) moves() bool {
	return in == zoomIn || in == zoomOut || in == panBack || in == panOn || in == follow
}

// where a binding holds.
type where uint8

const (
	live where = 1 << iota
	played
	both = live | played
)

// binding is one key, what it means, and the words for it.
type binding struct {
	keys  []string // as the terminal library names them
	label string   // as a person finds it on the keyboard
	short string   // for the key line
	help  string
	in    intent
	where where
}

// bindings in the order of the key line. The keys of the views lie apart, in a row
// of digits and on a number pad: one glove does not press two; g is for fiGures. STOP is first and is looked up before
// anything else is asked: no dialog, help page or quiet time sees its key.
var bindings = []binding{
	{[]string{" ", "alt+ ", "ctrl+@", "alt+ctrl+@"}, "SPACE", "STOP", "call STOP, at once, from anywhere on this screen", callStop, both},
	{[]string{"k"}, "k", "ack", "alarms seen (acknowledge all)", acknowledge, live},
	{[]string{"n"}, "n", "next", "next stage; also lifts a planned end", nextStage, live},
	{[]string{"r"}, "r", "re-arm", "after a trip: permit hauling again", rearm, live},
	{[]string{"a"}, "a", "arm", "the list before arming, and arm: permit hauling", arm, live},
	{[]string{"c"}, "c", "taken in", "what comes to the fairlead is in, by hand", sayCleared, live},
	{[]string{"m"}, "m", "mark", "put a mark into the record", setMark, live},
	{[]string{"s"}, "s", "stage", "choose a stage from the list", chooseStage, live},
	{[]string{"d"}, "d", "depth", "say the water depth", sayDepth, live},
	{[]string{"o"}, "o", "out", "say the rode out: the zero of line hauled", sayOut, live},
	{[]string{"p"}, "p", "pause", "pause, and go on", pause, played},
	{[]string{"+", "="}, "+", "faster", "twice as fast", faster, played},
	{[]string{"-", "_"}, "-", "slower", "half as fast", slower, played},
	{[]string{"right"}, "→", "step", "to the next record that changes the screen", oneStep, played},
	{[]string{"e"}, "e", "event", "to the next event: stage, order, stop, breakout", jumpEvent, played},
	{[]string{"s"}, "s", "phase", "to the next phase", jumpPhase, played},
	{[]string{"m"}, "m", "mark", "to the next mark", jumpMark, played},
	{[]string{"a"}, "a", "alarm", "to the next alarm", jumpAlarm, played},
	{[]string{"E"}, "E", "event", "back to the last event", jumpEventBack, played},
	{[]string{"S"}, "S", "phase", "back to the last phase", jumpPhaseBack, played},
	{[]string{"M"}, "M", "mark", "back to the last mark", jumpMarkBack, played},
	{[]string{"A"}, "A", "alarm", "back to the last alarm", jumpAlarmBack, played},
	{[]string{"b"}, "b", "back", "to the last of all these before", jumpBack, played},
	{[]string{"[", "{"}, "[", "-10 s", "ten seconds back", scrubBack, played},
	{[]string{"]", "}"}, "]", "+10 s", "ten seconds on", scrubOn, played},
	{[]string{"r"}, "r", "remark", "say something of this moment afterwards; list what was said", sayAfterwards, played},
	{[]string{"c"}, "c", "compare", "side by side with the earlier pull that w shows", compare, played},
	{[]string{"l"}, "l", "alarms", "list of all alarms: what they mean, what to do", showAlarms, both},
	{[]string{"t"}, "t", "axis", "trace: against line hauled, time, or both", switchAxis, both},
	{[]string{"w"}, "w", "earlier", "trace: an earlier pull beneath: same anchor, block", showEarlier, both},
	{[]string{"!"}, "!", "abandon", "say ABANDON: the crew slips the rode by its plan", sayAbandon, live},
	{[]string{"x"}, "x", "more", "rode mark, cell off or on, stricter limit, zero", showMore, live},
	{[]string{"1"}, "1", "operator", "the winch operator's view", showOperator, both},
	{[]string{"4"}, "4", "director", "the director's view", showDirector, both},
	{[]string{"7"}, "7", "logger", "the logger's view", showLogger, both},
	{[]string{"0"}, "0", "all", "everything together, with the trace", showAll, both},
	{[]string{"g"}, "g", "figures", "the figures of the pull; ↑ and ↓ turn the page", showFigures, both},
	{[]string{"up", "pgup"}, "↑", "closer", "trace: half as much, twice as large", zoomIn, both},
	{[]string{"down", "pgdown"}, "↓", "wider", "trace: twice as much", zoomOut, both},
	{[]string{"left", "<", ","}, "←", "back", "trace: to what was before", panBack, live},
	{[]string{"<", ","}, "<", "back", "trace: to what was before", panBack, played},
	{[]string{">", ".", "right"}, "→", "on", "trace: to what came after", panOn, live},
	{[]string{">", "."}, ">", "on", "trace: to what came after", panOn, played},
	{[]string{"home", "f"}, "f", "follow", "trace: whole again, and follow the pull", follow, both},
	{[]string{"v"}, "v", "light", "day, night, plain, or the terminal's own ground", switchLight, both},
	{[]string{"b"}, "b", "bell off", "silence the bell here; nothing is acknowledged", silenceBell, live},
	{[]string{"?", "h", "f1"}, "?", "help", "this page; again for more", showHelp, both},
	{[]string{"q", "ctrl+c"}, "q", "leave", "leave; a live capture asks first", leave, both},
}

// intentOf finds what a key means at this place. A capital that means nothing of
// its own means what the small letter does.
func intentOf(key string, at where) intent {
	for _, key := range []string{key, strings.ToLower(key)} {
		for _, b := range bindings {
			if b.where&at != 0 && slices.Contains(b.keys, key) {
				return b.in
			}
		}
	}
	return noIntent
}

// strokes splits a key message into single keys: keys typed faster than they
// are read arrive as one message. Of a paste only a space counts, as STOP: text
// that was not typed gives no other order.
func strokes(k tea.KeyMsg) []string {
	if k.Paste {
		for _, r := range k.Runes {
			if r == ' ' {
				return []string{" "}
			}
		}
		return nil
	}
	if k.Type != tea.KeyRunes {
		return []string{k.String()}
	}
	keys := make([]string, 0, len(k.Runes))
	for _, r := range k.Runes {
		key := string(r)
		if k.Alt {
			key = "alt+" + key
		}
		keys = append(keys, key)
	}
	return keys
}
