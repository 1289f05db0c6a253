package rode

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// row is one row of a table of ../../testdata/statics, by column name.
type row map[string]string

// num is the number in a column; an empty cell is NaN.
func (r row) num(t *testing.T, column string) float64 {
	t.Helper()
	text, ok := r[column]
	if !ok {
		t.Fatalf("no column %q", column)
	}
	if text == "" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatalf("column %q: %v", column, err)
	}
	return v
}

func table(t *testing.T, name string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "statics", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var rows []row
	for _, cells := range all[1:] {
		r := row{}
		for i, c := range cells {
			r[all[0][i]] = c
		}
		rows = append(rows, r)
	}
	return rows
}

// near fails unless got is want within tol relative, or tol*floor absolute.
func near(t *testing.T, what string, got, want, tol, floor float64) {
	t.Helper()
	if d := math.Abs(got - want); !(d <= tol*max(math.Abs(want), floor)) {
		t.Errorf("%s: got %.12g, want %.12g (off by %.3g relative)", what, got, want, d/math.Abs(want))
	}
}

func must(t testing.TB, height float64, pieces ...Piece) *Rode {
	t.Helper()
	r, err := New(height, pieces)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestPublishedElasticRows(t *testing.T) {
	for _, c := range table(t, "catenary-elastic-published.csv") {
		t.Run(c["id"], func(t *testing.T) {
			r := must(t, c.num(t, "z_m"), Piece{Length: c.num(t, "L_m"), Weight: c.num(t, "w_N_per_m"), EA: c.num(t, "EA_N"), Friction: c.num(t, "CB")})
			s, err := r.AtSpan(c.num(t, "x_m"))
			if err != nil {
				t.Fatal(err)
			}
			for _, q := range []struct {
				name string
				got  float64
			}{{"HF", s.H}, {"VF", s.V}, {"HA", s.AnchorH}, {"VA", s.AnchorV}} {
				near(t, q.name+" against the exact column", q.got, c.num(t, q.name+"_exact_N"), 1e-9, 1)
				printed := c.num(t, q.name+"_N")
				if c["usable"] == "yes" {
					near(t, q.name+" as printed", q.got, printed, c.num(t, "rel_tol"), 1)
				} else if math.Abs(q.got-printed) < 0.015*printed {
					t.Errorf("%s %v is near %v, which leaves the weight out", q.name, q.got, printed)
				}
			}
			near(t, "LB", s.OnBottom, c.num(t, "LB_exact_m"), 1e-9, 1)
			// The other way: from the tension to the same span.
			back, err := r.AtTension(s.T)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "span from tension", back.Span, c.num(t, "x_m"), 1e-9, 0)
		})
	}
}

func TestComputedSmallCraftRows(t *testing.T) {
	for _, c := range table(t, "catenary-elastic-small-craft-computed.csv") {
		t.Run(c["id"], func(t *testing.T) {
			r := must(t, c.num(t, "z_m"), Piece{Length: c.num(t, "L_m"), Weight: c.num(t, "w_N_per_m"), EA: c.num(t, "EA_N"), Friction: c.num(t, "CB")})
			bySpan, err := r.AtSpan(c.num(t, "x_m"))
			if err != nil {
				t.Fatal(err)
			}
			byTension, err := r.AtTension(c.num(t, "TF_N"))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "span from tension", byTension.Span, c.num(t, "x_m"), 1e-9, 0)
			for _, s := range []State{bySpan, byTension} {
				near(t, "HF", s.H, c.num(t, "HF_N"), 1e-6, 0)
				near(t, "VF", s.V, c.num(t, "VF_N"), 1e-6, 0)
				near(t, "TF", s.T, c.num(t, "TF_N"), 1e-6, 0)
				near(t, "HA", s.AnchorH, c.num(t, "HA_N"), 1e-6, 1e-3)
				near(t, "VA", s.AnchorV, c.num(t, "VA_N"), 1e-6, 1e-3)
				near(t, "TA", s.AnchorT, c.num(t, "TA_N"), 1e-6, 1e-3)
				near(t, "LB", s.OnBottom, c.num(t, "LB_m"), 1e-6, 1e-3)
				near(t, "fairlead angle", s.FairleadAngle*180/math.Pi, c.num(t, "fairlead_angle_deg"), 1e-6, 0)
				near(t, "anchor angle", s.AnchorAngle*180/math.Pi, c.num(t, "anchor_angle_deg"), 1e-6, 1e-3)
				if touching := c["state"] == "touching"; touching != (s.Regime == OnBottom) {
					t.Errorf("regime %v, the table says %s", s.Regime, c["state"])
				}
			}
		})
	}
}

func TestTwoSegmentRows(t *testing.T) {
	for _, c := range table(t, "catenary-two-segment-computed.csv") {
		t.Run(c["id"], func(t *testing.T) {
			r := must(t, c.num(t, "z_m"),
				Piece{Length: c.num(t, "chain_L_m"), Weight: c.num(t, "chain_w_N_per_m"), EA: c.num(t, "chain_EA_N"), Friction: c.num(t, "CB"), JointWeight: c.num(t, "junction_weight_N")},
				Piece{Length: c.num(t, "line_L_m"), Weight: c.num(t, "line_w_N_per_m"), EA: c.num(t, "line_EA_N"), Friction: c.num(t, "CB")})
			s, err := r.AtSpan(c.num(t, "x_m"))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "HF", s.H, c.num(t, "HF_N"), 1e-6, 0)
			near(t, "VF", s.V, c.num(t, "VF_N"), 1e-6, 0)
			near(t, "TF", s.T, c.num(t, "TF_N"), 1e-6, 0)
			near(t, "HA", s.AnchorH, c.num(t, "HA_N"), 1e-6, 0)
			near(t, "VA", s.AnchorV, c.num(t, "VA_N"), 1e-6, 1e-3)
			near(t, "LB", s.OnBottom, c.num(t, "LB_m"), 1e-6, 1e-3)
			joint := r.At(s, c.num(t, "chain_L_m"))
			near(t, "joint x", joint.X, c.num(t, "junction_x_m"), 1e-6, 0)
			near(t, "joint z", joint.Z, c.num(t, "junction_z_m"), 1e-6, 0)
			// The table's tension is that just above the joint.
			near(t, "joint tension", r.Pieces(s, nil)[1].Low, c.num(t, "junction_tension_N"), 1e-6, 0)
		})
	}
}

func TestInelasticClosedForm(t *testing.T) {
	for _, c := range table(t, "catenary-inelastic-closed-form.csv") {
		t.Run(c["id"], func(t *testing.T) {
			h, T := c.num(t, "h_m"), c.num(t, "T_fairlead_N")
			long := must(t, h, Piece{Length: 1000, Weight: c.num(t, "w_N_per_m"), EA: Unlimited, Friction: 0.5})
			s, err := long.AtTension(T)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "TH", s.H, c.num(t, "TH_N"), 1e-9, 1e-6)
			near(t, "VF", s.V, c.num(t, "VF_N"), 1e-9, 0)
			near(t, "angle", s.FairleadAngle*180/math.Pi, c.num(t, "fairlead_angle_deg"), 1e-9, 0)
			near(t, "hanging length", 1000-s.OnBottom, c.num(t, "lmin_m"), 1e-9, 0)
			near(t, "hanging span", s.Span-s.OnBottom, c.num(t, "x_m"), 1e-8, 1e-2)
			lmin, err := long.NoUplift(T)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "least length", lmin, c.num(t, "lmin_m"), 1e-9, 0)
			near(t, "scope", Scope(lmin, h-0.5, 0.5), c.num(t, "scope_l_over_h"), 1e-9, 0)
		})
	}
}

func TestInelasticExcursion(t *testing.T) {
	for _, c := range table(t, "catenary-inelastic-excursion.csv") {
		t.Run(c["id"], func(t *testing.T) {
			r := must(t, c.num(t, "h_m"), Piece{Length: c.num(t, "l_m"), Weight: c.num(t, "w_N_per_m"), EA: Unlimited})
			byTension, err := r.AtTension(c.num(t, "TF_N"))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "X", byTension.Span, c.num(t, "X_m"), 1e-9, 0)
			bySpan, err := r.AtSpan(c.num(t, "X_m"))
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range []State{byTension, bySpan} {
				near(t, "TH", s.H, c.num(t, "TH_N"), 1e-6, 0)
				near(t, "VF", s.V, c.num(t, "VF_N"), 1e-6, 0)
				near(t, "on bottom", s.OnBottom, c.num(t, "on_bottom_m"), 1e-6, 0)
			}
		})
	}
}

// The published case has a bridle of two legs above the line on the bottom; in
// its plane they are one leg only by their forces, so the lower line is solved
// alone, from the anchor to the free node.
func TestMultisegmentPublished(t *testing.T) {
	q := map[string]float64{}
	for _, c := range table(t, "catenary-multisegment-published.csv") {
		if v, err := strconv.ParseFloat(c["value"], 64); err == nil {
			q[c["quantity"]] = v
		}
	}
	area := math.Pi / 4 * q["lower_line_diameter_m"] * q["lower_line_diameter_m"]
	w := q["gravity_m_s2"] * (q["lower_line_mass_kg_m"] - q["water_density_kg_m3"]*area)
	near(t, "weight", w, q["lower_line_w_N_per_m"], 1e-8, 0)
	r := must(t, q["sea_depth_m"]+q["free_node_z_m_recomputed"], Piece{Length: q["lower_line_length_m"], Weight: w, EA: q["lower_line_EA_N"], Friction: q["lower_line_CB"]})
	s, err := r.AtSpan(400 - q["free_node_x_m_recomputed"])
	if err != nil {
		t.Fatal(err)
	}
	near(t, "H published", s.H, q["lower_line_H_at_upper_end_N"], 1e-6, 0)
	near(t, "V published", s.V, q["lower_line_V_at_upper_end_N"], 1e-6, 0)
	near(t, "H recomputed", s.H, q["lower_line_H_recomputed_N"], 1e-6, 0)
	near(t, "V recomputed", s.V, q["lower_line_V_recomputed_N"], 1e-6, 0)
	near(t, "on bottom", s.OnBottom, q["lower_line_on_bottom_m_recomputed"], 1e-6, 0)
}

func TestElasticEnergyRows(t *testing.T) {
	for _, c := range table(t, "elastic-energy-computed.csv") {
		T, l, ea := c.num(t, "T_N"), c.num(t, "L_m"), c.num(t, "EA_N")
		// A line of next to no weight is the straight one.
		s, err := must(t, 5, Piece{Length: l, Weight: 1e-9, EA: ea}).AtTension(T)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c["id"]+" energy of the rode", s.Energy, c.num(t, "energy_J"), 1e-9, 0)
		near(t, c["id"]+" stretch of the rode", s.Stretch, c.num(t, "stretch_m"), 1e-9, 0)
	}
}

func TestEmbeddedRows(t *testing.T) {
	for _, c := range table(t, "embedded-line-computed.csv") {
		t.Run(c["id"], func(t *testing.T) {
			s := Soil{Strength: 1e3 * c.num(t, "su0_kPa"), Gradient: 1e3 * c.num(t, "k_kPa_per_m"), Bearing: c.num(t, "Nc"),
				Width: c.num(t, "En") * c.num(t, "bar_diameter_m"), Friction: c.num(t, "mu")}
			ta, angle, depth := 1e3*c.num(t, "Ta_kN"), c.num(t, "theta0_deg")*math.Pi/180, c.num(t, "D_m")
			near(t, "Q average", s.above(depth)/depth, 1e3*c.num(t, "Qav_kN_per_m"), 1e-9, 0)
			a, t0, err := s.neubeckerRandolph(ta, angle, depth)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "padeye angle", a, c.num(t, "theta_a_rad"), 1e-9, 0)
			near(t, "mudline tension", t0, 1e3*c.num(t, "T0_kN"), 1e-9, 0)
			near(t, "ratio", t0/ta, c.num(t, "T0_over_Ta"), 1e-9, 0)
			// Small turns: the full integral is near the closed form.
			full, err := s.FromPadeye(ta, angle, depth)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "padeye angle in full", full.PadeyeAngle, a, 0.06, 0)
			near(t, "mudline tension in full", full.Mudline, t0, 0.01, 0)
			near(t, "padeye tension in full", full.Padeye, ta, 1e-12, 0)
		})
	}
}

func TestDrumRows(t *testing.T) {
	for _, c := range table(t, "drum-layers-computed.csv") {
		d := Drum{Barrel: c.num(t, "barrel_dia_mm") / 1e3, Flange: c.num(t, "flange_dia_mm") / 1e3, Width: c.num(t, "width_mm") / 1e3, Line: c.num(t, "rope_dia_mm") / 1e3}
		layer := int(c.num(t, "layer"))
		name := c["drum"] + " layer " + c["layer"]
		near(t, name+" wrap diameter", d.WrapDiameter(layer), c.num(t, "mean_wrap_dia_mm")/1e3, 1e-9, 0)
		if got, want := d.Turns(), int(c.num(t, "turns")); got != want {
			t.Errorf("%s: %d turns, want %d", name, got, want)
		}
		near(t, name+" length", d.LayerLength(layer), c.num(t, "layer_length_m"), 1e-6, 0)
		near(t, name+" wound", d.Wound(float64(layer*d.Turns())), c.num(t, "cumulative_length_m"), 1e-6, 0)
		near(t, name+" turns back", d.TurnsFor(d.Wound(float64(layer*d.Turns())-0.25)), float64(layer*d.Turns())-0.25, 1e-12, 0)
		near(t, name+" pull", d.WrapDiameter(1)/d.WrapDiameter(layer), c.num(t, "pull_ratio_to_layer1"), 1e-5, 0)
	}
	const inch, foot = 0.0254, 0.3048
	for _, c := range table(t, "drum-capacity-examples.csv") {
		switch c["id"] {
		case "dc1", "dc2":
			d := Drum{Barrel: c.num(t, "barrel_dia") * inch, Flange: c.num(t, "flange_or_final_dia") * inch, Width: c.num(t, "width") * inch, Line: c.num(t, "rope_dia") * inch}
			near(t, c["id"], d.Capacity()/foot, c.num(t, "result"), 1e-8, 0)
			near(t, c["id"]+" as published", d.Capacity()/foot, 940, 0.005, 0)
			if d.Layers() != 10 {
				t.Errorf("%s: %d layers, want 10", c["id"], d.Layers())
			}
		case "dc3":
			// The worked problem fills a ring; whole layers come out within one of it.
			d := Drum{Barrel: c.num(t, "barrel_dia") / 1e3, Flange: 0.2, Width: c.num(t, "width") / 1e3, Line: c.num(t, "rope_dia") / 1e3}
			outer := d.WrapDiameter(d.LayerOf(d.TurnsFor(c.num(t, "result")))) + d.Line
			near(t, "dc3", outer*1e3, c.num(t, "flange_or_final_dia"), 0.01, 0)
		default:
			t.Errorf("row %q is not checked", c["id"])
		}
	}
}
