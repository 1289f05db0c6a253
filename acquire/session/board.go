package session

import (
	"slices"
	"strings"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/trial"
)

// portsMost bounds the ports whose names are kept: a log may name any.
const portsMost = 32

// newsKept is how many lines of news a snapshot carries.
const newsKept = 40

// board keeps what people read beside the numbers: the wall clock and the last
// lines of news. It is fed with every record, inputs and words alike, so live
// and replay show the same lines.
type board struct {
	wall    time.Time
	seq     uint64
	news    []News // oldest first
	refusal News
	ended   bool
	reason  string
	opened  map[string]string // under which name each port was open last
}

func (b *board) add(r *logfmt.Record) {
	switch r.Kind {
	case logfmt.Clock:
		b.wall, _ = time.Parse(time.RFC3339Nano, r.Str("wall"))
	case logfmt.Act:
		if text := actText(r); text != "" {
			b.tell(r.T, text, false)
		}
	case logfmt.PortEvent:
		if text := b.portText(r); text != "" {
			b.tell(r.T, text, loudState[r.Str("state")])
		}
	case logfmt.Say:
		text := r.Str("text")
		if text == "" {
			return
		}
		refused := r.Str("what") == "refused"
		b.tell(r.T, text, refused || r.Str("loud") != "")
		if refused {
			b.refusal = b.news[len(b.news)-1]
		}
	case logfmt.End:
		b.ended, b.reason = true, r.Str("reason")
		b.tell(r.T, "log ended: "+b.reason, false)
	}
}

func (b *board) tell(t int64, text string, loud bool) {
	b.seq++
	if len(b.news) == newsKept {
		b.news = append(b.news[:0], b.news[1:]...)
	}
	b.news = append(b.news, News{Seq: b.seq, T: t, Text: acquire.Visible([]byte(text)), Loud: loud})
}

var loudState = map[string]bool{acquire.StateLost: true, acquire.StateStalled: true, acquire.StateRetry: true, stateFailing: true, stateGone: true, stateBehind: true,
	stateShort: true, stateSlept: true}

// actTexts are the acts in plain words; the value follows.
var actTexts = map[string]string{
	ActStop: "calls STOP", ActEnd: "ends the log ", ActMark: "mark: ", ActDepth: "water depth ", ActPayout: "rode out ",
	ActPass: "mark at the fairlead, rode out ", ActZero: "zeroes the load cell", ActWeight: "hangs on a known weight, ",
	ActCorrect: "corrects the load cell: ", ActHorn: "tries horn and lamp", ActRead: "has read out the limits",
	ActWaive: "goes without ", ActAccept: "accepts ", ActCellOff: "takes the load cell out", ActCellOn: "load cell back in",
	ActClear: "has taken in ", ActLower: "makes a limit stricter: ",
	ActCarry: "still holds: ", ActDrop: "left behind: ",
}

// actText is an act as a line: the seat it is done for, then who did it.
func actText(r *logfmt.Record) string {
	by := r.Str("who")
	if name := r.Str("name"); name != "" && name != by {
		by += " (" + name + ")"
	}
	what, value := r.Str("act"), r.Str("value")
	switch what {
	case ActStage:
		what = "stage " + r.Str("stage")
	case ActRearm:
		what = "re-arm into " + r.Str("stage")
	case ActReady, ActNotReady:
		what = map[string]string{ActReady: "ready", ActNotReady: "NOT ready"}[what]
		if value != "" {
			what += ": " + value
		}
	case ActCameUp:
		what = "says what the anchor came up with" // Core tells it in words, or refuses it
	case ActNote:
		what = value
	default:
		if text, ok := actTexts[what]; ok {
			what = text + value
		}
	}
	return by + ": " + what
}

// portText is what has become of a port. That it is open under another name than
// before is told, for it may be another adapter.
func (b *board) portText(r *logfmt.Record) string {
	src, state, reason := r.Str("src"), r.Str("state"), r.Str("reason")
	var out strings.Builder
	out.WriteString(src + " " + state)
	if name := r.Str("name"); name != "" && state == acquire.StateOpen {
		out.WriteString(" on " + name)
		if was := b.opened[src]; was != "" && was != name {
			out.WriteString(", another name than before: " + was)
		}
		if b.opened == nil {
			b.opened = map[string]string{}
		}
		if len(b.opened) < portsMost {
			b.opened[src] = name
		}
	}
	if reason != "" {
		out.WriteString(": " + reason)
	}
	if gap, ok := r.Ns("gap"); ok && gap > 0 {
		out.WriteString(", gap " + time.Duration(gap).Round(10*time.Millisecond).String())
	}
	return out.String()
}

// shot draws a snapshot from Core and board; the parts that only a live
// capture or a replay knows are filled in by its caller.
func (c *Core) shot(b *board, r *logfmt.Record) Snapshot {
	s := Snapshot{
		T: r.T, N: r.N, Wall: b.wall,
		Mode: c.head.Mode, Caption: c.head.Caption, Speed: max(c.head.Scale, 1),
		Trial: c.head.Trial, Run: c.head.Run, Config: c.cfg,
		Ended: b.ended, EndReason: b.reason, Relay: c.relay,
	}
	if c.cfg == nil {
		return s
	}
	s.Guard = c.guard.State()
	s.Next = c.guard.Next(r.T)
	s.Margins = c.guard.Margins(nil)
	if c.head.After != nil {
		s.SinceResume = true // until who knows the pull has put it onto this
		s.After, s.Carried = acquire.Visible([]byte(c.carry.from.Predecessor)), c.carried()
	}
	s.Log.Short = c.short
	s.Aids, s.Cells = c.Aids(), c.cellShots(r.T)
	if !s.Guard.Armed {
		s.Checklist = c.guard.Checklist(nil)
	}
	s.CameUp = c.cameUp
	s.Marks, s.MarksLeft = slices.Clip(c.marked.kept), c.marked.left
	s.Zero, s.Correction = c.tension.zero, c.fix.String()
	s.Load, s.Line, s.Stop = c.load.shot(SrcLoad, r.T), c.line.shot(SrcLine, r.T), c.stop.shot(SrcStop, r.T)
	if s.Trial.Horn != nil { // a horn that is not fitted is no port that is missing
		s.Horn = c.horn.shot(SrcHorn, r.T)
	}
	ts, hs := &c.tension, &c.haul
	s.Tension = Tension{Known: s.Guard.TensionKnown() && c.load.up(), Over: s.Guard.Load.Over,
		Now: ts.now, Big: ts.biggest(), Indicated: ts.indicated, At: ts.at, Rate: ts.slope.perSecond(r.T)}
	if p := c.pin; p != nil {
		s.Tension.Pin = &Pin{Felt: p.felt, Likely: p.now.T, U: p.now.U, Bend: p.now.Bend, Why: p.now.Why}
	}
	fresh := c.lineFresh(r.T)
	s.Haul = Haul{Known: hs.hasPayout && fresh,
		X: hs.x, InStage: hs.x - s.Guard.StageX, Speed: trial.Speed(hs.speed.perSecond(r.T)), RodeOut: hs.rodeOut,
		Depth: hs.depth, DepthOK: hs.hasDepth, Scope: hs.scope, ScopeOK: hs.hasScope && fresh, Scope2: hs.scope2, At: hs.at,
		MarkDoubt: trial.Length(c.doubt()), PayOut: c.toSoakScope(), SoakScope: c.soak.scope}
	s.News = make([]News, len(b.news))
	for i, n := range b.news {
		s.News[len(b.news)-1-i] = n
	}
	if b.refusal.Text != "" && float64(r.T-b.refusal.T) < 10e9*s.Speed {
		s.Refusal = b.refusal
	}
	return s
}

// up says that the port is open and answers.
func (s *stream) up() bool { return s.state == acquire.StateOpen || s.state == acquire.StateResumed }

// lineFresh says whether the last count is news, in whatever stage.
func (c *Core) lineFresh(t int64) bool {
	return c.haul.hasCounts && c.line.up() && t-c.haul.at < int64(c.cfg.Limits[c.guard.State().Stage].LineSilentWarn)
}

func (s *stream) shot(src string, t int64) Stream {
	return Stream{Src: src, Port: s.name, State: s.state, Reason: s.reason, LastAt: s.lastAt, HeardAt: s.heardAt,
		Rate: s.rate.perSecond(t), Good: s.good, Bad: s.bad, Late: s.late.lines, Bursts: s.late.bursts, LastText: acquire.Visible(s.last)}
}
