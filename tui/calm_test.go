package tui

import (
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"
)

// rowsOf are the rows of a scene at a size, without styles; change may turn it
// into something else before it is drawn.
func rowsOf(t *testing.T, scene string, w, h int, change func(*model)) []string {
	t.Helper()
	m, _ := sceneNamed(scene).screen(t, w, h)
	s := *m.snap
	m.snap, m.w, m.h = &s, w, h
	change(&m)
	m = m.measure()
	return strings.Split(ansi.Strip(m.draw()), "\n")
}

// The ground of an order reaches one row above it: the caption there ends before.
func TestCaptionEndsBeforeTheOrder(t *testing.T) {
	rows := rowsOf(t, "trip-ease", 80, 24, func(m *model) { m.snap.Caption = "Invented data: " + strings.Repeat("a made-up pull ", 4) })
	got := []rune(rows[1])
	if !strings.Contains(rows[1], "Invented data: a made-up") {
		t.Fatalf("no caption in %q", rows[1])
	}
	if len(got) > 38 && strings.TrimSpace(string(got[37:])) != "" {
		t.Errorf("the caption runs into the order: %q", rows[1])
	}
}

// Where rows are free, what an alarm means and what to do are told whole, and the
// operator still sees the nearest limit with its name.
func TestAlarmListIsWholeWhereThereIsRoom(t *testing.T) {
	rows := rowsOf(t, "load-silent", 50, 60, func(m *model) { m.stand = StandOperator; *m = m.open(alarmsDialog) })
	all := strings.Join(rows, "\n")
	_, list, ok := strings.Cut(all, " alarms: ")
	list, below, named := strings.Cut(list, "nearest: ")
	if !ok || !named || !strings.Contains(below, "█") {
		t.Fatalf("list or nearest limit missing:\n%s", all)
	}
	if strings.Contains(list, "…") {
		t.Errorf("the list is cut with rows to spare:\n%s", list)
	}
}

// Without an alarm its rows go to the rest, and the row that says so stays.
func TestNoAlarmTakesOneRow(t *testing.T) {
	for _, stand := range []Stand{StandAll, StandDirector, StandLogger} {
		m, _ := sceneNamed("pull").screen(t, 120, 40)
		m.w, m.h, m.stand = 120, 40, stand
		m = m.measure()
		if h := m.layout().alarms.h; h != 1 {
			t.Errorf("view %v: %d rows for no alarm, want 1", stand, h)
		}
		if !strings.Contains(ansi.Strip(m.draw()), "alarms: none") {
			t.Errorf("view %v does not say that there is no alarm", stand)
		}
	}
}
