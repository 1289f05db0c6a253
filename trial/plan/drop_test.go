package plan

import (
	"math"
	"strings"
	"testing"

	"hawse/trial"
	"hawse/trial/geo"
)

// TestDropOf: the drop point lies on the lane's bearing, as far as the rode reaches,
// and a vessel beside it is told how far and which way.
func TestDropOf(t *testing.T) {
	tr := fresh(t)
	st := tr.Stations[0]
	berth := geo.Point{Lat: 50.7512, Lon: -1.3044}
	tr.Plan = trial.DefaultPlanning()
	tr.Plan.Berths = []trial.Berth{{Station: st.Name, Position: berth, HasPosition: true}}
	tr.Plan.Step, tr.Plan.From = trial.Angle(math.Pi/6), trial.Angle(math.Pi/3)
	var run trial.Run
	for _, r := range tr.Runs {
		if r.Station == st.Name && r.Lane > 1 {
			run = r
			break
		}
	}
	d, err := DropOf(tr, run)
	if err != nil {
		t.Fatal(err)
	}
	// Along the ground the taut rode is the cathetus: 60 m out, roller 7.5 m up.
	height := float64(st.Depth + tr.Vessel.Fairlead)
	want := math.Sqrt(float64(run.Payout*run.Payout) - height*height)
	bearing := math.Pi/3 + float64(run.Lane-1)*math.Pi/6
	if math.Abs(d.Distance-want) > 0.01 || math.Abs(d.Bearing-bearing) > 1e-12 || d.Within <= 0 {
		t.Errorf("%+v, want %g m at %g", d, want, bearing)
	}
	if b, far := d.From(berth); math.Abs(b-bearing) > 1e-4 || math.Abs(far-want) > 0.01 {
		t.Errorf("from the berth %g m at %g, want %g m at %g", far, b, want, bearing)
	}
	at, _ := geo.Direct(d.Point, 180, 3)
	if b, far := d.From(at); math.Min(b, 2*math.Pi-b) > 1e-4 || math.Abs(far-3) > 1e-3 {
		t.Errorf("3 m south of it: %g m at %g", far, b)
	}
	tr.Plan.DropWithin = 1.5
	if d, _ := DropOf(tr, run); d.Within != 1.5 {
		t.Errorf("%+v, want 1.5 m allowed", d)
	}
	for _, tt := range []struct {
		change func(*trial.Trial, *trial.Run)
		want   string
	}{
		{func(t *trial.Trial, _ *trial.Run) { t.Plan = nil }, "no [plan]"},
		{func(t *trial.Trial, _ *trial.Run) { t.Plan.Berths[0].HasPosition = false }, "no position"},
		{func(_ *trial.Trial, r *trial.Run) { r.Station = "nowhere" }, "no station"},
		{func(_ *trial.Trial, r *trial.Run) { r.ID, r.Payout = "other", 2 }, "does not reach"},
	} {
		other, r := *tr, run
		plan := *tr.Plan
		plan.Berths = append([]trial.Berth{}, tr.Plan.Berths...)
		other.Plan = &plan
		tt.change(&other, &r)
		if _, err := DropOf(&other, r); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v, want %q", err, tt.want)
		}
	}
}
