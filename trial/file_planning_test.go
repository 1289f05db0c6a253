package trial

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"
)

// templatePlan is the [plan] of the template, which stands there as a comment,
// as a crew would take it into use.
func templatePlan(t *testing.T) string {
	t.Helper()
	text := Template()
	at := strings.Index(text, "\n# [plan]\n")
	if at < 0 {
		t.Fatal("no [plan] in the template")
	}
	return text[:at+1] + uncomment(text[at+1:])
}

func uncomment(s string) string {
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = strings.TrimPrefix(l, "# ")
	}
	return strings.Join(lines, "\n")
}

func TestPlanningOfTheTemplate(t *testing.T) {
	if p := parseTemplate(t).Plan; p != nil {
		t.Errorf("the template as it stands has a plan: %+v", p)
	}
	tr, err := ParseTrial("t.toml", []byte(templatePlan(t)))
	if err != nil {
		t.Fatal(err)
	}
	p := tr.Plan
	if p == nil || p.Seed != 20260503 || p.Blocks != 3 || p.Scope != 8 || p.Flukes != 0.6 || p.Gap != 4 || p.DropWithin != 2 || p.Reference != "A16" || p.Order != OrderDrawn || p.Each != 45*time.Minute {
		t.Fatalf("%+v", p)
	}
	if math.Abs(float64(p.Step)-math.Pi/12) > 1e-15 || math.Abs(float64(p.To)-math.Pi) > 1e-15 || p.From != 0 {
		t.Errorf("angles: %+v", p)
	}
	if len(p.Tides) != 1 || p.Tides[0].Height != 4.1 || !p.Tides[0].Time.Equal(time.Date(2026, 5, 3, 6, 10, 0, 0, time.UTC)) {
		t.Errorf("tides: %+v", p.Tides)
	}
	if len(p.Berths) != 1 || !p.Berths[0].HasPosition || p.Berths[0].Charted != 2.4 || p.Berths[0].Blocks != 3 || math.Abs(p.Berths[0].Position.Lat-50.7512) > 1e-9 {
		t.Errorf("berths: %+v", p.Berths)
	}
	if len(p.Treatments) != 1 || p.Treatments[0] != (Treatment{"A16-soaked", "A16", 8, 2.5, 10 * time.Minute, 0.04, "Alder Flat"}) {
		t.Errorf("treatments: %+v", p.Treatments)
	}
	if len(p.Laws) != 1 || p.Laws[0] != (HoldingLaw{"A", "Alder Flat", 3000, 16, 0.92, "invented"}) {
		t.Errorf("laws: %+v", p.Laws)
	}
	got := map[string]string{}
	for _, kv := range tr.SI() {
		got[kv.Key] = kv.Val
	}
	// 2026-05-03 is day 20,576 after 1970-01-01.
	for key, want := range map[string]string{
		"plan_drawn": "1", "plan_seed": "20260503", "plan_blocks": "3", "plan_scope": "8", "plan_speed_m_per_s": "0.04", "plan_gap_m": "4",
		"plan_fluke_width_m": "0.6", "plan_drop_within_m": "2", "plan_step_rad": shortest(math.Pi / 12), "plan_from_rad": "0", "plan_to_rad": shortest(math.Pi),
		"plan_start_s": shortest(20576*86400 + 8*3600), "plan_each_s": "2700", "plan_tide1_time_s": shortest(20576*86400 + 6*3600 + 600), "plan_tide1_height_m": "4.1",
		"plan_berth1_north_rad": shortest(p.Berths[0].Position.Lat * math.Pi / 180), "plan_berth1_east_rad": shortest(p.Berths[0].Position.Lon * math.Pi / 180), "plan_berth1_charted_m": "2.4", "plan_berth1_blocks": "3",
		"plan_treatment1_scope": "8", "plan_treatment1_preset_scope": "2.5", "plan_treatment1_soak_s": "600", "plan_treatment1_speed_m_per_s": "0.04",
		"plan_holding1_hr_n": "3000", "plan_holding1_wr_kg": "16", "plan_holding1_b": "0.92",
	} {
		if got[key] != want {
			t.Errorf("%s = %q, want %q", key, got[key], want)
		}
	}
	for _, kv := range parseTemplate(t).SI() {
		if strings.HasPrefix(kv.Key, "plan_") {
			t.Errorf("%s = %s without a [plan]", kv.Key, kv.Val)
		}
	}
}

// TestPlanningFaults: each mistake is told on its own line, under its own key.
func TestPlanningFaults(t *testing.T) {
	good := templatePlan(t)
	for _, tt := range []struct{ name, from, to, key, want string }{
		{"blocks", "blocks = 3 ", "blocks = 0 ", "plan.blocks", "from 1 to 50"},
		{"scope of 1", "scope = 8.0                 # wanted", "scope = 1.0 # wanted", "plan.scope", "not above 1"},
		{"gap without a unit", `gap = "4 m" `, `gap = 4 `, "plan.gap", "bare number"},
		{"a negative gap", `gap = "4 m" `, `gap = "-4 m" `, "plan.gap", "negative"},
		{"no such anchor", `reference = "A16"`, `reference = "A61"`, "plan.reference", "no [[anchor]]"},
		{"no such station", "lies at a station\nstation = \"Alder Flat\"", "lies at a station\nstation = \"Alder Hat\"", "plan.berth[1].station", "Alder Flat"},
		{"no position", `"50 45.072 N 1 18.264 W"`, `"50 75.072 N 1 18.264 W"`, "plan.berth[1].position", "no position"},
		{"no date", `"2026-05-03 06:10"`, `"06:10"`, "plan.tide[1].time", "no date"},
		{"tide out of order", "[[plan.berth]] ", "[[plan.tide]]\ntime = \"2026-05-03 06:00\"\nheight = \"-0.3 m\"\n[[plan.berth]] ", "plan.tide[2].time", "not after"},
		{"a tide like a wall", `height = "4.1 m" `, `height = "41 m" `, "plan.tide[1].height", "more than 20 m"},
		{"a key nobody knows", "preset = 2.5 ", "prest = 2.5 ", "plan.treatment[1].prest", "no key"},
		{"no pattern", `pattern = "A"` + "\nstation = \"Alder Flat\"      #", `pattern = "Z"` + "\nstation = \"Alder Flat\"      #", "plan.holding[1].pattern", "no [[anchor]]"},
		{"no exponent", "b = 0.92\n", "", "plan.holding[1].b", "is missing"},
		{"an order of its own", "seed = 2", "order = \"mine\"\nseed = 2", "plan.order", "neither"},
		{"a treatment nowhere", `station = "Alder Flat"      # nowhere`, `station = "Alder Hat"      # nowhere`, "plan.treatment[1].station", "Alder Flat"},
		{"no blocks at a berth", "blocks = 3                  # here", "blocks = 0 # here", "plan.berth[1].blocks", "from 1 to 50"},
		{"two berths", "[[plan.treatment]] ", "[[plan.berth]]\nstation = \"Alder Flat\"\n[[plan.treatment]] ", "plan.berth[2].station", "already"},
	} {
		if !strings.Contains(good, tt.from) {
			t.Errorf("%s: no %q in the plan", tt.name, tt.from)
			continue
		}
		_, err := ParseTrial("t.toml", []byte(strings.Replace(good, tt.from, tt.to, 1)))
		all, ok := errors.AsType[FileErrors](err)
		if !ok || all[0].Key != tt.key || !strings.Contains(err.Error(), tt.want) || all[0].Line == 0 {
			t.Errorf("%s: %v; want %s: ... %s", tt.name, err, tt.key, tt.want)
		}
	}
}
