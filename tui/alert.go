package tui

import (
	"strings"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// alert is the bell of this screen. It rings when something urgent comes, and
// again until the emergency is acknowledged or the bell silenced here. Silence
// tells the guard nothing: it acknowledges no alarm, and ends with the next one.
type alert struct {
	rung   time.Time // when last; zero never
	silent bool
}

// bellEvery is between two rings for one emergency: common practice, no source.
const bellEvery = 5 * time.Second

// due says whether it rings again.
func (a alert) due(now time.Time, g *safety.State) bool {
	return !a.silent && !a.rung.IsZero() && now.Sub(a.rung) >= bellEvery && unseen(g) != safety.NoCause
}

// unseen is the newest emergency nobody has acknowledged; NoCause: none.
func unseen(g *safety.State) safety.Cause {
	found, at := safety.NoCause, int64(0)
	for c := range g.Alarms {
		a := &g.Alarms[c]
		if a.State == safety.Unacknowledged && a.Priority == safety.Emergency && (found == safety.NoCause || a.Since > at) {
			found, at = safety.Cause(c), a.Since
		}
	}
	return found
}

// silence stops the bell of this screen.
func (m model) silence() model {
	m.alert.silent = true
	if unseen(&m.snap.Guard) == safety.NoCause {
		return m.say("the bell is silent; the next emergency rings it")
	}
	return m.say("the bell is silent, and nothing is acknowledged: k does that")
}

// bell rings, from a command: View has no side effects. At something new the
// terminal is asked for a notice on the desktop too, where that is allowed.
func (m model) bell(isNew bool) tea.Cmd {
	out, ask := m.out, []byte(nil)
	if isNew {
		ask = notice(m.notify, noticeWords(m.snap))
	}
	return func() tea.Msg {
		out.ring()
		if len(ask) > 0 {
			out.tell(ask)
		}
		return nil
	}
}

// noticeWords are what is urgent: the order, why, and in which run.
func noticeWords(s *session.Snapshot) string {
	var parts []string
	if w := orderWord(s); w != "" {
		parts = append(parts, w+": "+s.Guard.Stop.Cause.Title())
	} else if c := unseen(&s.Guard); c != safety.NoCause {
		parts = append(parts, c.Title())
	}
	if s.Run.ID != "" {
		parts = append(parts, "run "+s.Run.ID)
	}
	if s.Mode != "live" {
		parts = append(parts, s.Mode)
	}
	return strings.Join(parts, ", ")
}

// noticeMost bounds the words of a notice, in bytes.
const noticeMost = 100

// notice is the sequence that asks a terminal for a notice on the desktop; nil
// where none is allowed. Of the words only what is printable in ASCII is left: a
// control character, in seven bits or in eight, would end the sequence and steer
// the terminal, and a semicolon begins another part of it.
func notice(way, words string) []byte {
	words = strings.Map(func(r rune) rune {
		switch {
		case r == ';':
			return ','
		case r < 0x20 || r > 0x7e:
			return -1
		}
		return r
	}, words)
	words = words[:min(len(words), noticeMost)]
	switch way {
	case trial.NotifyOSC9: // begins with a letter: a digit there means another thing to some terminals
		return []byte("\x1b]9;Hawse: " + words + "\x1b\\")
	case trial.NotifyOSC777:
		return []byte("\x1b]777;notify;Hawse;" + words + "\x1b\\")
	}
	return nil
}
