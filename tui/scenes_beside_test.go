package tui

import (
	"math"
	"time"

	"hawse/acquire/session"
	"hawse/trial"
)

// fakeCommenter is a replay at which something can be said.
type fakeCommenter struct {
	*fakePlayer
	comments session.Comments
	said     []session.Addendum
	retries  int
}

func (f *fakeCommenter) Here() session.Here {
	s := f.Snapshot()
	return session.Here{Path: "runs/A1.log", At: s.T, Place: session.Place{N: s.N, T: s.T, X: s.Haul.X, HasX: s.Haul.Known}}
}

func (f *fakeCommenter) Comment(at session.Here, a session.Addendum) {
	a.About = at.Place
	f.said = append(f.said, a)
}

func (f *fakeCommenter) Retry() { f.retries++ }

func (f *fakeCommenter) Comments() *session.Comments {
	c := f.comments
	return &c
}

// courseOf is an invented pull of x metres, hauled at 2.4 m/min.
func courseOf(id, anchor string, lane int, x float64, f func(float64) trial.Force) *session.Course {
	tl := sceneTrial()
	c := &session.Course{Path: id + ".log", Parts: 1, Started: sceneStart.Add(-26 * time.Hour), Length: 60*second + int64(x/0.04*1e9)}
	c.Head = session.Head{Trial: tl, Run: trial.Run{ID: id, Anchor: anchor, Station: "Alder Flat", Lane: lane, Kind: trial.KindPull, Payout: 60, Speed: 0.04},
		Caption: "Invented data: two made-up pulls."}
	c.Config = base(trial.Pull, 0, nil).Config
	p := &c.Pull
	p.T0 = 60 * second
	p.ByHaul, p.ByTime, p.ByTravel = trial.NewEnvelope(0.02), trial.NewEnvelope(0.1), trial.NewEnvelope(0.02)
	for at := 0.0; at <= x; at += 0.004 {
		v, t := f(at), 60*second+int64(at/0.04*1e9)
		travel := math.NaN()
		if v > 250 {
			travel = 0.9 * (at - 3)
		}
		p.T1 = t
		p.ByHaul.Add(at, v)
		p.ByTime.Add(float64(t-p.T0)/1e9, v)
		p.ByTravel.Add(travel, v)
		p.Stamps = append(p.Stamps, session.Stamp{T: t, Tension: v, X: trial.Length(at), Travel: trial.Length(travel), Scope: (60 - at) / 7.5})
		if v > c.Peak.Value {
			c.Peak = session.Peak{Known: true, Value: v, At: t, X: trial.Length(at), Scope: (60 - at) / 7.5}
		}
	}
	c.Peak.Left = float64(f(x)) < 0.9*float64(c.Peak.Value)
	s := base(trial.Pull, c.Length, nil)
	s.Haul.Known, s.Haul.X = true, trial.Length(x)
	p.Segments = segsOf(s)
	for _, g := range p.Segments {
		c.Points = append(c.Points, session.CoursePoint{T: g.T0, X: g.X0, Kinds: []session.PointKind{session.PhasePoint}, Text: "phase: " + g.Phase.String()})
	}
	c.Points = append(c.Points, session.CoursePoint{T: p.T0 + 200*second, X: 8, Kinds: []session.PointKind{session.MarkPoint}, Text: "felt or heard"})
	return c
}

// weaker is a pull that holds less, and breaks out.
func weaker(x float64) trial.Force {
	if x > 14 {
		return textbook(x-6) / 3
	}
	return textbook(x) * 0.8
}

// earlierScene are the earlier pulls of an invented day.
func earlierScene() *session.EarlierPulls {
	whole := courseOf("A1", "A16", 7, 22, textbook)
	return &session.EarlierPulls{
		Done: true, Whole: whole, Anchor: courseOf("A0", "A16", 3, 27, weaker), More: 1,
		Block: []*session.Course{
			courseOf("B1", "B20", 6, 24, func(x float64) trial.Force { return textbook(x) * 1.4 }),
			courseOf("C1", "C11", 5, 19, func(x float64) trial.Force { return textbook(x) / 2 }),
		},
		LeftOut: []string{"A0-2.log: damaged: line 812: record 811 is missing; 'hawse verify' tells more", "diary.log: no log of this program"},
	}
}

func commentsScene(s *session.Snapshot) session.Comments {
	at := s.T - 100*second
	a := session.Addendum{Kind: session.AddendumRemark, Text: "weed on the rode", Name: "ann", Who: "logger", Whole: true, Matches: true,
		About: session.Place{N: 2900, T: at, X: 18, HasX: true}}
	b := session.Addendum{Kind: session.AddendumWeight, Weight: 245, Shown: 247.45, Name: "bo", Who: "director", Whole: true}
	return session.Comments{List: []session.Commented{{Addendum: a, At: at, HasAt: true}, {Addendum: b}},
		Faults: []string{"A1-addendum-2.log is of another file: the log was changed since, or the addendum was moved; results do not apply it"}}
}

// besideScenes are screens with other pulls beside or beneath, and with what was
// said afterwards.
func besideScenes() (list []scene) {
	earlier := earlierScene()
	pull, tr := hauling(15.3, textbook)
	pull.Hauled = trial.Pull
	list = append(list,
		scene{name: "overlay-anchor", snap: pull, trace: tr, keys: []string{"w"}, earlier: earlier},
		scene{name: "overlay-block", snap: pull, trace: tr, keys: []string{"w", "w"}, earlier: earlier},
		scene{name: "overlay-closer", snap: pull, trace: tr, keys: []string{"w", "t", "t", "up"}, earlier: earlier},
	)
	standby := base(trial.StandBy, 42*second, nil)
	list = append(list, scene{name: "overlay-before", snap: standby, trace: &trial.Trace{}, keys: []string{"w"}, earlier: earlier})
	replay, tr := hauling(22, textbook)
	replay.Mode, replay.Hauled = "replay", trial.Pull
	said := commentsScene(replay)
	failed := said
	failed.Failed = []session.Unkept{{Addendum: session.Addendum{Kind: session.AddendumRemark, Text: "kept nowhere yet"}, Err: errFull}}
	paused := func(p *fakePlayer) { p.speed, p.paused = 8, true }
	for _, sc := range []scene{
		{name: "afterwards", keys: []string{"r"}, said: &said},
		{name: "afterwards-failed", keys: []string{"r"}, said: &failed},
		{name: "remark", keys: append([]string{"r", "1"}, typed("the rode was foul of weed, seen when it came up")...), said: &said},
		{name: "correction", keys: append(append([]string{"r", "4"}, typed("1.008")...), "enter"), said: &said},
		{name: "afterwards-logger", keys: []string{"7"}, said: &said},
		{name: "compare", keys: append([]string{"w", "c"}, repeated("]", 12)...), earlier: earlier},
		{name: "compare-travel", keys: append([]string{"w", "c", "t", "t"}, repeated("]", 8)...), earlier: earlier},
		{name: "compare-end", keys: []string{"w", "w", "c", "t", "end"}, earlier: earlier},
		{name: "compare-jump", keys: []string{"c", "s", "m"}, earlier: earlier},
		{name: "compare-help", keys: []string{"c", "?"}, earlier: earlier},
	} {
		sc.snap, sc.trace, sc.play = replay, tr, paused
		list = append(list, sc)
	}
	return list
}

type sceneError string

func (e sceneError) Error() string { return string(e) }

const errFull = sceneError("logs: cannot create: no space left on device; choose a folder that can be written to")

// typed are words as keys.
func typed(s string) (keys []string) {
	for _, r := range s {
		keys = append(keys, string(r))
	}
	return keys
}

func repeated(key string, n int) (keys []string) {
	for range n {
		keys = append(keys, key)
	}
	return keys
}
