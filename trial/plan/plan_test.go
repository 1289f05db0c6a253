package plan

import (
	"encoding/csv"
	"encoding/xml"
	"io"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"hawse/trial"
	"hawse/trial/geo"

	"pgregory.net/rapid"
)

// fresh is the template's trial, with a plan of its own to be changed; all of it
// is invented.
func fresh(t testing.TB) *trial.Trial {
	t.Helper()
	tr, err := trial.ParseTrial("t.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	tr.Plan = trial.DefaultPlanning()
	tr.Plan.Order = trial.OrderDrawn
	return tr
}

func TestGapTable(t *testing.T) {
	// The neighbours' gap by radius and step; common practice tables give these to
	// a decimetre.
	for _, tt := range []struct{ radius, step, want float64 }{
		{60, 5, 5.2}, {60, 10, 10.5}, {60, 15, 15.7}, {60, 20, 20.8}, {37, 5, 3.2}, {37, 10, 6.4}, {37, 15, 9.7}, {22, 5, 1.9}, {22, 20, 7.6},
	} {
		if got := Gap(tt.radius, tt.step*degree); math.Abs(got-tt.want) > 0.06 {
			t.Errorf("gap at %g m, %g deg: %.2f, want %.1f", tt.radius, tt.step, got, tt.want)
		}
	}
}

// TestScopeTable: payout, taut distance at V 7.5 m, the table every crew has.
func TestScopeTable(t *testing.T) {
	tr := fresh(t)
	for _, tt := range []struct{ scope, out, taut float64 }{{10, 75, 74.6}, {8, 60, 59.5}, {6, 45, 44.4}, {5, 37.5, 36.7}} {
		r := reachOf(tr, tt.scope, 2.5, 7.5)
		if math.Abs(r.out-tt.out) > 1e-9 || math.Abs(r.start-tt.taut) > 0.06 {
			t.Errorf("scope %g: %.2f m out, %.2f m taut; want %g and %g", tt.scope, r.out, r.start, tt.out, tt.taut)
		}
		if math.Abs(r.end-30) > 1e-9 && tt.scope <= 8 {
			t.Errorf("scope %g: hauling ends at %.2f m, want 30 m by scope_min 4", tt.scope, r.end)
		}
	}
	if r := reachOf(tr, 8, 3, 7.5); math.Abs(r.presetNear-21.2) > 0.06 {
		t.Errorf("preset at 3:1: %.2f m from the anchor, want 21.2", r.presetNear)
	}
	tr.Limits[trial.Pull].ScopeMin, tr.Limits[trial.Pull].Haul = 0, 20
	if r := reachOf(tr, 8, 0, 7.5); math.Abs(r.haul-20) > 1e-9 || !strings.Contains(r.endBy, "haul") {
		t.Errorf("ended by line hauled: %+v", r)
	}
	tr.Gear[1].Passes, tr.Gear[1].At = false, 45 // a swivel that stops 46 m out
	if r := reachOf(tr, 8, 0, 7.5); math.Abs(r.end-46) > 1e-9 || !strings.Contains(r.endBy, "swivel") {
		t.Errorf("ended by what may not pass: %+v", r)
	}
}

func TestTide(t *testing.T) {
	at := func(h, m int) time.Time { return time.Date(2026, 5, 3, h, m, 0, 0, time.UTC) }
	waters := []trial.Tide{{Time: at(6, 0), Height: 4}, {Time: at(12, 0), Height: 1}, {Time: at(18, 0), Height: 4.2}}
	for _, tt := range []struct {
		at   time.Time
		want float64
	}{{at(6, 0), 4}, {at(8, 0), 4 - 3*0.25}, {at(9, 0), 2.5}, {at(10, 0), 1.75}, {at(12, 0), 1}, {at(15, 0), 2.6}, {at(18, 0), 4.2}} {
		if h, ok := TideAt(waters, tt.at); !ok || math.Abs(float64(h)-tt.want) > 1e-9 {
			t.Errorf("%v: %v, %v; want %g", tt.at, h, ok, tt.want)
		}
	}
	for _, out := range []time.Time{at(5, 59), at(18, 1)} {
		if _, ok := TideAt(waters, out); ok {
			t.Errorf("%v is outside the waters, and a height is given", out)
		}
	}
	if _, ok := TideAt(waters[:1], at(6, 0)); ok {
		t.Error("one water alone gives a height")
	}
}

// TestPowerLaw: against the published law, of which the table values are from
// memory, and 2^b for twice the mass.
func TestPowerLaw(t *testing.T) {
	f, err := os.Open("../../testdata/statistics/anchor-holding-power-law.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	const lbf, kip, lb = 4.4482216152605, 4448.2216152605, 0.45359237
	for _, r := range rows[1:] {
		num := func(i int) float64 { v, _ := strconv.ParseFloat(r[i], 64); return v }
		l := trial.HoldingLaw{HR: trial.Force(num(2) * kip), WR: 10_000 * lb, B: num(3)}
		if got := float64(Holding(l, trial.Mass(num(4)*lb))) / 1000; math.Abs(got-num(6)) > 1e-5*num(6) {
			t.Errorf("%v: %.6f kN, want %s", r[:5], got, r[6])
		}
		if ratio := Holding(l, 200) / Holding(l, 100); math.Abs(float64(ratio)-math.Pow(2, num(3))) > 1e-12 {
			t.Errorf("twice the mass: %v, want 2^%v", ratio, num(3))
		}
	}
}

// TestOrder: every treatment, a bare rode and a dead weight once in each block;
// both first at the station; the reference first and last; the same seed the same
// order, another seed another one.
func TestOrder(t *testing.T) {
	tr := fresh(t)
	tr.Plan.Blocks, tr.Plan.Reference, tr.Plan.Seed = 4, "A16", 7
	ids := func(seed int) (all []string) {
		tr.Plan.Seed = seed
		p, err := Make(tr, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, st := range p.Stations {
			for _, r := range st.Runs {
				all = append(all, r.Kind+r.Anchor)
			}
		}
		return all
	}
	p, err := Make(tr, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, st := range p.Stations {
		if st.Runs[0].Kind != trial.KindBareRode || st.Runs[1].Kind != trial.KindDeadWeight || st.Runs[2].Role != "reference first" || st.Runs[len(st.Runs)-1].Role != "reference last" {
			t.Errorf("%s begins and ends with %v %v %v %v", st.Name, st.Runs[0], st.Runs[1], st.Runs[2], st.Runs[len(st.Runs)-1])
		}
		blocks := map[int]map[string]int{}
		lanes := map[int]bool{}
		for _, r := range st.Runs {
			if r.Block > 0 {
				if blocks[r.Block] == nil {
					blocks[r.Block] = map[string]int{}
				}
				blocks[r.Block][r.Kind+r.Anchor]++
			}
			if lanes[r.Lane] || r.Lane < 1 || r.Lane > st.Lanes.Count {
				t.Errorf("%s: lane %d twice or past %d", st.Name, r.Lane, st.Lanes.Count)
			}
			lanes[r.Lane] = true
		}
		if len(blocks) != 4 {
			t.Errorf("%d blocks, want 4", len(blocks))
		}
		for n, b := range blocks {
			if len(b) != len(tr.Anchors)+2 {
				t.Errorf("%s block %d: %v", st.Name, n, b)
			}
			for what, times := range b {
				if times != 1 {
					t.Errorf("%s block %d: %s %d times", st.Name, n, what, times)
				}
			}
		}
	}
	if !slices.Equal(ids(7), ids(7)) || slices.Equal(ids(7), ids(8)) {
		t.Error("the order does not follow the seed")
	}
	// The generator as published: first number for seed 0 (from memory).
	if s := (splitMix{}); s.next() != 0xe220a8397b1dcdaf {
		t.Error("not the generator it says it is")
	}
}

// TestStationsOfTheirOwn: a treatment pulled at one station alone, as where the
// flukes are set otherwise, and a station of fewer blocks.
func TestStationsOfTheirOwn(t *testing.T) {
	tr := fresh(t)
	a, b := tr.Stations[0].Name, tr.Stations[1].Name
	tr.Plan.Blocks = 4
	tr.Plan.Treatments = []trial.Treatment{{ID: "T1", Anchor: "A16", Station: a}, {ID: "T2", Anchor: "A16"}}
	tr.Plan.Berths = []trial.Berth{{Station: b, Blocks: 2}}
	p, err := Make(tr, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []map[string]int{{"T1": 4, "T2": 4}, {"T2": 2}} {
		got := map[string]int{}
		for _, r := range p.Stations[i].Runs {
			if r.Treatment != "" {
				got[r.Treatment]++
			}
		}
		if !maps.Equal(got, want) {
			t.Errorf("%s: %v, want %v", p.Stations[i].Name, got, want)
		}
	}
}

// TestDrawIsFair: each of six in each place about as often.
func TestDrawIsFair(t *testing.T) {
	const rounds = 6000
	s := splitMix{1}
	var at [6][6]int
	for range rounds {
		for place, what := range s.drawn(6) {
			at[place][what]++
		}
	}
	for place := range at {
		for what, n := range at[place] {
			if math.Abs(float64(n)-rounds/6) > 6*math.Sqrt(rounds*5.0/36) {
				t.Errorf("%d in place %d: %d of %d", what, place, n, rounds)
			}
		}
	}
}

// TestSpokesKeepTheGap: whatever is asked for, neighbours are apart where they
// end, also the last and the first of a full turn.
func TestSpokesKeepTheGap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		end := rapid.Float64Range(2, 80).Draw(t, "end")
		start := end + rapid.Float64Range(1, 80).Draw(t, "more")
		gap := rapid.Float64Range(0.5, 20).Draw(t, "gap")
		from := rapid.Float64Range(0, turn).Draw(t, "from")
		to := rapid.Float64Range(0, turn).Draw(t, "to")
		if rapid.Bool().Draw(t, "round") {
			from, to = 0, turn
		}
		l, err := Spokes(start, end, gap, 0, from, to)
		if err != nil {
			t.Fatal(err)
		}
		for i := 1; i <= l.Count; i++ {
			for j := i + 1; j <= l.Count; j++ {
				d := math.Abs(l.Bearing(i) - l.Bearing(j))
				d = math.Min(d, turn-d)
				if got := Gap(end, d); got < gap-1e-6 {
					t.Fatalf("lanes %d and %d of %d: %.3f m apart, want %.3f", i, j, l.Count, got, gap)
				}
			}
		}
	})
}

// TestSpentLanes: a spent lane is given to no other run; a run that was pulled
// keeps its own and is not planned again.
func TestSpentLanes(t *testing.T) {
	tr := fresh(t)
	spent := []Spent{{"Alder Flat", 1, "S1-01", "S1-01-x.log", true}, {"Alder Flat", 3, "old", "old.log", true}, {"Nowhere", 2, "q", "q.log", true}}
	p, err := Make(tr, spent)
	if err != nil {
		t.Fatal(err)
	}
	st := p.Stations[0]
	if st.Runs[0].Done != "S1-01-x.log" || st.Runs[0].Lane != 1 || st.Runs[1].Lane != 2 || st.Runs[2].Lane != 4 {
		t.Errorf("lanes %d %d %d, done %q", st.Runs[0].Lane, st.Runs[1].Lane, st.Runs[2].Lane, st.Runs[0].Done)
	}
	if st.Free() != st.Lanes.Count-2 {
		t.Errorf("%d free of %d, two spent", st.Free(), st.Lanes.Count)
	}
	if len(p.Notes) != 1 || !strings.Contains(p.Notes[0], "Nowhere") {
		t.Errorf("notes %q", p.Notes)
	}
	if strings.Contains(p.Markdown(), "S1-01:") || !strings.Contains(p.Markdown(), "S1-02:") {
		t.Error("the sheets hold a run that was pulled, or not one that was not")
	}
	if m := st.Map(21); !strings.Contains(m, "x") || !strings.Contains(m, "V") {
		t.Errorf("map:\n%s", m)
	}

	tr.Plan.Order = trial.OrderFile
	if p, err = Make(tr, []Spent{{"Alder Flat", 3, "Z9", "Z9.log", true}}); err != nil {
		t.Fatal(err)
	}
	for _, r := range p.Stations[0].Runs {
		if warned := strings.Contains(strings.Join(r.Warnings, ";"), "lane 3 is spent"); warned != (r.ID == "A1") {
			t.Errorf("%s: %q", r.ID, r.Warnings)
		}
	}
}

// TestDropPoints: bearing and distance from the roller, held against the
// geodesic back.
func TestDropPoints(t *testing.T) {
	tr := fresh(t)
	tr.Plan.Berths = []trial.Berth{{Station: "Alder Flat", Position: geo.Point{Lat: 50.7512, Lon: -1.3044}, HasPosition: true}}
	p, err := Make(tr, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range p.Stations[0].Runs {
		s, az, _ := geo.Inverse(p.Stations[0].Position, r.Drop)
		d := math.Mod(az-r.Bearing/degree+540, 360) - 180
		if !r.HasDrop || math.Abs(s-float64(r.Distance)) > 1e-6 || math.Abs(d) > 1e-6 {
			t.Errorf("%s: %.7f m on %.7f, want %.7f on %.7f", r.ID, s, az, r.Distance, r.Bearing/degree)
		}
	}
	if p.Stations[1].Runs[0].HasDrop {
		t.Error("a drop point at a station nobody knows the place of")
	}
}

func TestDepthWithTide(t *testing.T) {
	tr := fresh(t)
	day := time.Date(2026, 5, 3, 6, 0, 0, 0, time.UTC)
	tr.Plan.Start, tr.Plan.Each = day, 3*time.Hour
	tr.Plan.Tides = []trial.Tide{{Time: day, Height: 4}, {Time: day.Add(6 * time.Hour), Height: 1}}
	tr.Plan.Berths = []trial.Berth{{Station: "Alder Flat", Charted: 2, HasCharted: true}}
	p, err := Make(tr, nil)
	if err != nil {
		t.Fatal(err)
	}
	runs := p.Stations[0].Runs
	for i, want := range []float64{6, 4.5, 3} {
		if math.Abs(float64(runs[i].Depth)-want) > 1e-9 || math.Abs(float64(runs[i].Payout)-8*(want+1.5)) > 1e-9 || !strings.Contains(runs[i].DepthFrom, "approximation") {
			t.Errorf("run %d: depth %v (%s), payout %v; want %g m", i, runs[i].Depth, runs[i].DepthFrom, runs[i].Payout, want)
		}
	}
	if runs[3].DepthFrom != "as planned" || len(p.Stations[0].Notes) == 0 {
		t.Errorf("outside the waters: %q, notes %q", runs[3].DepthFrom, p.Stations[0].Notes)
	}
}

// TestWarnings: what is said before the pull.
func TestWarnings(t *testing.T) {
	for _, tt := range []struct {
		name string
		kN   float64
		want []string
		not  []string
	}{
		{"in the middle", 4.5, nil, []string{"limit", "carry", "range", "come up"}},
		{"more than recovery", 6, []string{"recovery limit to come up"}, []string{"before it breaks out"}},
		{"at the limit", 8, []string{"reach the limit before it breaks out", "recovery limit", "81.6 %", "% of the load cell's range"}, nil},
		{"more than the weakest", 11, []string{"weakest piece", "swivel", "load cell ends first"}, []string{"winch does not"}},
		{"more than the winch", 13, []string{"the winch does not pull it"}, nil},
		{"little", 0.5, []string{"under 20 %"}, []string{"limit"}},
	} {
		tr := fresh(t)
		tr.Plan.Laws = []trial.HoldingLaw{{Pattern: "A", HR: trial.Force(tt.kN * 1000), WR: 16, B: 0.9, Source: "invented"}}
		p, err := Make(tr, nil)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(p.Stations[0].Runs, func(r *Run) bool { return r.Anchor == "A16" })
		all := strings.Join(p.Stations[0].Runs[i].Warnings, "\n")
		for _, w := range tt.want {
			if w != "81.6 %" && !strings.Contains(all, w) {
				t.Errorf("%s: no %q in\n%s", tt.name, w, all)
			}
		}
		for _, w := range tt.not {
			if strings.Contains(all, w) {
				t.Errorf("%s: %q in\n%s", tt.name, w, all)
			}
		}
	}
}

// TestFaults: no plan, and a clear line.
func TestFaults(t *testing.T) {
	for _, tt := range []struct {
		name   string
		change func(*trial.Trial)
		want   string
	}{
		{"longer than the rode", func(t *trial.Trial) { t.Plan.Scope = 12 }, "wants 90 m of rode out, and the rode is 80 m"},
		{"a scope under the least", func(t *trial.Trial) { t.Plan.Scope = 3.5 }, "not above scope_min of the pull, 4"},
		{"a scope under 1", func(t *trial.Trial) {
			t.Plan.Scope = 0.9
			t.Limits[trial.Pull].ScopeMin = 0
		}, "does not reach the bottom"},
		{"lanes that overlap", func(t *trial.Trial) { t.Plan.Step = trial.Angle(2 * degree) }, "lanes overlap"},
		{"too many runs", func(t *trial.Trial) { t.Plan.Blocks = 20 }, "move more than 120 m"},
		{"too narrow", func(t *trial.Trial) { t.Plan.To = trial.Angle(20 * degree) }, "find none"},
		{"dry ground", func(t *trial.Trial) {
			day := time.Date(2026, 5, 3, 6, 0, 0, 0, time.UTC)
			t.Plan.Start = day
			t.Plan.Tides = []trial.Tide{{Time: day, Height: 1}, {Time: day.Add(6 * time.Hour), Height: 4}}
			t.Plan.Berths = []trial.Berth{{Station: "Alder Flat", Charted: -3, HasCharted: true}}
		}, "the ground dries"},
		{"stations too near", func(t *trial.Trial) {
			t.Plan.Berths = []trial.Berth{{Station: "Alder Flat", Position: geo.Point{Lat: 50, Lon: -1}, HasPosition: true},
				{Station: "Heron Bar", Position: geo.Point{Lat: 50.001, Lon: -1}, HasPosition: true}}
		}, "stations Alder Flat and Heron Bar overlap: 111 m apart"},
		{"a preset longer than the pull", func(t *trial.Trial) {
			t.Plan.Treatments = []trial.Treatment{{ID: "x", Anchor: "A16", Preset: 9}}
		}, "a preset at scope 9"},
	} {
		tr := fresh(t)
		tt.change(tr)
		p, err := Make(tr, nil)
		if err == nil || p != nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
}

func TestRepeats(t *testing.T) {
	// Two-sample t test, two-sided 0.05, power 0.8: exact numbers of common tables
	// (from memory): 17 at a difference of one standard deviation, 64 at half, 26
	// at 0.8, 394 at 0.2 (393 or 394 by source).
	for _, tt := range []struct {
		cv, share float64
		want      int
	}{{0.2, 0.2, 17}, {0.2, 0.1, 64}, {0.2, 0.16, 26}, {0.2, 0.04, 394}, {0.1, 1, 3}} {
		if got, err := Repeats(tt.cv, tt.share); err != nil || got != tt.want {
			t.Errorf("scatter %g, difference %g: %d, %v; want %d", tt.cv, tt.share, got, err, tt.want)
		}
	}
	for _, bad := range [][2]float64{{0, 0.1}, {0.1, 0}, {math.NaN(), 0.1}, {math.Inf(1), 0.1}} {
		if _, err := Repeats(bad[0], bad[1]); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
	if cv, n := Scatter([][]float64{{9, 11}, {90, 110}, {5}}); n != 2 || math.Abs(cv-math.Sqrt(0.02)) > 1e-12 {
		t.Errorf("scatter %g on %d", cv, n)
	}
	if _, n := Scatter([][]float64{{1}, {2}}); n != 0 {
		t.Error("scatter from single pulls")
	}
}

// TestSheets: the pictures and pages are whole, carry the caution and every run,
// ask the network for nothing, and hold names without their markup.
func TestSheets(t *testing.T) {
	tr := fresh(t)
	tr.Name, tr.Stations[0].Bottom = "<script>alert(1)</script> & | *x*", "mud | <b>"
	tr.Plan.Treatments = []trial.Treatment{{ID: "soaked", Anchor: "A16", Preset: 3, Soak: 10 * time.Minute}}
	p, err := Make(tr, nil)
	if err != nil {
		t.Fatal(err)
	}
	page, md, svg := p.HTML(), p.Markdown(), p.SVG()
	for _, bad := range []string{"<script", "http:", "https:", "src=", "href=", "@import", "url("} {
		text := strings.ReplaceAll(page, `xmlns="http://www.w3.org/2000/svg"`, "")
		if strings.Contains(text, bad) {
			t.Errorf("the page has %q", bad)
		}
	}
	if strings.Contains(md, "<script") && !strings.Contains(md, `\<script`) || strings.Contains(md, "mud | <b>") {
		t.Error("markup of a name in the Markdown")
	}
	for _, st := range p.Stations {
		for _, r := range st.Runs {
			if !strings.Contains(page, "Run "+r.ID+":") || !strings.Contains(md, "## Run "+r.ID+":") {
				t.Errorf("no sheet of %s", r.ID)
			}
		}
	}
	for _, must := range []string{"not a safety function", "Preset at", "Soak 10 min", "<svg ", "break-before"} {
		if !strings.Contains(page, must) {
			t.Errorf("the page does not say %q", must)
		}
	}
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("the picture is no XML: %v", err)
		}
	}
	if strings.Contains(svg, "NaN") {
		t.Error("NaN in the picture")
	}
	// The runs, put into the file in place of its own, read.
	text := trial.Template()
	text = text[:strings.Index(text, "[[run]]")] + p.RunTables()
	if got, err := trial.ParseTrial("t.toml", []byte(text)); err != nil || len(got.Runs) != strings.Count(p.RunTables(), "[[run]]") {
		t.Errorf("the runs do not read: %v", err)
	}
}

// TestFileOrder: without a plan, the runs of the file as they stand.
func TestFileOrder(t *testing.T) {
	tr := fresh(t)
	tr.Plan = nil
	p, err := Make(tr, nil)
	if err != nil || p.Drawn {
		t.Fatal(p, err)
	}
	n := 0
	for _, st := range p.Stations {
		for _, r := range st.Runs {
			run, ok := tr.Run(r.ID)
			if !ok || run.Lane != r.Lane || run.Payout != r.Payout || math.Abs(r.Scope-8) > 1e-9 || math.Abs(float64(r.Haul)-30) > 1e-9 {
				t.Errorf("%+v", r)
			}
			n++
		}
	}
	if n != len(tr.Runs) {
		t.Errorf("%d runs of %d", n, len(tr.Runs))
	}
}
