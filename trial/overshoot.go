package trial

import (
	"fmt"
	"time"
)

// confirmAlone is how long a single sample at a limit waits for a second one.
const confirmAlone = 300 * time.Millisecond

// Times are how long line still comes in once the tension has reached a stop
// limit.
type Times struct {
	Confirm  time.Duration // until the guard is sure, at the longest: two samples, or one and 0.3 s
	Reaction time.Duration // of a hand at the winch
	Window   time.Duration // until the relay has opened by itself, at the longest
	RunOn    time.Duration // until the drum stands
}

// ByHand is the time when a person stops the winch at the call.
func (t Times) ByHand() time.Duration { return t.Confirm + t.Reaction + t.RunOn }

// ByRelay is the time when the stop output alone takes haul away.
func (t Times) ByRelay() time.Duration { return t.Confirm + t.Window + t.RunOn }

// StopTimes are the times of the trial's load box, stop output and winch.
func (t *Trial) StopTimes() Times {
	out := Times{Reaction: t.Winch.Reaction, Window: t.Stop.Window, RunOn: t.Winch.RunOn}
	if t.Load.Rate > 0 {
		period := time.Duration(float64(time.Second) / float64(t.Load.Rate))
		out.Confirm = period + min(period, confirmAlone)
	}
	return out
}

// Reach is how far a tension gets past its stop limit on a snag.
type Reach struct {
	After  time.Duration // from the limit until no line comes in
	Over   Force         // above the limit
	Top    Force         // the limit and what is above it
	Margin Force         // weakest WLL less Top: negative where Top is past it
}

// Snag is the rode, snagged and taut, with so much of it out.
type Snag struct {
	Out       Length
	Why       string  // what makes it that much, in the units to show
	Stiffness float64 // EA/L in series, N/m
	Slope     float64 // of the tension at the speed of hauling, N/s
	Hand      Reach
	Relay     Reach
}

// Overshoot is what a snag does in one stage of the runs that are alike.
type Overshoot struct {
	Stage Stage
	Runs  []string // their ids
	Speed Speed
	Stop  Force     // the tension at which the stage stops
	By    LimitSaid // the limit that gives it
	WLL   Force     // the weakest; 0: none is known, then Margin says nothing

	Payout Snag // at the planned payout
	Least  Snag // at the least rode out the limits allow
}

// Governs is the worse of the two moments: the stiffer one.
func (o Overshoot) Governs() Snag {
	if o.Least.Stiffness > o.Payout.Stiffness {
		return o.Least
	}
	return o.Payout
}

// Covered says whether the margin under the weakest WLL takes the overshoot, by
// hand and at the worse moment. Without a WLL it does not.
func (o Overshoot) Covered() bool { return o.WLL > 0 && o.Governs().Hand.Margin >= 0 }

// StopAtMost is the highest stop limit whose overshoot stays within the WLL; it
// is not above 0 where no limit does at this speed.
func (o Overshoot) StopAtMost() Force { return o.WLL - o.Governs().Hand.Over }

// SpeedAtMost is the fastest haul at which the stop limit as it is stays within
// the WLL; 0 where there is none.
func (o Overshoot) SpeedAtMost() Speed {
	g := o.Governs()
	if after := g.Hand.After.Seconds(); o.WLL > o.Stop && g.Stiffness > 0 && after > 0 {
		return Speed(float64(o.WLL-o.Stop) / (g.Stiffness * after))
	}
	return 0
}

// Overshoots is what a snag does in each stage that hauls, for each kind of run
// of the plan: those with one payout, speed and depth are told once, and one
// whose payout has no stiffness, or a stage without a stop by tension, not.
//
// The rode is reckoned taut and straight on something that does not give: the
// slope of the tension is EA/L times the speed of hauling, the most it can be.
// Sag and ground make it softer. Swell and the vessel's own movement are not in
// it. Source: springs in series, textbook mechanics, from memory.
func (t *Trial) Overshoots() []Overshoot {
	type kind struct {
		payout Length
		speed  Speed
		height Length
	}
	runs, order := map[kind][]string{}, []kind(nil)
	for _, r := range t.Runs {
		s, _ := t.Station(r.Station)
		k := kind{r.Payout, r.Speed, s.shallowest() + t.Vessel.Fairlead}
		if len(runs[k]) == 0 {
			order = append(order, k)
		}
		runs[k] = append(runs[k], r.ID)
	}
	var out []Overshoot
	_, wll := t.Weakest()
	for _, k := range order {
		for s := range NumStages {
			o := Overshoot{Stage: s, Runs: runs[k], Speed: k.speed, WLL: wll}
			o.Stop, o.By = t.TensionStop(s)
			if !s.Hauls() || o.Stop == 0 {
				continue
			}
			least, why := t.leastOut(s, k.payout, k.height)
			o.Payout = t.snag(o, k.payout, "planned payout")
			o.Least = t.snag(o, least, why)
			if o.Payout.Stiffness > 0 {
				out = append(out, o)
			}
		}
	}
	return out
}

func (s Station) shallowest() Length {
	if s.DepthMin > 0 {
		return s.DepthMin
	}
	return s.Depth
}

// leastOut is the least rode a stage may come to before its planned ends stop
// the haul. Something on the bottom is never nearer than straight under the
// roller.
func (t *Trial) leastOut(s Stage, payout, height Length) (out Length, why string) {
	l, say := t.Limits[s], t.Show.LengthText
	out, why = height, "up and down"
	ends := func(at Length, by string) {
		if at > out && at <= payout {
			out, why = at, by
		}
	}
	if l.ScopeMin > 0 {
		ends(Length(l.ScopeMin)*height, fmt.Sprintf("scope %s, bottom %s down", shortest(l.ScopeMin), say(height)))
	}
	if l.Haul > 0 {
		ends(payout-l.Haul, say(l.Haul)+" hauled")
	}
	for _, j := range t.NoPass() {
		if j.At < payout {
			ends(j.At+t.Vessel.KeepOut, visible(j.Name)+" comes to the roller")
		}
	}
	return min(out, payout), why
}

func (t *Trial) snag(o Overshoot, out Length, why string) Snag {
	s := Snag{Out: out, Why: why}
	s.Stiffness, _ = t.Stiffness(out)
	s.Slope = s.Stiffness * float64(o.Speed)
	reach := func(after time.Duration) Reach {
		over := Force(s.Slope * after.Seconds())
		return Reach{After: after, Over: over, Top: o.Stop + over, Margin: o.WLL - o.Stop - over}
	}
	times := t.StopTimes()
	s.Hand, s.Relay = reach(times.ByHand()), reach(times.ByRelay())
	return s
}
