package dryrun

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"

	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// Result is what came of one made-up pull.
type Result struct {
	Pull
	Records  uint64
	Seconds  float64        // the pull's own time
	Kinds    map[string]int // of the stops that were due: why, and how many
	Due      int            // stops the referee found due
	Missed   []string
	Late     []string
	Worst    int64    // ns from due to stop, at most
	False    []string // trips in a pull without a fault and under its limits
	Closed   []string // the relay was closed while a stop was in force
	Misnamed []string // words for a noisy number or a changed unit, in a pull without either; another unit has another noise
	Warnings int      // alarms that rose, of whatever priority
	Flood    int      // most of them in ten minutes
	rose     []string // in words
}

// Bad says whether the pull shows a fault of the guard.
func (r *Result) Bad() bool {
	return len(r.Missed)+len(r.Late)+len(r.False)+len(r.Closed) > 0 || len(r.Misnamed) > 0 && len(r.Faults) == 0
}

// pullLasts is how long a made-up pull is played.
const pullLasts = 240 * second

// Try plays the made-up pull of a seed.
func Try(seed uint64) (*Result, error) {
	p := Generate(seed)
	s, err := deck.ParseScenario(fmt.Sprintf("seed-%d.txt", seed), []byte(p.Script))
	if err != nil {
		return nil, err
	}
	r, t, err := newRig(s, seed)
	if err != nil {
		return nil, err
	}
	res := &Result{Pull: p}
	ref := newReferee(t)
	ref.healthy = len(p.Faults) == 0
	ref.vessel = vesselOnly(p.Faults)
	ref.fairlead = p.Fairlead
	r.heard = func(port string, at int64, raw []byte) {
		s := r.sim.State()
		ref.hears(port, at, raw, float64(s.Tension), float64(s.X))
	}
	var rises []int64
	var most trial.Force // of the true tension since the stage began
	r.record = func() {
		g := r.state()
		for _, say := range r.dry.Said() {
			res.note(say, &g, ref, most, &rises)
		}
		ref.sees(r.t, &g)
		world := r.sim.State()
		most = max(most, world.Tension)
		if g.Stop.Kind != safety.NoStop && r.t-g.Stop.At > second/10 && world.RelayClosed && world.Stop.Plugged {
			res.Closed = append(res.Closed, fmt.Sprintf("%.3f s: %v in force since %.3f s", float64(r.t)/1e9, g.Stop.Cause, float64(g.Stop.At)/1e9))
		}
	}
	d := director{r: r, ref: ref, dice: rand.New(rand.NewPCG(seed, 2)), callAt: -1}
	if d.dice.IntN(8) == 0 {
		d.callAt = int64(20+d.dice.IntN(120)) * second
	}
	d.holds = p.Holds
	d.preset = !d.holds && d.dice.IntN(3) == 0
	for t := int64(0); t < pullLasts; t += second / 10 {
		r.advance(t)
		d.look()
	}
	res.Records, res.Seconds = r.dry.Snapshot().N, float64(pullLasts)/1e9
	res.Kinds = ref.kinds
	res.Due, res.Missed, res.Late, res.Worst = ref.Due, ref.Missed, ref.Late, ref.Worst
	res.Warnings = len(rises)
	res.Flood = mostInTen(rises)
	return res, nil
}

// mostInTen is the most of these times that lie within ten minutes.
func mostInTen(rises []int64) (most int) {
	for i, first := range rises {
		n := 0
		for _, at := range rises[i:] {
			if at-first <= 600*second {
				n++
			}
		}
		most = max(most, n)
	}
	return most
}

// vesselOnly says whether all that goes wrong is that the vessel moves: every
// instrument tells the truth.
func vesselOnly(faults []string) bool {
	for _, f := range faults {
		if !strings.Contains(f, "surge") && !strings.Contains(f, "drift") {
			return false
		}
	}
	return len(faults) > 0
}

// note counts a word of the fold.
func (res *Result) note(say logfmt.Record, g *safety.State, ref *referee, most trial.Force, rises *[]int64) {
	switch say.Str("what") {
	case "alarm-up":
		*rises = append(*rises, say.T)
		text := fmt.Sprintf("%.3f s: %s", float64(say.T)/1e9, say.Str("text"))
		res.rose = append(res.rose, text)
		if c := say.Str("cause"); c == safety.LoadNoisy.String() && !res.has("wet") && !res.has("unit") || c == safety.LoadUnit.String() && !res.has("unit") {
			res.Misnamed = append(res.Misnamed, text)
		}
	case "stop-set", "stop-more":
		cause := say.Str("cause")
		if say.Str("kind") != "trip" || len(res.Faults) > 0 || cause == "person-stop" {
			return
		}
		if (cause == "tension-limit" || cause == "wll-share") && float64(most) >= 0.99*ref.limit() {
			return
		}
		res.False = append(res.False, fmt.Sprintf("%.3f s: %s", float64(say.T)/1e9, say.Str("text")))
	}
}

// has says whether a kind of fault is among those of the pull.
func (p *Pull) has(kind string) bool {
	return slices.ContainsFunc(p.Faults, func(f string) bool { return strings.Contains(f, ": "+kind+" ") })
}

// director presses what a director may press, without much thought, and the
// winch operator does what the screen says. A refusal is an answer like any
// other.
type director struct {
	r       *rig
	ref     *referee
	dice    *rand.Rand
	callAt  int64
	preset  bool
	holds   bool
	next    int64 // nothing is pressed before
	step    int
	lever   string
	pulling bool
	rearms  int
}

var beforeArming = []session.Act{
	{Who: safety.Director, What: session.ActZero},
	{Who: safety.Director, What: session.ActWaive, Value: "weight no known weight aboard (invented)"},
	{Who: safety.Director, What: session.ActDepth, Value: "6 m"},
	{Who: safety.Director, What: session.ActPayout, Value: "40 m"},
	{Who: safety.Director, What: session.ActRead},
	{Who: safety.WinchOperator, What: session.ActReady, Value: "line clear"},
	{Who: safety.Logger, What: session.ActReady, Value: "logging, all live"},
	{Who: safety.Director, What: session.ActReady, Value: "limits read"},
	{Who: safety.Director, What: session.ActArm},
}

func (d *director) look() {
	g, t := d.r.state(), d.r.t
	d.operate(&g)
	if t == d.callAt || d.callAt >= 0 && t > d.callAt {
		d.callAt = -1
		d.ref.called(t)
		d.press(session.Act{Who: safety.WinchOperator, What: session.ActStop})
		return
	}
	if t < d.next || t < 2*second {
		return
	}
	d.next = t + second/2 + int64(d.dice.IntN(4))*second/2
	switch {
	case d.step < len(beforeArming):
		o := d.press(beforeArming[d.step])
		if d.step == 0 {
			d.ref.zero = float64(d.r.dry.Snapshot().Zero.Force)
		}
		if o.Refused == "" || d.step == 0 {
			d.step++
		}
		d.next = t + second/5
	case g.Stop.Kind == safety.NoStop && !d.pulling:
		d.pulling = true
		stage := trial.Pull
		if d.preset {
			stage = trial.Preset
		}
		d.press(session.Act{What: session.ActStage, Stage: stage})
	case d.holds && g.Stop.Kind == safety.NoStop && g.Stage == trial.Pull && t > 40*second:
		d.holds = false
		d.press(session.Act{What: session.ActStage, Stage: trial.Hold})
	case g.Stop.Kind == safety.PlannedEnd && g.Stage == trial.Preset:
		d.press(session.Act{What: session.ActStage, Stage: trial.Pull})
	case g.Stop.Kind == safety.PlannedEnd && t-g.Stop.At > 20*second:
		d.press(session.Act{What: session.ActStage, Stage: trial.Ease})
	case g.Stop.Kind == safety.Trip && !g.Stop.Acked:
		d.press(session.Act{What: session.ActAck})
	case g.Stop.Kind == safety.Trip && d.rearms < 3:
		d.rearms++
		d.press(session.Act{What: session.ActRearm, Stage: trial.Pull})
	case g.Stop.Kind == safety.Trip && g.Stage != trial.Ease:
		d.press(session.Act{What: session.ActStage, Stage: trial.Ease})
	case g.Stop.Kind == safety.Trip:
		d.press(session.Act{What: session.ActRearm, Stage: trial.Stopped})
	}
}

func (d *director) press(a session.Act) session.Outcome {
	if a.Who == safety.Nobody {
		a.Who = safety.Director
	}
	a.Name = "dry run"
	return d.r.act(a)
}

// operate puts the lever where the screen says.
func (d *director) operate(g *safety.State) {
	if !d.r.sim.State().Done {
		return // the cell is not yet in the rode
	}
	lever := "stop"
	switch {
	case g.Order == safety.OrderEase || g.Stage == trial.Ease:
		lever = "ease"
		if g.TensionKnown() && g.Load.Tension < 300 {
			lever = "stop"
		}
	case g.Permit:
		lever = "haul"
	}
	if lever != d.lever {
		d.lever = lever
		_ = d.r.sim.Order(lever)
	}
}

// Summary is what came of many pulls.
type Summary struct {
	Kinds            map[string]int // of the stops that were due
	Pulls, FaultFree int
	Due              int
	Missed, Late     int
	False, Closed    int
	Misnamed         int   // pulls in which a noisy number or a changed unit was said without either
	Worst            int64 // ns
	Records          uint64
	Seconds          float64 // of the pulls' own time
	warnings, clean  []int   // alarms a pull, sorted; clean: of those without a fault
	Flood            int
	Bad              []*Result // the first of them
}

// Survey plays the pulls of n seeds from first on, on so many workers, and
// reports each as it is done; report may be nil, and ends the survey when it
// returns false.
func Survey(first uint64, n, workers int, report func(*Result) bool) (*Summary, error) {
	var sum Summary
	var mu sync.Mutex
	var fault error
	var wg sync.WaitGroup
	next, over := first, false
	for range max(1, workers) {
		wg.Go(func() {
			for {
				mu.Lock()
				seed := next
				if seed-first >= uint64(n) || fault != nil || over {
					mu.Unlock()
					return
				}
				next++
				mu.Unlock()
				res, err := Try(seed)
				mu.Lock()
				if err != nil {
					fault = fmt.Errorf("seed %d: %w", seed, err)
				} else {
					sum.add(res)
					over = over || report != nil && !report(res)
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	slices.Sort(sum.warnings)
	slices.Sort(sum.clean)
	return &sum, fault
}

func (s *Summary) add(r *Result) {
	s.Pulls++
	if len(r.Faults) == 0 {
		s.FaultFree++
	}
	s.Due += r.Due
	for kind, n := range r.Kinds {
		if s.Kinds == nil {
			s.Kinds = map[string]int{}
		}
		s.Kinds[kind] += n
	}
	s.Missed += len(r.Missed)
	s.Late += len(r.Late)
	s.False += len(r.False)
	s.Closed += len(r.Closed)
	if len(r.Misnamed) > 0 {
		s.Misnamed++
	}
	s.Worst = max(s.Worst, r.Worst)
	s.Records += r.Records
	s.Seconds += r.Seconds
	s.warnings = append(s.warnings, r.Warnings)
	if len(r.Faults) == 0 {
		s.clean = append(s.clean, r.Warnings)
	}
	s.Flood = max(s.Flood, r.Flood)
	if r.Bad() && len(s.Bad) < 10 {
		s.Bad = append(s.Bad, r)
	}
}

// Alarms is how many alarms rose in a pull, at a share of the pulls: 0.5 the
// median, 1 the most.
func (s *Summary) Alarms(share float64) int { return at(s.warnings, share) }

// CleanAlarms is the same of the pulls with no fault.
func (s *Summary) CleanAlarms(share float64) int { return at(s.clean, share) }

func at(sorted []int, share float64) int {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[min(len(sorted)-1, int(share*float64(len(sorted))))]
}

// Story is a bad pull in words, with its script.
func (r *Result) Story() string {
	var b strings.Builder
	fmt.Fprintf(&b, "seed %d, faults: %s\n", r.Seed, strings.Join(r.Faults, "; "))
	for _, part := range []struct {
		what string
		list []string
	}{{"missed stop", r.Missed}, {"late stop", r.Late}, {"false trip", r.False}, {"relay closed under a stop", r.Closed}, {"misnamed", r.Misnamed}} {
		for i, s := range part.list {
			if i < 3 {
				fmt.Fprintf(&b, "  %s: %s\n", part.what, s)
			}
		}
	}
	return b.String()
}
