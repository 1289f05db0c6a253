package session

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// Handover is what a log takes over from the unfinished one it goes on from. It
// stands in the new log's head: the file, and what the fold of it held when it
// broke off. Nothing of that is in force until a person confirms it, but what
// can only make the guard stricter: a stop is latched again at once, with its
// own cause, and what was used up of limits counts on.
type Handover struct {
	Predecessor string // base name
	SHA256      string // of the file as it lies, 64 digits 0-9 a-f
	Records     uint64 // whole ones in it
	Carries     []Carry
	Used        []logfmt.Field    // see [Core.used]; nil in logs of before there was such a thing
	Came        *trial.Came       // how far the anchor had come; nil: not yet, or another rode
	Phases      *trial.PhasesCame // what its phases stand on; nil: no series, or another load cell
	Kept        []Kept            // what the program had read and not yet written
}

// Carry is one thing taken over. Item is what a person calls it by; Fields hold
// its value in SI.
type Carry struct {
	Item   string // CarryStop, CarryStage ...; "clear NAME", "lower LIMIT"
	Fields []logfmt.Field
}

// The items of a [Carry].
const (
	CarryStop    = "stop"    // a latched stop: in force at once with its cause, confirmed by re-arming
	CarryStage   = "stage"   // said anew by any stage, re-arm or arm
	CarryDepth   = "depth"   // water depth
	CarryHaul    = "haul"    // rode out at a count: the zero of line hauled
	CarryCorrect = "correct" // how the load cell's lines are read beside the trial file
	CarryZero    = "zero"    // software zero of the load cell
	CarryCell    = "cell"    // the load cell was out of the rode
	CarryAll     = "all"     // in an act: every one that is open
	carryZero    = "zero "   // and the table: software zero of a further load cell
	carryClear   = "clear "  // and the name: has been taken in
	carryLower   = "lower "  // and the limit: was made stricter
)

// CarryState is how far a person has gone with an item.
type CarryState string

// The states of a [Carried].
const (
	CarryOpen    CarryState = "open"         // arming and re-arming wait for it, but for the stage
	CarryTaken   CarryState = "carried"      // a person has confirmed it
	CarryDropped CarryState = "dropped"      // a person has left it behind
	CarrySaid    CarryState = "said anew"    // the same thing was said or done anew
	CarryLatched CarryState = "latched"      // a stop, until it is re-armed
	CarryLifted  CarryState = "lifted"       // that stop has been re-armed
	CarryUnread  CarryState = "not for here" // this trial file has no such thing
)

// Carried is an item as it stands now, in words for people.
type Carried struct {
	Item  string
	Text  string
	State CarryState
}

// carryState is what was taken over and what became of it.
type carryState struct {
	from  Handover
	state []CarryState // by index of from.Carries
}

// The parts of the head that hold a handover.
const (
	chainPart = "chain"
	carryPart = "carry"
	usedPart  = "used"
	camePart  = "came"
	keptPart  = "kept"
	phasePart = "phases"
)

func (h *Handover) records(add func(fields ...logfmt.Field)) {
	f := func(k, v string) logfmt.Field { return logfmt.Field{Key: k, Val: v} }
	add(f("part", chainPart), f("predecessor", h.Predecessor), f("sha256", h.SHA256), f("records", strconv.FormatUint(h.Records, 10)))
	for _, k := range h.Kept {
		add(f("part", keptPart), f("src", k.Src), f("raw", string(k.Raw)))
	}
	for _, c := range h.Carries {
		add(append([]logfmt.Field{f("part", carryPart), f("item", c.Item)}, c.Fields...)...)
	}
	if h.Came != nil {
		came := []logfmt.Field{f("part", camePart), f("stage", h.Came.Stage.String()), f("leapt_m2", logfmt.FormatFloat(h.Came.Leapt))}
		for i, key := range trial.CameKeys {
			came = append(came, f("knee_"+key, logfmt.FormatFloat(h.Came.At[i])), f("last_"+key, logfmt.FormatFloat(h.Came.Last[i])))
		}
		add(came...)
	}
	if h.Phases != nil {
		add(phasesCameFields(h.Phases)...)
	}
	if len(h.Used) > 0 {
		add(append([]logfmt.Field{f("part", usedPart)}, h.Used...)...)
	}
}

func (h *headOf) takeChain(r *logfmt.Record) {
	n, _ := strconv.ParseUint(r.Str("records"), 10, 64)
	h.After = &Handover{Predecessor: r.Str("predecessor"), SHA256: r.Str("sha256"), Records: n}
}

func (h *headOf) takeKept(r *logfmt.Record) {
	if h.After != nil && len(h.After.Kept) < len(keptSources) {
		h.After.Kept = append(h.After.Kept, Kept{r.Str("src"), []byte(r.Str("raw"))})
	}
}

// mostCarries bounds what a head may hold: far past what there is to carry.
const mostCarries = 100

func (h *headOf) takeCarry(r *logfmt.Record) {
	if h.After == nil || len(h.After.Carries) >= mostCarries || len(r.Fields) < 2 {
		return
	}
	h.After.Carries = append(h.After.Carries, Carry{Item: r.Str("item"), Fields: slices.Clone(r.Fields[2:])})
}

func (h *headOf) takeCame(r *logfmt.Record) {
	stage, err := trial.ParseStage(r.Str("stage"))
	if h.After == nil || h.After.Came != nil || err != nil {
		return
	}
	num := func(key string) float64 {
		if v, ok := r.Float(key); ok {
			return v
		}
		return math.NaN()
	}
	c := trial.Came{Stage: stage, Leapt: num("leapt_m2")}
	for i, key := range trial.CameKeys {
		c.At[i], c.Last[i] = num("knee_"+key), num("last_"+key)
	}
	h.After.Came = &c
}

func (h *headOf) takeUsed(r *logfmt.Record) {
	if h.After != nil && h.After.Used == nil && len(r.Fields) > 1 {
		h.After.Used = slices.Clone(r.Fields[1:])
	}
}

func (c *Carry) rec() *logfmt.Record { return &logfmt.Record{Fields: c.Fields} }

// beginCarry sets up what was taken over, once the head is whole.
func (c *Core) beginCarry() {
	if c.head.After == nil {
		return
	}
	k := &c.carry
	k.from = *c.head.After
	k.state = make([]CarryState, len(k.from.Carries))
	for i := range k.from.Carries {
		k.state[i] = CarryOpen
		switch item := &k.from.Carries[i]; {
		case item.Item == CarryStop:
			k.state[i] = CarryLatched
		case c.carryText(item) == "":
			k.state[i] = CarryUnread
		}
	}
}

// latch puts in force, at the first record, what no person has to confirm: a
// stop that was taken over, and what was used up.
func (c *Core) latch(by uint64) {
	if c.head.After == nil {
		return
	}
	defer c.goOn(by)
	c.tell(by, "goes on from "+acquire.Visible([]byte(c.carry.from.Predecessor))+", which has no end",
		logfmt.Field{Key: "what", Val: "chain"})
	for i := range c.carry.from.Carries {
		if c.carry.state[i] != CarryLatched {
			continue
		}
		// One whose cause this program does not know, or that an older program
		// handed on, comes back as a call: as strict as any.
		if l, ok := latchedCarried(c.carry.from.Carries[i].rec()); !ok || !c.guard.Latch(c.t, l, &c.ev) {
			c.guard.Do(c.t, safety.Act{What: safety.CallStop, Who: safety.Program}, &c.ev)
		}
		c.tell(by, c.carryText(&c.carry.from.Carries[i])+" before the log broke off: latched again",
			logfmt.Field{Key: "what", Val: "carry"}, logfmt.Field{Key: "item", Val: CarryStop}, logfmt.Field{Key: "loud", Val: "1"})
	}
}

// carryText is an item in words, "" if this trial file has no such thing.
func (c *Core) carryText(k *Carry) string {
	r := k.rec()
	num := func(key string) (float64, bool) {
		v, ok := r.Float(key)
		return v, ok && !math.IsNaN(v) && !math.IsInf(v, 0)
	}
	switch item := k.Item; {
	case item == CarryStop:
		title := acquire.Visible([]byte(r.Str("title")))
		if l, ok := latchedCarried(r); ok {
			title = l.Cause.Title()
		}
		return "a stop was in force (" + title + ")"
	case item == CarryStage:
		if stage, err := trial.ParseStage(r.Str("stage")); err == nil {
			return stage.String()
		}
	case item == CarryDepth:
		if v, ok := num("value_m"); ok && v > 0 {
			return c.length(trial.Length(v))
		}
	case item == CarryHaul:
		if h, ok := haulCarried(r); ok {
			return fmt.Sprintf("rode out %s at count %d", c.length(h.out(c)), h.last)
		}
	case item == CarryZero:
		if v, ok := num("value_n"); ok {
			return c.force(trial.Force(v))
		}
	case item == CarryCorrect:
		return fixCarried(r).String()
	case item == CarryCell:
		return "out of the rode"
	case strings.HasPrefix(item, carryZero):
		return c.zeroText(k)
	case strings.HasPrefix(item, carryClear):
		var a safety.Act
		if c.thing(strings.TrimPrefix(item, carryClear), &a) == "" {
			return "has been taken in"
		}
	case strings.HasPrefix(item, carryLower):
		v, ok := num("value")
		if key, known := safety.ParseLimitKey(strings.TrimPrefix(item, carryLower)); ok && known && v > 0 {
			switch key {
			case safety.LimitHaul:
				return c.length(trial.Length(v))
			case safety.LimitScopeMin:
				return logfmt.FormatFloat(v)
			}
			return c.force(trial.Force(v))
		}
	}
	return ""
}

// carriedHaul is a line as counted, taken over.
type carriedHaul struct {
	payout, x    float64 // m
	counts, last int64   // at x; the last one counted
	scale        float64
	wall         time.Time // of the last record; zero unknown
	marked       bool
}

func haulCarried(r *logfmt.Record) (h carriedHaul, ok bool) {
	var ok1, ok2, ok3, ok4, ok5 bool
	h.payout, ok1 = r.Float("payout_m")
	h.x, ok2 = r.Float("x_m")
	h.counts, ok3 = r.Int("counts")
	h.last, ok4 = r.Int("last")
	h.scale, ok5 = r.Float("scale")
	h.wall, _ = time.Parse(time.RFC3339Nano, r.Str("wall"))
	h.marked = r.Str("marked") == "true"
	finite := func(v float64) bool { return math.Abs(v) < 1e6 } // m: no rode is as long; false for NaN
	return h, ok1 && ok2 && ok3 && ok4 && ok5 && finite(h.payout) && finite(h.x) && h.payout > 0 && h.scale >= scaleLeast && h.scale <= scaleMost
}

// out is the rode out at the last count.
func (h carriedHaul) out(c *Core) trial.Length { return h.outAt(c, h.last) }

func (h carriedHaul) outAt(c *Core, counts int64) trial.Length {
	return trial.Length(h.payout - h.x - c.counted(h.counts, counts)*h.scale)
}

func fixCarried(r *logfmt.Record) correction {
	return correction{reversed: r.Str("sign") == "-1", unit: r.Str("unit")}
}

// carried is what was taken over, as it stands.
func (c *Core) carried() []Carried {
	if len(c.carry.state) == 0 {
		return nil
	}
	out := make([]Carried, len(c.carry.state))
	for i := range out {
		k := &c.carry.from.Carries[i]
		out[i] = Carried{Item: acquire.Visible([]byte(k.Item)), Text: c.carryText(k), State: c.carry.state[i]}
	}
	return out
}

// carryAgainst is what stands against arming and, by the rules of today,
// re-arming, which the tension is judged for: that something taken over was
// neither confirmed nor left behind. The stage does not: both say it.
func (c *Core) carryAgainst(word string) string {
	not := "not armed: "
	if word == ActRearm {
		if !c.strict() {
			return ""
		}
		not = "not re-armed: "
	}
	for i, s := range c.carry.state {
		if k := &c.carry.from.Carries[i]; s == CarryOpen && k.Item != CarryStage {
			return not + fmt.Sprintf("%s (%s) was taken over from %s and is not confirmed; say carry %s, or drop %s",
				acquire.Visible([]byte(k.Item)), c.carryText(k), acquire.Visible([]byte(c.carry.from.Predecessor)), acquire.Visible([]byte(k.Item)), acquire.Visible([]byte(k.Item)))
		}
	}
	return ""
}
