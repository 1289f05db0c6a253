package session

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// hand drives a dry run by hand: a deck whose boxes send what it is told to.
type hand struct {
	t      *testing.T
	d      *Dry
	at     int64
	load   string // a line of the load box, without its end; "" none
	counts int
	acts   uint32
}

// byHand starts one on the invented trial file, with some of its text replaced.
func byHand(t *testing.T, edits ...string) *hand {
	t.Helper()
	text := strings.NewReplacer(edits...).Replace(trial.Template())
	for i := 0; i < len(edits); i += 2 {
		if !strings.Contains(trial.Template(), edits[i]) {
			t.Fatalf("the template no longer has %q", edits[i])
		}
	}
	tr, err := trial.ParseTrial("trial.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	head := testHead(t)
	head.Trial = tr
	head.Run, _ = tr.Run("A1")
	d, err := NewDry(head)
	if err != nil {
		t.Fatal(err)
	}
	d.Keep = true
	for _, src := range []string{SrcLoad, SrcLine, SrcStop} {
		d.Port(0, src, "open", "")
	}
	return &hand{t: t, d: d, load: "+0001.0 kgf"}
}

// run lets time pass, each box sending ten lines a second.
func (h *hand) run(d time.Duration) {
	for end := h.at + int64(d); h.at < end; {
		h.at += 50e6
		if h.at%100e6 == 0 {
			if h.load != "" {
				h.d.Rx(h.at, SrcLoad, []byte(h.load+"\r\n"))
			}
			continue
		}
		h.count(h.counts)
	}
}

func (h *hand) count(n int) {
	h.counts = n
	h.d.Rx(h.at, SrcLine, fmt.Appendf(nil, "N %+08d\r\n", n))
}

// haul counts to n at so many counts a line.
func (h *hand) haul(n, step int) {
	for h.counts != n {
		h.counts += max(min(n-h.counts, step), -step)
		h.run(100 * time.Millisecond)
	}
}

func (h *hand) do(who safety.Who, what, value string) string {
	h.acts++
	a := Act{Who: who, Name: "test", What: what, Value: value}
	if what == ActStage || what == ActRearm {
		a.Stage, _ = trial.ParseStage(value)
		a.Value = ""
	}
	return h.d.Act(h.at, a, h.acts).Refused
}

func (h *hand) must(who safety.Who, what, value string) {
	h.t.Helper()
	if refused := h.do(who, what, value); refused != "" {
		h.t.Fatalf("%s %s by the %s refused: %s", what, value, who, refused)
	}
}

func (h *hand) refused(who safety.Who, what, value, want string) {
	h.t.Helper()
	if got := h.do(who, what, value); got == "" || !strings.Contains(got, want) {
		h.t.Errorf("%s %q by the %s: refusal %q, want one that says %q", what, value, who, got, want)
	}
}

// pulling arms, with everything before it done or waived, in the stage pull.
func (h *hand) pulling() {
	h.t.Helper()
	h.must(safety.Director, ActDepth, "6 m")
	h.must(safety.Director, ActPayout, "60 m")
	h.must(safety.Director, ActWaive, "weight none on board")
	if h.d.State().Checks[safety.CheckZero] == safety.CheckOpen {
		h.must(safety.Logger, ActZero, "")
	}
	h.must(safety.Director, ActRead, "")
	for _, who := range []safety.Who{safety.WinchOperator, safety.Logger, safety.Director} {
		h.must(who, ActReady, "all live")
	}
	h.run(time.Second)
	h.must(safety.Director, ActArm, "")
	h.must(safety.Director, ActStage, "pull")
	h.run(time.Second)
	if !h.d.State().Permit {
		h.t.Fatalf("not permitted: %+v", h.d.State().Stop)
	}
}

// news says whether a line of the last input's words holds the text.
func (h *hand) said(want string) bool {
	for _, r := range h.d.Said() {
		if strings.Contains(r.Str("text"), want) {
			return true
		}
	}
	return false
}

// end holds the run against its replay.
func (h *hand) end() {
	h.t.Helper()
	f, damage, err := Refold(bytes.NewReader(logOf(h.d)), "test")
	if err != nil || len(damage) > 0 || len(f.Diffs) > 0 {
		h.t.Errorf("replay: %v, damage %v, differences %v", err, damage, f.Diffs)
	}
	if f.core.Digest() != h.d.core.Digest() {
		h.t.Error("the replay ends in another state")
	}
}

func near(a trial.Force, b float64) bool { return math.Abs(float64(a)-b) < 1e-9 }

const kgf = 9.80665

func TestZero(t *testing.T) {
	h := byHand(t)
	h.refused(safety.Logger, ActZero, "", "sent too little")
	if got := h.d.State().Checks[safety.CheckZero]; got != safety.CheckFailed {
		t.Errorf("after a refused zero the check is %v, want failed", got)
	}
	h.run(2 * time.Second)
	h.refused(safety.Watcher, ActZero, "", "read-only")
	h.refused(safety.WinchOperator, ActZero, "", "ask the director")
	h.load = "+0300.0 kgf"
	h.run(1500 * time.Millisecond)
	h.refused(safety.Logger, ActZero, "", "take the load off")
	h.load = "+0002.0 kgf"
	h.run(500 * time.Millisecond)
	h.refused(safety.Logger, ActZero, "", "take the load off") // half of the last second
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	var words logfmt.Record
	for _, r := range h.d.Said() {
		if r.Str("what") == "zero" {
			words = r
		}
	}
	before, _ := words.Float("before_n")
	after, _ := words.Float("after_n")
	if before != 0 || math.Abs(after-2*kgf) > 1e-9 || words.Str("samples") != "10" {
		t.Errorf("the zero said %v; want 0 before and 2 kgf after, from 10 samples", words.Fields)
	}
	s := h.d.Snapshot()
	if !s.Zero.Known || !near(s.Zero.Force, 2*kgf) || s.Zero.At != s.T || !near(s.Tension.Now, 0) {
		t.Errorf("after the zero: %+v, tension %v; want 2 kgf, and nothing left", s.Zero, s.Tension.Now)
	}
	h.load = "+0102.0 kgf"
	h.run(time.Second)
	if s := h.d.Snapshot(); !near(s.Tension.Now, 100*kgf) || !near(s.Guard.Load.Tension, 100*kgf) || !near(s.Tension.Indicated, 102*kgf) {
		t.Errorf("102 kgf above a zero of 2: tension %v, guard %v, indicated %v", s.Tension.Now, s.Guard.Load.Tension, s.Tension.Indicated)
	}
	h.load = "+0008.0 kgf" // 6 kgf off, the range is 1000
	h.run(2 * time.Second)
	h.must(safety.Director, ActZero, "")
	if !h.d.State().Alarms[safety.ZeroMoved].Standing() {
		t.Error("a zero that has moved by 0.6 % of the range is not told")
	}
	h.must(safety.Director, ActZero, "")
	if h.d.State().Alarms[safety.ZeroMoved].Standing() {
		t.Error("the zero has not moved again, and its alarm stands")
	}
	h.pulling()
	h.refused(safety.Director, ActZero, "", "hauling is permitted")
	h.load = "OL"
	h.must(safety.Director, ActStage, "ease")
	h.run(500 * time.Millisecond)
	h.load = "+0008.0 kgf"
	h.run(200 * time.Millisecond)
	h.refused(safety.Director, ActZero, "", "sent too little")
	h.end()
}

// TestSlowCellCanBeZeroed: a box of one line a second has too little in a
// second; it is judged by its last four lines.
func TestSlowCellCanBeZeroed(t *testing.T) {
	h := byHand(t, "rate = \"10 Hz\"\n# Where the cell", "rate = \"1 Hz\"\n# Where the cell", "slow_cell = false", "slow_cell = true", `silent_warn = "1 s"`, `silent_warn = "3 s"`, `silent_stop = "2 s"`, `silent_stop = "5 s"`)
	h.load = ""
	for range 6 {
		h.run(time.Second)
		h.d.Rx(h.at, SrcLoad, []byte("+0002.0 kgf\r\n"))
	}
	h.must(safety.Logger, ActZero, "")
	h.refused(safety.Director, ActAccept, "anything", "slow cell")
	h.refused(safety.Logger, ActAccept, "slow cell", "director")
	h.must(safety.Director, ActAccept, "slow cell")
	if got := h.d.State().Checks[safety.CheckSlowCell]; got != safety.CheckPassed {
		t.Errorf("slow cell accepted: check %v", got)
	}
	h.end()
}

func TestKnownWeight(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.load = "+0026.0 kgf" // 25 above the zero of 1
	h.run(2 * time.Second)
	for _, tt := range []struct{ value, want string }{
		{"", "neither a mass nor a force"}, {"25", "neither a mass nor a force"}, {"25 m", "neither a mass nor a force"},
		{"-25 kg", "neither"}, {"0 kg", "1 %"}, {"100 g\x1b[31m", "neither"}, {"2 kg", "hang on more"},
	} {
		h.refused(safety.Logger, ActWeight, tt.value, tt.want)
	}
	if got := h.d.State().Checks[safety.CheckWeight]; got != safety.CheckOpen {
		t.Errorf("nothing could be said of the weight, and the check is %v", got)
	}
	h.refused(safety.Logger, ActWeight, "20 kg", "1.25 times")
	h.refused(safety.Logger, ActCorrect, "unit lb", "box sends the unit")
	if got := h.d.State().Checks[safety.CheckWeight]; got != safety.CheckFailed {
		t.Errorf("25 kgf shown for 20 kg: check %v, want failed", got)
	}
	h.refused(safety.WinchOperator, ActWeight, "25 kg", "ask the director")
	h.must(safety.Director, ActWeight, "245.2 N") // a force does as well
	h.must(safety.Logger, ActWeight, "25.0 kg")
	h.refused(safety.Logger, ActCorrect, "sign", "only after a known weight that did not fit")
	if !h.said("did not fit") || h.d.State().Checks[safety.CheckWeight] != safety.CheckPassed {
		t.Errorf("said %v, check %v", h.d.Said(), h.d.State().Checks[safety.CheckWeight])
	}
	h.load = "+0001.0 kgf"
	h.run(2 * time.Second)
	h.pulling()
	h.refused(safety.Logger, ActWeight, "25 kg", "hauling is permitted")
	h.end()
}

// unitless is a load box that sends numbers alone, declared kgf.
var unitless = []string{`line = '^(?P<value>[+-]?\d+(\.\d+)?) (?P<unit>kgf)$'`, `line = '^(?P<value>[+-]?\d+(\.\d+)?)$'`}

// TestWrongSignAndUnit: 25.0 kg hang on the cell, the box sends -55.1 and means
// pounds. Both are named; nothing is put right until a person says so.
func TestWrongSignAndUnit(t *testing.T) {
	h := byHand(t, unitless...)
	h.load = "+0.0"
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.load = "-55.1"
	h.run(2 * time.Second)
	h.refused(safety.Logger, ActCorrect, "sign", "known weight that did not fit")
	h.refused(safety.Logger, ActWeight, "25.0 kg", "the sign is reversed; it is 2.204 times what hangs there: lb are taken for kg")
	if s := h.d.Snapshot(); s.Refusal.Text == "" || !strings.Contains(s.Refusal.Text, "lb are taken for kg") {
		t.Errorf("the screen's refusal: %q", s.Refusal.Text)
	}
	h.refused(safety.Director, ActArm, "", "not armed")
	h.refused(safety.WinchOperator, ActCorrect, "sign", "logger")
	h.refused(safety.Logger, ActCorrect, "", `say "sign"`)
	h.refused(safety.Logger, ActCorrect, "sign twice", `say "sign"`)
	h.refused(safety.Logger, ActCorrect, "unit stone", "no unit of force")
	h.must(safety.Logger, ActCorrect, "sign")
	h.must(safety.Logger, ActCorrect, "unit lb")
	s := h.d.Snapshot()
	if s.Correction != "sign reversed, numbers are lb" || s.Guard.Checks[safety.CheckZero] != safety.CheckOpen || s.Guard.Checks[safety.CheckWeight] != safety.CheckOpen || s.Zero.Known {
		t.Errorf("corrected: %q, checks %v, zero %+v; want both open again", s.Correction, s.Guard.Checks, s.Zero)
	}
	h.refused(safety.Logger, ActWeight, "25.0 kg", "sent too little")
	h.load = "+0.2"
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.load = "-54.9"
	h.run(2 * time.Second)
	h.must(safety.Logger, ActWeight, "25.0 kg")
	if got := float64(h.d.Snapshot().Tension.Now); math.Abs(got-25*kgf) > 1 {
		t.Errorf("25 kg hang there and the tension is %.1f N", got)
	}
	h.load = "+0.2"
	h.run(2 * time.Second)
	h.pulling()
	h.refused(safety.Logger, ActCorrect, "sign", "has been armed")
	h.end()
}

// TestCorrectionTurnsTheCalibration: the sign is that of the box's number, so a
// calibration with an offset keeps its offset.
func TestCorrectionTurnsTheCalibration(t *testing.T) {
	kg, _ := trial.ForceUnitNamed("kgf")
	tests := []struct {
		name string
		cell trial.LoadCell
		want []float64
	}{
		{"none", trial.LoadCell{Unit: "kgf"}, []float64{0, -1}},
		{"cubic", trial.LoadCell{Unit: "kgf", Cal: []float64{3, 1.01, 0.2, 0.1}, CalUnit: kg}, []float64{3, -1.01, 0.2, -0.1}},
	}
	for _, tt := range tests {
		got := correction{reversed: true}.apply(tt.cell)
		if fmt.Sprint(got.Cal) != fmt.Sprint(tt.want) || got.CalUnit.N != kg.N {
			t.Errorf("%s: calibration %v in %v, want %v", tt.name, got.Cal, got.CalUnit, tt.want)
		}
	}
}

func TestWordsBeforeArming(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	h.refused(safety.Watcher, ActReady, "here", "each for the own seat")
	h.refused(safety.Program, ActReady, "here", "each for the own seat")
	h.refused(safety.WinchOperator, ActRead, "", "ask the director")
	h.refused(safety.Director, ActWaive, "", `say "zero", "weight" or "cells"`)
	h.refused(safety.Director, ActWaive, "limits no time", `say "zero", "weight" or "cells"`)
	h.refused(safety.Director, ActWaive, "weight", "say the reason")
	h.refused(safety.Director, ActWaive, "zero  ", "say the reason")
	h.refused(safety.Logger, ActWaive, "weight none on board", "not this seat's")
	h.refused(safety.Logger, ActHorn, "", "no [horn]")
	h.refused(safety.Director, ActAccept, "slow cell", "slow_cell = true")
	h.refused(safety.Director, "dance", "", `unknown act "dance"`)
	h.must(safety.Director, ActWaive, "weight none on board")
	h.must(safety.WinchOperator, ActReady, "winch ready, line clear")
	if got := h.d.State().Checks[safety.ReadyWinch]; got != safety.CheckPassed {
		t.Errorf("winch ready: check %v", got)
	}
	h.must(safety.WinchOperator, ActNotReady, "line crosses the drum")
	s := h.d.Snapshot()
	if s.Guard.Checks[safety.ReadyWinch] != safety.CheckOpen || s.Guard.Checks[safety.CheckWeight] != safety.CheckWaived {
		t.Errorf("checks %v; want the winch not ready any more, the weight waived", s.Guard.Checks)
	}
	var news []string
	for _, n := range s.News {
		news = append(news, n.Text)
	}
	for _, want := range []string{"winch (test): NOT ready: line crosses the drum", "director (test): goes without weight none on board"} {
		if !strings.Contains(strings.Join(news, "\n"), want) {
			t.Errorf("the news lack %q:\n%s", want, strings.Join(news, "\n"))
		}
	}
	if len(s.Checklist) == 0 {
		t.Error("no checklist before arming")
	}
	h.pulling()
	if s := h.d.Snapshot(); s.Checklist != nil {
		t.Errorf("armed, and the screen has a checklist: %v", s.Checklist)
	}
	h.end()
}

func TestHornIsTried(t *testing.T) {
	h := byHand(t, "# [horn]\n# port = \"./deck/horn\"\n# kind = \"level\"\n# line = \"rts\"", "[horn]\nport = \"./deck/horn\"\nkind = \"level\"\nline = \"rts\"")
	h.refused(safety.Logger, ActHorn, "", "not open")
	if got := h.d.State().Checks[safety.CheckHorn]; got != safety.CheckFailed {
		t.Errorf("a horn whose port is not open: check %v, want failed", got)
	}
	h.d.Port(h.at, SrcHorn, "open", "")
	h.d.Rx(h.at, SrcHorn, []byte("whatever it answers\r\n\x00"))
	h.refused(safety.WinchOperator, ActHorn, "", "ask the director")
	h.must(safety.Logger, ActHorn, "")
	h.d.Port(h.at, SrcHorn, "lost", "unplugged")
	if s := h.d.Snapshot(); !s.Guard.Alarms[safety.HornLost].Standing() || s.Horn.State != "lost" || s.Guard.Checks[safety.CheckHorn] != safety.CheckPassed {
		t.Errorf("horn lost: alarm %+v, port %+v", s.Guard.Alarms[safety.HornLost], s.Horn)
	}
	h.end()
}

func TestCellOffAndBack(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	h.d.WithJudge = true
	h.refused(safety.Logger, ActCellOff, "", "director")
	h.refused(safety.Director, ActCellOn, "", "in the rode")
	h.load = "+0300.0 kgf"
	h.run(time.Second)
	h.refused(safety.Director, ActCellOff, "", "counts as loaded")
	h.load = "+0001.0 kgf"
	h.run(2 * time.Second)
	h.must(safety.Director, ActCellOff, "")
	off := h.at
	h.load = "-0900.0 kgf" // swung about on deck
	h.run(2 * time.Second)
	if s := h.d.Snapshot(); s.Tension.Known || s.Guard.Cell != safety.CellOff || s.Span.Last > off {
		t.Errorf("cell off: tension known %v, cell %v, trace to %v of %v; want what it shows there taken for nothing", s.Tension.Known, s.Guard.Cell, s.Span.Last, off)
	}
	h.refused(safety.Director, ActZero, "", "more than")
	h.load = "+0003.0 kgf"
	h.run(2 * time.Second)
	h.refused(safety.Director, ActZero, "", "say first that it is back")
	h.must(safety.Director, ActCellOn, "")
	h.run(1500 * time.Millisecond)
	h.must(safety.Director, ActZero, "")
	h.run(200 * time.Millisecond)
	if s := h.d.Snapshot(); !s.Tension.Known || !near(s.Tension.Now, 0) || s.Guard.Cell != safety.CellOn {
		t.Errorf("back and zeroed: tension %v known %v, cell %v", s.Tension.Now, s.Tension.Known, s.Guard.Cell)
	}
	h.end()
}

func TestClearAndLower(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	h.refused(safety.Director, ActClear, "kraken", `"anchor"`)
	h.refused(safety.Director, ActClear, "Anchor", `"anchor"`)
	h.refused(safety.Logger, ActClear, "anchor", "director")
	for _, tt := range []struct{ value, want string }{
		{"", "none that can be"}, {"wll_stop 0.5", "none that can be"}, {"tension_stop", "not changed"}, {"tension_stop 7", "not changed"},
		{"tension_stop 9.0 kN", "laxer"}, {"haul -3 m", "negative"}, {"haul 3 kN", "not changed"}, {"scope_min 4.5:1", "no number"},
		{"scope_min NaN", "no number"}, {"tension_warn 0 kN", "above zero"},
	} {
		h.refused(safety.Director, ActLower, tt.value, tt.want)
	}
	h.refused(safety.Logger, ActLower, "tension_stop 7.0 kN", "director")
	h.must(safety.Director, ActLower, "tension_stop 7.0 kN")
	h.must(safety.Director, ActLower, "tension_warn  5.5 kN")
	h.must(safety.Director, ActLower, "haul 12 m")
	h.must(safety.Director, ActLower, "scope_min 4.5")
	if got, want := h.d.State().Lowered, (safety.Lowered{TensionWarn: 5500, TensionStop: 7000, Haul: 12, ScopeMin: 4.5}); got != want {
		t.Errorf("lowered: %+v, want %+v", got, want)
	}
	h.must(safety.Director, ActPayout, "1.5 m") // it is near now
	h.must(safety.Director, ActClear, "anchor")
	if h.d.State().Cleared == 0 {
		t.Error("the anchor is in, and the guard has not heard of it")
	}
	h.end()
}

func TestDepthOutsideThePlan(t *testing.T) {
	h := byHand(t)
	for _, tt := range []struct {
		depth string
		out   bool
	}{{"5.7 m", true}, {"5.8 m", false}, {"7.6 m", true}, {"7.5 m", false}} {
		h.must(safety.Director, ActDepth, tt.depth)
		if got := h.d.State().Alarms[safety.DepthOutOfBox].Standing(); got != tt.out {
			t.Errorf("depth %s where 5.8 to 7.5 m are planned: told %v, want %v", tt.depth, got, tt.out)
		}
	}
	h.end()
}
