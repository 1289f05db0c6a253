package deck

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"hawse/trial"
	"hawse/trial/rode"
)

const lbf = 4.4482216152605 // N, exact

// modelled is a script with a model.
func modelled(facts, model, rest string) string {
	return "[facts]\ntitle Model\ncaption Invented data\ndepth 6 m\nfairlead 1.5 m\npayout 60 m\nspeed 2.4 m/min\nstiffness 400 kN\n" +
		facts + "[model]\n" + model + "\n" + rest
}

// hauled hauls a model with no relay in the way, and calls see every tick.
func hauled(t testing.TB, script string, seed uint64, to trial.Length, see func(h *modelGround, w *world)) *world {
	t.Helper()
	s := mustParse(t, script)
	w := newWorld(s, 0, seed)
	w.hear([]byte(say("ARM 1")))
	w.hand = true
	w.lever(leverHaul, s.Speed)
	g := w.ground.(*modelGround)
	for at, beat := int64(0), int64(0); w.x < to; at += tick {
		if at > 3600e9 {
			t.Fatalf("x %.2f m after an hour", w.x)
		}
		w.advance(at)
		if at >= beat {
			w.hear([]byte(say("BEAT 1 %d", at/ms)))
			beat = at + 100*ms
		}
		if see != nil {
			see(g, w)
		}
	}
	return w
}

// TestBareRodeAndLump: 20 ft of chain and 230 ft of cable read 20 to 70 lbf with
// nothing at their end, 55 to 60 in the mean, and some 136 lbf with a lump of 45 lb:
// common practice, no source. Chain of 10 mm weighs 18.67 N/m in water by
// 0.0219 d^2 kg/m; 3.49 N/m is a 10 mm wire of 0.409 d^2/100 kg/m (6x36 with a wire core).
func TestBareRodeAndLump(t *testing.T) {
	const pieces = "piece 20 ft 18.67 N/m 400 kN friction 1.15\npiece 230 ft 3.49 N/m 400 kN friction 1.15\n"
	run := func(end string) (least, mean, most float64) {
		least, n := math.Inf(1), 0.0
		hauled(t, strings.Replace(modelled("", "soil mud\n"+end+"\n"+pieces+"slack 0.5 m", ""), "60 m", "250 ft", 1), 1, 20, func(g *modelGround, w *world) {
			if w.x > 1 {
				v := float64(w.tension()) / lbf
				least, most, mean, n = min(least, v), max(most, v), mean+v, n+1
			}
		})
		return least, mean / n, most
	}
	least, mean, most := run("bare")
	t.Logf("bare rode %.1f to %.1f lbf, mean %.1f", least, most, mean)
	if least < 20 || most > 70 || mean < 50 || mean > 60 {
		t.Errorf("bare rode %.1f to %.1f lbf, mean %.1f; want within 20 to 70, mean 50 to 60", least, most, mean)
	}
	_, lump, _ := run("block 45 lb")
	t.Logf("with a lump of 45 lb %.1f lbf", lump)
	if math.Abs(lump-136) > 10 {
		t.Errorf("with a lump of 45 lb %.1f lbf, want about 136", lump)
	}
}

// TestRodeTable holds the table against the solver it was made from.
func TestRodeTable(t *testing.T) {
	table, err := newRodeTable(7.5, templateRode, 60)
	if err != nil {
		t.Fatal(err)
	}
	r := table.solve
	worst := 0.0
	for out := 12.1; out < 60; out += 3.37 {
		for _, tension := range []float64{60, 90, 140, 300, 700, 1500, 3100, 6000, 9000} {
			if err := r.SetOut(out); err != nil {
				t.Fatal(err)
			}
			want, err := r.AtTension(tension)
			if errors.Is(err, rode.ErrCannotHang) {
				continue // the rode hangs with more than that
			}
			if err != nil {
				t.Fatal(err)
			}
			got := table.atSpan(out, want.Span)
			off := math.Abs(got.tension-tension) / tension
			worst = max(worst, off)
			if off > 0.01 || math.Abs(got.anchor-want.AnchorT) > 0.01*tension+1 || math.Abs(got.angle-want.AnchorAngle) > 0.02 {
				t.Errorf("out %.2f m, span %.4f m: %.1f N, %.1f N at the anchor at %.4f rad; the solver has %.1f, %.1f, %.4f", out, want.Span,
					got.tension, got.anchor, got.angle, tension, want.AnchorT, want.AnchorAngle)
			}
			if tension >= 1500 {
				_ = r.SetOut(out)
				a, _ := r.AtSpan(want.Span + 0.001)
				if stiff := (a.T - tension) / 0.001; math.Abs(got.stiffTop-stiff) > 0.05*stiff {
					t.Errorf("out %.2f m at %.0f N: stiffness %.0f N/m, the solver's %.0f", out, tension, got.stiffTop, stiff)
				}
			}
		}
	}
	t.Logf("worst %.4f of the tension", worst)
}

// TestTemplateRode: the model's own rode is the trial file's.
func TestTemplateRode(t *testing.T) {
	file, err := trial.ParseTrial("trial.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	if len(file.Rode) != len(templateRode) {
		t.Fatalf("%d pieces, the template has %d", len(templateRode), len(file.Rode))
	}
	for i, p := range file.Rode {
		if q := templateRode[i]; q.Length != p.Length || q.Weight != p.Weight || q.EA != p.EA || p.HasFriction && q.Friction != p.Friction {
			t.Errorf("piece %d is %+v, the template's %+v", i+1, q, p)
		}
	}
}

// TestModelGeometryAndEnergy: the span is that of the statics at every moment, the
// anchor never goes back, nothing pulls with less than no force, and what the winch
// puts in is more than the anchor takes out.
func TestModelGeometryAndEnergy(t *testing.T) {
	for _, model := range []string{
		"soil mud\nanchor 16 kg\nslack 2 m",
		"soil sand\nanchor 16 kg\nbreaks after 3 m over 20 mm\nagain after 1 m holding 80 %",
		"soil stones\nanchor 12 kg\nsaw-tooth 60 % every 0.5 m",
		"soil clay\nanchor 10 kg\nbites never\nswell 0.05 m every 6 s\nthruster 0.1 m every 30 s",
		"soil mud\nbare",
	} {
		var work, took, travel, x float64
		var was, base *held
		n := 0
		hauled(t, modelled("", model, ""), 3, 20, func(g *modelGround, w *world) {
			now := g.now
			if now.tension < 0 || now.anchor < 0 || math.IsNaN(now.tension) || now.anchor > now.tension+1e-6 {
				t.Fatalf("%s: x %.3f m: %.1f N at the fairlead, %.1f N at the anchor", model, g.x, now.tension, now.anchor)
			}
			if g.anchor.travel < travel {
				t.Fatalf("%s: the anchor goes back from %.4f to %.4f m", model, travel, g.anchor.travel)
			}
			if n++; n%500 == 0 {
				_ = g.rode.solve.SetOut(g.out(g.x))
				if s, err := g.rode.solve.AtSpan(g.span()); err != nil || math.Abs(s.T-now.tension) > 0.01*now.tension+2 {
					t.Errorf("%s: x %.3f m, span %.4f m: %.1f N; the solver has %.1f (%v)", model, g.x, g.span(), now.tension, s.T, err)
				}
			}
			if was == nil {
				base = &now
			} else if g.m.Swell.Amp == 0 {
				// Line comes in stretched and keeps half of what that took.
				mean := (was.tension + now.tension) / 2
				work += mean * (1 + mean/800e3) * (g.x - x)
				took += (was.anchor + now.anchor) / 2 * math.Cos(now.angle) * (g.anchor.travel - travel)
			}
			was, x, travel = &now, g.x, g.anchor.travel
		})
		// The rode has kept some of it: half the tension times the stretch.
		kept := was.tension * was.tension / 400e3 * 40 / 2
		if left := work - took - kept; base != nil && left < -0.003*work-2 {
			t.Errorf("%s: the winch put in %.0f J; the anchor took %.0f and the rode keeps %.0f", model, work, took, kept)
		}
		t.Logf("%s: %.0f J in, %.0f J into the ground, travel %.2f m", model, work, took, travel)
	}
}

// TestFirmNeverSlips: an anchor that cannot be moved is not, and the tension rises
// by the rode's own stiffness.
func TestFirmNeverSlips(t *testing.T) {
	var from, at float64
	var slope, want float64
	hauled(t, modelled("", "soil clay\nanchor 16 kg\nbites after 0 m\nfirm\nslack 1 m", ""), 1, 2.2, func(g *modelGround, w *world) {
		tr := g.truth()
		if tr.Travel != 0 || tr.Contact != Still {
			t.Fatalf("x %.2f m: travel %v, %v", g.x, tr.Travel, tr.Contact)
		}
		if g.now.tension > 4000 && from == 0 {
			from, at = g.now.tension, g.x
		}
		if from > 0 && g.x > at && g.x <= at+0.2 {
			slope, want = (g.now.tension-from)/(g.x-at), 400e3/g.out(g.x)
		}
	})
	if !(math.Abs(slope-want) <= 0.08*want) || want == 0 {
		t.Errorf("from 4 kN on %.0f N/m hauled, want EA/L = %.0f", slope, want)
	}
}

// TestBreakoutFallsAndSetsAgain: the truth of a breakout, and the tension with it.
func TestBreakoutFallsAndSetsAgain(t *testing.T) {
	var states []string
	var before, low float64
	var brokeT, fellT float64
	hauled(t, modelled("", "soil mud\nanchor 16 kg\nbreaks after 6 m over 20 mm\nagain after 1 m holding 90 %", ""), 1, 16, func(g *modelGround, w *world) {
		tr := g.truth()
		state := fmt.Sprintf("%d breaks, %d bites", tr.Breaks, tr.Bites)
		if len(states) == 0 || states[len(states)-1] != state {
			states = append(states, state)
		}
		switch {
		case tr.Breaks == 0:
			before, low, brokeT = g.now.tension, g.now.tension, g.t
		case g.now.tension < low:
			low = g.now.tension
			if fellT == 0 && low < 0.3*before {
				fellT = g.t
			}
		}
	})
	if want := []string{"0 breaks, 0 bites", "0 breaks, 1 bites", "1 breaks, 1 bites", "1 breaks, 2 bites"}; !slices.Equal(states, want) {
		t.Errorf("%q, want %q", states, want)
	}
	t.Logf("%.0f to %.0f N, to a third in %.2f s", before, low, fellT-brokeT)
	if before < 2000 || low > 0.3*before || fellT-brokeT > 1.5 {
		t.Errorf("from %.0f N to %.0f N in %.2f s; want a fall to under a third in about a second", before, low, fellT-brokeT)
	}
}

// TestRelaxesWhenTheWinchStands: the tension falls by some per cent, ever slower,
// and the anchor only creeps.
func TestRelaxesWhenTheWinchStands(t *testing.T) {
	w := hauled(t, modelled("", "soil mud\nanchor 16 kg", ""), 1, 12, nil)
	g := w.ground.(*modelGround)
	w.lever(leverStop, 0)
	var course []float64
	for range 4 {
		w.advance(w.t + 10e9)
		course = append(course, g.now.tension)
	}
	start := g.anchor.resists()
	t.Logf("10, 20, 30, 40 s after the stop: %.0f N; holds %.0f N at the reference speed", course, start)
	first, last := course[0]-course[1], course[2]-course[3]
	if !(first > last && last > 0) || course[3] < 0.7*start {
		t.Errorf("10, 20, 30, 40 s after the stop %.0f N; want a fall that slows down, to no less than 0.7 of %.0f N", course, start)
	}
	if c := g.truth().Contact; c != Creeping && c != Still {
		t.Errorf("the anchor is %v 40 s after the stop", c)
	}
}

// TestCapacityFallsWithTheAngle, and the faster anchor holds more.
func TestCapacityFallsWithTheAngle(t *testing.T) {
	m := mustParse(t, modelled("", "soil mud\nanchor 16 kg\nbites after 0 m\nangle 9 deg losing 5 % a degree\nrate 10 %\nrough 0 % every 1 m", "")).model
	a := newAnchorModel(m, 1)
	a.embedded = 20
	level := a.capacity()
	a.angle = float64(deg(13))
	if got := a.capacity() / level; math.Abs(got-0.8) > 1e-9 {
		t.Errorf("at 13 deg %.3f of the capacity, want 0.8", got)
	}
	a.angle = float64(deg(9))
	v := creepAt(1.1*a.resists(), 0, a.resists(), 0.1*a.resists(), refSpeed, mostSpeed)
	if math.Abs(v-10*refSpeed) > 1e-6 {
		t.Errorf("a tenth more pull at 10 %% for ten times: %.4f m/s, want ten times %.2f", v, refSpeed)
	}
	// 0.102 m2 x 9 x (1 kPa + 1.9 kPa/m x 1.57 m) = 3.65 kN: by hand.
	if math.Abs(level-3650) > 60 {
		t.Errorf("16 kg in mud hold %.0f N at full depth, want 3650 by hand", level)
	}
}

// TestSameSeedSameBytes: the same made-up pull says the same bytes, another others.
func TestSameSeedSameBytes(t *testing.T) {
	bytesOf := func(seed uint64) []byte {
		u, err := MakeUp(seed)
		if err != nil {
			t.Fatal(err)
		}
		m := NewSim(mustParse(t, u.Script), seed)
		var b bytes.Buffer
		m.Hear(0, []byte(say("ARM 1")))
		for at := int64(0); at < 60e9; at += 100 * ms {
			m.Advance(at, func(port string, _ int64, raw []byte) { b.WriteString(port); b.Write(raw) })
			m.Hear(at, []byte(say("BEAT 1 %d", at/ms)))
		}
		return b.Bytes()
	}
	for seed := range uint64(4) {
		if !bytes.Equal(bytesOf(seed), bytesOf(seed)) {
			t.Errorf("seed %d: not the same bytes twice", seed)
		}
	}
	if bytes.Equal(bytesOf(1), bytesOf(2)) {
		t.Error("seeds 1 and 2 say the same bytes")
	}
}

// TestMakeUp: every made-up pull parses, its trial file too, and all kinds, soils
// and rates come up.
func TestMakeUp(t *testing.T) {
	seen := map[string]int{}
	for seed := range uint64(400) {
		u, err := MakeUp(seed)
		if err != nil {
			t.Fatal(err)
		}
		s := mustParse(t, u.Script)
		seen[u.Kind]++
		seen[string(u.Soil)]++
		seen[fmt.Sprint(u.LoadHz)]++
		if seed%20 == 0 {
			file, err := trial.ParseTrial("trial.toml", []byte(s.TrialFile()))
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			if l := file.Levels; !(l.BareRode > 20 && l.DeadWeight > l.BareRode && l.DeadWeight < 800) || float64(file.Load.Rate) != s.LoadHz {
				t.Errorf("seed %d: levels %+v, rate %v of %v", seed, l, file.Load.Rate, s.LoadHz)
			}
		}
	}
	for _, k := range madeKinds {
		if seen[k.name] == 0 {
			t.Errorf("no pull of 400 %s", k.name)
		}
	}
	for _, k := range []string{"mud", "clay", "sand", "stones", "2", "4", "5", "8", "10", "20", "50", "100"} {
		if seen[k] == 0 {
			t.Errorf("no pull of 400 with %s", k)
		}
	}
}

// TestMakeUpIsWide: made-up pulls have depths, scopes, rodes, swells and errors over
// the whole range that is said of them, and no two runs share one.
func TestMakeUpIsWide(t *testing.T) {
	least, most := map[string]float64{}, map[string]float64{}
	put := func(what string, v float64) {
		if _, ok := least[what]; !ok {
			least[what], most[what] = v, v
		}
		least[what], most[what] = min(least[what], v), max(most[what], v)
	}
	rodes := map[string]int{}
	trade := 0
	for i := range 300 {
		u, err := MakeUp(MadeSeed(7, i))
		if err != nil {
			t.Fatal(err)
		}
		s := mustParse(t, u.Script)
		file, err := trial.ParseTrial("trial.toml", []byte(s.TrialFile()))
		if err != nil {
			t.Fatal(err)
		}
		rodes[u.Rode]++
		put("depth", float64(s.Depth))
		put("scope", float64(s.Payout/(s.Depth+s.Fairlead)))
		put("speed", float64(s.Speed)*60)
		put("rate", s.LoadHz)
		put("chain", float64(s.model.Pieces[0].Length))
		for k, p := range s.model.Pieces {
			put("EA", float64(p.EA/file.Rode[k].EA))
		}
		if u.Swell > 0 {
			put("swell", float64(u.Swell))
			put("period", s.model.Swell.Every)
		}
		if u.Swell > 0.06 {
			trade++
		}
		reference := *s
		reference.Payout = planned
		bare, dead := reference.Levels(file.Limits[trial.Pull].Haul)
		put("bare", float64(file.Levels.BareRode/bare))
		put("dead", float64(file.Levels.DeadWeight/dead))
	}
	for _, w := range []struct {
		what                string
		low, from, to, high float64 // no less than low, some under from, some over to, no more than high
	}{
		{"depth", 3, 3.5, 11.5, 12}, {"scope", 4.9, 5.6, 9.6, 10.1}, {"speed", 1, 1.2, 4.8, 5}, {"rate", 2, 3, 90, 100},
		{"EA", 0.69, 0.73, 1.27, 1.31}, {"swell", 0, 0.01, 0.055, 0.101}, {"period", 3, 3.3, 8.7, 9},
		{"bare", 0.84, 0.88, 1.12, 1.16}, {"dead", 0.84, 0.88, 1.12, 1.16}, {"chain", 5, 9, 90, 150},
	} {
		if l, m := least[w.what], most[w.what]; l < w.low || l > w.from || m < w.to || m > w.high {
			t.Errorf("%s from %.3f to %.3f, want it within %g to %g, and from %g to %g at least", w.what, l, m, w.low, w.high, w.from, w.to)
		}
	}
	for _, k := range MadeRodes {
		if rodes[k] < 20 {
			t.Errorf("%d pulls of 300 with %s", rodes[k], k)
		}
	}
	if trade < 5 {
		t.Errorf("%d pulls of 300 in a swell over 60 mm, that of +-0.4 kN", trade)
	}
	if MadeSeed(1, MadeStride-1) >= MadeSeed(2, 0) {
		t.Error("runs 1 and 2 share pulls")
	}
}

// TestModelRecovery: suction gives way slowly, and the anchor comes up.
func TestModelRecovery(t *testing.T) {
	s := mustParse(t, modelled("", "soil mud\nanchor 16 kg\nsuction 1.5 kN over 0.4 m", "[winch]\ncell rode\nuntil relay closed\nhaul\nuntil x 8 m\nstop\nwait 2 s\nease\nuntil tension below 0.2 kN\nstop\nahead\nhaul at 12 m/min\nuntil rode out 12 m\nhaul at 2 m/min\nuntil rode out 6.5 m\nstop\ndone\n"))
	w := newWorld(s, 0, 1)
	w.hear([]byte(say("ARM 1")))
	var most, last float64
	var states []Contact
	for at, beat := int64(0), int64(0); !w.done; at += tick {
		if at > 3600e9 {
			t.Fatalf("no end: x %.2f, %v", w.x, w.ground.(*modelGround).truth())
		}
		w.advance(at)
		if at >= beat {
			w.hear([]byte(say("BEAT 1 %d", at/ms)))
			beat = at + 100*ms
		}
		if g := w.ground.(*modelGround); g.ahead {
			c := g.truth().Contact
			if len(states) == 0 || states[len(states)-1] != c {
				states = append(states, c)
			}
			last = float64(w.tension())
			if g.t > g.rises.began+20 {
				most = max(most, last)
			}
		}
	}
	t.Logf("most %.0f N, last %.0f N, %v", most, last, states)
	if states[len(states)-1] != OffBottom || most < 800 || most > 2500 || last > 400 || last < 100 {
		t.Errorf("most %.0f N, last %.0f N, %v; want suction of about 1.5 kN, then the anchor's own weight, off the bottom", most, last, states)
	}
}

// TestModelScriptErrors: what is wrong is told with its line and what to do.
func TestModelScriptErrors(t *testing.T) {
	for _, tt := range []struct{ name, model, want string }{
		{"no soil", "anchor 16 kg", "soil is missing"},
		{"no anchor", "soil mud", "0 of anchor, block and bare"},
		{"two ends", "soil mud\nanchor 16 kg\nbare", "2 of anchor, block and bare"},
		{"unknown word", "soil mud\nanchor 16 kg\nmagic 3", "unknown statement \"magic\""},
		{"unknown soil", "soil cheese\nanchor 16 kg", "where mud|clay|sand|stones is wanted"},
		{"twice", "soil mud\nsoil sand\nanchor 16 kg", "soil is on line 10 already"},
		{"no unit", "soil mud\nanchor 16", "write a number and one of"},
		{"pressure", "soil mud\nanchor 16 kg\nstrength 3 kN growing 1 kPa a metre", "is no pressure"},
		{"short rode", "soil mud\nanchor 16 kg\npiece 10 m 12 N/m 400 kN friction 0.7", "10 m of rode and 60 m are paid out"},
		{"too many agains", "soil mud\nanchor 16 kg\nagain never", "more often than breaks"},
		{"wild wave", "soil mud\nanchor 16 kg\nswell 0.1 m every 0.1 s", "time under 1 s"},
		{"saw", "soil mud\nanchor 16 kg\nsaw-tooth 95 % every 0.5 m", "over 90 %"},
		{"table too", "soil mud\nanchor 16 kg\n[tension]\nx 0 m 1 kN", "a model and a table"},
		{"floating piece", "soil mud\nanchor 16 kg\npiece 80 m -1 N/m 400 kN friction 0.7", "only a line that sinks"},
		{"empty", "", "[model] is empty"},
	} {
		_, err := ParseScenario("bad.txt", []byte(modelled("", tt.model, "")))
		if err == nil || !strings.Contains(err.Error(), tt.want) || !strings.HasPrefix(err.Error(), "bad.txt:") {
			t.Errorf("%s: %v; want the line and %q", tt.name, err, tt.want)
		} else if _, ok := errors.AsType[*ScriptError](err); !ok {
			t.Errorf("%s: %T", tt.name, err)
		}
	}
}

// TestModelDocument: the document lists every statement.
func TestModelDocument(t *testing.T) {
	text, err := os.ReadFile("MODEL.md")
	if err != nil {
		t.Fatal(err)
	}
	_, list, _ := strings.Cut(string(text), "## Statements of [model]")
	for _, form := range modelForms {
		if word, _, _ := strings.Cut(form, " "); !regexp.MustCompile(`(?m)^    .*\b` + word + `\b`).MatchString(list) {
			t.Errorf("MODEL.md's list has no statement %s", word)
		}
	}
}
