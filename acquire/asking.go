package acquire

import (
	"bytes"
	"math"

	"hawse/trial"
)

// Why a frame from a port that is asked is not decoded.
const (
	BadLate    = "an answer too late, or to nothing"
	BadForeign = "no answer to what was asked"
)

// Question is one thing a port is asked, again and again. Times are ns.
type Question struct {
	For   string // the table of the instrument
	Ask   []byte
	Every int64 // from one question to the next
	Wait  int64 // for the whole answer
	Late  int64 // how long an answer that was given up may still come
	// fits says whether a frame may be the answer; nil: every frame.
	fits func(frame []byte) bool
	// answer, of a binary answer, is as of scan.length; nil: answers are lines.
	answer func(p []byte) int
}

// Asking is the order of question and answer on one port that is asked. It is
// pure, and both sides run it: the port's owner, to know what to ask and when,
// and the fold, to know which answer belongs to which question.
//
// One question is out at a time. One that is not answered in its time is given
// up; then nothing is asked until its answer has come after all, or until its
// Late has passed with nothing heard, after which a box sends no answer any
// more. So a late answer is never taken for the next one. Bytes nobody asked for
// have the same effect: the box and we are out of step.
//
// A unit that holds up the others by giving no answer, and is not one that guards, is
// asked seldom until it answers again.
//
// An adapter that hears itself on a two-wire line gives the question back: an
// echo, byte for byte, right after it, is passed over.
type Asking struct {
	qs    []Question
	quiet int64 // ns of silence before a question

	out   int // the question that is out, -1 none
	at    int64
	last  int   // the last that was out, -1 none
	free  int64 // nothing is asked before
	hush  bool  // out of step: nothing is believed, until silence to free
	owed  bool  // in hush, but the answer to last ends it: nothing else is on its way
	due   []int64
	dumb  []int // so often in a row has a question had no answer
	lines Framer
	scan  scan
	echo  []byte // what is left of the question to come back
	held  []byte // what of it has come back

	Answered, Missed, Late uint64
}

// NewAsking is for a port at baud bits a second on which these instruments are.
// It is nil when none of them is asked.
func NewAsking(list []trial.Instrument, decoders map[string]func(frame []byte) bool) *Asking {
	a := &Asking{out: -1, last: -1}
	for _, ins := range list {
		q := Question{For: ins.Table, Every: int64(1e9 / float64(ins.Rate)), fits: decoders[ins.Table]}
		switch ins.Wire.Kind {
		case trial.WireAsked:
			q.Ask, q.Wait, q.Late = ins.Wire.Asked.Ask, int64(ins.Wire.Asked.Wait), int64(ins.Wire.Asked.Late)
			a.quiet = max(a.quiet, turnRound)
		case trial.WireModbus:
			r := ins.Wire.Registers
			_, n := r.Span()
			turn := int64(trial.ReadTurn(list[0].Port.Baud, n))
			q.Ask, q.Wait, q.Late = appendRead(nil, r), int64(r.Wait)+turn, int64(r.Late)+turn
			q.answer = func(p []byte) int { return registerAnswer(p, r) }
			a.quiet = max(a.quiet, int64(trial.ModbusQuiet(list[0].Port.Baud)))
		default:
			continue
		}
		a.qs = append(a.qs, q)
	}
	if len(a.qs) == 0 {
		return nil
	}
	a.due, a.dumb = make([]int64, len(a.qs)), make([]int, len(a.qs))
	a.scan = scan{length: a.length, sound: soundCRC}
	return a
}

// A unit that has not answered so often in a row is asked so seldom, ns: common
// practice, no source.
const (
	dumbAfter = 3
	dumbEvery = int64(5e9)
)

// turnRound is the silence before a question in text, ns, in which a two-wire
// line turns round: common practice, no source.
const turnRound = 2e6

// Due says which question is due at t, -1 none, and otherwise when to look
// again. It does not take it for asked.
func (a *Asking) Due(t int64) (q int, again int64) {
	a.expire(t)
	if a.out >= 0 {
		return -1, a.at + a.qs[a.out].Wait + 1
	}
	q, again = -1, int64(math.MaxInt64)
	for i, due := range a.due {
		if due = max(due, a.free); due < again {
			q, again = i, due
		}
	}
	if again > t {
		return -1, again
	}
	return q, t
}

// Ask is what question q sends.
func (a *Asking) Ask(q int) []byte { return a.qs[q].Ask }

// Asked takes the question raw for asked at t. One that must not have been asked
// yet gives no answer that is believed.
func (a *Asking) Asked(t int64, raw []byte) {
	a.expire(t)
	early := a.out >= 0 || a.hush
	for i := range a.qs {
		if !bytes.Equal(raw, a.qs[i].Ask) {
			continue
		}
		q := &a.qs[i]
		every := q.Every
		if len(a.qs) > 1 && a.dumb[i] >= dumbAfter && q.For != trial.TableLoad && q.For != trial.TableLine {
			every = max(every, dumbEvery)
		}
		if a.due[i] += every; a.due[i] <= t {
			a.due[i] = t + every
		}
		a.out, a.at, a.last = i, t, i
		a.echo, a.held = q.Ask, a.held[:0]
		a.lines.Reset()
		a.scan.reset()
		if early {
			a.giveUp(t)
		}
		return
	}
	a.giveUp(t) // not one of ours: whatever it is answered with, it is not for us
}

// giveUp waits for silence: what comes now belongs to nothing.
func (a *Asking) giveUp(t int64) {
	a.out, a.hush, a.owed = -1, true, false
	a.wait(t)
}

func (a *Asking) wait(t int64) {
	for i := range a.qs {
		a.free = max(a.free, t+a.qs[i].Late)
	}
}

// expire gives up a question whose time is over, and forgets an answer that
// will not come any more.
func (a *Asking) expire(t int64) {
	if a.out >= 0 && t > a.at+a.qs[a.out].Wait {
		a.Missed++
		a.dumb[a.out]++
		a.giveUp(a.at + a.qs[a.out].Wait)
		a.owed = true
	}
	if a.hush && t >= a.free {
		a.hush, a.owed = false, false
	}
}

// Reset forgets what is out: the stream is broken. What the box was asked before
// may still be answered.
func (a *Asking) Reset(t int64) {
	a.lines.Reset()
	a.scan.reset()
	a.echo, a.held = nil, a.held[:0]
	a.giveUp(t)
}

// Bytes takes what came at t, and hands out each frame it completes, with the
// table of the instrument it answers; bad says why it must not be decoded. The
// frame is valid only until emit returns.
func (a *Asking) Bytes(t int64, raw []byte, emit func(table string, frame []byte, bad string)) {
	a.expire(t)
	if raw = a.passEcho(raw); len(raw) == 0 {
		return
	}
	switch {
	case a.out >= 0:
	case a.owed:
		a.wait(t) // half of it, maybe; its rest would look like an answer
	default:
		a.giveUp(t)
	}
	one := func(frame []byte, bad string) { a.frame(t, frame, bad, emit) }
	if a.qs[0].answer == nil {
		a.lines.Feed(raw, one)
		return
	}
	a.scan.feed(raw, func(frame []byte, good bool) {
		if good {
			one(frame, "")
		} else {
			one(frame, BadForeign)
		}
	})
}

func (a *Asking) frame(t int64, frame []byte, bad string, emit func(string, []byte, string)) {
	q := &a.qs[max(a.last, 0)]
	fits := bad == "" && a.last >= 0 && (q.fits == nil || q.fits(frame)) &&
		(q.answer == nil || q.answer(frame) == len(frame))
	switch {
	case a.out >= 0 && fits:
		a.dumb[a.out], a.due[a.out] = 0, min(a.due[a.out], t+q.Every)
		a.out, a.free = -1, t+a.quiet
		a.Answered++
		emit(q.For, frame, "")
	case bad != "":
		emit(q.For, frame, bad)
	case a.out >= 0:
		emit(q.For, frame, BadForeign) // the answer may still come
	default:
		switch {
		case a.owed && fits:
			a.hush, a.owed, a.free = false, false, t+a.quiet
		case !a.owed:
			a.giveUp(t)
		}
		a.Late++
		emit(q.For, frame, BadLate)
	}
}

// passEcho passes over the question that comes back. Where the bytes differ it
// was none, and all of them stand.
func (a *Asking) passEcho(raw []byte) []byte {
	if len(a.echo) == 0 {
		return raw
	}
	k := min(len(raw), len(a.echo))
	if !bytes.Equal(raw[:k], a.echo[:k]) {
		all := append(a.held, raw...)
		a.echo, a.held = nil, nil
		return all
	}
	a.held = append(a.held, raw[:k]...)
	if a.echo = a.echo[k:]; len(a.echo) == 0 {
		a.held = a.held[:0]
	}
	return raw[k:]
}

// length is that of the answer to any of the questions.
func (a *Asking) length(p []byte) int {
	open := 0
	for i := range a.qs {
		n := a.qs[i].answer(p)
		if n > len(p) {
			open = max(open, n)
		} else if n > 0 && soundCRC(p[:n]) {
			return n
		}
	}
	return open
}
