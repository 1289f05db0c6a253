package deck

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"hawse/trial"
)

// modelForms are the statements of [model], in the form of [fit].
var modelForms = []string{
	"soil mud|clay|sand|stones", "anchor WEIGHT", "block WEIGHT", "bare", "fluke LENGTH",
	"strength PRESSURE growing PRESSURE a_metre", "bearing NUMBER", "burial LENGTH in LENGTH",
	"bites after LENGTH", "bites never", "weak NUMBER",
	"breaks after LENGTH over LENGTH", "breaks by SHARE a_metre over LENGTH", "again after LENGTH holding SHARE", "again never",
	"angle ANGLE losing SHARE a_degree", "rate SHARE", "saw-tooth SHARE every LENGTH", "rough SHARE every LENGTH",
	"firm", "snag after LENGTH holding FORCE", "snag after LENGTH", "drag NUMBER",
	"piece LENGTH LINEWEIGHT FORCE friction NUMBER", "slack LENGTH", "swell LENGTH every TIME", "thruster LENGTH every TIME",
	"suction FORCE over LENGTH",
}

// soilDefaults are what a kind of soil means where the script does not say. The growth
// of mud's strength is 12 psf/ft, that of normally consolidated silt and clay in
// the Navy's Techdata Sheet 83-08R; the bearing factor 9 lies between the 8.5 and
// 12 in use for flukes and line in clay. The rate of mud is half the 10 % for ten
// times the speed that is common for clay (from memory), because the soil around a
// moving anchor is remoulded. All else is invented, such that 16 kg hold 3 to 7 kN.
var soilDefaults = map[Soil]Model{
	Mud: {Su0: 1000, SuK: 1900, Bearing: 9, Burial: 1.6, In: 5, Bite: 0.5, AngleFrom: deg(9), AngleLoss: 5 * perDegree,
		Rate: 0.05, Rough: 0.03, RoughWave: 0.4, Drag: 2.2, SuctionOver: 0.5},
	Clay: {Su0: 6000, SuK: 2000, Bearing: 9, Burial: 0.5, In: 2, Bite: 0.5, AngleFrom: deg(9), AngleLoss: 5 * perDegree,
		Rate: 0.04, Rough: 0.04, RoughWave: 0.3, Drag: 1.2, SuctionOver: 0.3},
	Sand: {Su0: 0, SuK: 9000, Bearing: 25, Burial: 0.3, In: 0.8, Bite: 0.3, AngleFrom: deg(8), AngleLoss: 6 * perDegree,
		Rate: 0.015, Rough: 0.04, RoughWave: 0.2, Drag: 0.9, SuctionOver: 0.1},
	Stones: {Su0: 3000, SuK: 2000, Bearing: 9, Burial: 0.25, In: 0.5, Bite: 0.3, AngleFrom: deg(8), AngleLoss: 5 * perDegree,
		Rate: 0.01, Rough: 0.10, RoughWave: 0.15, Drag: 1.0, SuctionOver: 0.1},
}

// perDegree is one per cent a degree, as a share a radian.
const perDegree = 0.01 * 180 / math.Pi

func deg(d float64) trial.Angle { return trial.Angle(d * math.Pi / 180) }

// parsePressure reads a soil's strength, or its growth in a metre, in pascals.
func parsePressure(s string) (float64, error) {
	for _, u := range []struct {
		name string
		pa   float64
	}{{"kPa", 1000}, {"psf", 4.4482216152605 / (0.3048 * 0.3048)}, {"Pa", 1}} {
		if number, ok := strings.CutSuffix(s, u.name); ok {
			if v, err := strconv.ParseFloat(strings.TrimSpace(number), 64); err == nil && v >= 0 && v <= 1e6 {
				return v * u.pa, nil
			}
		}
	}
	return 0, fmt.Errorf("%s is no pressure; write a number and one of kPa, Pa, psf, such as \"1.5 kPa\"", quoted(s))
}

// parseNumber reads a plain number from 0 to 1000.
func parseNumber(s string) (float64, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v >= 0 && v <= 1000) {
		return 0, fmt.Errorf("%s is no number from 0 to 1000; write it without a unit, such as \"0.7\"", quoted(s))
	}
	return v, nil
}

// modelLine reads one statement of [model]. Breaks, again and piece may be said more
// than once, in their order.
func (p *parser) modelLine(line int, toks []token) {
	pattern, v, ok := p.choose(line, "statement", modelForms, toks)
	if p.said == nil {
		p.said, p.s.model = map[string]int{}, &Model{}
	}
	word := toks[0].text
	if !ok {
		p.said[word] = line
		return
	}
	switch word {
	case "breaks", "again", "piece":
	default:
		if before := p.said[word]; before != 0 {
			p.fail(line, fmt.Sprintf("%s is on line %d already", word, before), "say it once")
			return
		}
	}
	p.said[word] = line
	m, si := p.s.model, v.si
	switch pattern {
	case "bites never":
		m.Bite = -1
		return
	case "again never":
		m.Again = append(m.Again, Again{Never: true})
		return
	case "breaks by SHARE a_metre over LENGTH":
		m.Breaks = append(m.Breaks, Break{Chance: si[0], Over: trial.Length(si[1])})
		return
	case "snag after LENGTH holding FORCE":
		m.SnagHolds = trial.Force(si[1])
	}
	switch word {
	case "soil":
		m.Soil = Soil(v.args[0])
	case "anchor":
		m.Weight = trial.Force(si[0])
	case "block":
		m.Weight, m.Block = trial.Force(si[0]), true
	case "fluke":
		m.Fluke = trial.Length(si[0])
	case "strength":
		m.Su0, m.SuK = si[0], si[1]
	case "bearing":
		m.Bearing = si[0]
	case "burial":
		m.Burial, m.In = trial.Length(si[0]), trial.Length(si[1])
	case "bites":
		m.Bite = trial.Length(si[0])
	case "weak":
		m.Weak = si[0]
	case "breaks":
		m.Breaks = append(m.Breaks, Break{After: trial.Length(si[0]), Over: trial.Length(si[1])})
	case "again":
		m.Again = append(m.Again, Again{After: trial.Length(si[0]), Holding: si[1]})
	case "angle":
		m.AngleFrom, m.AngleLoss = trial.Angle(si[0]), si[1]/float64(deg(1))
	case "rate":
		m.Rate = si[0]
	case "saw-tooth":
		m.Saw, m.SawWave = si[0], trial.Length(si[1])
	case "rough":
		m.Rough, m.RoughWave = si[0], trial.Length(si[1])
	case "firm":
		m.Firm = true
	case "snag":
		m.SnagAfter = trial.Length(si[0])
	case "drag":
		m.Drag = si[0]
	case "piece":
		m.Pieces = append(m.Pieces, Piece{trial.Length(si[0]), trial.LineWeight(si[1]), trial.Force(si[2]), si[3]})
	case "slack":
		m.Slack = trial.Length(si[0])
	case "swell":
		m.Swell = Wave{trial.Length(si[0]), si[1]}
	case "thruster":
		m.Thruster = Wave{trial.Length(si[0]), si[1]}
	case "suction":
		m.Suction, m.SuctionOver = trial.Force(si[0]), trial.Length(si[1])
	}
}

// model fills in what [model] does not say, and complains of what cannot be.
func (p *parser) model(last int) {
	s, at := p.s, p.sections["model"]
	if s.model == nil {
		p.fail(at, "[model] is empty", "say at least the soil and the anchor, such as: soil mud")
		return
	}
	m := s.model
	if p.sections["tension"] != 0 || p.sections["recovery"] != 0 {
		p.fail(max(p.sections["tension"], p.sections["recovery"]), "a model and a table cannot both say the tension", "leave [tension] and [recovery] out, or [model]")
	}
	if s.Swell > 0 {
		p.fail(max(p.facts["swell"], 1), "a swell of the tension does not go with a model", "write it in [model] as the vessel's: swell 0.03 m every 6 s")
	}
	if p.said["soil"] == 0 {
		p.fail(at, "soil is missing in [model]", "add a line such as: soil mud")
		return
	}
	if n := min(p.said["anchor"], 1) + min(p.said["block"], 1) + min(p.said["bare"], 1); n != 1 {
		p.fail(at, fmt.Sprintf("[model] has %d of anchor, block and bare", n), "say one of them, such as: anchor 16 kg")
		return
	}
	m.fill(s, func(word string) bool { return p.said[word] != 0 })
	check := func(word string, good bool, what, do string) {
		if !good && p.said[word] != 0 {
			p.fail(p.said[word], word+" "+what, do)
		}
	}
	check("anchor", m.Weight >= 1 && m.Weight <= 1e6, "weighs under 0.1 kg or over 100 t", "give its mass in air")
	check("block", m.Weight >= 1 && m.Weight <= 1e6, "weighs under 0.1 kg or over 100 t", "give its mass in air")
	check("fluke", m.Fluke >= 0.02 && m.Fluke <= 20, "is under 20 mm or over 20 m", "give the side of a square as large as the flukes")
	check("bearing", m.Bearing > 0, "is 0", "give a factor such as 9")
	check("burial", m.Burial > 0 && m.Burial <= 50 && m.In >= 0.01 && m.In <= 1000, "is 0 or over 50 m, or comes in under 10 mm or over 1000 m", "write for example: burial 1.6 m in 5 m")
	check("weak", m.Weak >= 1 && m.Weak <= 100, "is not from 1 to 100", "give what it holds at most, in dead weights")
	check("drag", m.Drag > 0 && m.Drag <= 10, "is 0 or above 10", "give the resistance over the weight in water")
	check("saw-tooth", m.Saw <= 0.9 && m.SawWave >= 0.02, "is over 90 %, or its wave under 20 mm", "write for example: saw-tooth 40 % every 0.5 m")
	check("rough", m.Rough <= 0.9 && m.RoughWave >= 0.01, "is over 90 %, or its wave under 10 mm", "write for example: rough 5 % every 0.2 m")
	check("swell", m.Swell.ok(), "is over 10 m, or its time under 1 s or over an hour", "write for example: swell 0.03 m every 6 s")
	check("thruster", m.Thruster.ok(), "is over 10 m, or its time under 1 s or over an hour", "write for example: thruster 0.05 m every 30 s")
	check("slack", m.Slack <= s.Payout/2, "is more than half the rode", "give the line to haul until the rode is taut")
	check("again", len(m.Again) <= len(m.Breaks), "is said more often than breaks", "say breaks once for each")
	if s.Depth > 0 && s.Payout > 0 {
		table, err := newRodeTable(s.Depth+s.Fairlead, m.Pieces, s.Payout)
		switch {
		case err != nil:
			p.fail(max(p.said["piece"], at), err.Error(), "mend the piece")
		case table.total < float64(s.Payout):
			p.fail(max(p.said["piece"], at), fmt.Sprintf("the pieces make %g m of rode and %g m are paid out", table.total, s.Payout), "add a piece, or lower payout")
		case s.Payout > maxModelRode:
			p.fail(max(p.facts["payout"], 1), "a model's payout is more than 2000 m", "give less")
		case float64(s.Payout-s.Start) < 1.2*float64(s.Depth+s.Fairlead):
			p.fail(max(p.facts["payout"], 1), "payout is under 1.2 times the depth and the roller's height", "pay out more: the model begins with the line leading away")
		}
	}
}

const maxModelRode = trial.Length(2000)

func (w Wave) ok() bool { return w.Amp <= 10 && w.Every >= 1 && w.Every <= 3600 }

// flukeArea is that of an anchor of 1 kg, m2; it grows as mass to two thirds, as
// areas of like bodies do. The figure is invented.
const flukeArea = 0.016

// fill gives what was not said its default.
func (m *Model) fill(s *Scenario, said func(string) bool) {
	d := soilDefaults[m.Soil]
	set := func(word string, do func()) {
		if !said(word) {
			do()
		}
	}
	set("fluke", func() {
		m.Fluke = trial.Length(math.Sqrt(flukeArea) * math.Cbrt(float64(m.Weight)/float64(kgf)))
	})
	set("strength", func() { m.Su0, m.SuK = d.Su0, d.SuK })
	set("bearing", func() { m.Bearing = d.Bearing })
	set("burial", func() { m.Burial, m.In = d.Burial, d.In })
	set("bites", func() { m.Bite = d.Bite })
	set("angle", func() { m.AngleFrom, m.AngleLoss = d.AngleFrom, d.AngleLoss })
	set("rate", func() { m.Rate = d.Rate })
	set("rough", func() { m.Rough, m.RoughWave = d.Rough, d.RoughWave })
	set("drag", func() { m.Drag = d.Drag })
	set("piece", func() {
		m.Pieces = append([]Piece(nil), templateRode...)
		for i := range m.Pieces {
			m.Pieces[i].EA = max(s.Stiffness, 1000)
		}
	})
	set("slack", func() { m.Slack = 1 })
	set("suction", func() { m.Suction, m.SuctionOver = m.Weight*6, d.SuctionOver })
}
