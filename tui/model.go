package tui

import (
	"fmt"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// Times of the screen's own. None has a source: common practice.
const (
	stallAfter   = 500 * time.Millisecond // a snapshot older than this is no news
	quietAfter   = 500 * time.Millisecond // keys already on their way when an alarm comes are not orders
	confirmAfter = 200 * time.Millisecond // one press, or a bouncing key, cannot both ask and confirm
	stopTakes    = 700 * time.Millisecond // a STOP not in force by then is told as such
	noteStands   = 6 * time.Second
)

// terminal is what the model needs of the way out.
type terminal interface {
	busy() bool    // the last frame is not out yet: do not draw another
	stained() bool // frames were lost: true once, then the screen must be drawn anew
	ring()         // the bell
	tell([]byte)   // a sequence that draws nothing
}

// model is the screen. It is a value: Update returns a changed one, and View
// gives the frame Update has drawn, so the same model shows the same cells.
type model struct {
	view   session.View
	player session.Player // nil when the view is no replay
	seat   safety.Who
	name   string
	stay   bool
	watch  bool
	now    func() time.Time
	every  time.Duration
	out    terminal
	lost   func(reason string, stack []byte)
	st     *styles // of the light
	light  Light
	lights [numLights]*styles

	w, h   int
	snap   *session.Snapshot
	at     time.Time // when snap was fetched
	stand  Stand
	big    bigNumber
	axis   axis
	win    window
	traces []traced
	segs   []trial.Segment
	segsAt time.Time
	whole  []trial.Col // the logger's: the whole run by time
	sheet  sheet

	earlier func() *session.EarlierPulls // nil: nobody looks for earlier pulls
	over    overlay
	under   []under
	comment session.Commenter // nil: nothing can be said of this pull afterwards
	heard   *session.Comments
	draft   words // begun and left
	leaving bool  // it was told that something is not kept
	pair    duo   // two pulls side by side, in the place of all else

	dlg       dialog
	alert     alert
	notify    string // how the terminal is asked for a notice on the desktop; "" not
	half      form   // of what came up, as far as it was filled in before it was left
	helpPage  int    // 0: no help; n: page n
	note      string
	noteUntil time.Time
	quiet     time.Time // until then a key is no order
	stopAsked time.Time // a STOP from this screen waits to be seen in force; zero: none
	endAsked  bool
	tookOver  bool
	frame     string
}

// frameMsg is the screen's own tick.
type frameMsg struct{}

func (m model) nextFrame() tea.Cmd {
	return tea.Tick(m.every, func(time.Time) tea.Msg { return frameMsg{} })
}

// Init starts the ticking, with a frame at once.
func (m model) Init() tea.Cmd { return func() tea.Msg { return frameMsg{} } }

// View is the frame drawn by the last Update.
func (m model) View() string { return m.frame }

// Update takes a message. A panic in it, or in the drawing, costs the screen
// and nothing else: it is told, and the program of the screen ends.
func (m model) Update(msg tea.Msg) (next tea.Model, cmd tea.Cmd) {
	defer func() {
		if r := recover(); r != nil {
			m.lost(fmt.Sprintf("the screen failed: %v", r), stackNow())
			next, cmd = m, tea.Quit
		}
	}()
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		m.w, m.h = msg.Width, msg.Height
		m = m.measure()
	case frameMsg:
		m, cmd = m.pull()
		cmd = tea.Batch(cmd, m.nextFrame())
	case tea.MouseMsg:
		m = m.touch(msg)
	case tea.KeyMsg:
		for _, key := range strokes(msg) {
			var c tea.Cmd
			m, c = m.press(key)
			cmd = tea.Batch(cmd, c)
		}
	default:
		return m, nil
	}
	if !m.out.busy() {
		m.frame = m.draw()
	}
	return m, cmd
}

// pull takes the newest snapshot and what belongs to it.
func (m model) pull() (model, tea.Cmd) {
	before := m.snap
	m.at = m.now()
	m.snap = m.view.Snapshot()
	m.big = m.big.next(m.at, before, m.snap)
	m.pair = m.pair.moved(m.at)
	m = m.hearComments().measure()
	var cmds []tea.Cmd
	if m.out.stained() {
		cmds = append(cmds, tea.ClearScreen)
	}
	if before != nil && before != m.snap {
		urgent, news := whatIsNew(&before.Guard, &m.snap.Guard)
		if urgent {
			m.alert = alert{rung: m.at}
			cmds = append(cmds, m.bell(true))
		}
		if news {
			m.quiet = m.at.Add(quietAfter)
			if m.dlg.aboutStage() || urgent && m.dlg.kind == checkDialog {
				m.dlg = dialog{}
				m = m.say("closed: something new has come; look, then press again")
			}
		}
	} else if before == nil && m.snap.Guard.Order != safety.NoOrder {
		m.alert = alert{rung: m.at}
		cmds = append(cmds, m.bell(true))
	}
	if m.alert.due(m.at, &m.snap.Guard) && m.player == nil {
		m.alert.rung = m.at
		cmds = append(cmds, m.bell(false))
	}
	if !m.stopAsked.IsZero() && m.snap.Guard.Stop.Kind == safety.Trip {
		m.stopAsked = time.Time{}
	}
	if (m.dlg.aboutStage() || m.dlg.kind == checkDialog) && m.dlg.stage != m.snap.Guard.Stage {
		m.dlg = dialog{}
		m = m.say("closed: the stage has changed meanwhile")
	}
	if m.snap.Ended && m.player == nil && (m.endAsked || !m.stay) {
		cmds = append(cmds, tea.Quit)
	}
	return m, tea.Batch(cmds...)
}

// whatIsNew compares two states of the guard. urgent: a stop was set, an order
// grew, or an emergency alarm came. news: anything a person should look at
// before a key is taken.
func whatIsNew(was, is *safety.State) (urgent, news bool) {
	if is.Order > was.Order || is.Stop.Kind > was.Stop.Kind {
		urgent = true
	}
	if is.Stop.Kind != safety.NoStop && is.Stop.At != was.Stop.At {
		urgent = true
	}
	for c := range is.Alarms {
		a, b := &is.Alarms[c], &was.Alarms[c]
		if a.State != safety.Unacknowledged || b.State == safety.Unacknowledged && a.Since == b.Since {
			continue
		}
		news = true
		if a.Priority == safety.Emergency {
			urgent = true
		}
	}
	return urgent, news || urgent
}

// measure lays the screen out and asks for the part of the trace it shows.
func (m model) measure() model {
	if m.snap == nil || m.w <= 0 || m.h <= 0 || m.pair.open {
		return m
	}
	l := m.layout()
	m.traces, m.under = nil, m.beneath()
	for _, part := range m.axis.parts(l.trace) {
		if p := plotFor(m.snap, part.r, part.byTime, m.win, m.under); p.ok {
			m.traces = append(m.traces, traced{p, m.view.Trace(p.query(), nil)})
		}
	}
	if len(m.traces) > 0 && (m.at.Sub(m.segsAt) >= redraw || m.segsAt.IsZero()) {
		m.segs, m.segsAt = m.view.Segments(), m.at
	}
	if m.stand == StandFigures {
		m.sheet = m.sheet.next(m.snap, l.sheet)
	}
	m.whole = nil
	if m.stand == StandLogger && m.snap.Span.N > 0 {
		m.whole = m.view.Trace(wholeRun(m.snap, l.strip.w), nil)
	}
	return m
}

func (m model) layout() layout {
	s := m.snap
	u := unitsOf(s)
	n := need{
		stand: m.stand, margins: len(s.Margins),
		slots: u.slots, unit: u.force.Name, order: orderWord(s), caption: s.Caption != "",
		limits: len(listed(s, len(s.Margins))), streams: len(streams(s)), logged: len(logStreams(s)),
		alarms: len(alarmsOf(&s.Guard)) > 0,
	}
	if m.stand == StandLogger {
		n.record, n.strip = len(m.recordLines()), 2
		if len(s.Marks) > 0 {
			n.strip = 3
		}
	}
	l := layoutFor(m.w, m.h, n)
	if n.order != "" && !l.small {
		if _, all := m.orderLine(l.order.w - 2); !all {
			n.why = true
			l = layoutFor(m.w, m.h, n)
		}
	}
	return l
}

// say shows a line of the screen's own for a while.
func (m model) say(text string) model {
	m.note, m.noteUntil = text, m.now().Add(noteStands)
	return m
}

// staleFor is how old the snapshot is, where that means that the session no
// longer tells anything; 0 while it does. A replay that is paused or at its end
// is as old as it likes, and a slow one has slow news.
func (m model) staleFor() time.Duration {
	if m.snap == nil || m.snap.Ended {
		return 0
	}
	limit := stallAfter
	if m.player != nil {
		if m.player.Paused() {
			return 0
		}
		if v := m.player.Speed(); v > 0 && v < 1 {
			limit = time.Duration(float64(limit) / v)
		}
	}
	if age := m.at.Sub(m.snap.Made); age > limit {
		return age
	}
	return 0
}
