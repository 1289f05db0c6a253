package deck

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"hawse/trial"
)

// MadeUp is a pull made up from a seed: a script with a model in it.
type MadeUp struct {
	Seed   uint64
	Script string
	Kind   string // what is to happen, in words
	Soil   Soil
	LoadHz float64
	Surges int  // of the vessel while the winch hauls
	Marked bool // somebody marks them
	Brings bool // the anchor is recovered in the end
}

// The kinds of pull that are made up, and in how many of a hundred.
var madeKinds = []struct {
	name  string
	share int
}{
	{"holds", 28}, {"breaks out fast, sets again", 12}, {"breaks out slowly, sets again", 10}, {"breaks out, never sets again", 10},
	{"breaks out twice", 6}, {"never sets", 10}, {"saw-tooth", 10}, {"weak engagement", 6}, {"snag", 3}, {"firm", 5},
}

// MadeKinds are the kinds of pull that [MakeUp] makes.
func MadeKinds() []string {
	names := make([]string, len(madeKinds))
	for i, k := range madeKinds {
		names[i] = k.name
	}
	return names
}

// MakeUp makes up the pull of a seed. Every number is invented; the levels of the
// bare rode and the dead weight are the model's own, as if they had been measured
// with an error of some per cent.
func MakeUp(seed uint64) (*MadeUp, error) {
	r := rand.New(rand.NewPCG(seed, 0x6d6f6465))
	between := func(lo, hi float64) float64 { return lo + r.Float64()*(hi-lo) }
	u := &MadeUp{Seed: seed, Soil: []Soil{Mud, Mud, Mud, Clay, Sand, Sand, Stones}[r.IntN(7)]}
	for n, i := r.IntN(100), 0; ; i++ {
		if n -= madeKinds[i].share; n < 0 {
			u.Kind = madeKinds[i].name
			break
		}
	}
	if u.Kind == "saw-tooth" {
		u.Soil = []Soil{Stones, Stones, Clay}[r.IntN(3)]
	}
	u.LoadHz = []float64{2, 4, 5, 8, 10, 10, 10, 20, 20, 50, 100}[r.IntN(11)]
	speed := between(1, 5)                          // m/min
	haul := min(between(12, 28), max(10, 12*speed)) // m
	ea := between(200, 400)                         // kN; not above the trial file's
	mass := between(9, 22)                          // kg
	friction := map[Soil]float64{Mud: 1.15, Clay: 0.9, Sand: 0.7, Stones: 0.8}[u.Soil]
	d := soilDefaults[u.Soil]
	holds := between(1, 5.2) // kN, ultimately: under the trial file's limits

	var model strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&model, format+"\n", args...) }
	say("soil %s\nanchor %.1f kg", u.Soil, mass)
	say("piece 10 m 12 N/m %.0f kN friction %.1f\npiece 70 m 0.3 N/m %.0f kN friction 0.3", ea, friction, ea)
	say("slack %.2f m", between(0.5, 2.5))
	in, deep := float64(d.In)*between(0.6, 1.2), float64(d.Burial)*between(0.8, 1.2)
	side := math.Sqrt(flukeArea) * math.Cbrt(mass)
	say("burial %.2f m in %.2f m", deep, in)
	say("bearing %.2f", holds*1000/(side*side*min(1, 2*deep/side)*(d.Su0+d.SuK*deep)))
	say("angle %.1f deg losing %.1f %% a degree", between(7, 11), between(2, 7))
	say("rate %.1f %%", 100*d.Rate*between(0.6, 1.3))
	say("rough %.0f %% every %.2f m", max(1, 100*d.Rough*between(0.5, 1.2)), float64(d.RoughWave)*between(0.7, 1.5))
	say("suction %.2f kN over %.2f m", between(0.5, 3), float64(d.SuctionOver)*between(0.7, 1.3))
	bites := between(0.1, 1.2)
	over := between(10, 60) // mm, of a fast breakout
	if u.Kind == "breaks out slowly, sets again" {
		over = between(500, 1200)
	}
	after := max(between(0.6, 2)*in, between(1.5, 4))
	switch u.Kind {
	case "breaks out fast, sets again", "breaks out slowly, sets again":
		say("breaks after %.2f m over %.0f mm\nagain after %.2f m holding %.0f %%", after, over, between(0.2, 1.5), between(45, 100))
	case "breaks out, never sets again":
		if r.IntN(2) == 0 {
			say("breaks by %.0f %% a_metre over %.0f mm\nagain never", between(20, 80), over)
		} else {
			say("breaks after %.2f m over %.0f mm\nagain never", after, over)
		}
	case "breaks out twice":
		say("breaks after %.2f m over %.0f mm\nagain after %.2f m holding %.0f %%", 0.8*after, over, between(0.2, 1), between(60, 100))
		say("breaks after %.2f m over %.0f mm\nagain never", after, between(10, 900))
	case "never sets":
		bites = -1
	case "saw-tooth":
		say("saw-tooth %.0f %% every %.2f m", between(40, 75), between(0.3, 0.9))
	case "weak engagement":
		say("weak %.2f", between(1.6, 1.95))
		if r.IntN(2) == 0 {
			say("breaks after %.2f m over %.2f m\nagain never", between(3, 7), between(0.1, 1))
		}
	case "snag":
		say("snag after %.2f m holding %.1f kN", between(2, 6), between(4.5, 6.5))
	case "firm":
		say("firm")
	}
	if bites < 0 {
		say("bites never")
	} else {
		say("bites after %.2f m", bites)
	}
	if r.IntN(10) < 4 {
		say("swell %.3f m every %.1f s", between(0.004, 0.03), between(4, 8))
	}
	if r.IntN(4) == 0 {
		say("thruster %.3f m every %.0f s", between(0.01, 0.06), between(10, 60))
	}
	model.WriteString("\n[faults]\n")
	if r.IntN(3) == 0 {
		u.Surges, u.Marked = 1+r.IntN(2), r.IntN(2) == 0
		for i := range u.Surges {
			way, takes := "surge ahead", between(2, 10)
			by := between(0.2, 0.6) + speed/60*takes // the winch takes in what the vessel gives
			if r.IntN(4) == 0 {
				way, by = "surge", between(0.1, 0.4)
			}
			say("at x %.2f m: %s %.2f m in %.0f s", haul*(float64(i)+between(0.3, 0.8))/2, way, by, takes)
		}
	}
	u.Brings = r.IntN(10) < 3

	facts := fmt.Sprintf(`# Invented data: pull made up from seed %d: %s.
[facts]
title     Made-up pull %d: %s, in %s
caption   Invented data: a made-up pull, no real anchor
depth     6 m
fairlead  1.5 m
payout    60 m
run       A1
speed     %.1f m/min
stiffness %.0f kN
ramp      0.3 s
run-on    %.1f s
operator  1 s
window    300 ms
noise     %.4f kN
load      %.0f Hz
line      %d Hz
count     %d
`, seed, u.Kind, seed, u.Kind, u.Soil, speed, ea, between(0.1, 0.8), between(0.001, 0.015), u.LoadHz, []int{5, 10, 10, 20}[r.IntN(4)], r.IntN(60000))
	end := "done"
	if u.Brings {
		end = "until relay closed\nahead\nhaul at 12 m/min\nuntil rode out 12 m\nstop\nwait 3 s\nhaul at 2 m/min\nuntil rode out 6.9 m\nstop\ndone"
	}
	winch := "[winch]\ncell free # it is zeroed so\nuntil relay closed\ncell rode\nhaul\nuntil relay open\nstop\nwait 8 s\nease\nuntil tension below 0.15 kN\nstop\n" + end + "\n"
	body := "[model]\n" + strings.ReplaceAll(model.String(), "a_metre", "a metre") + "\n"
	s, err := ParseScenario(fmt.Sprintf("made-up-%d.txt", seed), []byte(facts+body+winch))
	if err != nil {
		return nil, fmt.Errorf("made-up pull %d: %w", seed, err)
	}
	bare, dead := s.Levels(trial.Length(haul))
	errs := func() float64 { return between(0.93, 1.07) }
	slow := ""
	if u.LoadHz < 3 {
		slow = "load.slow_cell = true\n"
	}
	u.Script = facts + fmt.Sprintf("\n[trial]\nload.rate = \"%.0f Hz\"\n%sline.rate = \"%.0f Hz\"\nlimits.pull.haul = \"%.1f m\"\nlimits.pull.duration = \"60 min\"\n",
		u.LoadHz, slow, s.LineHz, haul) +
		fmt.Sprintf("rode.friction = %.2f\nlevels.bare_rode = \"%.1f N\"\nlevels.dead_weight = \"%.1f N\"\nlevels.dead_mass = \"%.1f kg\"\n\n", friction*errs(), float64(bare)*errs(), float64(dead)*errs(), mass) + body + winch
	return u, nil
}

// Levels are what the reference runs of this ground would show over so much line
// hauled: the mean tension of the rode alone, and with a plain block of the
// anchor's weight.
func (s *Scenario) Levels(haul trial.Length) (bare, dead trial.Force) {
	m := s.model
	if m == nil {
		return trial.Force(math.NaN()), trial.Force(math.NaN())
	}
	g := newModelGround(s, 0)
	n := 0
	for x := float64(m.Slack) + 0.5; x <= float64(haul); x += rowStep {
		b, _ := g.rode.atAnchor(g.out(x), nothing)
		w, _ := g.rode.atAnchor(g.out(x), max(float64(m.Weight)*inWater*m.Drag, nothing))
		bare, dead, n = bare+trial.Force(b), dead+trial.Force(w), n+1
	}
	return bare / trial.Force(max(n, 1)), dead / trial.Force(max(n, 1))
}
