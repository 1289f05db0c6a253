package dryrun

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"

	"hawse/safety"
	"hawse/trial"
)

// referee decides by itself when a stop was due, from the bytes that were
// delivered and from what the deck knows and no instrument tells. It shares no
// code with the guard beyond its types: it reads the boxes' lines with rules of
// its own and is only sure of what nobody could read otherwise.
type referee struct {
	t     *trial.Trial
	zero  float64 // N, the software zero in force
	stage trial.Stage
	armed bool
	free  bool // no stop is in force

	clean    map[string]bool // the port's last bytes ended a line
	was, now sureSample      // the last two words of the load cell
	between  bool            // something else came since now
	maybe    int64           // last time the load cell may have said something good
	line     int64           // the same of the line encoder
	same     float64         // the number that has come since sameAt...
	sameAt   int64
	sameX    float64   // ...and the true line hauled as it was told then
	count    string    // the last words of the line encoder...
	toldX    float64   // ...and the true line hauled when it first said them: while it is stuck nobody knows of more
	shown    []float64 // the last numbers of the box, as they stood in its lines, one after the other
	past     int       // counts in a row beyond the least scope, by the true line
	healthy  bool      // nothing goes wrong in this pull, so the true line is the counted one
	fairlead float64   // rode out at which hauling must end; 0: not in this pull
	vessel   bool      // nothing goes wrong but that the vessel moves
	course   []place   // of the last seconds, as they truly were
	easeDue  int64     // EASE is due since; -1: it is not
	truth    int64     // since when the true tension is past its limit; -1: it is not

	due    int64 // the earliest stop that is due and has not come; -1: none
	why    string
	causes []safety.Cause
	kinds  map[string]int
	Missed []string
	Late   []string
	Worst  int64 // ns from due to stop, at most
	Due    int
}

type sureSample struct {
	at    int64
	v     float64 // N
	stage trial.Stage
	ok    bool
}

var (
	loadLine = regexp.MustCompile(`^([+-]\d{4}\.\d)(?: kgf)?\r\n$`)
	lineLine = regexp.MustCompile(`^N [+-]\d{7}\r\n$`)
)

// tooHigh are the causes by which a tension at its limit may stop a pull.
var tooHigh = []safety.Cause{safety.TensionLimit, safety.WLLShare, safety.LimitSoon, safety.VesselMoves, safety.LoadOverRange}

const never = math.MaxInt64

// Of every made-up pull: rode out at the start, and the roller above the bottom.
const payout, height = 40.0, 7.5

func newReferee(t *trial.Trial) *referee {
	return &referee{t: t, clean: map[string]bool{"load": true, "line": true}, kinds: map[string]int{}, due: -1, truth: -1, easeDue: -1, sameAt: never}
}

// hears takes the bytes of one port, with what the deck knows: true tension in
// newtons and line hauled in metres.
func (r *referee) hears(port string, at int64, raw []byte, tension, x float64) {
	clean := r.clean[port]
	r.clean[port] = len(raw) > 0 && raw[len(raw)-1] == '\n'
	switch port {
	case "line":
		if !clean || lineLine.Match(raw) {
			r.line = at
		}
		if count := string(raw); count != r.count && clean && lineLine.Match(raw) {
			r.count, r.toldX = count, x
		}
		r.past++
		l := r.t.Limits[r.stage]
		if (l.ScopeMin == 0 || (payout-x)/height > l.ScopeMin-0.001) && payout-x > r.fairlead-0.01 {
			r.past = 0
		}
		if r.past == 2 && r.healthy && r.stage.Hauls() {
			r.needs(at, "end of the lane", fmt.Sprintf(": true scope %.3f, rode out %.2f m", (payout-x)/height, payout-x), safety.MinimumScope, safety.AtFairlead, safety.LineHauled)
		}
	case "load":
		switch m := loadLine.FindSubmatch(raw); {
		case clean && string(raw) == "OL\r\n":
			r.maybe, r.was, r.now, r.sameAt, r.shown = at, sureSample{}, sureSample{}, never, nil
			r.needs(at, "over range", "", safety.LoadOverRange)
		case clean && m != nil:
			kgf, _ := strconv.ParseFloat(string(m[1]), 64)
			r.sample(at, kgf*9.80665-r.zero, r.toldX)
			r.unit(at, kgf)
		default:
			r.between = true
			r.sameAt, r.shown = never, nil
			if !clean {
				r.maybe = at
			}
		}
		r.judgeTruth(at, tension)
		r.judgeVessel(at, tension, x)
	}
}

func (r *referee) sample(at int64, v, x float64) {
	r.was, r.now = r.now, sureSample{at: at, v: v, stage: r.stage, ok: true}
	r.maybe = at
	limit := r.limit()
	if v >= limit && r.was.ok && !r.between && r.was.stage == r.stage && r.was.v >= limit {
		r.needs(at, "tension", fmt.Sprintf(": two samples at %.0f and %.0f N", r.was.v, v), tooHigh...)
	}
	r.between = false
	if r.sameAt == never || v != r.same || r.stage != trial.Pull && r.stage != trial.Preset {
		r.same, r.sameAt, r.sameX = v, at, x
	}
	// Where the rule stops it sooner, nothing is left to be due.
	if at-r.sameAt >= 6e9 && x-r.sameX >= 0.25 && v > 300 { // well past 5 s and 0.2 m
		r.needs(at, "unchanged", fmt.Sprintf(": %.0f N", v), safety.LoadUnchanged)
	}
}

// unit: numbers that stood within 1 %, and from one to the next stand, as level, at
// 2.2046 times as much, are pounds for kilograms. The way back is no new fault.
func (r *referee) unit(at int64, number float64) {
	period := int64(1e9 / float64(r.t.Load.Rate))
	if at-r.was.at > 3*period/2 || r.was.stage != r.stage || !r.armed {
		r.shown = nil // something was left out
	}
	r.shown = append(r.shown, number)
	if len(r.shown) < 8 {
		return
	}
	r.shown = r.shown[len(r.shown)-8:]
	before, after := r.shown[:5], r.shown[5:]
	level := func(v []float64) bool { return slices.Min(v) > 30 && slices.Max(v)/slices.Min(v) < 1.01 }
	if ratio := after[1] / before[2]; level(before) && level(after) && slices.Min(before) < slices.Max(before) && math.Abs(ratio/2.2046-1) < 0.01 {
		r.needs(at, "unit", fmt.Sprintf(": %v", r.shown), append(slices.Clone(tooHigh), safety.LoadUnit)...)
	}
}

// place is where tension and line truly were.
type place struct {
	at         int64
	tension, x float64
}

// judgeVessel: tension that truly rises by a fifth of its limit within ten
// seconds, twice what the rule asks, with the line still for all of fifteen,
// must be called EASE within three seconds.
func (r *referee) judgeVessel(at int64, tension, x float64) {
	if !r.vessel {
		return
	}
	for len(r.course) > 0 && (r.course[0].at < at-15e9 || math.Abs(r.course[0].x-x) > 0.002) {
		r.course = r.course[1:]
	}
	r.course = append(r.course, place{at, tension, x})
	if r.easeDue >= 0 || !r.armed || at-r.course[0].at < 14e9 || r.stage == trial.Recover {
		return
	}
	for _, p := range r.course {
		if p.at >= at-10e9 {
			if tension-p.tension >= 0.2*r.limit() {
				r.easeDue = at
				r.kinds["vessel moves"]++
				r.Due++
			}
			return
		}
	}
}

// judgeTruth is about what the cell feels: a healthy box tells it.
func (r *referee) judgeTruth(at int64, tension float64) {
	if !r.healthy && !r.vessel || tension < r.limit()*1.02+100 || !r.now.ok || at-r.now.at > 0 {
		r.truth = -1
		return
	}
	if r.truth < 0 {
		r.truth = at
	}
	if period := int64(1e9 / float64(r.t.Load.Rate)); at-r.truth >= 3*period {
		r.needs(at, "tension", fmt.Sprintf(": true tension %.0f N since %.1f s", tension, float64(at-r.truth)/1e9), tooHigh...)
	}
}

func (r *referee) limit() float64 {
	l := r.t.Limits[r.stage]
	_, wll := r.t.Weakest()
	limit := math.Inf(1)
	if l.TensionStop > 0 {
		limit = float64(l.TensionStop)
	}
	if l.WLLStop > 0 {
		limit = min(limit, l.WLLStop*float64(wll))
	}
	return limit
}

// called says that a person has called stop.
func (r *referee) called(at int64) { r.needs(at, "a call", "", safety.PersonStop) }

// needs says that a stop is due, for one of these causes if nothing else came
// first.
func (r *referee) needs(at int64, kind, why string, causes ...safety.Cause) {
	if !r.armed || !r.free || r.due >= 0 {
		return
	}
	r.due, r.why, r.causes = at, kind+why, causes
	r.kinds[kind]++
	r.Due++
}

// sees takes the guard's state after the record at that time, and holds it
// against what was due.
func (r *referee) sees(at int64, s *safety.State) {
	l := r.t.Limits[r.stage]
	if r.now.ok && r.now.v >= r.limit() && !r.between && at >= r.now.at+300e6 && r.now.stage == r.stage {
		r.needs(r.now.at+300e6, "tension", ": one sample that stood alone", tooHigh...)
	}
	if at >= r.maybe+int64(l.SilentStop) {
		r.needs(r.maybe+int64(l.SilentStop), "load cell silent", "", safety.LoadSilent, safety.LoadGarbled)
	}
	if r.stage.Hauls() && at >= r.line+int64(l.LineSilentStop) {
		r.needs(r.line+int64(l.LineSilentStop), "line encoder silent", "", safety.LineSilent)
	}
	stopped := s.Stop.Kind != safety.NoStop
	if r.due >= 0 && stopped {
		late := max(0, s.Stop.At-r.due)
		// A stop for something else that came before is one too.
		if s.Stop.At >= r.due && !slices.Contains(r.causes, s.Stop.Cause) && !slices.Contains(r.causes, s.Stop.Later) {
			r.Missed = append(r.Missed, fmt.Sprintf("%.3f s: %s, but the stop is for %v", float64(r.due)/1e9, r.why, s.Stop.Cause))
		}
		r.Worst = max(r.Worst, late)
		if period := int64(1e9 / float64(r.t.Load.Rate)); late > period {
			r.Late = append(r.Late, fmt.Sprintf("%.3f s: %s, stop %.3f s later", float64(r.due)/1e9, r.why, float64(late)/1e9))
		}
		r.due = -1
	}
	if r.due >= 0 && at-r.due > 1e9 {
		r.Missed = append(r.Missed, fmt.Sprintf("%.3f s: %s", float64(r.due)/1e9, r.why))
		r.due = -1
	}
	switch {
	case r.easeDue < 0:
	case s.Order >= safety.OrderEase || s.Stage == trial.Recover || s.Stage != r.stage:
		r.easeDue = -1
	case at-r.easeDue > 3e9:
		r.Missed = append(r.Missed, fmt.Sprintf("%.3f s: true tension rises with no haul, and the order is %v", float64(r.easeDue)/1e9, s.Order))
		r.easeDue = -1
	}
	if s.Stage != r.stage {
		r.stage = s.Stage
		r.truth, r.sameAt = -1, never
		r.now.ok = false // two samples of one stage are wanted
	}
	r.armed, r.free = s.EverArmed, !stopped
}
