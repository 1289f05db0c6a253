package trial

import "math"

// What of the rode out at up and down may be no line in the ground, where the
// trial file does not say how much: common practice, no source. The roller of a
// workboat is 0.1 to 0.3 m across; the shank of an anchor of 10 to 50 kg measures
// 0.5 to 1 m.
const (
	rollerMost = 0.3 // m
	shankMost  = 1.0 // m
)

// burial is the estimate at up and down. What the trial file says of roller and
// shank is taken off; what it does not say is not, and makes the estimate so
// uncertain.
func (f *pullFold) burial(k *recoveryFold) Figure {
	vessel := &f.trial.Vessel
	anchor, _ := f.trial.Anchor(f.run.Anchor)
	e := DefaultBurialError
	b := BurialAtUpAndDown(k.out, k.height, vessel.Roller+anchor.Shank, e)
	parts := Budget(nil)
	for _, p := range []struct {
		name string
		by   Length
	}{{"depth", e.Depth}, {"line count", e.Count}, {"lead not quite vertical", e.Lead}} {
		parts = parts.and(p.name, Normal, float64(p.by)/bearing, "half of a band of "+p.by.String()+": "+whyPractice)
	}
	note := ""
	open := func(said bool, what string, most float64) {
		if !said {
			parts = parts.and(what+", not said", Rectangle, most/math.Sqrt(12), "0 to "+Length(most).String()+" that is not taken off: "+whyPractice)
			note = withNote(note, what+" not in the trial file, not taken off")
		}
	}
	open(vessel.HasRoller, "roller", rollerMost)
	open(anchor.HasShank, "shank", shankMost)
	out := figureOf(known(float64(b.Depth), parts))
	if out.Note = note; !(float64(b.Depth) > bearing*parts.U()) {
		out.Note = withNote(note, "not resolved: no more than its own band")
	}
	return out
}
