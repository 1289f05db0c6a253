package session

import (
	"crypto/sha256"
	"fmt"
	"runtime"
	"strconv"
	"time"

	"hawse/logfmt"
	"hawse/trial"
)

// FormatVersion is the number of the raw log's content: kinds of record, their
// keys and what they mean. A change of meaning takes a new number; a new kind of
// act, such as came-up with its fields ([trial.CameUp]), does not: a reader of old
// skips it.
const FormatVersion = 1

// The program's own heartbeat: how long it may be silent and how long it may
// stand still. They are real time, so a simulated run that is sped up stretches
// them by its factor.
const (
	tickEvery  = 50 * time.Millisecond
	stallAfter = 250 * time.Millisecond
	clockEvery = time.Second
)

// Head is what opens a log: all that a stranger needs to fold it again.
type Head struct {
	Tool    string // program and version
	Build   string // revision of the build: the same build must say the same
	Started time.Time
	Mode    string  // "live", "demo", "simulated"
	Caption string  // "invented data": shown wherever the log is
	Scale   float64 // 1 on real ports
	Trial   *trial.Trial
	File    string // the trial file's base name
	Run     trial.Run
	After   *Handover // the unfinished log this one goes on from; nil: none
}

// Records returns the head as records without number and time.
func (h Head) Records() []logfmt.Record {
	var out []logfmt.Record
	add := func(fields ...logfmt.Field) { out = append(out, logfmt.Record{Kind: logfmt.Head, Fields: fields}) }
	f := func(k, v string) logfmt.Field { return logfmt.Field{Key: k, Val: v} }

	add(f("part", "log"), f("format", strconv.Itoa(FormatVersion)), f("tool", h.Tool), f("build", h.Build),
		f("platform", runtime.GOOS+"/"+runtime.GOARCH), f("started", h.Started.Format(time.RFC3339Nano)),
		f("mode", h.Mode), f("caption", h.Caption), f("asks", asksDepth))
	scale := max(h.Scale, 1)
	add(f("part", "clock"), f("source", "monotonic"), f("scale", logfmt.FormatFloat(scale)),
		f("tick", logfmt.FormatNs(int64(float64(tickEvery)*scale))), f("stall", logfmt.FormatNs(int64(float64(stallAfter)*scale))))
	add(f("part", "trial"), f("file", h.File), f("sha256", fmt.Sprintf("%x", sha256.Sum256(h.Trial.Text))), f("text", string(h.Trial.Text)))
	for _, kv := range h.Trial.SI() {
		add(f("part", "si"), f("key", kv.Key), f("value", kv.Val))
	}
	for _, note := range h.Trial.Notes {
		add(f("part", "note"), f("text", note))
	}
	lv := h.Trial.Levels
	if lv.Known {
		add(f("part", "level"), f("name", "bare-rode"), f("value_n", logfmt.FormatFloat(float64(lv.BareRode))), f("source", lv.Source))
		add(f("part", "level"), f("name", "dead-weight"), f("value_n", logfmt.FormatFloat(float64(lv.DeadWeight))),
			f("mass_kg", logfmt.FormatFloat(float64(lv.DeadMass))), f("source", lv.Source))
	} else if along := trial.NewAlong(h.Trial, h.Run, 0); h.Run.Payout > 0 {
		// In its place the statics stand, which follow the line as it comes in.
		if bare, _ := along.At(h.Run.Payout, h.Trial.HeightOf(h.Run)); bare > 0 {
			add(f("part", "level"), f("name", "bare-rode"), f("value_n", logfmt.FormatFloat(float64(bare))), f("source", along.Source()+", at the payout"))
		}
	}
	if h.After != nil {
		h.After.records(add)
	}
	// The run comes last: with it the fold has all it needs and begins.
	add(f("part", "run"), f("id", h.Run.ID), f("anchor", h.Run.Anchor), f("station", h.Run.Station),
		f("lane", strconv.Itoa(h.Run.Lane)), f("kind", h.Run.Kind), f("payout_m", logfmt.FormatFloat(float64(h.Run.Payout))))
	return out
}

// headOf is the head as the fold gathers it from a log's records.
type headOf struct {
	Head
	stall int64
	asks  string // what a person is asked about before it is taken; "" nothing, in older logs
	ready bool
}

// take folds one head record in. It returns an error that says what is wrong
// with a log that cannot be folded.
func (h *headOf) take(r *logfmt.Record) error {
	switch part := r.Str("part"); part {
	case "log":
		if v := r.Str("format"); v != strconv.Itoa(FormatVersion) {
			return fmt.Errorf("log format %q: this program reads format %d; use the version that wrote it (%s)", v, FormatVersion, r.Str("tool"))
		}
		h.Tool, h.Build, h.Mode, h.Caption = r.Str("tool"), r.Str("build"), r.Str("mode"), r.Str("caption")
		h.asks = r.Str("asks")
		h.Started, _ = time.Parse(time.RFC3339Nano, r.Str("started"))
	case "clock":
		h.Scale, _ = r.Float("scale")
		h.stall, _ = r.Ns("stall")
	case "trial":
		h.File = r.Str("file")
		t, err := trial.ParseTrial(h.File, []byte(r.Str("text")))
		if err != nil {
			return fmt.Errorf("trial file inside the log: %w", err)
		}
		h.Trial = t
	case chainPart:
		h.takeChain(r)
	case keptPart:
		h.takeKept(r)
	case carryPart:
		h.takeCarry(r)
	case usedPart:
		h.takeUsed(r)
	case camePart:
		h.takeCame(r)
	case phasePart:
		h.takePhases(r)
	case "run":
		if h.Trial == nil {
			return fmt.Errorf("head has a run but no trial file before it: the log's head is damaged")
		}
		id := r.Str("id")
		run, ok := h.Trial.Run(id)
		if !ok {
			return fmt.Errorf("head names run %q, which the trial file inside the log does not have", id)
		}
		h.Run, h.ready = run, true
	}
	return nil
}
