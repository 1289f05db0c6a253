//go:build unix

package bench

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"hawse/acquire"
	"hawse/acquire/deck"
	"hawse/logfmt"
	"hawse/trial"
)

// decoderScript is a deck whose winch stands: the load cell's last digit flickers.
const decoderScript = `[facts]
title     Decoders at %[1]d a second
caption   Invented data: a measurement of a machine
depth     6 m
fairlead  1.5 m
payout    60 m
speed     2.4 m/min
stiffness 400 kN
noise     0.02 kN
load      %[1]d Hz
line      %[1]d Hz
baud      115200
latency   2 ms
[trial]
load.rate = "%[1]d Hz"
line.rate = "%[1]d Hz"
[tension]
x 0 m     1.0 kN
`

// decoderRates are how often each instrument speaks, or is asked, a second. Two
// Modbus units at 100 a second are more than a line at 115200 Bd can carry, by the
// trial file's own rule.
var decoderRates = []int{10, 50, 100}

const modbusMost = 50

// decoderRun is what became of the messages of one kind of box at one rate.
type decoderRun struct {
	sent, lost int // whole messages while the port was open; of boxes that are asked, questions and those without an answer
	bad        int // frames that were not read
	late       int // answers later than they may be: the deck, which has no processor of its own, was held up
	used       used
}

// sentList takes what a deck has sent, port by port, in order.
type sentList struct {
	mu   sync.Mutex
	part []byte
	of   map[string][]sentMessage
}

type sentMessage struct {
	at  float64 // s of the deck's clock
	raw string
}

// Write takes the deck's list of lines sent.
func (l *sentList) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.part = append(l.part, p...)
	for {
		i := bytes.IndexByte(l.part, '\n')
		if i < 0 {
			return len(p), nil
		}
		at, rest, _ := strings.Cut(string(l.part[:i]), " ")
		port, quoted, _ := strings.Cut(rest, " ")
		t, err1 := strconv.ParseFloat(at, 64)
		raw, err2 := strconv.Unquote(quoted)
		if err := firstError(err1, err2); err != nil {
			return 0, err
		}
		l.of[port] = append(l.of[port], sentMessage{t, raw})
		l.part = l.part[i+1:]
	}
}

// decoderDeck runs a deck in dir with a capture of it, for as long as during says.
func decoderDeck(ctx context.Context, dir string, sc *deck.Scenario, during func(child *capture, began int64) error) (sent *sentList, u used, err error) {
	sent = &sentList{of: map[string][]sentMessage{}}
	clock := acquire.NewClock()
	d, err := deck.Open(sc, deck.Options{Dir: filepath.Join(dir, "deck"), Clock: clock, Seed: 1, Sent: sent, Epoch: time.Now().UTC()})
	if err != nil {
		return nil, u, err
	}
	defer d.Close()
	rig := &deckRig{dir: dir}
	if err := os.WriteFile(rig.trial(), []byte(sc.TrialFile()), 0o644); err != nil {
		return nil, u, err
	}
	child, err := startCapture(rig, screenNone, screenSize{})
	if err != nil {
		return nil, u, err
	}
	defer child.kill()
	if _, err := child.until(ctx, 15*time.Second, statusCall); err != nil {
		return nil, u, err
	}
	began := clock.Now()
	ended := make(chan error, 1)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	go func() { ended <- d.Run(ctx) }()
	if err := during(child, began); err != nil {
		return nil, u, err
	}
	u, err = child.end(ctx)
	cancel()
	return sent, u, firstError(err, <-ended)
}

// decodersAt measures one kind of box at one rate.
func decodersAt(ctx context.Context, o options, dir, boxes string, rate int) (run decoderRun, err error) {
	sc, err := deck.ParseScenario("decoders.txt", fmt.Appendf(nil, decoderScript, rate))
	if err == nil {
		sc, err = sc.With(boxes, nil)
	}
	if err == nil {
		err = os.Mkdir(dir, 0o755)
	}
	if err != nil {
		return run, err
	}
	sent, u, err := decoderDeck(ctx, dir, sc, func(child *capture, _ int64) error {
		if !pauseFor(ctx, o.lasts) {
			return ctx.Err()
		}
		return child.died()
	})
	if err != nil {
		return run, err
	}
	run.used = u
	t, err := trial.ParseTrial("trial.toml", []byte(sc.TrialFile()))
	if err != nil {
		return run, err
	}
	err = run.score(ctx, filepath.Join(dir, "bench.log"), t, sent)
	return run, err
}

// score holds a log against what was sent, and decodes it.
func (run *decoderRun) score(ctx context.Context, log string, t *trial.Trial, sent *sentList) error {
	read, err := readersOf(t)
	if err != nil {
		return err
	}
	type portLog struct {
		recv     *acquire.Reception
		raw      []byte
		asked    int
		answered int
		why      string // it could not be opened
	}
	ports := map[string]*portLog{}
	for _, ins := range t.Instruments() {
		if on := acquire.OnPort(t, ins.Table); len(on) > 0 {
			ports[ins.Table] = &portLog{recv: acquire.NewReception(on, nil)}
		}
	}
	err = eachRecord(ctx, log, func(r *logfmt.Record) {
		p := ports[r.Str("src")]
		if p == nil {
			return
		}
		at := r.T
		if ns, ok := r.Ns("at"); ok {
			at = ns
		}
		switch r.Kind {
		case logfmt.PortEvent:
			p.recv.Reset(r.T)
			if r.Str("state") == acquire.StateRetry {
				p.why = r.Str("reason")
			}
		case logfmt.Tx:
			p.asked++
			p.recv.Sent(at, []byte(r.Str("raw")))
		case logfmt.Rx:
			raw := []byte(r.Str("raw"))
			p.raw = append(p.raw, raw...)
			p.recv.Feed(at, raw, func(_ string, frame []byte, bad string) {
				switch {
				case bad == "" && read(frame):
					p.answered++
				case bad == acquire.BadLate:
					run.late++
				case p.answered > 0: // before, it is the rest of one that began before the port was open
					run.bad++
				}
			})
		}
	})
	for port, p := range ports {
		if len(p.raw) == 0 && p.why != "" { // of whoever else has it
			return fmt.Errorf("the capture never had %s open: %s", port, acquire.Visible([]byte(p.why)))
		}
		if p.asked > 0 { // the last one may have been asked as it ended
			run.sent += p.asked
			run.lost += max(p.asked-p.answered-run.late-1, 0)
			continue
		}
		n, lost := lostOf(sent.of[port], p.raw)
		run.sent, run.lost = run.sent+n, run.lost+lost
	}
	return err
}

// lostOf counts the messages that are in what was logged, and those that are not.
// What was sent before the port had been opened, or was on its way when it was
// closed, is no loss, if it is less than a second of it.
func lostOf(sent []sentMessage, raw []byte) (n, lost int) {
	var all []byte
	starts := make([]int, 0, len(sent))
	for _, m := range sent {
		starts = append(starts, len(all))
		all = append(all, m.raw...)
	}
	from := bytes.Index(all, raw)
	if from < 0 { // some are missing: they are looked for one after the other
		for _, m := range sent {
			if k := bytes.Index(raw, []byte(m.raw)); k >= 0 && k < 1024 {
				raw, n = raw[k+len(m.raw):], n+1
			} else {
				lost++
			}
		}
		return n, max(lost, 1)
	}
	edge, first, last := 0, 0.0, 0.0
	for i, m := range sent {
		switch at := starts[i]; {
		case at >= from && at+len(m.raw) <= from+len(raw):
			if n++; n == 1 {
				first = m.at
			}
			last = m.at
		default:
			edge++
		}
	}
	if n == 0 || first-sent[0].at > 1 || sent[len(sent)-1].at-last > 1 {
		return n, edge
	}
	return n, 0
}

// readersOf says of a frame whether any instrument reads it.
func readersOf(t *trial.Trial) (func(frame []byte) bool, error) {
	load, err := acquire.NewLoadDecoder(t.Load)
	if err != nil {
		return nil, err
	}
	line, err := acquire.NewLineDecoder(t.Line)
	if err != nil {
		return nil, err
	}
	return func(frame []byte) bool {
		if load.Decode(frame).Kind == acquire.Good || line.Decode(frame).Kind == acquire.Good {
			return true
		}
		_, err := acquire.ParseSentence(frame)
		return err == nil
	}, nil
}

// replugged is how long after a port was there again its first line was handed to
// a capture that had it open, by the deck's clock, ns.
func replugged(ctx context.Context, o options, dir, fault string) (ns []int64, missed int, err error) {
	const first, every = 3.0, 1.2 // s
	const rate = 200
	script := fmt.Sprintf(decoderScript, rate) + "[faults]\n"
	back := make([]float64, o.cycles)
	for i := range back {
		gone := 0.2 + 0.25*float64(i)/float64(o.cycles) // over the whole of the owner's 250 ms between two tries
		at := first + every*float64(i)
		back[i] = at + gone
		script += fmt.Sprintf("at %.4f s: %s load %.4f s\n", at, fault, gone)
	}
	sc, err := deck.ParseScenario("replug.txt", []byte(script))
	if err == nil {
		err = os.Mkdir(dir, 0o755)
	}
	if err != nil {
		return nil, 0, err
	}
	began := int64(0)
	sent, _, err := decoderDeck(ctx, dir, sc, func(child *capture, t int64) error {
		began = t
		if !pauseFor(ctx, time.Duration((first+every*float64(o.cycles)+1)*1e9)) {
			return ctx.Err()
		}
		return child.died()
	})
	if err != nil {
		return nil, 0, err
	}
	list := sent.of["load"]
	for _, t := range back {
		t += float64(began) / 1e9
		for len(list) > 0 && list[0].at < t {
			list = list[1:]
		}
		if len(list) == 0 || list[0].at-t > 1 {
			missed++
			continue
		}
		ns = append(ns, int64((list[0].at-t)*1e9))
	}
	return ns, missed, nil
}

// measureDecoders runs every kind of box at every rate, and pulls the plug.
func measureDecoders(ctx context.Context, o options) (*report, error) {
	return inFolder(o, func(dir string) (*report, error) {
		r := &report{title: fmt.Sprintf("Decoders: every kind of box at its rates, %v each, through pseudo-terminals into a capture with no screen", o.lasts),
			settings: []setting{{"for_s", o.lasts.Seconds()}, {"cycles", o.cycles}}}
		var columns []column
		for _, rate := range decoderRates {
			columns = append(columns, column{fmt.Sprintf("at_%d_hz", rate), fmt.Sprintf("%d Hz", rate)})
		}
		sent := &table{key: "sent", columns: columns}
		lost := &table{key: "lost", columns: columns}
		cpu := &table{key: "cpu_percent_of_core", columns: columns}
		for _, kind := range deck.BoxKinds {
			if deck.Besides(kind.Name) && kind.Name != "nmea" {
				continue // lines, as those of others
			}
			key := strings.ReplaceAll(kind.Name, "-", "_")
			var s, l, c []cell
			for _, rate := range decoderRates {
				if kind.Name == "modbus" && rate > modbusMost || kind.Name == "nmea" && rate > decoderRates[0] {
					none := cell{nil, "-"}
					s, l, c = append(s, none), append(l, none), append(c, none)
					continue
				}
				o.progress("%s, %d a second", kind.Name, rate)
				run, err := decodersAt(ctx, o, filepath.Join(dir, fmt.Sprintf("%s-%d", kind.Name, rate)), kind.Name, rate)
				if err != nil {
					return nil, fmt.Errorf("%s at %d Hz: %w", kind.Name, rate, err)
				}
				s, l = append(s, cellInt(run.sent)), append(l, cellInt(run.lost+run.bad))
				c = append(c, cellNumber(run.used.share(), "%.1f"))
				if run.late > 0 {
					r.note("%s at %d Hz: %d answers came too late and were dropped: the machine had other work.", kind.Name, rate, run.late)
				}
				r.fault(run.sent == 0, "%s at %d Hz: nothing came", kind.Name, rate)
				r.fault(run.lost > 0 || run.bad > 0, "%s at %d Hz: %d lost, %d not read", kind.Name, rate, run.lost, run.bad)
			}
			sent.add(key, kind.Name+": frames sent", s...)
			lost.add(key, kind.Name+": lost or not read", l...)
			cpu.add(key, kind.Name+": CPU, % of one core", c...)
		}
		plug := &table{key: "replug", columns: []column{{"same_name", "same name"}, {"other_name", "another name"}}}
		var spreads []spread
		var cycles []cell
		for _, fault := range []string{"unplug", "rename"} {
			o.progress("%d times: %s", o.cycles, fault)
			ns, missed, err := replugged(ctx, o, filepath.Join(dir, fault), fault)
			if err != nil {
				return nil, err
			}
			r.fault(missed > 0, "%s: %d times of %d the port was not open within 1 s", fault, missed, o.cycles)
			spreads, cycles = append(spreads, spreadOf(ns)), append(cycles, cellInt(len(ns)))
		}
		plug.add("n", "times", cycles...)
		plug.spreads("reconnect", "port there again to a line read", spreads...)
		r.tables = []*table{sent, lost, cpu, plug}
		r.note("Of boxes that are asked, frames sent are the questions, and lost those without an answer. nmea comes besides lines.")
		r.note("A line every 5 ms: times of replugging are up to that much too long.")
		return r, nil
	})
}
