package tui

import tea "github.com/charmbracelet/bubbletea"

// touch takes a finger or a mouse. The one thing it can do is STOP, on a zone
// that a glove does not miss: the cap of its key with the whole row it stands
// in, and in the winch operator's view the word for the winch.
func (m model) touch(msg tea.MouseMsg) model {
	if msg.Action != tea.MouseActionPress || msg.Button != tea.MouseButtonLeft || m.snap == nil || m.player != nil {
		return m
	}
	for _, zone := range m.stopZones() {
		if zone.has(msg.X, msg.Y) {
			return m.callStop()
		}
	}
	return m
}

func (m model) stopZones() []rect {
	if m.w < minW || m.h < minH { // nothing can be read: everything is STOP
		return []rect{{0, 0, m.w, m.h}}
	}
	l := m.layout()
	zones := []rect{l.keys}
	if m.stand == StandOperator && m.helpPage == 0 && m.dlg.kind == noDialog {
		zones = append(zones, l.band)
	}
	return zones
}

// has says whether a cell lies in r.
func (r rect) has(x, y int) bool { return x >= r.x && x < r.x+r.w && y >= r.y && y < r.y+r.h }
