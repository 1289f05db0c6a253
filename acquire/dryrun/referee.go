package dryrun

import (
	"fmt"
	"math"
	"regexp"
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
	sameX    float64 // ...and the true line hauled then
	past     int     // counts in a row beyond the least scope, by the true line
	healthy  bool    // nothing goes wrong in this pull, so the true line is the counted one
	truth    int64   // since when the true tension is past its limit; -1: it is not

	due    int64 // the earliest stop that is due and has not come; -1: none
	why    string
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
	loadLine = regexp.MustCompile(`^([+-]\d{4}\.\d) kgf\r\n$`)
	lineLine = regexp.MustCompile(`^N [+-]\d{7}\r\n$`)
)

const never = math.MaxInt64

// Of every made-up pull: rode out at the start, and the roller above the bottom.
const payout, height = 40.0, 7.5

func newReferee(t *trial.Trial) *referee {
	return &referee{t: t, clean: map[string]bool{"load": true, "line": true}, due: -1, truth: -1, sameAt: never}
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
		r.past++
		if l := r.t.Limits[r.stage]; l.ScopeMin == 0 || (payout-x)/height > l.ScopeMin-0.001 {
			r.past = 0
		}
		if r.past == 2 && r.healthy && r.stage.Hauls() {
			r.needs(at, fmt.Sprintf("true scope %.3f", (payout-x)/height))
		}
	case "load":
		switch m := loadLine.FindSubmatch(raw); {
		case clean && string(raw) == "OL\r\n":
			r.maybe, r.was, r.now, r.sameAt = at, sureSample{}, sureSample{}, never
			r.needs(at, "over range")
		case clean && m != nil:
			kgf, _ := strconv.ParseFloat(string(m[1]), 64)
			r.sample(at, kgf*9.80665-r.zero, x)
		default:
			r.between = true
			r.sameAt = never
			if !clean {
				r.maybe = at
			}
		}
		r.judgeTruth(at, tension)
	}
}

func (r *referee) sample(at int64, v, x float64) {
	r.was, r.now = r.now, sureSample{at: at, v: v, stage: r.stage, ok: true}
	r.maybe = at
	limit := r.limit()
	if v >= limit && r.was.ok && !r.between && r.was.stage == r.stage && r.was.v >= limit {
		r.needs(at, fmt.Sprintf("two samples at %.0f and %.0f N", r.was.v, v))
	}
	r.between = false
	if r.sameAt == never || v != r.same || r.stage != trial.Pull && r.stage != trial.Preset {
		r.same, r.sameAt, r.sameX = v, at, x
	}
	if at-r.sameAt >= 6e9 && x-r.sameX >= 0.25 && v > 300 { // well past 5 s and 0.2 m
		r.needs(at, fmt.Sprintf("%.0f N unchanged", v))
	}
}

// judgeTruth is about what the cell feels: a healthy box tells it.
func (r *referee) judgeTruth(at int64, tension float64) {
	if tension < r.limit()*1.02+100 || !r.now.ok || at-r.now.at > 0 {
		r.truth = -1
		return
	}
	if r.truth < 0 {
		r.truth = at
	}
	if period := int64(1e9 / float64(r.t.Load.Rate)); at-r.truth >= 3*period {
		r.needs(at, fmt.Sprintf("true tension %.0f N since %.1f s", tension, float64(at-r.truth)/1e9))
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
func (r *referee) called(at int64) { r.needs(at, "a call") }

func (r *referee) needs(at int64, why string) {
	if !r.armed || !r.free || r.due >= 0 {
		return
	}
	r.due, r.why = at, why
	r.Due++
}

// sees takes the guard's state after the record at that time, and holds it
// against what was due.
func (r *referee) sees(at int64, s *safety.State) {
	l := r.t.Limits[r.stage]
	if r.now.ok && r.now.v >= r.limit() && !r.between && at >= r.now.at+300e6 && r.now.stage == r.stage {
		r.needs(r.now.at+300e6, "one sample that stood alone")
	}
	if at >= r.maybe+int64(l.SilentStop) {
		r.needs(r.maybe+int64(l.SilentStop), "load cell silent")
	}
	if r.stage.Hauls() && at >= r.line+int64(l.LineSilentStop) {
		r.needs(r.line+int64(l.LineSilentStop), "line encoder silent")
	}
	stopped := s.Stop.Kind != safety.NoStop
	if r.due >= 0 && stopped {
		late := max(0, s.Stop.At-r.due)
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
	if s.Stage != r.stage {
		r.stage = s.Stage
		r.truth, r.sameAt = -1, never
		r.now.ok = false // two samples of one stage are wanted
	}
	r.armed, r.free = s.EverArmed, !stopped
}
