package session

import (
	"bytes"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// testTrial is the invented campaign of the trial file that `hawse new` writes.
func testTrial(t testing.TB) (*trial.Trial, trial.Run) {
	t.Helper()
	tr, err := trial.ParseTrial("trial.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	run, ok := tr.Run("A1")
	if !ok {
		t.Fatal("the template has no run A1")
	}
	return tr, run
}

func testHead(t testing.TB) Head {
	tr, run := testTrial(t)
	return Head{Tool: "hawse/test", Build: "test", Started: time.Date(2026, 4, 12, 9, 2, 11, 0, time.UTC), Mode: "simulated",
		Caption: "invented data", Scale: 1, Trial: tr, File: "trial.toml", Run: run}
}

// input is one input record before it is numbered.
type input struct {
	t      int64
	kind   logfmt.Kind
	fields []logfmt.Field
}

func rx(t int64, src, raw string) input {
	return input{t, logfmt.Rx, []logfmt.Field{{Key: "src", Val: src}, {Key: "t0", Val: logfmt.FormatNs(t)},
		{Key: "chunk", Val: "1"}, {Key: "cut", Val: "end"}, {Key: "raw", Val: raw}}}
}

func act(t int64, what, value string) input { return actBy(t, "director", what, value) }

func actBy(t int64, who, what, value string) input {
	f := []logfmt.Field{{Key: "who", Val: who}, {Key: "name", Val: "test"}, {Key: "act", Val: what}}
	if what == ActStage || what == ActRearm {
		f = append(f, logfmt.Field{Key: "stage", Val: value})
	} else if value != "" {
		f = append(f, logfmt.Field{Key: "value", Val: value})
	}
	return input{t, logfmt.Act, append(f, logfmt.Field{Key: "session", Val: strconv.FormatInt(t/1e6+1, 10)})}
}

func portIs(t int64, src, state string) input {
	return input{t, logfmt.PortEvent, []logfmt.Field{{Key: "src", Val: src}, {Key: "state", Val: state}}}
}

// written folds inputs as a live run does and returns the log it would write.
func written(t testing.TB, h Head, ins []input) []byte {
	t.Helper()
	var out []byte
	var prev uint32
	var n uint64
	var core Core
	var step Step
	judge := NewJudge(h)
	put := func(r logfmt.Record) {
		out, prev = logfmt.AppendRecord(out, &r, prev)
	}
	fold := func(r logfmt.Record) {
		n++
		r.N = n
		put(r)
		if err := core.Apply(&r, &step); err != nil {
			t.Fatal(err)
		}
		says := append([]logfmt.Record(nil), step.Says...)
		for _, in := range step.Samples {
			in.N = r.N
			says = judge.Apply(in, says)
		}
		for _, s := range says {
			n++
			s.N, s.T = n, r.T
			put(s)
		}
	}
	for _, r := range h.Records() {
		fold(r)
	}
	for _, in := range ins {
		fold(logfmt.Record{T: in.t, Kind: in.kind, Fields: in.fields})
	}
	return out
}

// said is everything a log's fold said, without record numbers, which depend on
// how many ticks there were, and without the digests of the moment.
func said(log []byte) []string {
	var out []string
	r := logfmt.NewReader(bytes.NewReader(log))
	for r.Next() {
		rec := r.Record()
		if rec.Kind != logfmt.Say || rec.Str("what") == "state" {
			continue
		}
		line := ""
		for _, f := range rec.Fields {
			if f.Key != "by" {
				line += " " + f.Key + "=" + f.Val
			}
		}
		out = append(out, strings.TrimSpace(line))
	}
	return out
}

// randomRun draws a stream of instruments, faults and people, none of its gaps
// long enough to count as a standstill.
func randomRun(rt *rapid.T) []input {
	ins, t := steady(), int64(steadyEnd)
	x, tension := 0.0, 0.1
	for range rapid.IntRange(10, 150).Draw(rt, "steps") {
		t += rapid.Int64Range(0, 200e6).Draw(rt, "dt")
		switch rapid.IntRange(0, 22).Draw(rt, "what") {
		case 20:
			ins = append(ins, actBy(t, rapid.SampledFrom([]string{"director", "logger", "winch", "watcher"}).Draw(rt, "who"),
				rapid.SampledFrom([]string{ActZero, ActWeight, ActCorrect, ActReady, ActNotReady, ActCellOff, ActCellOn, ActWaive, ActPass, ActClear, ActLower}).Draw(rt, "new act"),
				rapid.SampledFrom([]string{"", "25.0 kg", "sign", "unit lb", "50 m", "40 m", "anchor", "tension_stop 5 kN", "scope_min 5", "zero warm"}).Draw(rt, "value")))
		case 21: // the line box begins anew, wraps or jumps
			x += rapid.SampledFrom([]float64{-x, 65.536, -65.536, 7, -30}).Draw(rt, "jump")
			ins = append(ins, rx(t, "line", fmt.Sprintf("N %+08d\r\n", int(x*1000))))
		case 22:
			ins = append(ins, input{t, logfmt.Clock, []logfmt.Field{{Key: "wall", Val: rapid.SampledFrom([]string{"2026-04-12T08:02:11Z", "0001-01-01T00:00:00Z", "9999-12-31T00:00:00Z", "x"}).Draw(rt, "wall")}}})
		case 0:
			ins = append(ins, act(t, rapid.SampledFrom([]string{ActStop, ActArm, ActAck, ActEnd, ActMark}).Draw(rt, "act"), ""))
		case 1:
			ins = append(ins, act(t, rapid.SampledFrom([]string{ActStage, ActRearm}).Draw(rt, "act"),
				rapid.SampledFrom([]string{"pull", "ease", "recover", "stopped", "hold", "nonsense"}).Draw(rt, "stage")))
		case 2:
			ins = append(ins, rx(t, "load", rapid.SampledFrom([]string{"OL\r\n", "\x00\xff~~\r\n", "+0", "012.0 kgf\r\n", "NaN kgf\r\n", "+0100.0 lb\r\n"}).Draw(rt, "odd")))
		case 3:
			ins = append(ins, portIs(t, rapid.SampledFrom([]string{"load", "line", "stop", "screen", "record", "judge"}).Draw(rt, "port"),
				rapid.SampledFrom([]string{"open", "lost", "stalled", "resumed", "attached", "failing", "ok"}).Draw(rt, "state")))
		case 4:
			ins = append(ins, input{t, logfmt.Clock, []logfmt.Field{{Key: "wall", Val: "2026-04-12T09:02:11Z"}}})
		case 5, 6, 7, 8, 9:
			x += rapid.Float64Range(-0.1, 0.5).Draw(rt, "dx")
			ins = append(ins, rx(t, "line", fmt.Sprintf("N %+08d\r\n", int(x*1000))))
		default:
			tension = max(tension+rapid.Float64Range(-40, 45).Draw(rt, "dT"), -5)
			ins = append(ins, rx(t, "load", fmt.Sprintf("%+07.1f kgf\r\n", tension)))
		}
	}
	return ins
}

// TestReplaySaysTheSame is the promise of the record: folded again, a run says
// the same words, with the same state, to the bit.
func TestReplaySaysTheSame(t *testing.T) {
	h := testHead(t)
	rapid.Check(t, func(rt *rapid.T) {
		log := written(t, h, randomRun(rt))
		f, damage, err := Refold(bytes.NewReader(log), "test")
		if err != nil || len(damage) > 0 {
			rt.Fatalf("refold: %v, damage %v", err, damage)
		}
		if len(f.Diffs) > 0 || f.Unsaid > 0 {
			rt.Fatalf("replay differs: %v, %d unsaid", f.Diffs, f.Unsaid)
		}
	})
}

// TestTickRateChangesNothing adds ticks between the inputs: what is said, and
// when it fell due, stays the same.
func TestTickRateChangesNothing(t *testing.T) {
	h := testHead(t)
	rapid.Check(t, func(rt *rapid.T) {
		ins := randomRun(rt)
		every := rapid.Int64Range(1e6, 100e6).Draw(rt, "tick")
		var ticked []input
		last := ins[0].t
		for _, in := range ins {
			for last+every < in.t {
				last += every
				ticked = append(ticked, input{last, logfmt.Tick, nil})
			}
			last = in.t
			ticked = append(ticked, in)
		}
		if d := cmp.Diff(said(written(t, h, ins)), said(written(t, h, ticked))); d != "" {
			rt.Fatalf("a tick every %v changes what is said (- without, + with):\n%s", time.Duration(every), d)
		}
	})
}

// TestCutLogFolds cuts a log anywhere: what is whole still folds and agrees.
func TestCutLogFolds(t *testing.T) {
	h := testHead(t)
	ins := []input{portIs(1e6, "load", "open"), rx(2e6, "line", "N +0000000\r\n"), rx(3e6, "load", "+0010.0 kgf\r\n"),
		act(4e6, ActDepth, "6 m"), act(5e6, ActPayout, "60 m"), act(6e6, ActStop, ""), rx(7e6, "load", "+0011.0 kgf\r\n")}
	log := written(t, h, ins)
	for cut := 0; cut < len(log); cut += 211 {
		f, _, err := Refold(bytes.NewReader(log[:cut]), "test")
		if err != nil {
			t.Fatalf("cut at %d of %d: %v", cut, len(log), err)
		}
		if len(f.Diffs) > 0 {
			t.Fatalf("cut at %d of %d: %v", cut, len(log), f.Diffs)
		}
	}
}

func TestDamagedWordIsTold(t *testing.T) {
	h := testHead(t)
	log := written(t, h, []input{rx(1e6, "line", "N +0000000\r\n"), act(2e6, ActStop, ""), rx(3e6, "load", "+0010.0 kgf\r\n")})
	// The words of another program: same records, but one word replaced and its
	// line made whole again, as somebody might who did not like the result.
	var out []byte
	var prev uint32
	r := logfmt.NewReader(bytes.NewReader(log))
	for r.Next() {
		rec := r.Record()
		for i, f := range rec.Fields {
			if f.Key == "order" && f.Val == "stop" {
				rec.Fields[i].Val = "ease"
			}
		}
		out, prev = logfmt.AppendRecord(out, &rec, prev)
	}
	if bytes.Equal(out, log) {
		t.Fatal("the log holds no order to forge")
	}
	f, _, err := Refold(bytes.NewReader(out), "test")
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Diffs) != 1 || !strings.Contains(f.Diffs[0].Then, `order="ease"`) || !strings.Contains(f.Diffs[0].Now, `order="stop"`) {
		t.Errorf("forged order: got differences %v, want the one forged word, said then and judged now", f.Diffs)
	}
}

// scenario is a run of the fold with the wanted state at its end.
func lastState(t *testing.T, ins []input) (safety.State, Snapshot) {
	t.Helper()
	h := testHead(t)
	f, _, err := Refold(bytes.NewReader(written(t, h, ins)), "test")
	if err != nil {
		t.Fatal(err)
	}
	return f.core.Guard(), f.Snapshot()
}

// steady is a deck that is ready: ports open, both streams alive for three
// seconds, depth and rode out said, everything before arming done or waived,
// armed and in the stage pull.
func steady() []input {
	ins := append(alive(), waived...)
	return append(ins, act(steadyEnd-2e6, ActArm, ""), act(steadyEnd-1e6, ActStage, "pull"))
}

// alive is as steady, with nothing done before arming but depth and rode out.
func alive() []input {
	ins := []input{portIs(1e6, "load", "open"), portIs(1e6, "line", "open"), portIs(1e6, "stop", "open")}
	for i := range int64(31) {
		ins = append(ins, rx(2e6+i*1e8, "line", "N +0000000\r\n"), rx(3e6+i*1e8, "load", "+0010.0 kgf\r\n"))
	}
	return append(ins, act(3010e6, ActDepth, "6 m"), act(3011e6, ActPayout, "60 m"))
}

const steadyEnd = 3030e6

var waived = []input{act(3012e6, ActWaive, "zero the rode is out"), act(3013e6, ActWaive, "weight none on board"), act(3014e6, ActRead, ""),
	actBy(3015e6, "logger", ActReady, "logging, all live"), actBy(3016e6, "winch", ActReady, "winch ready, line clear"), act(3017e6, ActReady, "deck clear")}

func TestScopeAndMinimumScope(t *testing.T) {
	ins := steady()
	at := int64(steadyEnd)
	for x := 0; x <= 29*8; x++ {
		at += 100e6
		ins = append(ins, rx(at, "line", fmt.Sprintf("N %+08d\r\n", x*125)), rx(at, "load", fmt.Sprintf("+%06.1f kgf\r\n", 100+float64(x%3))))
	}
	g, s := lastState(t, ins)
	// 60 m out at 6 m of water under a roller 1.5 m high is 8.0 to 1; 29 m
	// hauled leave 31 m and 4.13 to 1. By depth alone it is 5.17.
	if !g.Permit || fmt.Sprintf("%.2f %.2f", s.Haul.Scope, s.Haul.Scope2) != "4.13 5.17" {
		t.Errorf("at 29 m: permit %v, scope %.2f, by depth %.2f; want true, 4.13, 5.17", g.Permit, s.Haul.Scope, s.Haul.Scope2)
	}
	ins = append(ins, rx(at+100e6, "line", "N +0029500\r\n"), rx(at+100e6, "load", "+0100.0 kgf\r\n"), rx(at+190e6, "line", "N +0030000\r\n"), rx(at+200e6, "line", "N +0030001\r\n"))
	g, _ = lastState(t, ins)
	if g.Permit || g.Stop.Kind != safety.PlannedEnd || g.Stop.Cause != safety.MinimumScope || g.Order != safety.OrderStop {
		t.Errorf("at 30 m: permit %v, stop %+v, order %v; want a planned end at minimum scope and STOP", g.Permit, g.Stop, g.Order)
	}
	ins = append(ins, act(at+210e6, ActStage, "recover"))
	if g, _ = lastState(t, ins); !g.Permit || g.Stop.Kind != safety.NoStop {
		t.Errorf("stage recover after the planned end: permit %v, stop %+v; want it lifted", g.Permit, g.Stop)
	}
}

func TestHalfALineThenTheRest(t *testing.T) {
	ins := append(steady(), rx(steadyEnd+20e6, "load", "+03"), rx(steadyEnd+140e6, "load", "16.1 kgf\r\n"))
	_, s := lastState(t, ins)
	if got := fmt.Sprintf("%.1f", float64(s.Tension.Now)); got != "3099.9" { // 316.1 kgf x 9.80665
		t.Errorf("half a line and its rest: tension %s N, want 3099.9", got)
	}
	ins = append(steady(), rx(steadyEnd+20e6, "load", "+03"), portIs(steadyEnd+30e6, "load", "lost"), portIs(steadyEnd+40e6, "load", "open"), rx(steadyEnd+140e6, "load", "16.1 kgf\r\n"))
	_, s = lastState(t, ins)
	if got := fmt.Sprintf("%.1f", float64(s.Tension.Now)/9.80665); got != "16.1" {
		t.Errorf("half a line before an unplug: tension %s kgf, want the new line alone, 16.1", got)
	}
}

func TestPayoutNeedsACount(t *testing.T) {
	h := testHead(t)
	log := written(t, h, []input{portIs(1e6, "line", "open"), act(2e6, ActPayout, "60 m")})
	if !strings.Contains(string(log), "line encoder has said nothing yet") {
		t.Errorf("payout before any count: no refusal in\n%s", log)
	}
}

func TestForeignFormatIsRefused(t *testing.T) {
	log := written(t, testHead(t), nil)
	var out []byte
	var prev uint32
	for r := logfmt.NewReader(bytes.NewReader(log)); r.Next(); {
		rec := r.Record()
		for i := range rec.Fields {
			if rec.Fields[i].Key == "format" {
				rec.Fields[i].Val = "99"
			}
		}
		out, prev = logfmt.AppendRecord(out, &rec, prev)
	}
	path := t.TempDir() + "/new.log"
	os.WriteFile(path, out, 0o644)
	_, err := OpenReplay(path, "test", 1)
	if err == nil || !strings.Contains(err.Error(), `format "99"`) || !strings.Contains(err.Error(), path) {
		t.Errorf("log of format 99: error %v, want one that names file and format", err)
	}
}
