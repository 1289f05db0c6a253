package plan

import (
	"cmp"
	"errors"
	"fmt"
	"time"

	"hawse/trial"
	"hawse/trial/geo"
)

// Spent is a lane that was pulled in, however the pull ended: by a log.
type Spent struct {
	Station string
	Lane    int
	Run     string
	Log     string // name of the file
	Planned bool   // the log is of this trial file's run of that name
}

// Plan is all that is to be done.
type Plan struct {
	Trial    *trial.Trial
	Drawn    bool // false: the runs of the file as they stand
	Seed     int
	Stations []*Station
	Notes    []string // to be looked at, of no run alone
}

// Station is one station with its lanes and runs.
type Station struct {
	trial.Station
	Lanes    Lanes
	Position geo.Point // of the roller
	HasPos   bool
	Spent    []Spent // in order of lanes
	Runs     []*Run  // in order of work
	Widest   reach
	Notes    []string
}

// Run is one run as planned.
type Run struct {
	ID, Kind, Anchor string
	Treatment        string // empty where the plan names none
	Role             string // "reference first", "reference last", or empty
	Block            int    // from 1; 0: before or after the blocks
	Lane             int
	Bearing          float64 // from the roller to the drop point, rad

	At        time.Time    // when it begins; zero: not said
	Depth     trial.Length // expected, m
	DepthFrom string
	Scope     float64
	Payout    trial.Length // rode out at the start
	Distance  trial.Length // from the roller to the anchor at the start, the rode taut
	MinScope  float64      // of the pull's limits, 0: none
	LeastOut  trial.Length // rode out where hauling ends
	Haul      trial.Length // largest haul
	EndBy     string
	Near      trial.Length // taut distance there

	PresetScope    float64
	PresetOut      trial.Length // 0: no preset
	PresetDistance trial.Length
	Soak           time.Duration
	Speed          trial.Speed

	Drop    geo.Point // of the anchor
	HasDrop bool

	Expected trial.Force // by the power law; 0: not known
	Law      trial.HoldingLaw
	Warnings []string
	Done     string // the log that shows it was pulled; empty: to be done
}

// Faults is why there is no plan, a line each.
type Faults []error

func (f Faults) Error() string   { return errors.Join(f...).Error() }
func (f Faults) Unwrap() []error { return f }

// defaultScope is taken where neither the plan nor a run says one: common
// practice, no source.
const defaultScope = 8

// Make draws up the plan. The error is [Faults].
func Make(t *trial.Trial, spent []Spent) (*Plan, error) {
	p := &Plan{Trial: t}
	set := t.Plan
	if set == nil {
		set = trial.DefaultPlanning()
	}
	p.Drawn, p.Seed = set.Order != trial.OrderFile, set.Seed
	var faults Faults
	when := set.Start
	for i, s := range t.Stations {
		st := &Station{Station: s}
		for _, b := range set.Berths {
			if b.Station == s.Name {
				st.Position, st.HasPos = b.Position, b.HasPosition
			}
		}
		if p.Drawn {
			st.draw(t, set, i)
		} else {
			st.take(t)
		}
		faults = append(faults, st.lay(t, set, spent, &when)...)
		p.Stations = append(p.Stations, st)
	}
	faults = append(faults, p.apart()...)
	for _, x := range spent {
		if _, known := t.Station(x.Station); !known {
			p.Notes = append(p.Notes, fmt.Sprintf("%s is of a station this trial file does not know, %q: its ground is spent, nobody can say where", x.Log, x.Station))
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return p, nil
}

// usual is the speed of the file's first run.
func usual(t *trial.Trial) trial.Speed {
	if len(t.Runs) > 0 {
		return t.Runs[0].Speed
	}
	return 0
}

// take is the runs of the file at this station as they stand.
func (st *Station) take(t *trial.Trial) {
	for _, r := range t.Runs {
		if r.Station == st.Name {
			st.Runs = append(st.Runs, &Run{ID: r.ID, Kind: r.Kind, Anchor: r.Anchor, Lane: r.Lane, Payout: r.Payout, Speed: r.Speed})
		}
	}
}

// draw makes the runs of a station: bare rode, dead weight and the reference
// anchor first; blocks, each with every treatment, a bare rode and a dead weight
// in a drawn order; the reference anchor last.
func (st *Station) draw(t *trial.Trial, set *trial.Planning, station int) {
	draw := splitMix{uint64(set.Seed) ^ uint64(station+1)*0x2545f4914f6cdd1d}
	add := func(r Run) {
		r.ID = fmt.Sprintf("S%d-%02d", station+1, len(st.Runs)+1)
		r.Scope, r.Speed = cmp.Or(r.Scope, set.Scope, defaultScope), cmp.Or(r.Speed, set.Speed, usual(t))
		st.Runs = append(st.Runs, &r)
	}
	bare, dead := Run{Kind: trial.KindBareRode}, Run{Kind: trial.KindDeadWeight}
	add(bare)
	add(dead)
	if set.Reference != "" {
		add(Run{Kind: trial.KindPull, Anchor: set.Reference, Role: "reference first"})
	}
	var block []Run
	for _, d := range set.Treatments {
		if d.Station != "" && d.Station != st.Name {
			continue
		}
		block = append(block, Run{Kind: trial.KindPull, Anchor: d.Anchor, Treatment: d.ID, Scope: d.Scope, PresetScope: d.Preset, Soak: d.Soak, Speed: d.Speed})
	}
	if len(set.Treatments) == 0 {
		for _, a := range t.Anchors {
			block = append(block, Run{Kind: trial.KindPull, Anchor: a.ID})
		}
	}
	block = append(block, bare, dead)
	blocks := set.Blocks
	for _, b := range set.Berths {
		if b.Station == st.Name && b.Blocks > 0 {
			blocks = b.Blocks
		}
	}
	for b := range blocks {
		for _, i := range draw.drawn(len(block)) {
			r := block[i]
			r.Block = b + 1
			add(r)
		}
	}
	if set.Reference != "" {
		add(Run{Kind: trial.KindPull, Anchor: set.Reference, Role: "reference last"})
	}
}
