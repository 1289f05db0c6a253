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
	Rode   string       // one of [MadeRodes]
	Depth  trial.Length // of water
	Payout trial.Length
	Swell  trial.Length // amplitude of the vessel's way; 0 none
	Surges int          // of the vessel while the winch hauls
	Marked bool         // somebody marks them
	Brings bool         // the anchor is recovered in the end
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

// MadeRodes are the rodes of made-up pulls.
var MadeRodes = []string{"chain and fibre", "all chain", "wire"}

// MadeStride is how many pulls a run may have: run S has the seeds from S times it
// on, so that no two runs share a pull.
const MadeStride = 1_000_000

// MadeSeed is the seed of pull i, from 0 and under [MadeStride], of a run.
func MadeSeed(run uint64, i int) uint64 { return run*MadeStride + uint64(i) }

// madeRode is a rode as it truly is, with what the trial file says of its first
// piece. The second is always the template's, 70 m of fibre, which in a rode of
// one kind stays aboard.
type madeRode struct {
	pieces   []Piece
	settings string  // of the trial file, without friction
	friction float64 // of the first piece
}

// makeRode makes up a rode. Weights in water and stiffness are those of 6 to 8 mm
// chain and of 6 to 8 mm wire (from memory), the fibre's the template's. In truth a
// piece is up to 30 % stiffer or softer than the trial file has it.
func makeRode(kind string, soil Soil, payout, height float64, between func(lo, hi float64) float64) madeRode {
	first := Piece{Friction: map[Soil]float64{Mud: 1.15, Clay: 0.9, Sand: 0.7, Stones: 0.8}[soil]}
	length, weight, ea := 0.0, 0.0, 0.0
	switch kind {
	case "all chain":
		length, weight, ea = math.Ceil(payout+5), between(7, 13), between(1000, 5000)
		first.Friction *= between(0.6, 1) // long chain lies in line and ploughs less
	case "wire":
		length, weight, ea = math.Ceil(payout+5), between(1.2, 2.2), between(1500, 3000)
		first.Friction = 0.6
	default:
		length, weight, ea = max(between(5, 30), math.Ceil(payout-69)), between(7, 13), between(300, 4000)
		if length > 12 {
			first.Friction *= 0.8
		}
	}
	length, weight, ea = math.Round(length), math.Round(10*weight)/10, math.Round(ea)
	first.Length, first.Weight, first.EA = trial.Length(length), trial.LineWeight(weight), trial.Force(1000*ea*between(0.7, 1.3))
	second := templateRode[1]
	second.EA *= trial.Force(between(0.7, 1.3))
	return madeRode{pieces: []Piece{first, second}, friction: first.Friction,
		settings: fmt.Sprintf("rode.length = \"%.0f m\"\nrode.weight = \"%.1f N/m\"\nrode.ea = \"%.0f kN\"\n", length, weight, ea)}
}

// stiffness is what a metre of the vessel's way gives at the fairlead, N/m, with
// that pull at the anchor.
func (r madeRode) stiffness(height, payout, out, pull float64) (float64, error) {
	t, err := newRodeTable(trial.Length(height), r.pieces, trial.Length(payout))
	if err != nil {
		return 0, err
	}
	_, span := t.atAnchor(out, pull)
	return t.atSpan(out, span).stiffTop, nil
}

// The vessel of made-up pulls: invented.
const (
	mostSwing   = 800.0  // N either way from a swell or a thruster: in more nobody pulls
	tradeSwell  = 400.0  // N either way, of some
	mostAstern  = 2500.0 // N from a surge astern
	leastScope  = 3.0    // the planned end of a made-up pull
	planned     = 60.0   // m of rode out in the trial file's plan: the reference runs were made so
	levelsOff   = 0.15   // error of each level, at most
	levelsApart = 1.1    // the trial file wants the dead weight's level above the bare rode's
)

// MakeUp makes up the pull of a seed. Every number is invented; the levels of the
// bare rode and the dead weight are the model's own, as if they had been measured
// with an error of up to 15 % each. MODEL.md says what is varied.
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
	depth := math.Round(between(3, 12)*10) / 10
	height := depth + 1.5
	payout := math.Round(height * between(max(5, leastScope+0.2+10/height), 10)) // m
	u.Rode = MadeRodes[[]int{0, 0, 0, 1, 1, 2}[r.IntN(6)]]
	u.Depth, u.Payout = trial.Length(depth), trial.Length(payout)
	speed := between(1, 5)                                                          // m/min
	haul := min(between(12, 28), max(10, 12*speed), payout-(leastScope+0.1)*height) // m
	mass := between(9, 22)                                                          // kg
	rode := makeRode(u.Rode, u.Soil, payout, height, between)
	d := soilDefaults[u.Soil]
	holds := between(1, 5.2) // kN, ultimately: under the trial file's limits

	var model strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&model, format+"\n", args...) }
	say("soil %s\nanchor %.1f kg", u.Soil, mass)
	for _, p := range rode.pieces {
		say("piece %.0f m %.1f N/m %.0f kN friction %.2f", float64(p.Length), float64(p.Weight), float64(p.EA)/1000, p.Friction)
	}
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
	stiff, err := rode.stiffness(height, payout, payout-haul/2, 700*holds)
	if err != nil {
		return nil, fmt.Errorf("made-up pull %d: %w", seed, err)
	}
	switch n := r.IntN(20); {
	case n < 10:
		u.Swell = trial.Length(min(between(0, 0.06), mostSwing/stiff))
	case n < 14:
		u.Swell = trial.Length(min(tradeSwell/stiff, 0.1))
	}
	if u.Swell > 0 {
		say("swell %.3f m every %.1f s", float64(u.Swell), between(3, 9))
	}
	if r.IntN(4) == 0 {
		say("thruster %.3f m every %.0f s", min(between(0.01, 0.06), mostSwing/stiff), between(10, 60))
	}
	model.WriteString("\n[faults]\n")
	if r.IntN(3) == 0 {
		u.Surges, u.Marked = 1+r.IntN(2), r.IntN(2) == 0
		for i := range u.Surges {
			way, takes := "surge ahead", between(2, 10)
			by := between(0.2, 0.6) + speed/60*takes // the winch takes in what the vessel gives
			if r.IntN(4) == 0 {
				way, by = "surge", min(between(0.1, 0.4), mostAstern/stiff)
			}
			say("at x %.2f m: %s %.2f m in %.0f s", haul*(float64(i)+between(0.3, 0.8))/2, way, by, takes)
		}
	}
	u.Brings = r.IntN(10) < 3

	facts := fmt.Sprintf(`# Invented data: pull made up from seed %d: %s.
[facts]
title     Made-up pull %d: %s, in %s
caption   Invented data: a made-up pull, no real anchor
depth     %.1f m
fairlead  1.5 m
payout    %.0f m
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
`, seed, u.Kind, seed, u.Kind, u.Soil, depth, payout, speed, float64(rode.pieces[0].EA)/1000, between(0.1, 0.8), between(0.001, 0.015), u.LoadHz, []int{5, 10, 10, 20}[r.IntN(4)], r.IntN(60000))
	end := "done"
	if u.Brings {
		end = fmt.Sprintf("until relay closed\nahead\nhaul at 12 m/min\nuntil rode out %.1f m\nstop\nwait 3 s\nhaul at 2 m/min\nuntil rode out %.1f m\nstop\ndone", 1.6*height, height-0.6)
	}
	winch := "[winch]\ncell free # it is zeroed so\nuntil relay closed\ncell rode\nhaul\nuntil relay open\nstop\nwait 8 s\nease\nuntil tension below " + fmt.Sprintf("%.2f kN", 0.15+1.5e-3*height*float64(rode.pieces[0].Weight)) + "\nstop\n" + end + "\n"
	body := "[model]\n" + strings.ReplaceAll(model.String(), "a_metre", "a metre") + "\n"
	s, err := ParseScenario(fmt.Sprintf("made-up-%d.txt", seed), []byte(facts+body+winch))
	if err != nil {
		return nil, fmt.Errorf("made-up pull %d: %w", seed, err)
	}
	reference := *s
	reference.Payout = planned
	bare, dead := reference.Levels(trial.Length(haul))
	saidBare, saidDead := 0.0, 0.0
	for saidDead < levelsApart*saidBare || saidBare == 0 {
		saidBare, saidDead = float64(bare)*between(1-levelsOff, 1+levelsOff), float64(dead)*between(1-levelsOff, 1+levelsOff)
	}
	slow := ""
	if u.LoadHz < 3 {
		slow = "load.slow_cell = true\n"
	}
	u.Script = facts + fmt.Sprintf("\n[trial]\nload.rate = \"%.0f Hz\"\n%sline.rate = \"%.0f Hz\"\nlimits.pull.haul = \"%.1f m\"\nlimits.pull.duration = \"60 min\"\nlimits.scope_min = %.1f\nstation.depth = \"%.1f m\"\nstation.depth_min = \"2 m\"\nstation.depth_max = \"14 m\"\n",
		u.LoadHz, slow, s.LineHz, haul, leastScope, depth) + rode.settings +
		fmt.Sprintf("rode.friction = %.2f\nlevels.bare_rode = \"%.1f N\"\nlevels.dead_weight = \"%.1f N\"\nlevels.dead_mass = \"%.1f kg\"\n\n", rode.friction*between(1-levelsOff, 1+levelsOff), saidBare, saidDead, mass) + body + winch
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
