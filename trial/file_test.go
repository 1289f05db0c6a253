package trial

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func parseTemplate(t *testing.T) *Trial {
	t.Helper()
	tr, err := ParseTrial("template.toml", []byte(Template()))
	if err != nil {
		t.Fatalf("the template does not read:\n%v", err)
	}
	return tr
}

func TestTemplate(t *testing.T) {
	tr := parseTemplate(t)
	if len(tr.Notes) > 0 {
		t.Errorf("the template gives notes: %q", tr.Notes)
	}
	if string(tr.Text) != Template() {
		t.Error("Text is not the file as read")
	}
	kN := ForceUnit{"kN", 1000}
	kgf := ForceUnit{"kgf", 9.80665}
	want := &Trial{
		Format: 1,
		Name:   "Three grounds, three patterns (invented)",
		Method: "vessel held still on her moorings, winch hauls at a steady speed",
		Vessel: Vessel{Name: "workboat (invented)", Fairlead: 1.5, KeepOut: 1},
		Show:   Show{kN, LengthUnit{"m", 1}, SpeedUnit{"m/min", 1.0 / 60}},
		Load: LoadCell{
			Port: Port{Names: []string{"./deck/load"}, Baud: 9600, Frame: "8N1"}, Line: `^(?P<value>[+-]?\d+(\.\d+)?) (?P<unit>kgf)$`, Unit: "kgf",
			Range: 9806.65, Over: []string{"OL"}, Cal: []float64{0, 1}, CalUnit: kgf, CalSource: "invented: box taken at its word", Step: 0.980665,
			Rate: 10, Place: "link at the bow strong point, inboard of the roller", Serial: "invented-01", Filter: "none",
		},
		Line: Encoder{Port: Port{Names: []string{"./deck/line"}, Baud: 9600, Frame: "8N1"}, Line: `^N (?P<counts>[+-]?\d+)$`,
			PerMetre: 1000, HaulSign: +1, Rate: 10},
		Stop: StopOutput{Port: Port{Names: []string{"./deck/stop"}, Baud: 9600, Frame: "8N1", LinesDown: true}, Kind: StopText,
			Beat: 50 * time.Millisecond, Window: 300 * time.Millisecond},
		Winch: Winch{Reaction: 1500 * time.Millisecond, RunOn: 500 * time.Millisecond},
		Levels: Levels{
			BareRode: 120, DeadWeight: 250, DeadMass: 16, Source: "assumed", Known: true,
		},
		Phases: DefaultPhaseRules(),
	}
	for s := range NumStages {
		l := Limits{
			TensionWarn: 6400, TensionStop: 8000, WLLWarn: 0.7, WLLStop: 0.85, SoonWarn: 3 * time.Second,
			SilentWarn: time.Second, SilentStop: 2 * time.Second, LineSilentWarn: 2 * time.Second, LineSilentStop: 5 * time.Second,
		}
		switch s {
		case Preset:
			l.Haul, l.TensionEnd, l.ComeUp = 4.5, 1300, 1
		case Pull:
			l.Haul, l.ScopeMin, l.Duration, l.ComeUp = 35, 4, 20*time.Minute, 1
		case Hold:
			l.ScopeMin, l.ComeUp = 4, 1
		case Recover:
			l.TensionWarn, l.TensionStop = 4000, 5000
		}
		want.Limits[s] = l
	}
	got := *tr
	got.LimitsAt = LimitKeys{} // TestLimitsAt
	got.Text, got.Rode, got.Gear, got.Anchors, got.Stations, got.Runs = nil, nil, nil, nil, nil, nil
	if diff := cmp.Diff(want, &got); diff != "" {
		t.Errorf("template (-want +got):\n%s", diff)
	}

	if name, wll := tr.Weakest(); name != "swivel" || wll != 10e3 {
		t.Errorf("Weakest() = %q, %v; want the swivel, 10 kN", name, wll)
	}
	if got := tr.RodeLength(); got != 80 {
		t.Errorf("RodeLength() = %v, want 80 m", got)
	}
	for _, p := range tr.Rode {
		if p.EA != 400e3 {
			t.Errorf("EA of %s = %v, want 400 kN", p.Name, p.EA)
		}
	}
	if p := tr.Rode[1]; p.WLL != 14e3 || p.MBL != 70e3 || p.Factor != 5 {
		t.Errorf("second piece %+v; want MBL 70 kN / 5 = WLL 14 kN", p)
	}
	if g := tr.Gear[1]; g.Name != "swivel" || g.At != 10 || !g.HasAt || !g.Passes {
		t.Errorf("second piece of gear %+v; want the swivel, which passes, at 10 m", g)
	}
	if a, ok := tr.Anchor("A16"); !ok || a.Mass != 16 || a.Fluke != Angle(math.Pi/4) || a.Pattern != "A" {
		t.Errorf(`Anchor("A16") = %+v, %v`, a, ok)
	}
	if s, ok := tr.Station("Alder Flat"); !ok || s.Depth != 6 || s.DepthMin != 5.8 || s.DepthMax != 7.5 || s.Bottom != "soft mud" {
		t.Errorf(`Station("Alder Flat") = %+v, %v`, s, ok)
	}
	if r, ok := tr.Run("A1"); !ok || r != (Run{"A1", "A16", "Alder Flat", 3, KindPull, 60, 0.04}) {
		t.Errorf(`Run("A1") = %+v, %v`, r, ok)
	}
	for _, kind := range []string{KindPull, KindBareRode, KindDeadWeight} {
		if !slices.ContainsFunc(tr.Runs, func(r Run) bool { return r.Kind == kind }) {
			t.Errorf("no run of kind %q", kind)
		}
	}
	for _, miss := range []string{"", "a1", "A1 "} {
		if _, ok := tr.Run(miss); ok {
			t.Errorf("Run(%q) was found", miss)
		}
	}
	if _, ok := tr.Station("alder flat"); ok {
		t.Error("a station was found under another spelling")
	}
}

// What the simulated deck sends must fit the patterns as they stand.
func TestTemplatePatterns(t *testing.T) {
	tr := parseTemplate(t)
	load, line := regexp.MustCompile(tr.Load.Line), regexp.MustCompile(tr.Line.Line)
	for text, want := range map[string]string{"+0316.1 kgf": "+0316.1", "-55 kgf": "-55", "OL": "", "+0316.1 lb": "", "16.1 kg": "", "": ""} {
		got := ""
		if m := load.FindStringSubmatch(text); m != nil {
			got = m[load.SubexpIndex("value")]
		}
		if got != want {
			t.Errorf("load line %q gives value %q, want %q", text, got, want)
		}
	}
	if m := line.FindStringSubmatch("N +0012345"); m == nil || m[line.SubexpIndex("counts")] != "+0012345" {
		t.Errorf("line line gives %q", m)
	}
}

// The crew reads the template: each key is explained where it first stands,
// and the cautions come before it all.
func TestTemplateExplains(t *testing.T) {
	text := Template()
	for _, must := range []string{"INVENTED", "not a safety function", "The winch's own limiter and emergency stop come first", "treat the line as loaded"} {
		if i := strings.Index(text, must); i < 0 || i > strings.Index(text, "\nname =") {
			t.Errorf("the top of the template does not say %q", must)
		}
	}
	said := map[string]bool{}
	prev := ""
	for i, l := range strings.Split(text, "\n") {
		if key, _, ok := strings.Cut(l, " ="); ok && !strings.HasPrefix(l, "#") {
			if !strings.Contains(l, " # ") && !strings.HasPrefix(prev, "#") && !said[key] {
				t.Errorf("template line %d: %s is not explained", i+1, key)
			}
			said[key] = true
		}
		prev = l
	}
	for i, l := range strings.Split(text, "\n") {
		if len(l) > 80 {
			t.Errorf("template line %d is %d wide, more than a terminal of 80", i+1, len(l))
		}
	}
}

func TestSI(t *testing.T) {
	tr := parseTemplate(t)
	kvs := tr.SI()
	if diff := cmp.Diff(kvs, parseTemplate(t).SI()); diff != "" {
		t.Errorf("two readings of one file differ: %s", diff)
	}
	word := regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	got := map[string]string{}
	for _, kv := range kvs {
		if !word.MatchString(kv.Key) {
			t.Errorf("key %q is not a plain word", kv.Key)
		}
		if _, have := got[kv.Key]; have {
			t.Errorf("key %q comes twice", kv.Key)
		}
		if v, err := strconv.ParseFloat(kv.Val, 64); err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			t.Errorf("%s = %q is no finite number", kv.Key, kv.Val)
		}
		got[kv.Key] = kv.Val
	}
	for key, want := range map[string]string{
		"vessel_fairlead_m": "1.5", "rode1_weight_n_per_m": "12", "rode2_ea_n": "400000", "gear2_wll_n": "10000", "gear2_at_m": "10", "gear2_passes": "1", "weakest_wll_n": "10000",
		"vessel_keep_out_m": "1", "rode2_wll_n": "14000", "rode2_mbl_n": "70000", "rode2_factor": "5", "winch_reaction_s": "1.5", "winch_run_on_s": "0.5",
		"load_step_n": "0.980665", "load_slow_cell": "0", "limits_hold_soon_warn_s": "3", "limits_hold_come_up": "1", "station1_depth_min_m": "5.8", "station1_depth_max_m": "7.5",
		"load_unit_n": "9.80665", "load_range_n": "9806.65", "load_rate_hz": "10", "load_calibration_c1": "1", "load_calibration_unit_n": "9.80665",
		"line_scale_per_m": "1000", "line_haul_sign": "1", "stop_window_s": "0.3", "limits_pull_scope_min": "4", "limits_pull_duration_s": "1200",
		"limits_recover_tension_stop_n": "5000", "limits_stand_by_wll_stop": "0.85", "levels_dead_mass_kg": "16",
		"anchor1_fluke_rad": shortest(math.Pi / 4), "station3_depth_m": "6", "run3_speed_m_per_s": "0.04",
	} {
		if got[key] != want {
			t.Errorf("%s = %q, want %q", key, got[key], want)
		}
	}
	for _, unsaid := range []string{"limits_soak_haul_m", "limits_recover_scope_min", "limits_recover_come_up", "limits_pull_soon_stop_s", "rode1_mbl_n", "gear1_at_m", "station2_depth_min_m"} {
		if v, have := got[unsaid]; have {
			t.Errorf("%s = %q, want no entry", unsaid, v)
		}
	}
}

// edited is the template with one text replaced, which must be there once.
func edited(t *testing.T, pairs ...string) string {
	t.Helper()
	text := Template()
	for i := 0; i < len(pairs); i += 2 {
		if n := strings.Count(text, pairs[i]); n != 1 {
			t.Fatalf("%q stands %d times in the template, want once", pairs[i], n)
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

func TestTrialAccepts(t *testing.T) {
	_, silence, _ := strings.Cut(Template(), "Unknown is not low.\n")
	silence, _, _ = strings.Cut(silence, "\n# Slow haul")
	rate := "rate = \"10 Hz\"\n# Where the cell"
	tests := []struct {
		name  string
		text  string
		check func(t *testing.T, tr *Trial)
	}{
		{"a list of ports", edited(t, `"./deck/load"`, `["COM3", "COM4"]`), func(t *testing.T, tr *Trial) {
			if diff := cmp.Diff([]string{"COM3", "COM4"}, tr.Load.Port.Names); diff != "" {
				t.Error(diff)
			}
		}},
		{"another frame", edited(t, "baud = 9600\n# Data bits, parity (N none, E even, O odd, M mark, S space), stop bits.\nframe = \"8N1\"",
			"baud = 4_800\nframe = \"7E1.5\""), func(t *testing.T, tr *Trial) {
			if tr.Load.Port.Frame != "7E1.5" || tr.Load.Port.Baud != 4800 {
				t.Errorf("port %+v", tr.Load.Port)
			}
		}},
		{"counts fall", edited(t, `haul = "counts rise"`, `haul = "counts fall"`), func(t *testing.T, tr *Trial) {
			if tr.Line.HaulSign != -1 {
				t.Errorf("HaulSign = %d", tr.Line.HaulSign)
			}
		}},
		{"no over range text", edited(t, `over = ["OL"]`, `over = []`), func(t *testing.T, tr *Trial) {
			if len(tr.Load.Over) != 0 {
				t.Errorf("Over = %q", tr.Load.Over)
			}
		}},
		{"silence by default at 10 Hz", edited(t, silence, ""), func(t *testing.T, tr *Trial) {
			l := tr.Limits[Pull]
			if l.SilentWarn != time.Second || l.SilentStop != 2*time.Second || l.LineSilentWarn != 2*time.Second || l.LineSilentStop != 5*time.Second {
				t.Errorf("limits %+v", l)
			}
		}},
		{"silence by default at 1 Hz", edited(t, silence, "", rate, "rate = \"1 Hz\"\n#"), func(t *testing.T, tr *Trial) {
			if l := tr.Limits[Pull]; l.SilentWarn != 3*time.Second || l.SilentStop != 5*time.Second {
				t.Errorf("limits %+v", l)
			}
		}},
		{"only the stop of silence", edited(t, silence, "silent_stop = \"900 ms\"\n"), func(t *testing.T, tr *Trial) {
			if l := tr.Limits[Pull]; l.SilentWarn != 450*time.Millisecond || l.SilentStop != 900*time.Millisecond {
				t.Errorf("limits %+v", l)
			}
		}},
		{"heartbeat by default", edited(t, "beat = \"50 ms\"\n", "", "window = \"300 ms\"\n", ""), func(t *testing.T, tr *Trial) {
			if tr.Stop.Beat != 50*time.Millisecond || tr.Stop.Window != 300*time.Millisecond {
				t.Errorf("stop %+v", tr.Stop)
			}
		}},
		{"no levels yet", cutTable(t, "[levels]"), func(t *testing.T, tr *Trial) {
			if tr.Levels != (Levels{}) {
				t.Errorf("levels %+v", tr.Levels)
			}
		}},
		{"planned ends reach pull and hold only", edited(t, "scope_min = 4.0", "scope_min = 4.0\nhaul = \"31 m\"\nduration = \"9 min\""), func(t *testing.T, tr *Trial) {
			for s := range NumStages {
				l := tr.Limits[s]
				planned := s == Pull || s == Hold
				if (l.ScopeMin != 0) != planned || (l.Duration != 0) != planned || (l.Haul != 0) != (planned || s == Preset) {
					t.Errorf("%v: %+v", s, l)
				}
			}
			if tr.Limits[Pull].Haul != 35 || tr.Limits[Hold].Haul != 31 || tr.Limits[Hold].Duration != 9*time.Minute {
				t.Errorf("pull %+v hold %+v", tr.Limits[Pull], tr.Limits[Hold])
			}
		}},
		{"a stage in another spelling", edited(t, "[limits.preset]", "[limits.pay-out]\nhaul = \"1 m\"\n[limits.preset]"), func(t *testing.T, tr *Trial) {
			if tr.Limits[PayOut].Haul != 1 {
				t.Errorf("pay out: %+v", tr.Limits[PayOut])
			}
		}},
		{"the calibration in braces", edited(t, "[load.calibration]\n# Unit of both, what it shows and what is true.\nunit = \"kgf\"", "", "coefficients = [0.0, 1.0]", "", "source = \"invented: box taken at its word\"", "",
			`filter = "none"`, "filter = \"none\"\ncalibration = {unit = \"kgf\", coefficients = [0, 1], source = \"x\"}"), func(t *testing.T, tr *Trial) {
			if tr.Load.CalSource != "x" || len(tr.Load.Cal) != 2 {
				t.Errorf("load %+v", tr.Load)
			}
		}},
		{"kg and lb on plates", edited(t, "unit = \"kgf\"\n# The most", "unit = \"KG\"\n# The most", `range = "1000 kgf"`, `range = "1000 kg"`,
			`wll = "15 kN"`, `wll = "1.5 t"`), nil},
		{"lines that end as on another system", strings.ReplaceAll(Template(), "\n", "\r\n"), nil},
		{"a last line without an end", strings.TrimRight(Template(), "\n"), nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tr, err := ParseTrial("x.toml", []byte(tt.text))
			if err != nil {
				t.Fatalf("refused:\n%v", err)
			}
			if tt.check != nil {
				tt.check(t, tr)
			}
		})
	}
}

// cutTable is the template without one table, up to the next header.
func cutTable(t *testing.T, header string) string {
	t.Helper()
	before, rest, ok := strings.Cut(Template(), "\n"+header+"\n")
	if !ok {
		t.Fatalf("no %s in the template", header)
	}
	i := strings.Index(rest, "\n[")
	return before + rest[i:]
}

func TestNotes(t *testing.T) {
	text := edited(t, "unit = \"kgf\"\n# The most", "unit = \"KG\"\n# The most", `range = "1000 kgf"`, `range = "1000 kg"`,
		`wll = "15 kN"`, `wll = "1.5 t"`, "unit = \"kgf\"\n# c0", "unit = \"lb\"\n# c0",
		"anchor = \"A16\"\nstation = \"Alder Flat\"\nlane = 6", "anchor = \"A16\"\nstation = \"Alder Flat\"\nlane = 5")
	tr, err := ParseTrial("day.toml", []byte(text))
	if err != nil {
		t.Fatalf("refused:\n%v", err)
	}
	line := func(part string) string {
		before, _, ok := strings.Cut(text, part)
		if !ok {
			t.Fatalf("no %q", part)
		}
		return strconv.Itoa(1 + strings.Count(before, "\n"))
	}
	want := []string{
		"day.toml:" + line(`wll = "1.5 t"`) + `: gear[1].wll: "1.5 t": t taken as tf`,
		"day.toml:" + line(`unit = "KG"`) + `: load.unit: "KG": kg taken as kgf`,
		"day.toml:" + line(`range = "1000 kg"`) + `: load.range: "1000 kg": kg taken as kgf`,
		"day.toml:" + line(`unit = "lb"`) + `: load.calibration.unit: "lb": lb taken as lbf`,
	}
	if diff := cmp.Diff(want, tr.Notes[:min(4, len(tr.Notes))]); diff != "" {
		t.Errorf("notes (-want +got):\n%s", diff)
	}
	if len(tr.Notes) != 5 || !strings.Contains(tr.Notes[4], `run[6].lane: lane 5 of "Alder Flat" is also that of run C1`) {
		t.Errorf("notes %q: want a fifth on the lane used twice", tr.Notes)
	}
	if tr.Load.Unit != "KG" || tr.Load.ForceUnit().Name != "kgf" || tr.Load.Range != 9806.65 || tr.Load.CalUnit.Name != "lbf" {
		t.Errorf("load %+v", tr.Load)
	}
}
