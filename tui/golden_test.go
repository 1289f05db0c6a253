package tui

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/lipgloss"
	"github.com/charmbracelet/x/vt"
	"github.com/google/go-cmp/cmp"
	"github.com/muesli/termenv"

	"hawse/acquire/session"
)

var update = flag.Bool("update", false, "write the golden screens anew; read the difference before it is kept")

// coloured is the styles of a terminal with 256 colours.
func coloured() *styles {
	r := lipgloss.NewRenderer(&bytes.Buffer{})
	r.SetColorProfile(termenv.ANSI256)
	return stylesFor(r, LightOwn)
}

// quietTerminal takes frames at once.
type quietTerminal struct {
	rings int
	told  []byte
}

func (*quietTerminal) busy() bool      { return false }
func (*quietTerminal) stained() bool   { return false }
func (q *quietTerminal) tell(p []byte) { q.told = append(q.told, p...) }
func (q *quietTerminal) ring()         { q.rings++ }

func (sc scene) view() (session.View, *fakeView) {
	f := &fakeView{snap: sc.snap, trace: sc.trace, segs: segsOf(sc.snap)}
	if sc.play == nil {
		return f, f
	}
	p := &fakePlayer{fakeView: f, speed: 1}
	sc.play(p)
	if sc.said != nil {
		return &fakeCommenter{fakePlayer: p, comments: *sc.said}, f
	}
	return p, f
}

// screen is a model as it would stand after the scene's keys.
func (sc scene) screen(t testing.TB, w, h int) (model, *fakeView) {
	t.Helper()
	v, f := sc.view()
	now := sceneStart
	o := Options{Width: w, Height: h, Now: func() time.Time { return now }, FPS: 12, Name: "screen", Seat: 1, Out: &bytes.Buffer{}}
	if sc.earlier != nil {
		o.Earlier = func() *session.EarlierPulls { return sc.earlier }
	}
	m := newModel(v, o, &quietTerminal{},
		func(reason string, stack []byte) { t.Fatalf("%s: screen lost: %s\n%s", sc.name, reason, stack) })
	m.st = coloured()
	if sc.plain {
		m.st = newStyles(&bytes.Buffer{}, LightPlain)
	}
	m = step(m, frameMsg{})
	now = now.Add(sc.stale)
	m = step(m, frameMsg{})
	for _, k := range sc.keys {
		m.dlg.opened = m.dlg.opened.Add(-time.Second) // a person takes his time
		m, _ = m.press(k)
	}
	m.frame = m.draw()
	return m, f
}

func step(m model, msg any) model {
	next, _ := m.Update(msg)
	return next.(model)
}

// cells shows a frame in a virtual terminal and gives back what a person would
// read, a line a row, then which cells are coloured loud, caution or reversed.
func cells(frame string, w, h int) string {
	em := vt.NewEmulator(w, h)
	defer em.Close()
	_, _ = em.Write([]byte(strings.ReplaceAll(frame, "\n", "\r\n")))
	var text, marks strings.Builder
	for y := range h {
		var line, mark strings.Builder
		for x := 0; x < w; {
			c := em.CellAt(x, y)
			if c == nil || c.Width == 0 {
				line.WriteByte(' ')
				mark.WriteByte(' ')
				x++
				continue
			}
			line.WriteString(c.Content)
			m := byte(' ')
			switch {
			case c.Style.Bg != nil:
				m = '#'
			case c.Style.Attrs&32 != 0: // reversed
				m = '%'
			}
			mark.WriteByte(m)
			x += c.Width
		}
		text.WriteString(strings.TrimRight(line.String(), " ") + "\n")
		if s := strings.TrimRight(mark.String(), " "); s != "" {
			fmt.Fprintf(&marks, "%3d %s\n", y, s)
		}
	}
	return text.String() + "--- ground coloured (#), reversed (%)\n" + marks.String()
}

func TestGoldenScreens(t *testing.T) {
	for _, sc := range allScenes() {
		sizes := [][2]int{{80, 24}, {120, 40}, {200, 60}, {40, 12}}
		if strings.HasPrefix(sc.name, "anchor-up") { // filled in on deck, on whatever stands there
			sizes = append(sizes, [2]int{50, 60})
		}
		for _, size := range sizes {
			w, h := size[0], size[1]
			name := fmt.Sprintf("%s-%dx%d", sc.name, w, h)
			t.Run(name, func(t *testing.T) {
				m, _ := sc.screen(t, w, h)
				got := cells(m.View(), w, h)
				file := filepath.Join("testdata", name+".txt")
				if *update {
					if err := os.MkdirAll("testdata", 0o777); err != nil {
						t.Fatal(err)
					}
					if err := os.WriteFile(file, []byte(got), 0o666); err != nil {
						t.Fatal(err)
					}
				}
				want, err := os.ReadFile(file)
				if err != nil {
					t.Fatalf("%v; run the test with -update, then read the file", err)
				}
				if d := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); d != "" {
					t.Errorf("screen %s has changed (-want +got):\n%s", name, d)
				}
			})
		}
	}
}
