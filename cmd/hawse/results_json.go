package main

import (
	"encoding/json"
	"io"
	"math"
	"path/filepath"
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// resultDoc is a pull of `hawse results --json`: SI, the unit at the end of each
// key. Times ending in _s are since the pull began. What is not known is null or
// left out, and named in missing; never 0.
type resultDoc struct {
	Run        string            `json:"run,omitempty"`
	Trial      string            `json:"trial,omitempty"`
	File       string            `json:"trial_file,omitempty"`
	Kind       string            `json:"kind,omitempty"`
	Anchor     string            `json:"anchor,omitempty"`
	Station    string            `json:"station,omitempty"`
	Lane       int               `json:"lane,omitempty"`
	Mode       string            `json:"mode,omitempty"`
	Invented   bool              `json:"invented_data"` // anything but a live pull
	Caption    string            `json:"caption,omitempty"`
	Started    *time.Time        `json:"started"`
	LengthS    float64           `json:"length_s"`
	LostS      float64           `json:"not_recorded_s"`
	Holds      bool              `json:"record_holds"`
	Parts      []partDoc         `json:"parts"`
	Figures    *figuresDoc       `json:"figures"`
	Corrected  *figuresDoc       `json:"corrected"`       // null: no correction applies
	Means      []map[string]any  `json:"means,omitempty"` // that were asked for
	Cells      []cellDoc         `json:"load_cells,omitempty"`
	Late       []lateDoc         `json:"late,omitempty"`
	Missing    map[string]string `json:"missing"`
	Stops      []stopDoc         `json:"stops"`
	Checks     []checkDoc        `json:"checks"`
	Drops      []dropDoc         `json:"drops,omitempty"` // where rode began to go out, against the plan
	CameUp     []map[string]any  `json:"came_up"`         // what the anchor came up with; of an answer the last one holds
	More       int               `json:"stops_and_checks_not_listed"`
	Addenda    []commentDoc      `json:"addenda"`
	Unread     []string          `json:"addenda_not_read"`
	Doubtful   bool              `json:"doubtful"`
	Doubts     []doubtDoc        `json:"doubts"`
	BesideLogs int               `json:"other_logs_beside"` // not given, so not looked at for drift
}

// dropDoc is where rode began to go out; positions in degrees, WGS-84.
type dropDoc struct {
	AtS          float64  `json:"at_s"`
	Off          *float64 `json:"off_m"` // null: no fix
	Within       float64  `json:"within_m"`
	North        *float64 `json:"north_deg,omitempty"`
	East         *float64 `json:"east_deg,omitempty"`
	PlannedNorth *float64 `json:"planned_north_deg,omitempty"`
	PlannedEast  *float64 `json:"planned_east_deg,omitempty"`
}

func dropOf(t session.DropTold) dropDoc {
	d := dropDoc{AtS: secondsOf(t.T), Within: float64(t.Within)}
	if off := float64(t.Off); !math.IsNaN(off) {
		d.Off, d.North, d.East, d.PlannedNorth, d.PlannedEast = &off, &t.At.Lat, &t.At.Lon, &t.Planned.Lat, &t.Planned.Lon
	}
	return d
}

type partDoc struct {
	File      string          `json:"file"`
	State     string          `json:"state"`
	Whole     bool            `json:"whole"`
	BeginS    float64         `json:"begin_s"`
	Records   uint64          `json:"records"`
	SealFault string          `json:"seal_fault,omitempty"`
	Damage    []logfmt.Damage `json:"damage"`
	Error     string          `json:"error,omitempty"`
	Chain     string          `json:"chain_fault,omitempty"`
	Clock     string          `json:"clock_fault,omitempty"`
	SHA256    string          `json:"sha256"`
}

type figuresDoc struct {
	Pull    *greatestDoc   `json:"pull_greatest"`
	After   *greatestDoc   `json:"after_greatest"`
	Hauls   []haulDoc      `json:"hauls"`
	More    int            `json:"hauls_not_listed"`
	Hauled  *float64       `json:"hauled_m"`
	InPull  *float64       `json:"hauled_in_pull_m"`
	Stages  []stageTimeDoc `json:"stages"`
	PullOut bool           `json:"over_range_in_pull"`
	courseDoc
}

type greatestDoc struct {
	Value  float64  `json:"value_n"`
	Window string   `json:"window"`
	Lower  bool     `json:"lower_bound"`
	Why    string   `json:"lower_bound_why,omitempty"`
	AtS    float64  `json:"at_s"`
	Hauled *float64 `json:"hauled_m"`
	Scope  *float64 `json:"scope_ratio"`
	Stage  string   `json:"stage"`
	Still  bool     `json:"no_line_hauled_then"`
	FromS  *float64 `json:"at_from_s,omitempty"` // it came late, and may be of any time since
}

type haulDoc struct {
	BeginS   float64      `json:"begin_s"`
	EndS     float64      `json:"end_s"`
	From     *float64     `json:"hauled_from_m"`
	To       *float64     `json:"hauled_to_m"`
	Greatest *greatestDoc `json:"greatest"`
}

type stageTimeDoc struct {
	Stage    string   `json:"stage"`
	TimeS    float64  `json:"time_s"`
	Greatest *float64 `json:"greatest_instant_n"`
	Over     bool     `json:"over_range"`
}

type stopDoc struct {
	AtS    float64        `json:"at_s"`
	Part   int            `json:"part"` // from 1
	Kind   string         `json:"kind"`
	Cause  string         `json:"cause"`
	Stage  string         `json:"stage"`
	Text   string         `json:"text"`
	Values map[string]any `json:"values"`
	Who    string         `json:"who,omitempty"`
	Name   string         `json:"name,omitempty"`
	Also   []string       `json:"also"`
	Lifted *float64       `json:"lifted_s"`
	By     string         `json:"lifted_by,omitempty"`
}

type checkDoc struct {
	AtS    float64  `json:"at_s"`
	Part   int      `json:"part"` // from 1
	Check  string   `json:"check"`
	State  string   `json:"state"`
	Who    string   `json:"who"`
	Name   string   `json:"name,omitempty"`
	Text   string   `json:"text,omitempty"`
	Shown  *float64 `json:"shown_n,omitempty"`
	Want   *float64 `json:"weight_n,omitempty"`
	Off    *float64 `json:"off_ratio,omitempty"`
	Zero   *float64 `json:"zero_n,omitempty"`
	Before *float64 `json:"zero_before_n,omitempty"`
	Moved  *bool    `json:"moved,omitempty"`
}

type commentDoc struct {
	Part    int      `json:"part"` // from 1
	Said    any      `json:"said"`
	Applied bool     `json:"applied"`
	Why     string   `json:"not_applied_why,omitempty"`
	Off     *float64 `json:"off_ratio,omitempty"`
}

type doubtDoc struct {
	Kind string `json:"kind"`
	Text string `json:"text"`
}

func resultsJSON(out io.Writer, all []*session.Result, over []trial.Stretch, budget bool) error {
	enc := json.NewEncoder(out)
	for _, r := range all {
		doc := resultOf(r, budget)
		doc.Means = stretchDocs(r, over, budget)
		if err := enc.Encode(doc); err != nil {
			return err
		}
	}
	return nil
}

func resultOf(r *session.Result, budget bool) resultDoc {
	cells, late := cellDocs(r)
	d := resultDoc{LengthS: secondsOf(r.Length), LostS: secondsOf(r.Figures.Lost), Holds: r.Holds(), Missing: map[string]string{}, More: r.More,
		Parts: []partDoc{}, Stops: []stopDoc{}, Checks: []checkDoc{}, Addenda: []commentDoc{}, Doubts: []doubtDoc{},
		Cells: cells, Late: late, CameUp: cameUpDocs(r.CameUp), Unread: append([]string{}, r.Faults...), Doubtful: len(r.Doubts) > 0, BesideLogs: r.Beside}
	if !r.Started.IsZero() {
		d.Started = &r.Started
	}
	for _, m := range missingOf(r, &r.Figures) {
		d.Missing[m.key] = m.why
	}
	if r.Ready {
		h := &r.Head
		d.Run, d.Trial, d.File, d.Kind, d.Anchor, d.Station, d.Lane = h.Run.ID, h.Trial.Name, h.File, h.Run.Kind, h.Run.Anchor, h.Run.Station, h.Run.Lane
		d.Mode, d.Invented, d.Caption = h.Mode, invented(r), h.Caption
		d.Figures = figuresOf(&r.Figures, budget)
		if r.Corrected != nil {
			d.Corrected = figuresOf(r.Corrected, budget)
		}
	}
	for i := range r.Parts {
		p := &r.Parts[i]
		d.Parts = append(d.Parts, partDoc{p.Path, p.State(), p.Whole(), secondsOf(p.Join.To), p.Records, p.Seal.Fault,
			append([]logfmt.Damage{}, p.Damage...), p.Broken, p.Fault, p.Join.Note, p.SHA256})
	}
	for _, s := range r.Stops {
		doc := stopDoc{AtS: secondsOf(s.T), Part: s.Part + 1, Kind: s.Kind, Cause: s.Cause, Stage: s.Stage, Text: s.Text, Who: s.Who, Name: s.Name,
			Also: append([]string{}, s.Also...), By: s.By, Values: map[string]any{}}
		for key, v := range map[string]float64{"value": s.Value, "limit": s.Limit} {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				doc.Values[strings.TrimSuffix(key+"_"+s.Unit, "_")] = v
			}
		}
		if s.Lifted >= 0 {
			at := secondsOf(s.Lifted)
			doc.Lifted = &at
		}
		d.Stops = append(d.Stops, doc)
	}
	for _, t := range r.Drops {
		d.Drops = append(d.Drops, dropOf(t))
	}
	for i := range r.Checks {
		d.Checks = append(d.Checks, checkOf(&r.Checks[i]))
	}
	for _, c := range r.Addenda {
		d.Addenda = append(d.Addenda, commentDoc{c.Part + 1, addendumJSON(c.Addendum), c.Applied, c.Why, numberOf(c.Off())})
	}
	for _, x := range r.Doubts {
		d.Doubts = append(d.Doubts, doubtDoc{string(x.Kind), x.Text})
	}
	return d
}

func checkOf(c *session.CheckTold) checkDoc {
	state := map[safety.CheckState]string{safety.CheckPassed: "passed", safety.CheckFailed: "failed", safety.CheckWaived: "waived"}[c.State]
	d := checkDoc{AtS: secondsOf(c.T), Part: c.Part + 1, Check: c.Check.String(), State: state, Who: c.Who, Name: c.Name, Text: c.Text,
		Shown: numberOf(float64(c.Shown)), Want: numberOf(float64(c.Want)), Off: numberOf(c.Off()), Zero: numberOf(float64(c.Zero)), Before: numberOf(float64(c.Before))}
	if d.Before != nil {
		d.Moved = &c.Moved
	}
	return d
}

func figuresOf(f *trial.Figures, budget bool) *figuresDoc {
	d := &figuresDoc{Pull: greatestOf(f.Pull), After: greatestOf(f.After), Hauls: []haulDoc{}, More: f.More, Stages: []stageTimeDoc{},
		PullOut: f.Pull.Bound == trial.BoundOver, courseDoc: courseOf(f, budget)}
	if len(f.Hauls) > 0 {
		d.Hauled, d.InPull = numberOf(float64(f.Hauled)), numberOf(float64(f.InPull))
	}
	for _, h := range f.Hauls {
		d.Hauls = append(d.Hauls, haulDoc{secondsOf(h.Begin), secondsOf(h.End), numberOf(float64(h.From)), numberOf(float64(h.To)), greatestOf(h.Greatest)})
	}
	for s, g := range f.Stages {
		if g.Time == 0 {
			continue
		}
		doc := stageTimeDoc{Stage: trial.Stage(s).Key(), TimeS: secondsOf(g.Time), Over: g.Greatest.Bound != ""}
		if g.Greatest.Known {
			doc.Greatest = numberOf(float64(g.Greatest.Value))
		}
		d.Stages = append(d.Stages, doc)
	}
	return d
}

func greatestOf(g trial.Greatest) *greatestDoc {
	if !g.Known {
		return nil
	}
	var from *float64
	if g.From > 0 {
		v := secondsOf(g.From)
		from = &v
	}
	return &greatestDoc{float64(g.Value), string(g.Window), g.Bound != "", string(g.Bound), secondsOf(g.T), numberOf(float64(g.X)), numberOf(g.Scope), g.Stage.Key(), g.Still, from}
}

func secondsOf(ns int64) float64 { return float64(ns) / 1e9 }

// numberOf is nil where there is no number.
func numberOf(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// baseNames are the files of a pull without their folders.
func baseNames(r *session.Result) []string {
	var out []string
	for _, p := range r.Parts {
		out = append(out, filepath.Base(p.Path))
	}
	return out
}
