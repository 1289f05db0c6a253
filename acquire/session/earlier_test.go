package session

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/safety"
	"hawse/trial"
)

// pullOf is a hand that pulls a run of the template 2 m at up to kgf, started so
// many hours after nine.
func pullOf(t *testing.T, run string, hours int, kgf float64) *hand {
	t.Helper()
	h := byHand(t)
	head := h.d.core.Head()
	var ok bool
	if head.Run, ok = head.Trial.Run(run); !ok {
		t.Fatalf("the template has no run %q", run)
	}
	head.Started = head.Started.Add(time.Duration(hours) * time.Hour)
	d, err := NewDry(head)
	if err != nil {
		t.Fatal(err)
	}
	d.Keep = true
	for _, src := range []string{SrcLoad, SrcLine, SrcStop} {
		d.Port(0, src, "open", "")
	}
	h.d = d
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.pulling()
	for _, share := range []float64{0.3, 0.6, 1, 0.8} {
		h.load = fmt.Sprintf("+%06.1f kgf", kgf*share)
		h.haul(h.counts+500, 25)
	}
	h.must(safety.Director, ActMark, "felt or heard")
	h.run(time.Second)
	return h
}

// A course is what the screen had: peak, envelope, phases and points are those of
// a replay of the same log.
func TestCourseIsWhatTheScreenHad(t *testing.T) {
	h := pullOf(t, "A1", 0, 300)
	path := h.sealed(t, t.TempDir(), "A1-1.log")
	c, err := ReadCourse([]Part{{Opening: Opening{Path: path}}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := OpenReplay(path, "test", 10000)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
	s := r.Snapshot()
	if d := cmp.Diff(s.Peak, c.Peak); d != "" || !c.Peak.Known {
		t.Errorf("peak (-replay +course):\n%s", d)
	}
	if d := cmp.Diff(r.Segments(), c.Pull.Segments); d != "" {
		t.Errorf("phases (-replay +course):\n%s", d)
	}
	q := TraceQuery{ByHaul: true, From: 0, To: 2.56, Cols: 32}
	want, got := r.Trace(q, nil), c.Pull.ByHaul.Columns(q.From, q.To, q.Cols, nil)
	n := 0
	for i := range want {
		if want[i].N != got[i].N || want[i].Lo != got[i].Lo || want[i].Hi != got[i].Hi {
			t.Errorf("column %d: replay %+v, course %+v", i, want[i], got[i])
		}
		n += got[i].N
	}
	if n < 70 || c.Pull.ByTime.Len() < n || !c.Preset.Empty() || !c.Recover.Empty() {
		t.Errorf("%d samples drawn, %d by time; preset empty %v, recover empty %v", n, c.Pull.ByTime.Len(), c.Preset.Empty(), c.Recover.Empty())
	}
	k, ok := c.Pull.AtHaul(1)
	if !ok || math.Abs(float64(k.X)-1) > 0.06 || k.T <= c.Pull.T0 {
		t.Errorf("at 1 m hauled: %+v, %v", k, ok)
	}
	if b, ok := c.Pull.AtTime(k.T); !ok || b != k {
		t.Errorf("the stamp at its own time is %+v, want %+v", b, k)
	}
	if _, ok := c.Pull.AtTime(c.Pull.T0 - 1); ok {
		t.Error("a stamp before the first")
	}
	marked := false
	for _, p := range c.Points {
		marked = marked || p.Text == "felt or heard" && !math.IsNaN(float64(p.X))
	}
	if !marked {
		t.Errorf("the mark is not among %d points", len(c.Points))
	}
}

func TestCourseOfTwoParts(t *testing.T) {
	_, one, two := inTwo(t)
	parts, err := Chain(one)
	if err != nil {
		t.Fatal(err)
	}
	c, err := ReadCourse(parts, nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := OpenReplayParts(parts, "test", 10000)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	if s := r.Snapshot(); c.Peak != s.Peak || c.Length != s.T || c.Parts != 2 {
		t.Errorf("peak %+v, length %d; a replay has %+v, %d", c.Peak, c.Length, s.Peak, s.T)
	}
	b, err := os.ReadFile(two)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(two, b[:len(b)-60], 0o644); err != nil {
		t.Fatal(err)
	}
	_, err = ReadCourse(parts, nil)
	if un := (*UnfinishedError)(nil); !errors.As(err, &un) || un.Path != two {
		t.Errorf("a pull whose last log has no end: %v, want one about %s", err, two)
	}
}

// Earlier pulls: the last of the same anchor, the others of the block; what cannot
// be used is said and left out.
func TestEarlierPulls(t *testing.T) {
	dir := t.TempDir()
	put := func(run string, hours int, kgf float64) string {
		return pullOf(t, run, hours, kgf).sealed(t, dir, fmt.Sprintf("%s-%d.log", run, hours))
	}
	put("A1", 1, 300)
	put("B1", 2, 350)
	put("A2", 3, 320) // the same anchor at the same station: the second block begins
	put("C1", 4, 200)
	put("A3", 5, 500) // the same anchor, elsewhere
	damaged := put("B1", 6, 340)
	b, err := os.ReadFile(damaged)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.LastIndex(b, []byte("kgf"))
	b[at] = 'K'
	if err := os.WriteFile(damaged, b, 0o644); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"foreign.log": "a diary\n", "empty.log": "", "binary.log": "\x00\xff\x00"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "open.log"), logOf(pullOf(t, "B1", 7, 100).d), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "folder.log"), 0o755); err != nil {
		t.Fatal(err)
	}
	tr := byHand(t).d.core.head.Trial
	names := func(p *EarlierPulls) (anchor string, block []string) {
		if p.Anchor != nil {
			anchor = filepath.Base(p.Anchor.Path)
		}
		for _, c := range p.Block {
			block = append(block, filepath.Base(c.Path))
		}
		return anchor, block
	}
	for _, tt := range []struct {
		name, run, own string
		before         int // hours; 0 no limit
		planned        map[string]int
		anchor         string
		block          []string
	}{
		{name: "the anchor was pulled in this block: a new one begins", run: "A1", anchor: "A3-5.log"},
		{name: "an anchor the block does not have", run: "B2", anchor: ""},
		{name: "in the second block", run: "B1", anchor: "B1-2.log", block: []string{"C1-4.log", "A2-3.log"}},
		{name: "before anything", run: "A1", before: 1},
		{name: "a replay of A2 sees A1 and the first block", run: "A2", before: 3, own: "A2-3.log", anchor: "A1-1.log"},
		{name: "as planned", run: "B1", planned: map[string]int{"B1": 1, "A1": 1, "A2": 2, "C1": 1}, anchor: "B1-2.log", block: []string{"C1-4.log", "A1-1.log"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			run, _ := tr.Run(tt.run)
			want := EarlierWanted{Dirs: []string{dir, dir, filepath.Join(dir, "none")}, Run: run, Planned: tt.planned, Gentle: tt.name == "as planned"}
			if tt.before > 0 {
				want.Before = testHead(t).Started.Add(time.Duration(tt.before) * time.Hour)
			}
			if tt.own != "" {
				want.Own = []string{filepath.Join(dir, tt.own)}
			}
			e := ReadEarlier(t.Context(), want)
			e.Wait()
			p := e.Now()
			anchor, block := names(p)
			if anchor != tt.anchor || cmp.Diff(tt.block, block) != "" || !p.Done {
				t.Errorf("of run %s: anchor %q, block %q, done %v; want %q, %q", tt.run, anchor, block, p.Done, tt.anchor, tt.block)
			}
			told := strings.Join(p.LeftOut, "\n")
			for _, name := range []string{"foreign.log", "empty.log", "binary.log"} {
				if !strings.Contains(told, name) {
					t.Errorf("%s is left out in silence:\n%s", name, told)
				}
			}
			if tt.run == "B1" && tt.planned == nil && (!strings.Contains(told, "B1-6.log: damaged") || !strings.Contains(told, "open.log: has no end")) {
				t.Errorf("what is damaged or has no end is not told:\n%s", told)
			}
			for _, r := range told {
				if r < 0x20 && r != '\n' {
					t.Fatalf("a control character in %q", told)
				}
			}
		})
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	run, _ := tr.Run("B1")
	e := ReadEarlier(ctx, EarlierWanted{Dirs: []string{dir}, Run: run})
	e.Wait()
	if p := e.Now(); p.Anchor != nil || !p.Done {
		t.Errorf("stopped before it began: %+v", p)
	}
	if p := (*Earlier)(nil).Now(); !p.Done {
		t.Error("where nobody looks for earlier pulls, they are still awaited")
	}
}

// Whatever a log holds, reading it as an earlier pull ends with a course or an
// error.
func FuzzCourse(f *testing.F) {
	h := byHand(&testing.T{})
	h.run(time.Second)
	f.Add(logOf(h.d))
	f.Add([]byte("t=0 n=1 k=head part=log\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		path := filepath.Join(t.TempDir(), "a.log")
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		if c, err := ReadCourse([]Part{{Opening: Opening{Path: path}}}, nil); (c == nil) == (err == nil) {
			t.Errorf("course %v, error %v", c, err)
		}
	})
}

// The memory of a course does not grow with its log.
func TestCourseStaysSmall(t *testing.T) {

	s := CourseSeries{ByHaul: trial.NewEnvelope(courseLength), ByTime: trial.NewEnvelope(courseTime), ByTravel: trial.NewEnvelope(courseLength), every: stampEvery}
	for i := range 500_000 {
		s.take(Stamp{T: int64(i) * 10e6, X: trial.Length(i) * 0.001, Travel: trial.Length(i) * 0.0009, Tension: trial.Force(i % 977)})
	}
	if len(s.Stamps) > mostStamps || len(s.Stamps) < mostStamps/2 {
		t.Errorf("%d stamps of half a million samples, want from %d to %d", len(s.Stamps), mostStamps/2, mostStamps)
	}
	for i := 1; i < len(s.Stamps); i++ {
		if s.Stamps[i].T <= s.Stamps[i-1].T {
			t.Fatalf("stamp %d at %d, the one before at %d", i, s.Stamps[i].T, s.Stamps[i-1].T)
		}
	}
}
