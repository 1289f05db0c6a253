package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"hawse/trial"
	"hawse/trial/plan"
)

const campaignCaption = "Invented data: a made-up campaign, no real anchor"

// campaign is the invented example: three patterns of one mass and a smaller
// size of one of them, on mud in eight blocks and on sand in three, in the order
// that the plan draws.
type campaign struct {
	seed  uint64
	trial *trial.Trial
	pulls []campaignPull // in the order in which they are pulled
}

type campaignPull struct {
	id           string // the run's, as planned
	name         string // what it is and which of its kind, such as A16-4 or R-2
	kind, anchor string
	began        time.Time
	// What deck and crew do: as planned, and where a trip ends the pull.
	script, tripped string
}

// campaignAnchors are what is pulled; every number is invented.
var campaignAnchors = []struct {
	id, pattern string
	mass        float64 // kg
	fluke       float64 // deg
}{{"A11", "A", 11, 45}, {"A16", "A", 16, 45}, {"B16", "B", 16, 45}, {"C16", "C", 16, 45}, {"A16-31", "A", 16, 31}, {"B16-31", "B", 16, 31}, {"C16-31", "C", 16, 31}}

type campaignGround struct {
	name, bottom, soil string
	depth              float64 // m
	blocks             int
	anchors            []string
}

var campaignGrounds = []campaignGround{
	{"Alder Flat", "soft mud", "mud", 6.0, 8, []string{"A11", "A16", "B16", "C16"}},
	{"Heron Bar", "sand", "sand", 6.0, 3, []string{"A16-31", "B16-31", "C16-31"}},
}

// newCampaign draws the plan of the campaign, and makes up its pulls from it.
func newCampaign(seed uint64) (*campaign, error) {
	c := &campaign{seed: seed}
	const some = "[[run]]\nid = \"none\"\nkind = \"bare rode\"\nstation = \"Alder Flat\"\nlane = 1\npayout = \"60 m\"\nspeed = \"2.4 m/min\"\n"
	t, err := trial.ParseTrial("trial.toml", []byte(c.head()+some))
	if err != nil {
		return nil, fmt.Errorf("the trial file of the example campaign: %w", err)
	}
	p, err := plan.Make(t, nil)
	if err != nil {
		return nil, fmt.Errorf("the plan of the example campaign: %w", err)
	}
	if c.trial, err = trial.ParseTrial("trial.toml", []byte(c.head()+p.RunTables())); err != nil {
		return nil, fmt.Errorf("the trial file of the example campaign: %w", err)
	}
	r := rand.New(rand.NewPCG(seed, 0x63616d70))
	count := map[string]int{}
	day, slot := 0, 0
	for i, st := range p.Stations {
		g := &campaignGrounds[i]
		runs := g.done(st.Runs)
		for j, run := range runs {
			pull := campaignPull{id: run.ID, kind: run.Kind, anchor: run.Anchor,
				began: time.Date(2026, 4, 13+day+28*int((seed-1)%1000), 8, 0, 0, 0, time.UTC).Add(time.Duration(slot) * 28 * time.Minute)} // no two seeds at one time
			short := map[string]string{trial.KindBareRode: "R", trial.KindDeadWeight: "D"}[run.Kind]
			if run.Kind == trial.KindPull {
				short = strings.SplitN(run.Anchor, "-", 2)[0]
			}
			if g.soil == "sand" {
				short += "s"
			}
			count[short]++
			pull.name = fmt.Sprintf("%s-%d", short, count[short])
			over := j == len(runs)-1 || g.soil == "mud" && run.Block > 0 && run.Block%2 == 0 && runs[j+1].Block > run.Block // of the day
			head, special := c.script(r, g, &pull, count[short], slot == 0, over)
			up := cameUp(r, g)
			pull.script, pull.tripped = head+crewEnd(&pull, special, up, false), head+crewEnd(&pull, special, up, true)
			c.pulls = append(c.pulls, pull)
			if slot++; over {
				day, slot = day+1, 0
			}
		}
	}
	return c, nil
}

// done are the runs of a ground in the order in which they were pulled. On the
// mud the plan was kept to; on the sand two runs of a block were exchanged, and
// the dead weight of the last was left out.
func (g *campaignGround) done(runs []*plan.Run) []*plan.Run {
	if g.soil == "mud" {
		return runs
	}
	runs = slices.Clone(runs)
	for i, r := range runs {
		if r.Block == 2 && runs[i+1].Block == 2 {
			runs[i], runs[i+1] = runs[i+1], runs[i]
			break
		}
	}
	for i, r := range runs {
		if r.Block == g.blocks && r.Kind == trial.KindDeadWeight {
			return slices.Delete(runs, i, i+1)
		}
	}
	return runs
}

// head is the trial file of the campaign but for its runs: the template's vessel,
// gear, instruments and limits, with anchors, stations and a plan of its own.
func (c *campaign) head() string {
	text := trial.Template()
	if i := strings.Index(text, "\n[[anchor]]"); i >= 0 {
		text = text[:i+1]
	}
	text = setLine(text, "name", `"Three patterns on mud and sand (invented)"`)
	text = setLine(text, "bare_rode", `"0.15 kN"`)
	text = setLine(text, "dead_weight", `"0.42 kN"`)
	var b strings.Builder
	b.WriteString(text)
	for _, a := range campaignAnchors {
		fmt.Fprintf(&b, "[[anchor]]\nid = %q\npattern = %q\nmass = \"%v kg\"\nfluke = \"%v deg\"\nnote = \"invented\"\n\n", a.id, a.pattern, a.mass, a.fluke)
	}
	for _, g := range campaignGrounds {
		fmt.Fprintf(&b, "[[station]]\nname = %q\nbottom = %q\ndepth = \"%.1f m\"\n\n", g.name, g.bottom, g.depth)
	}
	fmt.Fprintf(&b, "[disclosure]\npaid = \"nobody: it is invented\"\nsupplied = \"nobody: no such anchors are\"\nground = \"whoever made it up\"\n\n")
	fmt.Fprintf(&b, "[plan]\nseed = %d\nscope = 8.0\nspeed = \"2.4 m/min\"\nfluke_width = \"0.6 m\"\n\n", c.seed%(1<<31))
	for _, g := range campaignGrounds {
		fmt.Fprintf(&b, "[[plan.berth]]\nstation = %q\nblocks = %d\n\n", g.name, g.blocks)
		for _, a := range g.anchors {
			fmt.Fprintf(&b, "[[plan.treatment]]\nid = %q\nanchor = %q\nstation = %q\n\n", a, a, g.name)
		}
	}
	return b.String()
}

// script is the deck's for one run: what the ground and the anchor do, and what
// the crew does. What goes wrong goes wrong at a fixed place of the campaign, so
// that the example shows it whatever the seed.
func (c *campaign) script(r *rand.Rand, g *campaignGround, p *campaignPull, nth int, first, last bool) (head, special string) {
	between := func(lo, hi float64) float64 { return lo + r.Float64()*(hi-lo) }
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	hour := float64(p.began.Hour()) + float64(p.began.Minute())/60
	depth := g.depth + 0.25*math.Sin((hour-8)/6*math.Pi) // a small tide
	say("# Invented data.\n[facts]\ntitle Run %s\ncaption %s\nrun %s", p.id, campaignCaption, p.id)
	say("depth %.2f m\nfairlead 1.5 m\npayout 60 m\nspeed 2.4 m/min\nstiffness 400 kN\nramp 0.3 s\nrun-on 0.2 s\noperator 1 s\nwindow 300 ms\nnoise 0.003 kN\nload 10 Hz\nline 10 Hz\ncount %d", depth, r.IntN(60000))
	say("[model]\nsoil %s\nslack %.2f m", g.soil, between(1, 2.2))
	switch p.kind {
	case trial.KindBareRode:
		say("bare")
	case trial.KindDeadWeight:
		say("block 16 kg")
	default:
		special = c.anchorModel(say, between, g, p, nth)
	}
	say("swell %.3f m every %.1f s", between(0.003, 0.012), between(4.5, 7))
	say("[faults]\nat 0.1 s: zero %.4f kN", drifted(hour))
	if special == "unplugged" {
		say("at x 12 m: unplug load 20 s")
	}
	weighs := first || last
	say("[winch]\ncell free\nwait 12 s")
	if weighs {
		say("cell hook 100 kg\nwait 14 s\ncell free")
	}
	say("until relay closed\ncell rode\nhaul\nuntil relay open\nstop\nwait 12 s\nease\nuntil tension below 0.3 kN\nstop\nuntil relay closed\nahead\nhaul at 12 m/min\nuntil rode out 12 m\nstop\nwait 3 s\nhaul at 2 m/min\nuntil rode out 7.7 m\nstop\nwait 3 s\ncell free\ndone")

	say("[crew]\nsay \"%s\"\nuntil load live\nuntil log on disk\nwait 2 s\nact zero", campaignCaption)
	if weighs {
		say("until tension above 0.8 kN\nwait 3 s\nact weight 100 kg\nuntil tension below 0.1 kN")
	} else {
		say("act waive weight \"hung before the first and the last run of the day\"")
	}
	say("act depth %.1f m\nact payout 60 m\nact mark \"anchor on bottom\"\nact read\nact ready winch \"line clear\"\nact ready logger \"logging, all live\"\nact ready director \"limits 6.4 and 8.0 kN\"\nact arm\nact stage pull", depth)
	switch special {
	case "called":
		say("until x 7 m\nact stop\nact note \"a boat crossed the lane\"")
	default:
		say("until order stop")
	}
	return b.String(), special
}

// crewEnd is what the crew does once the pull has ended.
func crewEnd(p *campaignPull, special, up string, tripped bool) string {
	if special == "unplugged" {
		return "wait 40 s\nact stage ease\nwait 70 s\nact note \"plug of the load cell dried and greased; lane spent\"\n" + strings.Repeat("act end \"load cell lost\"\n", 2)
	}
	ack, recover := "act ack\nwait 2 s\n", "act stage recover\n"
	if tripped {
		ack, recover = "", "act ack\nwait 2 s\nact rearm recover\n"
	}
	end := "wait 14 s\n" + ack + "act stage ease\nuntil tension below 0.3 kN\nwait 4 s\n" + recover +
		"until rode out 9 m\nact mark \"up and down\"\nuntil rode out 7.8 m\nuntil haul stopped\nwait 4 s\n"
	if p.kind == trial.KindPull {
		end += "act mark \"came up: " + up + "\"\n"
	}
	return end + "act stage done\nwait 2 s\nact end \"run complete\"\n"
}

func cameUp(r *rand.Rand, g *campaignGround) string {
	one := func(list ...string) string { return list[r.IntN(len(list))] }
	soil, state := one("grey mud", "grey mud with shell"), one("clean", "clogged between fluke and shank", "clogged at the crown")
	if g.soil == "sand" {
		soil, state = "fine sand", one("clean", "clean", "sand in the crown")
	}
	return soil + "; " + state + "; " + one("no damage", "no damage", "paint gone at the fluke tip") + "; fit to pull again"
}

// anchorModel says what the anchor does, and returns what is special of the run.
func (c *campaign) anchorModel(say func(string, ...any), between func(lo, hi float64) float64, g *campaignGround, p *campaignPull, nth int) (special string) {
	mass, pattern := 16.0, p.anchor[:1]
	if p.anchor == "A11" {
		mass = 11
	}
	say("anchor %.0f kg\nangle 6 deg losing 8 %% a degree", mass)
	// Bearing factors: what tells the patterns apart, and how much each scatters.
	own := map[string]struct{ mean, scatter float64 }{"A": {7.5, 0.08}, "B": {9.8, 0.25}, "C": {5.0, 0.12}}[pattern]
	if g.soil == "sand" {
		own = map[string]struct{ mean, scatter float64 }{"A": {20, 0.10}, "B": {75, 0.15}, "C": {16, 0.15}}[pattern]
	}
	bites := between(0.2, 1)
	say("bearing %.2f\nsuction %.2f kN over 0.4 m", own.mean*(1+own.scatter*between(-1.7, 1.7)), between(0.5, 1.4))
	if g.soil == "mud" {
		say("burial %.2f m in %.2f m", between(1.4, 1.7), between(4, 6))
		switch {
		case pattern == "B" && nth == 3:
			bites = -1
		case pattern == "B" && nth == 5:
			say("breaks after %.2f m over 30 mm\nagain after 0.7 m holding 72 %%", between(5, 7))
		case pattern == "C" && nth == 2:
			special = "unplugged"
		case pattern == "C" && nth == 4:
			say("breaks after %.2f m over 700 mm\nagain after 0.8 m holding 80 %%", between(4, 6))
		case p.anchor == "A16" && nth == 4:
			special = "called"
		}
	} else if pattern == "C" && nth == 2 {
		say("saw-tooth 50 %% every 0.5 m")
	}
	if bites < 0 {
		say("bites never")
	} else {
		say("bites after %.2f m", bites)
	}
	return special
}
