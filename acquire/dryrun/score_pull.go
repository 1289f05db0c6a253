package dryrun

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// ScoredPull is one made-up pull and how the detector did.
type ScoredPull struct {
	*deck.MadeUp
	Score
	Wrong   []string // what was not right, a line each
	Seconds float64  // the pull's own time
	Said    Said
}

// Bad is how bad a pull is, to find the worst: a wrong event counts as two metres.
func (p *ScoredPull) Bad() float64 {
	bad := p.Length - p.Right
	for i := range p.Events {
		e := &p.Events[i]
		bad += 2 * float64(e.True+e.Said-2*e.Hit)
	}
	return bad
}

// scoreLasts is when a pull is given up whose crew has come to no end.
const scoreLasts = 3600 * second

// scoreEach is how often the truth is looked at.
const scoreEach = second / 10

// TryScore plays the made-up pull of a seed and scores what the Judge said.
func TryScore(seed uint64) (*ScoredPull, error) {
	course, said, made, err := playMade(seed)
	if err != nil {
		return nil, err
	}
	p := &ScoredPull{MadeUp: made, Said: said}
	p.Score, p.Wrong = ScorePull(course.moments, said)
	if course.tripped != "" {
		p.Tripped = 1
	}
	p.Seconds = float64(course.moments[len(course.moments)-1].T) / 1e9
	return p, nil
}

// madeCourse is what truly was.
type madeCourse struct {
	moments []Moment
	tripped string // the cause that ended the pull
}

func playMade(seed uint64) (*madeCourse, Said, *deck.MadeUp, error) {
	made, err := deck.MakeUp(seed)
	if err != nil {
		return nil, Said{}, nil, err
	}
	s, err := deck.ParseScenario(fmt.Sprintf("made-up-%d.txt", seed), []byte(made.Script))
	if err != nil {
		return nil, Said{}, nil, err
	}
	r, _, err := newRig(s, seed)
	if err != nil {
		return nil, Said{}, nil, err
	}
	r.dry.WithJudge = true
	var l listener
	r.onSay(func(say logfmt.Record) { l.hear(say, float64(r.sim.State().X)) })
	d := scoreDirector{r: r, made: made, accept: made.LoadHz < 3}
	c := &madeCourse{}
	dated, _ := any(r.dry).(datesBack)
	pulls := false
	for t := int64(0); !d.over; t += scoreEach {
		if t > scoreLasts {
			return nil, Said{}, nil, errors.New("the pull came to no end within an hour: " + d.where())
		}
		r.advance(t)
		d.look()
		now, ok := r.sim.Truth()
		if !ok {
			return nil, Said{}, nil, errors.New("the made-up pull has no model")
		}
		g := r.state()
		st := r.sim.State()
		if was := pulls; dated != nil && was && g.Stage != trial.Pull {
			l.said.Segments = DatedBack(dated.Segments()) // the recovery is a series of its own
		}
		pulls = g.Stage == trial.Pull
		c.moments = append(c.moments, Moment{T: t, X: float64(st.X), Tension: float64(st.Tension),
			Pulls: g.Stage == trial.Pull, Raises: g.Stage == trial.Recover, Truth: now})
	}
	c.tripped = d.tripped
	if d.fault != "" {
		return nil, Said{}, nil, errors.New(d.fault)
	}
	return c, l.said, made, nil
}

// datesBack is a dry run that gives its Judge's phases dated back. Without it only
// what was said as it went is scored.
type datesBack interface {
	Segments() []trial.Segment
}

// listener takes down what the Judge says.
type listener struct{ said Said }

func (l *listener) hear(say logfmt.Record, x float64) {
	number := func(key string) float64 {
		v, err := strconv.ParseFloat(say.Str(key), 64)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	at, ok := say.Ns("at")
	if !ok {
		at = say.T
	}
	switch say.Str("what") {
	case "phase":
		l.said.Phases = append(l.said.Phases, SaidPhase{say.T, x, say.Str("phase")})
	case "event":
		e := SaidEvent{Kind: say.Str("event"), Cause: say.Str("cause"), T: at, SaidT: say.T, X: number("x_m"), SaidX: x}
		if math.IsNaN(e.X) {
			e.X = x
		}
		if e.Kind == "fall" {
			// A fall dated as a breakout that was said takes that back: it has been
			// said all the same, but not as the anchor's.
			for i := range l.said.Events {
				if was := &l.said.Events[i]; was.Kind == Breakout && was.T == e.T {
					was.Kind, was.Back = "fall", true
				}
			}
		}
		l.said.Events = append(l.said.Events, e)
	}
}

// scoreDirector brings a made-up pull from the first zero to its end. The winch
// operator is the script's.
type scoreDirector struct {
	r       *rig
	made    *deck.MadeUp
	accept  bool // the cell is slow, and is accepted
	step    int
	next    int64
	at      int64 // when the stage was said
	moves   int   // of the vessel that have been seen
	markAt  int64
	refused int
	tripped string
	fault   string
	over    bool
}

func (d *scoreDirector) where() string {
	return fmt.Sprintf("step %d, stage %v", d.step, d.r.state().Stage)
}

func (d *scoreDirector) press(what session.Act) bool {
	if what.Who == safety.Nobody {
		what.Who = safety.Director
	}
	what.Name = "dry run"
	o := d.r.act(what)
	if o.Refused == "" {
		d.refused = 0
		return true
	}
	if d.refused++; d.refused > 200 {
		d.fault, d.over = "the director was refused: "+o.Refused, true
	}
	return false
}

func (d *scoreDirector) look() {
	g, t := d.r.state(), d.r.t
	d.mark(t)
	if t < d.next || t < 2*second {
		return
	}
	d.next = t + second/2
	setup := scoreSetup(d.accept, d.made)
	switch {
	case d.step < len(setup):
		if d.press(setup[d.step]) {
			d.step++
		}
	case d.step == len(setup): // armed
		if d.press(session.Act{What: session.ActStage, Stage: trial.Pull}) {
			d.step++
		}
	case g.Stage == trial.Pull && g.Stop.Kind == safety.NoStop:
	case g.Stage == trial.Pull:
		if g.Stop.Kind == safety.Trip {
			d.tripped = g.Stop.Cause.String()
			if !g.Stop.Acked {
				d.press(session.Act{What: session.ActAck})
				return
			}
		}
		if t-g.Stop.At < 7*second {
			return // the anchor creeps: relaxing is a phase, too
		}
		if d.press(session.Act{What: session.ActStage, Stage: trial.Ease}) {
			d.at = t
		}
	case g.Stage == trial.Ease:
		if !d.made.Brings || d.tripped != "" {
			d.over = true
			return
		}
		if st := d.r.sim.State(); st.Speed == 0 && st.Lever == "stop" && t-d.at > 3*second {
			if d.press(session.Act{What: session.ActStage, Stage: trial.Recover}) {
				d.at = t
			}
		}
	default:
		st := d.r.sim.State()
		d.over = st.Done || t-d.at > 900*second || g.Stop.Kind == safety.Trip
	}
}

// mark has somebody say that a thruster worked, some seconds after it did.
func (d *scoreDirector) mark(t int64) {
	tr, _ := d.r.sim.Truth()
	if tr.Moves > d.moves {
		d.moves = tr.Moves
		if d.made.Marked {
			d.markAt = t + 3*second
		}
	}
	if d.markAt != 0 && t >= d.markAt {
		d.markAt = 0
		d.press(session.Act{Who: safety.Logger, What: session.ActMark, Value: "thruster ahead"})
	}
}

func scoreSetup(accept bool, made *deck.MadeUp) []session.Act {
	list := slices.Clone(beforeArming)
	for i, a := range list {
		switch a.What {
		case session.ActPayout:
			list[i].Value = fmt.Sprintf("%.0f m", float64(made.Payout))
		case session.ActDepth:
			list[i].Value = fmt.Sprintf("%.1f m", float64(made.Depth))
		}
	}
	if accept {
		i := slices.IndexFunc(list, func(a session.Act) bool { return a.What == session.ActArm })
		list = slices.Insert(list, i, session.Act{Who: safety.Director, What: session.ActAccept, Value: "slow cell"})
	}
	return list
}

// Scores is what came of many pulls.
type Scores struct {
	All     Score
	ByRate  map[string]*Score // "<10 Hz", ">=10 Hz"
	BySoil  map[string]*Score
	ByKind  map[string]*Score
	ByRode  map[string]*Score
	BySwell map[string]*Score // SwellGroups
	Worst   []*ScoredPull     // worst first
	Seconds float64           // of the pulls' own time
}

// RateGroups are the keys of [Scores.ByRate], in order.
var RateGroups = []string{"under 10 Hz", "10 Hz and more"}

// SwellGroups are the keys of [Scores.BySwell], in order.
var SwellGroups = []string{"none", "under 30 mm", "30 mm and more"}

const worstKept = 10

// ScoreMany scores n pulls of a run, with the seeds of [deck.MadeSeed], on so many
// workers. report, if not nil, is called for each as it is done; false ends it.
func ScoreMany(run uint64, n, workers int, report func(*ScoredPull) bool) (*Scores, error) {
	all := make([]*ScoredPull, n)
	var mu sync.Mutex
	var fault error
	var wg sync.WaitGroup
	next, over := 0, false
	for range max(1, workers) {
		wg.Go(func() {
			for {
				mu.Lock()
				i := next
				if i >= n || fault != nil || over {
					mu.Unlock()
					return
				}
				next++
				mu.Unlock()
				seed := deck.MadeSeed(run, i)
				p, err := TryScore(seed)
				mu.Lock()
				switch {
				case err != nil:
					fault = fmt.Errorf("seed %d: %w", seed, err)
				default:
					all[i] = p
					over = over || report != nil && !report(p)
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	if fault != nil {
		return nil, fault
	}
	s := &Scores{ByRate: map[string]*Score{}, BySoil: map[string]*Score{}, ByKind: map[string]*Score{},
		ByRode: map[string]*Score{}, BySwell: map[string]*Score{}}
	for _, p := range all { // in the order of seeds, so that the sums are the same however they were made
		if p != nil {
			s.add(p)
		}
	}
	return s, nil
}

func (s *Scores) add(p *ScoredPull) {
	into := func(m map[string]*Score, key string) {
		if m[key] == nil {
			m[key] = &Score{}
		}
		m[key].Add(&p.Score)
	}
	s.All.Add(&p.Score)
	rate := RateGroups[0]
	if p.LoadHz >= 10 {
		rate = RateGroups[1]
	}
	into(s.ByRate, rate)
	into(s.BySoil, string(p.Soil))
	into(s.ByKind, p.Kind)
	into(s.ByRode, p.Rode)
	swell := SwellGroups[0]
	switch {
	case p.Swell >= 0.03:
		swell = SwellGroups[2]
	case p.Swell > 0:
		swell = SwellGroups[1]
	}
	into(s.BySwell, swell)
	s.Seconds += p.Seconds
	if len(p.Wrong) == 0 {
		return
	}
	i, _ := slices.BinarySearchFunc(s.Worst, p, func(a, b *ScoredPull) int {
		switch {
		case a.Bad() > b.Bad():
			return -1
		case a.Bad() < b.Bad():
			return 1
		}
		return -1 // after its equals: the lower seed first
	})
	s.Worst = slices.Insert(s.Worst, i, p)
	s.Worst = s.Worst[:min(len(s.Worst), worstKept)]
}

// Story is a pull in words.
func (p *ScoredPull) Story() string {
	return fmt.Sprintf("seed %d: %s in %s, %g Hz: %s", p.Seed, p.Kind, p.Soil, p.LoadHz, strings.Join(p.Wrong, "; "))
}
