package session

import (
	"fmt"
	"math"
	"testing"
	"time"

	"hawse/logfmt"
	"hawse/safety"
)

// A stop comes back with its cause, or, where nobody can say of which, as a call.
func TestLatchedStopHasItsCause(t *testing.T) {
	f := fieldsOf
	tension := f("cause", "tension-limit", "title", "TENSION LIMIT", "kind", "trip", "value", "8100", "limit", "8000", "there", "tension-limit", "order", "ease", "armed", "yes")
	for _, tt := range []struct {
		name   string
		fields []logfmt.Field
		kgf    float64
		cause  safety.Cause
		order  safety.Order
		text   string
		refuse string // a re-arm into pull
	}{
		{"tension still there", tension, 830, safety.TensionLimit, safety.OrderEase, "TENSION LIMIT", "at or above the stop limit of pull"},
		{"tension gone", tension, 100, safety.TensionLimit, safety.OrderEase, "TENSION LIMIT", ""},
		{"a forged title", append(f("title", "ALL WELL"), tension...), 100, safety.TensionLimit, safety.OrderEase, "TENSION LIMIT", ""},
		{"a stuck cell", f("cause", "load-unchanged", "kind", "trip", "there", "load-unchanged"), 100, safety.LoadUnchanged, safety.OrderStop, "LOAD UNCHANGED", "LOAD UNCHANGED"},
		{"without what was there", f("cause", "line-jumped", "kind", "trip"), 100, safety.LineJumped, safety.OrderStop, "LINE COUNT JUMPED", ""},
		{"numbers that are none", f("cause", "tension-limit", "kind", "trip", "value", "NaN", "limit", "x", "there", ",,nothing,\x1b", "order", "up", "who", "god"), 100, safety.TensionLimit, safety.OrderStop, "TENSION LIMIT", ""},
		{"a cause nobody knows", f("cause", "kraken", "title", "KRAKEN", "kind", "trip"), 830, safety.PersonStop, safety.OrderStop, "KRAKEN", "at or above"},
		{"an end that is planned", f("cause", "line-hauled", "title", "LINE HAULED", "kind", "trip"), 100, safety.PersonStop, safety.OrderStop, "LINE HAULED", ""},
		{"a warning", f("cause", "snag", "title", "SNAG", "kind", "trip"), 100, safety.PersonStop, safety.OrderStop, "SNAG", ""},
		{"as it was handed on before", f("cause", "tension-limit", "title", "TENSION LIMIT"), 100, safety.PersonStop, safety.OrderStop, "TENSION LIMIT", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := byHand(t)
			head := h.d.core.Head()
			h = begins(t, h, head, &Handover{Predecessor: "A1-1.log", Carries: []Carry{{CarryStop, tt.fields}},
				Used: f("stage", "pull", "for", "60.000000000", "hauled_m", "2", "lane", "pull", "lane_m", "2")}, head.Started)
			g := h.d.State()
			taken := tt.cause != safety.PersonStop
			if g.Stop.Kind != safety.Trip || g.Stop.Cause != tt.cause || g.Order != tt.order || g.Stop.Taken != taken || g.EverArmed != taken {
				t.Fatalf("stop %+v, order %v, armed once %v; want %v, %v", g.Stop, g.Order, g.EverArmed, tt.cause, tt.order)
			}
			if !taken && g.Stop.By != safety.Program {
				t.Errorf("called by %v, want the program", g.Stop.By)
			}
			s := h.d.Snapshot()
			if want := "a stop was in force (" + tt.text + ")"; s.Carried[0].Text != want || s.Carried[0].State != CarryLatched {
				t.Errorf("carried %+v, want %q, latched", s.Carried[0], want)
			}
			st := StatusOf(s)
			if st.StopCause != tt.cause.Title() || st.StopTaken != (map[bool]string{true: "A1-1.log"}[taken]) {
				t.Errorf("status says %q, taken over from %q", st.StopCause, st.StopTaken)
			}
			h.load = fmt.Sprintf("+%06.1f kgf", tt.kgf)
			h.run(2 * time.Second)
			h.must(safety.Director, ActDepth, "6 m")
			h.must(safety.Director, ActPayout, "58 m")
			h.must(safety.Director, ActAck, "")
			if tt.refuse != "" {
				h.refused(safety.Director, ActRearm, "pull", tt.refuse)
				if got := h.d.Snapshot(); got.Guard.Stop.Kind != safety.Trip || got.Carried[0].State != CarryLatched {
					t.Errorf("refused, and %+v is %v", got.Guard.Stop, got.Carried[0].State)
				}
			} else {
				h.must(safety.Director, ActRearm, "pull")
				if got := h.d.Snapshot(); got.Guard.Stop.Kind != safety.NoStop || got.Guard.Permit || got.Carried[0].State != CarryLifted || got.Haul.InStage != 2 {
					t.Errorf("re-armed: %+v, permit %v, %v, %v hauled; want it lifted, not permitted, and 2 m", got.Guard.Stop, got.Guard.Permit, got.Carried[0].State, got.Haul.InStage)
				}
			}
			// Broken off again, it is handed on as it is.
			third := later(t, h.broken(t, "A1-2.log"), h.wallNow())
			g, was := third.d.State(), h.d.State()
			if g.Stop.Kind != was.Stop.Kind || g.Stop.Cause != was.Stop.Cause || g.Order != was.Order {
				t.Errorf("handed on: %+v, was %+v", g.Stop, was.Stop)
			}
			h.end()
		})
	}
}

// A tension stop of a real pull: all of it comes back, through a log that had
// not begun.
func TestTensionStopAfterACrash(t *testing.T) {
	was := byHand(t)
	was.run(2 * time.Second)
	was.must(safety.Logger, ActZero, "")
	was.pulling()
	for n := 0; was.d.State().Stop.Kind == safety.NoStop; n++ {
		was.load = fmt.Sprintf("+%06.1f kgf", float64(1+3*n))
		was.haul(was.counts+50, 50)
	}
	was.run(4 * time.Second) // it stays there, so that the order is EASE
	was.d.Clock(was.at, was.wallNow())
	g := was.d.State()
	if g.Stop.Cause != safety.TensionLimit || g.Order != safety.OrderEase {
		t.Fatalf("stop %+v, order %v", g.Stop, g.Order)
	}
	path := was.broken(t, "A1-1.log")
	unbegun := byHand(t)
	head := unbegun.d.core.Head()
	u, err := ReadUnfinished(path, head.Trial, "")
	if err != nil {
		t.Fatal(err)
	}
	head.After, head.Started = &u.Handover, was.wallNow()
	unbegun.d, err = NewDry(head)
	if err != nil {
		t.Fatal(err)
	}
	h := later(t, unbegun.broken(t, "A1-2.log"), was.wallNow().Add(time.Second))
	h.load, h.counts = was.load, was.counts
	h.run(2 * time.Second)
	again := h.d.State()
	if again.Stop.Cause != g.Stop.Cause || again.Stop.Value != g.Stop.Value || again.Stop.Limit != g.Stop.Limit || again.Order != g.Order || again.Stop.Later != g.Stop.Later {
		t.Errorf("latched again: %+v, order %v; was %+v, %v", again.Stop, again.Order, g.Stop, g.Order)
	}
	h.must(safety.Director, ActCarry, "all")
	h.must(safety.Director, ActAck, "")
	h.run(time.Second)
	h.refused(safety.Director, ActRearm, "pull", "at or above the stop limit of pull")
	h.must(safety.Director, ActStage, "ease")
	h.load = "+0050.0 kgf"
	h.run(14 * time.Second)
	if h.d.State().Stop.Acked == false {
		h.must(safety.Director, ActAck, "")
	}
	h.must(safety.Director, ActRearm, "pull")
	h.armedAgain()
	if s := h.d.Snapshot(); !s.Guard.Permit || math.Abs(float64(s.Haul.InStage)-float64(was.d.Snapshot().Haul.InStage)) > 1e-9 {
		t.Errorf("armed again: permit %v, %v hauled in pull, it was %v", s.Guard.Permit, s.Haul.InStage, was.d.Snapshot().Haul.InStage)
	}
	h.end()
}

// armedAgain does what stands before arming, with nothing left to take over.
func (h *hand) armedAgain() {
	h.t.Helper()
	h.must(safety.Director, ActWaive, "weight done before the crash")
	h.must(safety.Director, ActRead, "")
	for _, who := range []safety.Who{safety.WinchOperator, safety.Logger, safety.Director} {
		h.must(who, ActReady, "all live")
	}
	h.run(time.Second)
	h.must(safety.Director, ActArm, "")
}
