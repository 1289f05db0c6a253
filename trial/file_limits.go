package trial

import (
	"cmp"
	"math"
	"time"
)

// limitSet is limits as one table of the file gives them, with the path of
// each key that stands there.
type limitSet struct {
	Limits
	at map[string]string // "tension_stop" -> "limits.pull.tension_stop"
}

// The keys of a limits table. Those in plannedEnds end a stage as planned;
// said for every stage at once they reach pull and hold only.
const (
	kTensionWarn    = "tension_warn"
	kTensionStop    = "tension_stop"
	kWLLWarn        = "wll_warn"
	kWLLStop        = "wll_stop"
	kSoonWarn       = "soon_warn"
	kSoonStop       = "soon_stop"
	kTensionEnd     = "tension_end"
	kHaul           = "haul"
	kScopeMin       = "scope_min"
	kDuration       = "duration"
	kComeUp         = "come_up"
	kSilentWarn     = "silent_warn"
	kSilentStop     = "silent_stop"
	kLineSilentWarn = "line_silent_warn"
	kLineSilentStop = "line_silent_stop"
)

// Bounds on silence. No guard waits longer than five seconds for the load,
// whatever its rate; common practice, no source. The line's is chosen here.
const (
	maxSilence     = 5 * time.Second
	maxLineSilence = 30 * time.Second
)

func (r *fileReader) readLimitTable(v *fileTable) limitSet {
	s := limitSet{at: map[string]string{}}
	opt := func(name, what, eg string) ask {
		if _, have := v.n.vals[name]; have {
			s.at[name] = v.key(name)
		}
		return ask{name: name, what: what, eg: eg, optional: true}
	}
	s.TensionWarn = quantity(v, opt(kTensionWarn, "the tension at which to warn", `"6.4 kN"`), ParseForce, loadBounds)
	s.TensionStop = quantity(v, opt(kTensionStop, "the tension at which to stop", `"8.0 kN"`), ParseForce, loadBounds)
	s.WLLWarn = v.number(opt(kWLLWarn, "the share of the weakest WLL at which to warn", "0.64"), 0, 1)
	s.WLLStop = v.number(opt(kWLLStop, "the share of the weakest WLL at which to stop", "0.8"), 0, 1)
	s.SoonWarn = v.duration(opt(kSoonWarn, "the time left to the tension stop at which to warn", `"3 s"`), 100*time.Millisecond, time.Minute)
	s.SoonStop = v.duration(opt(kSoonStop, "the time left to the tension stop at which to stop already", `"1 s"`), 100*time.Millisecond, time.Minute)
	s.TensionEnd = quantity(v, opt(kTensionEnd, "the tension at which the stage has done its work", `"0.7 kN"`), ParseForce, loadBounds)
	s.Haul = quantity(v, opt(kHaul, "the line to haul in the stage", `"30 m"`), ParseLength, bounds{above: true, most: 20e3, mostSay: "20 km"})
	scope := opt(kScopeMin, "the least scope, incl. roller height", "4.0")
	if s.ScopeMin = v.number(scope, 0, 1000); s.ScopeMin != 0 && s.ScopeMin < 1 {
		v.fail(scope, shortest(s.ScopeMin)+" is under 1: such a rode does not reach the bottom")
	}
	s.Duration = v.duration(opt(kDuration, "the longest time in the stage", `"20 min"`), time.Second, 240*time.Hour)
	s.ComeUp = v.number(opt(kComeUp, "how many times the tension stop of recover may be pulled before a warning", "1.0"), 0, 100)
	s.SilentWarn = v.duration(opt(kSilentWarn, "how long without the load before a warning", `"1 s"`), 10*time.Millisecond, maxSilence)
	s.SilentStop = v.duration(opt(kSilentStop, "how long without the load before a stop", `"2 s"`), 10*time.Millisecond, maxSilence)
	s.LineSilentWarn = v.duration(opt(kLineSilentWarn, "how long without the line count before a warning", `"2 s"`), 10*time.Millisecond, maxLineSilence)
	s.LineSilentStop = v.duration(opt(kLineSilentStop, "how long without the line count before a stop", `"5 s"`), 10*time.Millisecond, maxLineSilence)
	return s
}

func (r *fileReader) readLimits(t *Trial, v *fileTable) LimitKeys {
	base := r.readLimitTable(v)
	var own [NumStages]limitSet
	for _, name := range v.n.keys {
		n := v.n.vals[name]
		s, err := ParseStage(name)
		if err != nil {
			continue // another key, or none: done names it
		}
		sub := v.table(name, "the limits of this stage", true)
		if sub == nil {
			continue
		}
		if own[s].at != nil {
			v.r.fail(n.line, sub.path, "is a second table for the stage "+s.String(), "put its keys under one header")
			continue
		}
		own[s] = r.readLimitTable(sub)
		sub.done()
		if r.stray[sub.path] {
			r.stray["limits."+s.Key()] = true // however the file spells it
		}
		refuse := func(k string, holds bool, want string) {
			if at, have := own[s].at[k]; have && !holds {
				r.failAt(at, "does not exist in "+s.String(), want)
			}
		}
		refuse(kHaul, s.EndsByHaul(), "take it out: this stage is not ended by line hauled or scope")
		refuse(kScopeMin, s.EndsByHaul(), "take it out: this stage is not ended by line hauled or scope")
		refuse(kTensionEnd, s.endsByTension(), "take it out: only preset and pull are ended by a tension they reach")
		refuse(kComeUp, s.mayBuryIt(), "take it out: it warns in preset, pull and hold")
	}
	if at, have := base.at[kTensionEnd]; have {
		r.failAt(at, "cannot be said of every stage", "move it to [limits.preset] or [limits.pull], the stages it can end")
	}
	for s := range NumStages {
		v.asked = append(v.asked, s.Key())
	}
	v.done()

	var from LimitKeys
	for s := range NumStages {
		t.Limits[s], from[s] = base.forStage(s, own[s])
		t.Limits[s].fillSilence(t.Load.Rate)
		t.Limits[s].fillSoon()
		if s.mayBuryIt() {
			t.Limits[s].ComeUp = cmp.Or(t.Limits[s].ComeUp, defaultComeUp)
		}
	}
	return from
}

// forStage lays a stage's own limits over those said for every stage.
func (base limitSet) forStage(s Stage, own limitSet) (Limits, map[string]string) {
	l, at := base.Limits, map[string]string{}
	for k, path := range base.at {
		at[k] = path
	}
	l.TensionEnd = 0
	delete(at, kTensionEnd)
	if s != Pull && s != Hold {
		l.Haul, l.ScopeMin, l.Duration = 0, 0, 0
		delete(at, kHaul)
		delete(at, kScopeMin)
		delete(at, kDuration)
	}
	if !s.mayBuryIt() {
		l.ComeUp = 0
		delete(at, kComeUp)
	}
	for k, path := range own.at {
		at[k] = path
	}
	over(&l.TensionWarn, own.TensionWarn)
	over(&l.TensionStop, own.TensionStop)
	over(&l.WLLWarn, own.WLLWarn)
	over(&l.WLLStop, own.WLLStop)
	over(&l.SoonWarn, own.SoonWarn)
	over(&l.SoonStop, own.SoonStop)
	over(&l.TensionEnd, own.TensionEnd)
	over(&l.Haul, own.Haul)
	over(&l.ScopeMin, own.ScopeMin)
	over(&l.Duration, own.Duration)
	over(&l.ComeUp, own.ComeUp)
	over(&l.SilentWarn, own.SilentWarn)
	over(&l.SilentStop, own.SilentStop)
	over(&l.LineSilentWarn, own.LineSilentWarn)
	over(&l.LineSilentStop, own.LineSilentStop)
	return l, at
}

// over replaces a limit where the stage says its own.
func over[T comparable](dst *T, own T) {
	var unsaid T
	if own != unsaid {
		*dst = own
	}
}

// fillSilence puts in the silence times that were not said. For the load,
// warn after max(1 s, 3 periods) and stop after max(2 s, 5 periods), never
// above 5 s; for the line 2 s and 5 s. Common practice, no source.
func (l *Limits) fillSilence(rate Rate) {
	periods := func(n float64, least time.Duration) time.Duration {
		if !(rate > 0) {
			return least
		}
		d := time.Duration(math.Ceil(math.Min(n/float64(rate), maxSilence.Seconds()) * float64(time.Second)))
		return min(max(least, d), maxSilence)
	}
	fillPair(&l.SilentWarn, &l.SilentStop, periods(3, time.Second), periods(5, 2*time.Second))
	fillPair(&l.LineSilentWarn, &l.LineSilentStop, 2*time.Second, 5*time.Second)
}

// Defaults where the file is silent: common practice, no source.
const (
	defaultSoonWarn = 3 * time.Second
	defaultComeUp   = 1.0
)

// fillSoon puts in the warning before the tension stop where it was not said:
// twice the time of a stop that is itself that early.
func (l *Limits) fillSoon() {
	if l.SoonWarn == 0 {
		l.SoonWarn = defaultSoonWarn
		if l.SoonStop >= l.SoonWarn {
			l.SoonWarn = 2 * l.SoonStop
		}
	}
}

// fillPair puts in the default of a warning and of its stop. A stop that was
// said shorter than the default warning is warned of at half its time.
func fillPair(warn, stop *time.Duration, dWarn, dStop time.Duration) {
	if *stop == 0 {
		*stop = dStop
	}
	if *warn == 0 {
		*warn = dWarn
		if *warn >= *stop {
			*warn = *stop / 2
		}
	}
}
