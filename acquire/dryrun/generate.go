package dryrun

import (
	"fmt"
	"math/rand/v2"
	"strings"
)

// Pull is one made-up pull: a script for the simulated deck, and whether
// anything in it goes wrong.
type Pull struct {
	Seed   uint64
	Script string
	// Fairlead is the rode out at which the anchor is as near as it may come, m;
	// 0: the least scope comes first.
	Fairlead float64
	Holds    bool     // the director says hold in the middle, and the vessel moves
	Faults   []string // as they stand in the script; none: nothing goes wrong
}

// Generate makes up the pull of a seed. About four in ten have no fault at all;
// every number is invented.
func Generate(seed uint64) Pull {
	r := rand.New(rand.NewPCG(seed, 0x48617773))
	p := Pull{Seed: seed}
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	between := func(lo, hi float64) float64 { return lo + r.Float64()*(hi-lo) }
	one := func(list ...string) string { return list[r.IntN(len(list))] }

	load := []int{5, 10, 10, 10, 20}[r.IntN(5)]
	line := []int{5, 10, 10}[r.IntN(3)]
	say("# Invented data: pull made up from seed %d.", seed)
	say("[facts]\ntitle     Made-up pull %d\ncaption   Invented data: a made-up pull, no real anchor", seed)
	say("depth %v m\nfairlead 1.5 m\npayout %v m\nrun A1", height-1.5, payout)
	say("speed %.1f m/min\nramp 0.3 s\nrun-on %.1f s\noperator 1 s\nwindow 300 ms", between(2.4, 6), between(0.1, 1.2))
	// Not above the EA of the trial file: line that a crew declares softer than it is
	// looks, for some centimetres, like a vessel that moves.
	say("stiffness %.0f kN\nslack 0.08 kN\nnoise %.3f kN\nrelax %.0f %% in 10 s", between(150, 400), between(0.001, 0.02), between(0, 6))
	say("load %d Hz\nline %d Hz\ncount %d", load, line, r.IntN(60000))
	if r.IntN(4) == 0 {
		say("swell %.2f kN every %.1f s", between(0.05, 0.4), between(4, 8))
	}
	if r.IntN(6) == 0 {
		p.Fairlead = 31 // so much rode out; the lane's other ends come later
	}
	numbers, bare := numberFault(seed)
	if bare {
		say("load-line \"+0000.0\"")
	}
	say("[trial]\nload.rate = \"%d Hz\"\nline.rate = \"%d Hz\"", load, line)
	if bare {
		say(`load.line = '^(?P<value>[+-]?\d+(\.\d+)?)$'`)
		say("load.unit = \"kgf\"\nload.range = \"1000 kgf\"")
	}

	if p.Fairlead > 0 {
		say("vessel.keep_out = \"%v m\"", p.Fairlead)
	}

	say("[tension]\nx 0 m 0.08 kN\nx 0.3 m 0.08 kN")
	switch peak, at := between(0.8, 5.8), between(1.5, 5); r.IntN(6) {
	case 0: // rises past the limit
		say("x %.2f m %.2f kN\nx 12 m %.2f kN", at, between(1, 4), between(8.5, 13))
	case 1: // breaks out and sets again
		say("x %.2f m %.2f kN\nx %.2f m 0.5 kN\nx %.2f m %.2f kN", at, peak, at+between(0.05, 1), at+between(2, 4), peak*between(0.5, 1))
	case 2: // never sets
		say("x 1.5 m 0.3 kN\nx 40 m 0.3 kN\nscratch 0.07 kN every 0.1 m from x 2 m to 12 m")
	case 3:
		say("x 1.5 m 1.9 kN\nx 40 m 1.9 kN\nsaw-tooth 1.2 kN to %.1f kN every 0.5 m falling in 0.05 m from x 2 m to 12 m", between(1.8, 3.5))
	default: // holds
		say("x %.2f m %.2f kN\nx 40 m %.2f kN\nripple %.2f kN every 0.8 m from x %.2f m to 12 m", at, peak, peak*between(0.8, 1.1), peak*0.05, at)
	}

	say("[faults]")
	if p.Holds = r.IntN(6) == 0; p.Holds {
		p.Faults = append(p.Faults, fmt.Sprintf("at %.0f s: %s %.2f m in %.0f s", between(65, 90), one("surge", "drift"), between(0.1, 0.8), between(8, 40)))
		say("%s", p.Faults[0])
	}
	for n := max(0, r.IntN(7)-2); n > 0 && !p.Holds; n-- {
		f := fault(r, between, one)
		p.Faults = append(p.Faults, f)
		say("%s", f)
	}
	if numbers != "" && len(p.Faults) > 0 && !p.Holds {
		p.Faults = append(p.Faults, numbers)
		say("%s", numbers)
	}
	say("[winch]\ncell free # it is zeroed so\nwait 6 s\ncell rode\ndone")
	p.Script = b.String()
	return p
}

// numberFault is a fault of the load cell's numbers that a pull of that seed may have
// beside its others: a wet plug, or a button that changes the unit. bare: its box
// sends no unit. It has dice of its own, so that it changes nothing else of the pull.
func numberFault(seed uint64) (fault string, bare bool) {
	r := rand.New(rand.NewPCG(seed, 0x756e6974))
	when := fmt.Sprintf("at x %.2f m", 0.5+8*r.Float64())
	bare = r.IntN(3) == 0
	switch r.IntN(8) {
	case 0:
		return fmt.Sprintf("%s: wet load %.0f s", when, 15+45*r.Float64()), bare
	case 1:
		return fmt.Sprintf("%s: unit load %s %.1f s", when, []string{"lb", "lb", "kN", "N"}[r.IntN(4)], 1+20*r.Float64()), bare || r.IntN(3) > 0
	}
	return "", bare
}

func fault(r *rand.Rand, between func(lo, hi float64) float64, one func(...string) string) string {
	when := fmt.Sprintf("at x %.2f m", between(0.2, 9))
	if r.IntN(4) == 0 {
		when = fmt.Sprintf("at %.1f s", between(6, 90))
	}
	box := one("load", "load", "line")
	what := ""
	switch r.IntN(12) {
	case 0:
		what = fmt.Sprintf("unplug %s %.1f s", one("load", "load", "line", "stop"), between(0.3, 9))
	case 1:
		what = fmt.Sprintf("silence %s %.1f s", box, between(0.3, 9))
	case 2:
		what = fmt.Sprintf("garbage %s %.1f s", box, between(0.2, 6))
	case 3:
		what = fmt.Sprintf("stuck %s %.1f s", box, between(1, 12))
	case 4:
		what = fmt.Sprintf("slow load %d Hz %.1f s", 1+r.IntN(4), between(2, 15))
	case 5:
		what = fmt.Sprintf("%s load %.1f s", one("over range", "nan", "peak-hold"), between(0.2, 6))
	case 6:
		what = fmt.Sprintf("%s %s %.1f s", one("burst", "half line"), box, between(0.2, 4))
	case 7:
		what = "reset count"
	case 8:
		what = fmt.Sprintf("wake %.1f kN %.2f s", between(0.5, 9), between(0.1, 1))
	case 9:
		what = fmt.Sprintf("%s %.2f m in %.0f s", one("surge", "drift", "surge ahead"), between(0.05, 0.9), between(5, 40))
	case 10:
		what = one("snag", fmt.Sprintf("slip line %.0f %%", between(3, 20)))
	default:
		what = fmt.Sprintf("zero %.2f kN", between(0.02, 0.3))
	}
	return when + ": " + what
}
