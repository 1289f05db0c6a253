package tui

import (
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"hawse/acquire/session"
	"hawse/trial"
)

// figured is a study of an invented pull as the Judge has one.
type figured struct {
	s *trial.Study
	t int64
	x float64
}

func newFigured() *figured {
	tl := sceneTrial()
	return &figured{s: trial.NewStudy(tl, tl.Runs[0]), t: 60 * second}
}

func (f *figured) add(stage trial.Stage, v trial.Force) {
	out := trial.Length(60 - f.x)
	f.s.Add(&trial.Reading{Point: trial.Point{T: f.t, Tension: v, X: trial.Length(f.x), Stage: stage, RodeOut: out, Height: 7.5}, Scope: float64(out) / 7.5})
	f.t += second / 10
}

// haul hauls on to x at 2.4 m/min; stand lets the winch stand for so many seconds.
func (f *figured) haul(stage trial.Stage, to float64, load func(float64) trial.Force) {
	f.s.Enter(f.t, stage)
	for ; f.x <= to; f.x += 0.004 {
		f.add(stage, load(f.x))
	}
}

func (f *figured) stand(stage trial.Stage, seconds float64, load func(float64) trial.Force) {
	f.s.Enter(f.t, stage)
	for i := range int(seconds * 10) {
		f.add(stage, load(float64(i)/10))
	}
}

var (
	figuresMu   sync.Mutex
	figuresMade = map[[2]float64]*trial.Figures{}
)

// figuresOf are those of the pull that [pulled] traces; f is told from others by
// what it gives at 9 m.
func figuresOf(x float64, f func(float64) trial.Force) *trial.Figures {
	figuresMu.Lock()
	defer figuresMu.Unlock()
	key := [2]float64{x, float64(f(9))}
	if figuresMade[key] == nil {
		p := newFigured()
		p.haul(trial.Pull, x, f)
		out := p.s.Figures(p.t)
		figuresMade[key] = &out
	}
	return figuresMade[key]
}

// wholeCourse is a pull with a breakout and a re-set, a stop, a hold and the
// recovery: every figure that can be had has a value.
func wholeCourse() *trial.Figures {
	p := newFigured()
	p.stand(trial.Soak, 300, func(float64) trial.Force { return 90 })
	p.haul(trial.Pull, 21, textbook)
	p.haul(trial.Pull, 21.3, func(x float64) trial.Force { return trial.Force(3000 - 8000*(x-21)) })
	p.haul(trial.Pull, 26, func(x float64) trial.Force { return trial.Force(600 + 700*(x-21.3)) })
	p.s.Stop(p.t)
	p.haul(trial.Stopped, 26.05, func(x float64) trial.Force { return trial.Force(3900 + 3000*(x-26)) })
	p.stand(trial.Stopped, 80, func(t float64) trial.Force { return trial.Force(3100 + 950*math.Exp(-t/20)) })
	p.stand(trial.Ease, 20, func(float64) trial.Force { return 80 })
	p.haul(trial.Recover, 51, func(float64) trial.Force { return 150 })
	for step := range 3 {
		top := 1200 * float64(step+1)
		p.haul(trial.Recover, p.x+0.1, func(x float64) trial.Force { return trial.Force(top) })
		p.stand(trial.Recover, 30, func(t float64) trial.Force { return trial.Force(top * (0.9 + 0.1*math.Exp(-t/10))) })
	}
	p.haul(trial.Recover, p.x+2, func(float64) trial.Force { return 150 })
	f := p.s.Figures(p.t)
	return &f
}

// TestGoldenSheet is every page of the figures of a whole course and of half a
// pull, at every size a view is meant for.
func TestGoldenSheet(t *testing.T) {
	ended := *sceneNamed("ended").snap
	ended.Figures = wholeCourse()
	for name, sc := range map[string]scene{
		"course": {name: "course", snap: &ended, trace: sceneNamed("ended").trace},
		"lbf":    inLbf(sceneNamed("pull")),
	} {
		var got strings.Builder
		for _, size := range standSizes {
			m, _ := sc.from(StandFigures).screen(t, size[0], size[1])
			for page := range m.sheet.pages() {
				if m.sheet.page != page {
					t.Fatalf("%v: page %d is open, want %d", size, m.sheet.page, page)
				}
				fmt.Fprintf(&got, "=== %dx%d page %d of %d\n%s", size[0], size[1], page+1, m.sheet.pages(), cells(m.draw(), size[0], size[1]))
				m, _ = m.press("down")
			}
		}
		golden(t, filepath.Join("stands", "figures-pages-"+name+".txt"), got.String())
	}
}

// inLbf is a scene read in pounds and feet, with a cell of which nothing is known
// but what it sends.
func inLbf(sc scene) scene {
	snap := *sc.snap
	tl := *snap.Trial
	tl.Show = trial.Show{Tension: trial.ForceUnit{Name: "lbf", N: 4.4482216152605}, Length: trial.LengthUnit{Name: "ft", M: 0.3048}, Speed: trial.SpeedUnit{Name: "ft/min", MPS: 0.3048 / 60}}
	snap.Trial = &tl
	sc.snap = &snap
	return sc
}

// Every figure of the groups is on exactly one page, once, whatever the size; the
// keys stay within the pages, and a page that is gone is left.
func TestSheetHoldsEveryRowOnce(t *testing.T) {
	want := map[string]int{}
	for _, g := range sheetGroups {
		for _, l := range g.rows {
			want[l.label]++
			if width(l.label) >= sheetLabel {
				t.Errorf("%q takes %d cells of %d", l.label, width(l.label), sheetLabel-1)
			}
		}
	}
	snap := *sceneNamed("pull").snap
	snap.Figures = wholeCourse()
	for w := minW; w <= 300; w += 7 {
		for h := minH; h <= 100; h += 3 {
			s := sheet{}.next(&snap, rect{1, 2, w - 2, h - 4})
			got, phases := map[string]int{}, false
			for i, col := range s.rows {
				if len(col) > max(s.room.h-1, 1) {
					t.Fatalf("%dx%d: column %d has %d rows, room %d", w, h, i, len(col), s.room.h-1)
				}
				if last := col[len(col)-1]; last.head && len(col) > 1 {
					t.Errorf("%dx%d: column %d ends with the heading %q", w, h, i, last.label)
				}
				for _, r := range col {
					if phases = phases || strings.HasPrefix(r.label, "phases"); !r.head && !r.note && !phases {
						got[r.label]++
					}
				}
			}
			for label, n := range want {
				if got[label] != n {
					t.Fatalf("%dx%d: %q is there %d times, want %d", w, h, label, got[label], n)
				}
			}
			if s.cols*s.wide+(s.cols-1)*sheetGap > max(s.room.w, s.wide) || s.cols < 1 {
				t.Errorf("%dx%d: %d columns of %d cells", w, h, s.cols, s.wide)
			}
			for range 60 {
				s = s.turn(zoomOut)
			}
			if s.page != s.pages()-1 {
				t.Errorf("%dx%d: page %d of %d at the end", w, h, s.page, s.pages())
			}
			if big := s.next(&snap, rect{1, 2, 298, 96}); big.page != 0 || big.pages() != 1 {
				t.Errorf("page %d of %d on a large screen", big.page, big.pages())
			}
			if s = s.turn(follow).turn(zoomIn); s.page != 0 {
				t.Errorf("%dx%d: page %d before the first", w, h, s.page)
			}
		}
	}
}

// The sheet is made anew with new figures, and only then.
func TestSheetIsMadeOnceForItsFigures(t *testing.T) {
	m, f := sceneNamed("pull").from(StandFigures).screen(t, 120, 40)
	rows := &m.sheet.rows[0]
	snap := *f.snap
	snap.T += second / 10
	f.set(&snap)
	m = step(m, frameMsg{})
	if rows != &m.sheet.rows[0] {
		t.Error("the sheet was made anew for a frame with no new figures")
	}
	next := *f.snap
	next.Figures = wholeCourse()
	f.set(&next)
	if m = step(m, frameMsg{}); rows == &m.sheet.rows[0] || !strings.Contains(m.frame, "re-set ratio") {
		t.Error("new figures are not on the screen")
	}
}

// A value is told with what bounds it; what is missing with why, in few words.
func TestSheetRows(t *testing.T) {
	rows := map[string]sheetRow{}
	group := ""
	for _, r := range sheetRows(sceneNamed("pull").snap, false) {
		if r.head {
			group = r.label
		}
		rows[group+": "+r.label] = r
	}
	if r := rows["peaks, kN: instant"]; !strings.HasPrefix(r.cells[0], "> ") || !strings.Contains(r.cells[0], "±") {
		t.Errorf("a peak that is not left is %q, want > and its uncertainty", r.cells)
	}
	for row, want := range map[string]string{"recovery, kN: burial": "not yet: stage recover not said", "what it did: re-set ratio": "not yet: no breakout"} {
		if r := rows[row]; r.text != want || !r.late {
			t.Errorf("%s is %q, want %q", row, r.text, want)
		}
	}
	bare := *sceneNamed("pull").snap
	tl := *bare.Trial
	tl.Levels = trial.Levels{}
	s := trial.NewStudy(&tl, tl.Runs[0])
	f := s.Figures(0)
	bare.Figures = &f
	none := &session.Snapshot{}
	if rows := sheetRows(none, false); len(rows) != 1 || !strings.Contains(rows[0].label, "no figures yet") {
		t.Errorf("before the first sample: %+v", rows)
	}
	for _, r := range sheetRows(&bare, true) {
		if r.late && width(r.text) > 38 {
			t.Errorf("%s: %q takes %d cells", r.label, r.text, width(r.text))
		}
	}
}

// A pull that goes on from a log that is not here is told so beside its figures
// and its peak, which are then not those of the whole pull; one that has it is not.
func TestSinceResume(t *testing.T) {
	for _, since := range []bool{true, false} {
		sc := sceneNamed("pull")
		snap := *sc.snap
		snap.After, snap.SinceResume = "A1-1.log", since
		sc.snap = &snap
		for _, stand := range []Stand{StandFigures, StandAll} {
			m, _ := sc.from(stand).screen(t, 80, 24)
			if got := strings.Contains(m.frame, "since resume"); got != since {
				t.Errorf("stand %v: told %v, want %v:\n%s", stand, got, since, cells(m.draw(), 80, 24))
			}
		}
	}
}

// The peak on the trace has the same ">" as beside it.
func TestPeakOnTheTraceIsBound(t *testing.T) {
	for _, left := range []bool{true, false} {
		sc := sceneNamed("pull")
		snap := *sc.snap
		snap.Peak.Left = left
		sc.snap = &snap
		m, _ := sc.screen(t, 120, 40)
		want := "●." + unitsOf(&snap).tension(snap.Peak.Value)
		if !left {
			want = "●.> " + unitsOf(&snap).tension(snap.Peak.Value)
		}
		if got := cells(m.draw(), 120, 40); !regexp.MustCompile(want).MatchString(got) {
			t.Errorf("left %v: no %q on the trace:\n%s", left, want, got)
		}
	}
}
