package tui

import (
	"math"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"hawse/acquire/session"
	"hawse/safety"
)

// press takes one key. STOP is asked for before anything else.
func (m model) press(key string) (model, tea.Cmd) {
	at := live
	if m.player != nil {
		at = played
	}
	if m.pair.open && m.w >= minW && m.h >= minH {
		return m.pressPair(key)
	}
	in := intentOf(key, at)
	if in == callStop && !(key == " " && m.writing()) {
		return m.callStop(), nil
	}
	if m.snap == nil || m.w < minW || m.h < minH {
		// What cannot be read cannot be ordered; a replay may still be left.
		if in == leave && (m.player != nil || m.watch || m.snap == nil) {
			return m, tea.Quit
		}
		return m, nil
	}
	if m.helpPage > 0 {
		if in == showHelp && m.helpPage < m.helpPages() {
			m.helpPage++
		} else {
			m.helpPage = 0
		}
		return m, nil
	}
	asking := m.dlg.kind != noDialog
	if asking && m.dlg.kind != alarmsDialog || !asking && !in.onlyLooks() {
		m = m.takeOver()
	}
	// A key in a replay orders nothing, so none is held back there.
	if m.player == nil && m.now().Before(m.quiet) && (asking || in != showHelp && in != switchAxis && in != showAlarms && in != noIntent) {
		if asking && m.dlg.number() && m.dlg.typed { // a digit is missing: the rest is another number
			m.dlg.value = ""
			return m.say("key not taken: it came together with something new; write the whole number again"), nil
		}
		return m.say("key not taken: it came together with something new; look, then press again"), nil
	}
	if asking {
		return m.answer(key), nil
	}
	return m.intend(in)
}

// callStop hands over a STOP. It closes what is open, so that the order is seen.
// The keys that come in one burst with its space, such as text typed into no
// field, were meant for something else.
func (m model) callStop() model {
	m.view.Do(session.Act{Who: m.seat, Name: m.name, What: session.ActStop})
	m.dlg, m.helpPage, m.tookOver = dialog{}, 0, true
	m.quiet = m.now().Add(quietAfter)
	if m.player != nil {
		return m.say("a replay: there is nothing to stop")
	}
	m.stopAsked = m.now()
	return m
}

// intend does what a key means outside a dialog.
func (m model) intend(in intent) (model, tea.Cmd) {
	if to, ok := standOf(in); ok {
		m.stand = to
		return m.measure(), nil
	}
	if m.watch && m.seat == safety.Watcher && !in.watches() {
		return m.say("this screen watches: it can call STOP (space) and nothing else"), nil
	}
	if !m.stand.takes(in) {
		return m.say("not a key of the winch operator's view: 4 is the director's, 0 is everything"), nil
	}
	switch in {
	case arm:
		return m.askToArm(), nil
	case sayCleared:
		return m.ask(clearDialog), nil
	case showMore:
		return m.ask(moreDialog), nil
	case sayAbandon:
		return m.ask(abandonDialog), nil
	case showAlarms:
		m = m.open(alarmsDialog)
	case nextStage:
		return m.ask(nextDialog), nil
	case chooseStage:
		return m.ask(stageDialog), nil
	case rearm:
		return m.ask(rearmDialog), nil
	case sayDepth:
		return m.ask(depthDialog), nil
	case sayOut:
		return m.ask(outDialog), nil
	case setMark:
		return m.ask(markDialog), nil
	case acknowledge:
		m = m.act(session.Act{What: session.ActAck})
	case switchAxis:
		m.axis = (m.axis + 1) % numAxes
		m = m.measure()
	case zoomIn, zoomOut, panBack, panOn, follow:
		if m.stand == StandFigures {
			m.sheet = m.sheet.turn(in)
			break
		}
		m.win = m.win.move(in, m.traces)
		m = m.measure()
	case switchLight:
		m.light = (m.light + 1) % numLights
		m.st = m.lights[m.light]
		m = m.say("light: " + m.light.String())
	case silenceBell:
		m = m.silence()
	case showHelp:
		m.helpPage = 1
	case leave:
		if why := m.unkept(); why != "" && !m.leaving {
			m.leaving = true
			return m.say(why), nil
		}
		if m.player != nil || m.watch || m.snap.Ended {
			return m, tea.Quit
		}
		m = m.open(leaveDialog)
	case pause:
		m.player.SetPaused(!m.player.Paused())
	case faster:
		m.player.SetSpeed(math.Min(m.player.Speed()*2, 10000))
	case slower:
		m.player.SetSpeed(math.Max(m.player.Speed()/2, 0.125))
	case jumpEvent, jumpPhase, jumpMark, jumpAlarm, jumpBack, jumpEventBack, jumpPhaseBack, jumpMarkBack, jumpAlarmBack:
		kind, back := pointOf(in)
		m.player.Jump(kind, back)
	case showEarlier:
		return m.nextOverlay(), nil
	case sayAfterwards:
		return m.askAfterwards(), nil
	case compare:
		return m.openPair(), nil
	case scrubBack:
		m.player.SeekBy(-scrubStep)
	case scrubOn:
		m.player.SeekBy(scrubStep)
	case oneStep:
		m.player.SetPaused(true)
		m.player.Step()
	}
	return m, nil
}

// pointOf is the kind of point that a key jumps to, and whether back.
func pointOf(in intent) (kind session.PointKind, back bool) {
	switch in {
	case jumpEvent, jumpEventBack:
		kind = session.EventPoint
	case jumpPhase, jumpPhaseBack:
		kind = session.PhasePoint
	case jumpMark, jumpMarkBack:
		kind = session.MarkPoint
	case jumpAlarm, jumpAlarmBack:
		kind = session.AlarmPoint
	}
	return kind, in == jumpBack || in >= jumpEventBack && in <= jumpAlarmBack
}

// scrubStep is how far one key goes through a replay, ns.
const scrubStep = int64(10 * time.Second)

// ask opens a dialog, unless the capture is over.
func (m model) ask(kind dialogKind) model {
	if m.snap.Ended {
		return m.say("the capture has ended; q leaves")
	}
	return m.open(kind)
}

// takeOver says once that a person acts now and no longer the demo's crew.
func (m model) takeOver() model {
	if m.snap.Mode == "demo" && !m.tookOver {
		m.tookOver = true
		m.view.Do(session.Act{Who: m.seat, Name: m.name, What: session.ActNote, Value: "a person takes over from the demo's crew"})
	}
	return m
}

// act hands over an act. What comes of it shows in a later snapshot.
func (m model) act(a session.Act) model {
	return m.actFor(m.seat, a)
}

// actFor hands over an act for another seat: who called it is the seat, who
// pressed the key is the name.
func (m model) actFor(seat safety.Who, a session.Act) model {
	a.Who, a.Name = seat, m.name
	m.view.Do(a)
	return m
}

// helpPages is how many pages the help takes at this size.
func (m model) helpPages() int {
	l := m.layout()
	return len(helpPages(l.page.w-2, l.page.h, m.player != nil, m.stand))
}

// seatText names the seat where it is not the director's.
func seatText(w safety.Who) string {
	if w == safety.Director {
		return ""
	}
	return "seat: " + w.String()
}
