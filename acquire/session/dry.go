package session

import (
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// Dry is a capture without ports, clock, disk or goroutines: whoever drives it
// brings every input with its time. Records are numbered and folded by the same
// code as live, so what it says is what a live run would say. It belongs to one
// goroutine.
type Dry struct {
	// WithJudge has the samples explained too, which costs time.
	WithJudge bool
	// Keep keeps every record in Records from now on; those of the head are
	// there in any case.
	Keep    bool
	Records []logfmt.Record

	folder
	judge  *Judge
	judged []logfmt.Record // what the Judge said of the last input
	said   []logfmt.Record
	toStop relayed
	fields []logfmt.Field
	chunk  uint64
}

// relayed gathers what goes to the relay.
type relayed struct{ buf []byte }

func (p *relayed) Post(msg []byte) { p.buf = append(p.buf, msg...) }

// NewDry begins a run. The head is folded as it would stand in a log, so its
// trial is the one read from its text; a head that says no Started has a
// computer without a clock, which cannot arm.
func NewDry(h Head) (*Dry, error) {
	d := &Dry{Keep: true}
	d.keep, d.explain = d.take, d.judgeAll
	for _, r := range h.Records() {
		if err := d.put(r); err != nil {
			return nil, err
		}
	}
	d.Keep = false
	if out := h.Trial.Stop; len(out.Port.Names) > 0 {
		scale := max(h.Scale, 1)
		d.out.init(&d.toStop, acquire.NewStopForm(out), int64(float64(out.Beat)*scale), scale)
	}
	return d, nil
}

func (d *Dry) take(r logfmt.Record) {
	if r.Kind == logfmt.Say {
		d.said = append(d.said, r)
	}
	if d.Keep {
		d.Records = append(d.Records, r)
	}
}

func (d *Dry) judgeAll(in []JudgeInput, by uint64) {
	if !d.WithJudge {
		return
	}
	if d.judge == nil {
		d.judge = NewJudge(d.core.Head())
	}
	for _, s := range in {
		s.N = by
		d.judged = d.judge.Apply(s, d.judged)
	}
}

// input folds one input, which ends with what the Judge says of it. Only a head
// can be refused, and that has been folded.
func (d *Dry) input(t int64, kind logfmt.Kind, fields []logfmt.Field) {
	d.said, d.judged = d.said[:0], d.judged[:0]
	_ = d.put(logfmt.Record{T: t, Kind: kind, Fields: fields})
	for _, s := range d.judged {
		d.word(s)
	}
}

// room is where the fields of a record may stand: the same place each time,
// unless the record is kept.
func (d *Dry) room() []logfmt.Field {
	if d.Keep {
		return nil
	}
	return d.fields[:0]
}

// Rx is bytes that came from a port. They are copied.
func (d *Dry) Rx(t int64, src string, raw []byte) {
	d.chunk++
	f := rxFields(d.room(), src, acquire.Cut{T0: t, T: t, Chunk: d.chunk, Why: acquire.CutEnd, Raw: raw})
	if !d.Keep {
		d.fields = f
	}
	d.input(t, logfmt.Rx, f)
}

// Sent is what an instrument was asked.
func (d *Dry) Sent(t int64, src string, raw []byte) { d.input(t, logfmt.Tx, txFields(src, raw)) }

// Port is a port, or a part of the program, that comes or goes: state is one of
// acquire's, or a word of the record such as "attached".
func (d *Dry) Port(t int64, src, state, reason string) {
	d.input(t, logfmt.PortEvent, portFields(acquire.Item{Src: src, State: state, Reason: reason}))
}

// Tick is time passing with nothing else.
func (d *Dry) Tick(t int64) { d.input(t, logfmt.Tick, nil) }

// Clock is the computer's clock; it also has the state's digest said.
func (d *Dry) Clock(t int64, wall time.Time) { d.input(t, logfmt.Clock, clockFields(wall)) }

// Act is a person's act. session is a number no relay has seen before; only the
// acts that may permit hauling use it.
func (d *Dry) Act(t int64, a Act, session uint32) Outcome {
	n := d.n + 1
	d.input(t, logfmt.Act, actFields(a, session))
	return Outcome{N: n, Refused: d.step.Refused}
}

// End seals the run: the record that ends a log, with the reason of the act to
// end. Nothing may follow.
func (d *Dry) End(t int64) {
	d.input(t, logfmt.End, []logfmt.Field{{Key: "reason", Val: d.ending}})
}

// Said is what the last input made the program say, in order. It is valid until
// the next one.
func (d *Dry) Said() []logfmt.Record { return d.said }

// Ending is the reason of an act to end that was granted; "" before.
func (d *Dry) Ending() string { return d.ending }

// Out takes what has been said to the relay since the last call. The bytes are
// valid until the next input.
func (d *Dry) Out() []byte {
	b := d.toStop.buf
	d.toStop.buf = d.toStop.buf[:0]
	return b
}

// Next is when a heartbeat is due, which goes out only behind a record; far
// away while none is.
func (d *Dry) Next() int64 { return d.out.next() }

// State is the guard's whole state.
func (d *Dry) State() safety.State { return d.core.Guard() }

// Snapshot is what a screen would show after the last input. Made is zero: a
// dry run has no clock.
func (d *Dry) Snapshot() *Snapshot {
	s := d.core.shot(&d.board, &logfmt.Record{T: d.t, N: d.n})
	if d.judge != nil {
		d.judge.shot().into(&s)
	}
	s.Log = LogState{Written: d.n, OnDisk: d.n} // nothing is ever late
	return &s
}

// Segments is the phases of the haul series so far, dated back, as the Judge has
// them; nil without one.
func (d *Dry) Segments() []trial.Segment {
	if d.judge == nil {
		return nil
	}
	return d.judge.Segments()
}
