package tui

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/charmbracelet/x/ansi"
	"pgregory.net/rapid"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// checkFrame says what is wrong with a frame for a terminal of w by h cells.
func checkFrame(frame string, w, h int) error {
	lines := strings.Split(frame, "\n")
	if len(lines) != h {
		return fmt.Errorf("%d lines, want %d", len(lines), h)
	}
	for i, l := range lines {
		if n := ansi.StringWidth(l); n > w {
			return fmt.Errorf("line %d is %d cells wide, want at most %d: %q", i, n, w, l)
		}
		for _, r := range ansi.Strip(l) {
			if r < 0x20 || r >= 0x7f && r < 0xa0 {
				return fmt.Errorf("line %d holds the control character %U: %q", i, r, l)
			}
		}
	}
	return nil
}

// checkPlain is checkFrame for a frame of our own text without styles: every
// rune of it is one cell wide.
func checkPlain(frame string, w, h int) error {
	lines, cells := 1, 0
	for _, r := range frame {
		switch {
		case r == '\n':
			lines, cells = lines+1, 0
			continue
		case r < 0x20 || r == 0x7f:
			return fmt.Errorf("line %d holds the control character %U", lines, r)
		}
		if cells++; cells > w {
			return fmt.Errorf("line %d is wider than %d cells", lines, w)
		}
	}
	if lines != h {
		return fmt.Errorf("%d lines, want %d", lines, h)
	}
	return nil
}

// overlays are what may lie over the screen.
var overlays = []func(model) model{
	func(m model) model { return m },
	func(m model) model { return m.open(stageDialog) },
	func(m model) model { return m.open(markDialog) },
	func(m model) model { return m.open(rearmDialog) },
	func(m model) model { return m.open(depthDialog) },
	func(m model) model { return m.open(leaveDialog) },
	func(m model) model { return m.open(checkDialog) },
	func(m model) model { return m.open(limitsDialog) },
	func(m model) model { return m.open(alarmsDialog) },
	func(m model) model { return m.open(moreDialog) },
	func(m model) model { m = m.open(reasonDialog); m.dlg.value = "no weight on board"; return m },
	func(m model) model { return m.open(correctDialog) },
	func(m model) model { return m.open(whichLimitDialog) },
	func(m model) model { return m.open(clearDialog) },
	func(m model) model { return m.open(carriedDialog) },
	func(m model) model { return m.open(formDialog) },
	func(m model) model { m = m.open(formDialog); m.dlg.form.at = 4; return m },
	func(m model) model { m = m.open(formDialog); m.dlg.form.at = int(askAll); return m },
	func(m model) model { m = m.open(afterDialog); m.heard = &hostileComments; return m },
	func(m model) model {
		m = m.open(wordsDialog)
		m.dlg.words = words{kind: session.AddendumCorrect, step: 2, fields: [3]string{"1", "", strings.Repeat("foul of weed ", 20)}}
		return m
	},
	func(m model) model {
		m.pair = pairOf(hostileEarlier().Whole, hostileEarlier().Anchor, 3, m.at)
		return m
	},
	func(m model) model {
		m.pair = pairOf(hostileEarlier().Block[0], &session.Course{}, 1, m.at)
		m.pair.axis, m.pair.at = pairTravel, 7
		return m
	},
	func(m model) model {
		m.pair, m.helpPage = pairOf(hostileEarlier().Whole, hostileEarlier().Anchor, 3, m.at), 1
		return m
	},
	func(m model) model {
		m.over, m.earlier, m.heard = overlayBlock, hostileEarlier, &hostileComments
		return m
	},
	func(m model) model { m.over, m.earlier = overlayAnchor, hostileEarlier; return m.nextOverlay() },
	func(m model) model { m.helpPage = 1; return m },
	func(m model) model { m.helpPage = m.helpPages(); return m },
	func(m model) model {
		return m.say("a word of the screen's own that is far too long for any of the smaller screens it is tried on here")
	},
}

// Earlier pulls and comments whose words may be anything: they come from files.
var (
	hostileEarlier = sync.OnceValue(func() *session.EarlierPulls {
		p := earlierScene()
		for i, c := range append([]*session.Course{p.Whole, p.Anchor}, p.Block...) {
			bad := []string{"\x1b[2J\x1b]0;x\a", "錨の試験" + strings.Repeat("long ", 40), "\u202eevil\x00", "👩‍👩‍👧‍👦🇩🇪"}[i%4]
			c.Head.Run.Anchor, c.Head.Run.ID, c.Head.Run.Station = bad, bad, bad
			c.Points[0].Text = bad
		}
		p.LeftOut[0] = "\x1b[31m" + p.LeftOut[0]
		return p
	})
	hostileComments = session.Comments{Faults: []string{"\x1b[2J"}, List: []session.Commented{{
		Addendum: session.Addendum{Kind: "\x1b[31m", Text: "\u202e" + strings.Repeat("錨", 90), Name: "\x00", About: session.Place{N: 1, X: 5, HasX: true}}, HasAt: true, At: 200 * second}},
		Failed: []session.Unkept{{Err: errFull}}}
)

// sawView gives columns that cost nothing, with gaps and holes in them.
type sawView struct{ session.View }

func (sawView) Trace(q session.TraceQuery, _ []trial.Col) []trial.Col {
	cols := make([]trial.Col, q.Cols)
	for i := range cols {
		if i%11 != 0 {
			cols[i] = trial.Col{Lo: trial.Force(i % 17 * 300), Hi: trial.Force(i % 17 * 700), N: 3, Gap: i%23 == 0}
		}
	}
	return cols
}

func TestNothingOverflowsAtAnySize(t *testing.T) {
	var models []model
	for _, sc := range allScenes() {
		m, _ := sc.screen(t, 80, 24)
		m.st, m.view = &styles{}, sawView{m.view}
		models = append(models, m)
	}
	stride := 1
	if raceOn || testing.Short() {
		stride = 17
	}
	i := 0
	for w := minW; w <= 300; w++ {
		for h := minH; h <= 100; h++ {
			if i++; i%stride != 0 {
				continue
			}
			m := models[i%len(models)]
			m.w, m.h, m.stand = w, h, Stand(i/7%int(numStands))
			m = overlays[i/len(models)%len(overlays)](m).measure()
			if err := checkPlain(m.draw(), w, h); err != nil {
				t.Fatalf("%dx%d, view %v, dialog %d, help page %d: %v", w, h, m.stand, m.dlg.kind, m.helpPage, err)
			}
		}
	}
}

func TestTooSmallSaysSoAndStopIsThere(t *testing.T) {
	m, _ := sceneNamed("pull").screen(t, 80, 24)
	stopped, _ := sceneNamed("trip-ease").screen(t, 80, 24)
	for w := 1; w < 60; w++ {
		for h := 1; h < 20; h++ {
			if w >= minW && h >= minH {
				continue
			}
			for _, m := range []model{m, stopped} {
				m.w, m.h = w, h
				m = m.measure()
				if err := checkFrame(m.draw(), w, h); err != nil {
					t.Fatalf("%dx%d: %v", w, h, err)
				}
			}
		}
	}
	for _, tt := range []struct {
		m    model
		w, h int
		want []string
	}{
		{m, 39, 12, []string{"SPACE calls STOP", "terminal 39x12 is too small: 40x12 at", "least"}},
		{m, 60, 11, []string{"SPACE calls STOP", "terminal 60x11 is too small: 40x12 at least"}},
		{stopped, 30, 10, []string{"EASE: TENSION LIMIT", "terminal 30x10 is too small:", "40x12 at least", "SPACE calls STOP"}},
		{stopped, 10, 3, []string{"EASE", "terminal", "10x3 is"}},
	} {
		tt.m.w, tt.m.h = tt.w, tt.h
		got := strings.Split(ansi.Strip(tt.m.draw()), "\n")
		for i, want := range tt.want {
			if strings.TrimSpace(got[i]) != want {
				t.Errorf("%dx%d row %d = %q, want %q", tt.w, tt.h, i, got[i], want)
			}
		}
	}
}

// hostile is text such as a port, a file or a person may send.
func hostile(t *rapid.T, label string) string {
	return rapid.OneOf(
		rapid.String(),
		rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) }),
		rapid.SampledFrom([]string{
			"\x1b[2J\x1b]0;x\a", "\u202eevil", "e\u0301\u0301\u0301", "錨の試験", "👩‍👩‍👧‍👦🇩🇪", "a\tb\r\nc", "◽☔✅", "\u009b31m", "\x00\x7f", strings.Repeat("long ", 80),
		}),
	).Draw(t, label)
}

func TestUntrustedTextNeverSteersTheTerminal(t *testing.T) {
	base, _ := sceneNamed("stop-called").screen(t, 80, 24)
	rapid.Check(t, func(t *rapid.T) {
		m := base
		s := *base.snap
		tl := *s.Trial
		s.Caption, s.Mode, s.EndReason = hostile(t, "caption"), hostile(t, "mode"), hostile(t, "end")
		s.Run.ID, s.Run.Anchor, s.Run.Station = hostile(t, "run"), hostile(t, "anchor"), hostile(t, "station")
		s.Load.LastText, s.Line.Reason, s.Line.State = hostile(t, "frame"), hostile(t, "reason"), hostile(t, "state")
		s.Log.Path, s.Log.Fault = hostile(t, "path"), hostile(t, "fault")
		s.Relay.Reason = hostile(t, "relay")
		s.News = []session.News{{Text: hostile(t, "news"), Loud: true}}
		s.Marks = []session.Marked{{T: 1, X: 3, Text: hostile(t, "mark")}}
		s.Refusal = session.News{Text: hostile(t, "refusal")}
		tl.Show.Tension.Name, tl.Show.Length.Name = hostile(t, "unit"), hostile(t, "length")
		tl.Show.Tension.N = rapid.SampledFrom([]float64{1, 1000, 4.45, 1e-9, 1e12}).Draw(t, "one")
		s.Tension.Big = trial.Force(rapid.Float64().Draw(t, "tension"))
		cfg := *base.snap.Config
		cfg.Things, cfg.Weakest = []trial.Joint{{Name: hostile(t, "thing")}}, hostile(t, "weakest")
		s.Checklist = []safety.CheckItem{{Check: safety.CheckGear, State: safety.CheckFailed, Text: hostile(t, "check")}, {Check: safety.CheckWeight, State: safety.CheckFailed}}
		s.Correction = hostile(t, "correction")
		s.After = hostile(t, "after")
		s.Carried = []session.Carried{{Item: hostile(t, "item"), Text: hostile(t, "carried"), State: session.CarryOpen}, {Item: session.CarryStop, Text: "x", State: session.CarryState(hostile(t, "carried state"))}}
		s.Margins = append([]safety.Margin{{Cause: safety.AtFairlead, Left: 3, Name: hostile(t, "joint")}}, s.Margins...)
		s.Config, s.Trial, m.snap = &cfg, &tl, &s
		m = rapid.SampledFrom(overlays).Draw(t, "overlay")(m)
		m.stand = Stand(rapid.IntRange(0, int(numStands)-1).Draw(t, "stand"))
		m.w, m.h = rapid.IntRange(1, 250).Draw(t, "w"), rapid.IntRange(1, 80).Draw(t, "h")
		m = m.measure()
		if err := checkFrame(m.draw(), m.w, m.h); err != nil {
			t.Fatalf("%dx%d: %v", m.w, m.h, err)
		}
	})
}

func TestDrawingIsPure(t *testing.T) {
	for _, sc := range allScenes() {
		m, _ := sc.screen(t, 120, 40)
		if a, b := m.draw(), m.draw(); a != b {
			t.Errorf("%s: two drawings of one model differ", sc.name)
		}
	}
}

// What is told by colour is told by words as well: without colours and
// attributes the text of every screen is the same.
func TestColourAddsNothing(t *testing.T) {
	for _, sc := range allScenes() {
		m, _ := sc.screen(t, 80, 24)
		m.st = coloured()
		with := ansi.Strip(m.draw())
		m.st = newStyles(&strings.Builder{}, LightPlain)
		without := m.draw()
		if strings.Contains(without, "\x1b") {
			t.Errorf("%s: a plain screen holds an escape sequence", sc.name)
		}
		trim := func(s string) string {
			lines := strings.Split(s, "\n")
			for i := range lines {
				lines[i] = strings.TrimRight(lines[i], " ")
			}
			return strings.Join(lines, "\n")
		}
		if trim(with) != trim(without) {
			t.Errorf("%s: the text differs without colour:\n%s\nwith:\n%s", sc.name, without, with)
		}
	}
}
