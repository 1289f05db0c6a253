package main

import (
	"fmt"
	"math"
	"time"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/trial"
	"hawse/trial/geo"
)

// How the instruments of the vessel are judged at rest: common practice, no
// source, but that a sentence comes up to a second after the time it says.
const (
	aidOften   = 0.5             // frames a second at least, where the file says no rate
	aidOld     = 3 * time.Second // a last frame older than this is no news
	depthOff   = 0.5             // m, and
	depthShare = 0.05            // share by which sounder and hand may differ
	depthTwice = 0.12            // as near to twice or half is a double echo
	fixSpread  = 3.0             // times its uncertainty a position may spread at rest
	swingMost  = 10 * math.Pi / 180
	satMost    = 1500 * time.Millisecond
)

// aids is depth, position and heading, where the file has them. None of them
// stops a pull but a depth that is wrong, and that may be entered by hand.
func (k *checks) aids() {
	a := &k.seen.last.Aids
	for _, ins := range k.t.Instruments()[2:] {
		s := map[string]*session.Stream{trial.TableDepth: &a.Depth, trial.TablePosition: &a.Position, trial.TableHeading: &a.Heading, trial.TableClock: &a.Clock}[ins.Table]
		if s == nil || !k.aidStream(ins, s) { // a load cell is none of them
			continue
		}
		switch ins.Table {
		case trial.TableDepth:
			k.sounder(a)
		case trial.TablePosition:
			k.position(a)
		case trial.TableHeading:
			k.heading(a)
		}
	}
}

// aidStream is whether an instrument is heard: its port, frames, rate and age. It
// says whether there is a value to judge.
func (k *checks) aidStream(ins trial.Instrument, s *session.Stream) bool {
	name := ins.Table + " heard"
	if ins.Wire.On == "" && s.State != acquire.StateOpen {
		k.add(name, checkLook, portText(s), "plug it in, or correct port= in ["+ins.Table+"]; hawse ports lists them")
		return false
	}
	if s.Good == 0 {
		value, port := "not a frame", s.Port
		if s.Bad > 0 {
			value = fmt.Sprintf("none of %d fits; the last %s", s.Bad, s.LastText)
		}
		do := "is it on, is baud= right? hawse listen " + port
		if ins.Wire.On != "" {
			do = "does the box of [" + ins.Wire.On + "] send it?"
		}
		k.add(name, checkLook, value, do)
		return false
	}
	rate, want := float64(s.Good)/k.seen.long.Seconds(), aidOften
	if ins.Rate > 0 && ins.Wire.Polled() {
		want = 0.8 * float64(ins.Rate)
	}
	age := time.Duration(k.seen.last.T - s.LastAt)
	share := float64(s.Bad) / float64(s.Good+s.Bad)
	value := fmt.Sprintf("%.1f a second, %.0f %% bad, the last %.1f s old: %s", rate, 100*share, age.Seconds(), s.LastText)
	switch {
	case age > aidOld:
		k.add(name, checkLook, value, "it has gone silent: is it on, is the plug in?")
	case rate < want:
		k.add(name, checkLook, value, fmt.Sprintf("%.1f a second at least is wanted: set the box", want))
	default:
		k.add(name, either(share <= 0.1, checkLook), value, "check the cable and baud=")
	}
	return true
}

// sounder holds the depth against the one by hand, or as planned.
func (k *checks) sounder(a *session.Aids) {
	d := a.Sounded
	if k.seen.aids.soundings == 0 || math.IsNaN(float64(d)) {
		k.add("depth value", checkLook, "it tells no depth", "is the transducer in the water? enter the depth by hand in the run")
		return
	}
	st, _ := k.t.Station(k.run.Station)
	say := k.t.Show.LengthText
	against, from := k.hand, "by hand"
	if against == 0 {
		against, from = st.Depth, "planned at "+st.Name
	}
	value := fmt.Sprintf("%s, %s %s", say(round2(d)), say(against), from)
	ratio, off := float64(d/against), math.Abs(float64(d-against))
	switch {
	case k.hand > 0 && (math.Abs(ratio-2) <= 2*depthTwice || math.Abs(ratio-0.5) <= 0.5*depthTwice):
		k.add("depth value", checkLook, value, "about twice or half: a double echo, or feet read as metres?")
	case k.hand > 0:
		k.add("depth value", either(off <= max(depthOff, depthShare*float64(k.hand)), checkLook), value,
			"they differ: sound by hand again; transducer= in [depth] is how deep it hangs")
	default:
		least, most := st.DepthMin, st.DepthMax
		if least == 0 {
			least = st.Depth / 2
		}
		if most == 0 {
			most = 3 * st.Depth / 2
		}
		k.add("depth value", either(d >= least && d <= most, checkLook), value, "is this the station, is its unit right? sound by hand")
	}
	if k.hand == 0 {
		k.add("depth by hand", checkLook, "not held against it", `sound by hand and say --depth "6.2 m"`)
	}
}

// fixWords are the qualities of a fix as GGA numbers them.
var fixWords = map[int]string{0: "no fix", 1: "a fix by satellites", 2: "a differential fix", 3: "a precise fix", 4: "a fix by carrier phase, fixed", 5: "a fix by carrier phase, floating",
	6: "estimated, no fix", 7: "typed in, no fix", 8: "simulated, no fix"}

// position is the fix, how it rests, and whether it is near where it should be.
func (k *checks) position(a *session.Aids) {
	fixes := k.seen.aids.fixes
	quality, ok := fixWords[a.Quality]
	if !ok {
		quality = fmt.Sprintf("quality %d", a.Quality)
	}
	if len(fixes) == 0 || math.IsNaN(a.Lat) || a.Quality < 1 || a.Quality > 5 {
		k.add("position fix", checkLook, quality, "has the antenna a view of the sky? wait for a fix")
		return
	}
	now := fixes[len(fixes)-1]
	k.add("position fix", checkSeen, fmt.Sprintf("%s, %.5f, %.5f", quality, now.Lat, now.Lon), "")
	spread, same := 0.0, true
	for _, f := range fixes {
		spread, same = max(spread, geo.Between(fixes[0], f)), same && f == fixes[0]
	}
	u := float64(k.t.Positioner.Uncertain)
	value := fmt.Sprintf("%d fixes within %.2f m; uncertain by %s each as said", len(fixes), spread, k.t.Show.LengthText(k.t.Positioner.Uncertain))
	switch {
	case same && len(fixes) >= 5:
		k.add("position rests", checkLook, value, "not a digit changes: does the receiver hold its position, or smooth it? then drift shows late")
	default:
		k.add("position rests", either(spread <= fixSpread*u, checkLook), value, "it wanders: does the vessel move? else correct uncertain= in [position]")
	}
	if k.t.Plan == nil {
		return
	}
	for _, b := range k.t.Plan.Berths {
		if b.Station == k.run.Station && b.HasPosition {
			d := trial.Length(geo.Between(b.Position, now))
			k.add("position, berth", either(d <= k.run.Payout, checkLook), fmt.Sprintf("the antenna is %s from the berth of %s", k.t.Show.LengthText(round2(d)), b.Station),
				"further than the rode reaches: another station, or another datum than WGS-84?")
		}
	}
}

// heading is the compass at rest.
func (k *checks) heading(a *session.Aids) {
	h := k.seen.aids.headings
	if len(h) == 0 {
		k.add("heading value", checkLook, "it tells no heading", "wait until the compass has settled")
		return
	}
	swing := 0.0
	for _, v := range h {
		swing = max(swing, math.Abs(math.Remainder(v-h[0], 2*math.Pi)))
	}
	k.add("heading value", either(swing <= swingMost, checkLook), fmt.Sprintf("%05.1f deg, within %.1f deg of the first", h[len(h)-1]*180/math.Pi, swing*180/math.Pi),
		"it swings: does the vessel, or is steel near the compass?")
}

// satClock holds the computer's clock against the one of satellites.
func (k *checks) satClock() {
	a := &k.seen.last.Aids
	switch {
	case k.t.SatClock == nil:
		k.add("clock is right", checkLook, "no satellite clock in the trial file", "compare it with a watch")
	case !a.ClockKnown:
		k.add("clock is right", checkLook, "no time of satellites came", "wait for a fix, or compare it with a watch")
	default:
		off := a.ClockOff
		k.add("clock is right", either(off.Abs() <= satMost, checkLook), fmt.Sprintf("satellites less computer %+.1f s, as the sentence came", off.Seconds()),
			"set the computer's clock; the record has both")
	}
}
