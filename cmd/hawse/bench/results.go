package bench

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// What is wanted of `hawse results`: the time of a whole log to that of sha256sum
// over the same file, and the most memory.
const (
	resultsWanted = 4.0
	resultsMemory = 100_000_000
)

func newResults(shared *sharedFlags) *cobra.Command {
	o := &options{}
	c := command(shared, o, measureResults, func() error {
		switch {
		case !(o.hours >= 0.02 && o.hours <= 100):
			return fmt.Errorf("--hours %v: from 0.02 to 100", o.hours)
		case o.rounds < 1 || o.rounds > 100:
			return fmt.Errorf("--rounds %d: from 1 to 100", o.rounds)
		}
		return checkRate(o, 1000)
	})
	c.Use, c.Short = "results", "The figures of a long log against sha256sum of the same file; memory"
	c.Long = `Write the log of an invented pull of many hours, hauling and easing in turn, and
one of a tenth of it. Then run 'hawse results' on it as a process of its own, in
turn with sha256sum of the same file, --rounds times: read, checked, folded and
summed up. The best time of each counts; the file is in memory by then.

Ten hours at 100 lines a second from each instrument make a log of about 1.2 GB.`
	c.Example = "  hawse bench results\n  hawse bench results --hours 1 --rounds 5\n  hawse bench results --dir /srv/big"
	c.Flags().Float64Var(&o.hours, "hours", 10, "hours of the log")
	c.Flags().IntVar(&o.rate, "rate", 100, "lines a second from each of the two instruments")
	c.Flags().IntVar(&o.rounds, "rounds", 3, "rounds")
	return c
}

func measureResults(ctx context.Context, o options) (*report, error) {
	return inFolder(o, func(dir string) (*report, error) {
		need := int64(o.hours*3600*float64(o.rate)) * instruments * bytesPerLine
		if free, known := system.FreeSpace(dir); known && free < need+need/3 {
			return nil, fmt.Errorf("%v h make logs of about %d MB and %s has %d MB free; make room, choose another place with --dir, or fewer --hours",
				o.hours, (need+need/10)/1e6, filepath.Dir(dir), free/1e6)
		}
		var logs [2]resultsLog
		for i, part := range []float64{0.1, 1} {
			hours := o.hours * part
			o.progress("writing the log of %.3g h", hours)
			l := &logs[i]
			l.path = filepath.Join(dir, fmt.Sprintf("pull-%d.log", i))
			var err error
			if l.records, l.lines, err = longPull(ctx, l.path, hours, o.rate); err != nil {
				return nil, err
			}
			info, err := os.Stat(l.path)
			if err != nil {
				return nil, err
			}
			l.bytes = info.Size()
			o.progress("%s records; its figures, %d times", cli.Grouped(l.records), o.rounds)
			if err := l.measure(ctx, o.rounds); err != nil {
				return nil, err
			}
		}
		return resultsReport(o, logs), nil
	})
}

// resultsLog is one log and what it took to tell it.
type resultsLog struct {
	path         string
	records      uint64
	lines, bytes int64
	sum, told    best
	cpu          time.Duration // of the best round
	memory       int64         // most of all rounds, bytes; 0 unknown
}

func (l *resultsLog) measure(ctx context.Context, rounds int) error {
	sum, noSum := exec.LookPath("sha256sum")
	for range rounds {
		if noSum == nil {
			began := time.Now()
			if err := exec.CommandContext(ctx, sum, l.path).Run(); err != nil {
				return err
			}
			l.sum.took(time.Since(began))
		}
		out, u, err := runSelf(ctx, "results", "--json", l.path)
		if err == nil && len(out) == 0 {
			err = errors.New("hawse results told nothing")
		}
		if err != nil {
			return err
		}
		if l.told.best == 0 || u.ran < l.told.best {
			l.cpu = u.cpu
		}
		l.memory = max(l.memory, u.peak)
		l.told.took(u.ran)
	}
	return nil
}

func (l *resultsLog) ratio() float64 {
	if l.sum.best == 0 {
		return 0
	}
	return l.told.best.Seconds() / l.sum.best.Seconds()
}

func resultsReport(o options, logs [2]resultsLog) *report {
	whole := &logs[1]
	r := &report{title: fmt.Sprintf("hawse results: a log of %v h at %d lines/s an instrument, best of %d rounds", o.hours, o.rate, o.rounds),
		settings: []setting{{"hours", o.hours}, {"rate_per_s", o.rate}, {"rounds", o.rounds}}}
	t := &table{key: "results", columns: []column{{"tenth", "a tenth"}, {"whole", "whole"}}}
	row := func(key, label string, of func(l *resultsLog) cell) {
		t.add(key, label, of(&logs[0]), of(whole))
	}
	row("lines", "lines of the instruments", func(l *resultsLog) cell { return cellInt(l.lines) })
	row("records", "records", func(l *resultsLog) cell { return cellInt(l.records) })
	row("log_bytes", "log, MB", func(l *resultsLog) cell { return cellMB(l.bytes) })
	row("sha256sum_s", "sha256sum, s", func(l *resultsLog) cell { return cellSeconds(l.sum.best) })
	row("results_s", "hawse results, s", func(l *resultsLog) cell { return cellSeconds(l.told.best) })
	row("to_sha256sum", "to sha256sum", func(l *resultsLog) cell {
		return cellRatio(l.told.best.Seconds(), l.sum.best.Seconds())
	})
	row("cpu_s", "CPU, all cores, s", func(l *resultsLog) cell { return cellSeconds(l.cpu) })
	row("record_s", "us a record", func(l *resultsLog) cell {
		each := l.told.best.Seconds() / float64(l.records)
		return cell{each, fmt.Sprintf("%.2f", each*1e6)}
	})
	row("memory_bytes", "most memory, MB", func(l *resultsLog) cell { return cellMB(l.memory) })
	r.tables = []*table{t}
	// Speed is the machine's too: short of what is wanted is told, no fault.
	switch ratio := whole.ratio(); {
	case ratio == 0:
		r.note("sha256sum is not on this machine: no ratio to it.")
	case ratio > resultsWanted:
		r.note("Short of what is wanted: at most %.0f times sha256sum's time, and it is %.1f. sha256sum uses the processor's own instructions for it; so does the check of the seal in here.", resultsWanted, ratio)
	}
	r.fault(whole.memory > resultsMemory, "hawse results took %.0f MB, more than %.0f", float64(whole.memory)/1e6, resultsMemory/1e6)
	r.fault(logs[0].memory > 0 && whole.memory > 2*logs[0].memory, "memory grows with the log")
	return r
}

// longPull writes the log of an invented pull: cycles of 8 min of hauling at
// 2.4 m/min and 4 min of easing, the boxes sending so many lines a second.
func longPull(ctx context.Context, path string, hours float64, rate int) (records uint64, lines int64, err error) {
	text, err := trialFile(rate, "load", "line", "stop")
	if err != nil {
		return 0, 0, err
	}
	t, err := trial.ParseTrial("trial.toml", []byte(text))
	if err != nil {
		return 0, 0, err
	}
	run, ok := t.Run("A1")
	if !ok {
		return 0, 0, fmt.Errorf("the trial file's template has no run A1: the bench must follow it")
	}
	began := time.Date(2026, 4, 12, 9, 0, 0, 0, time.UTC)
	d, err := session.NewDry(session.Head{Tool: cli.Tool, Build: cli.Build(), Started: began, Mode: "simulated", Caption: "Invented data: a measurement",
		Scale: 1, Trial: t, File: "trial.toml", Run: run})
	if err != nil {
		return 0, 0, err
	}
	log, err := logfmt.Create(path, logfmt.Options{})
	if err != nil {
		return 0, 0, err
	}
	p := &longPuller{d: d, log: log, rate: rate, began: began}
	d.Keep = true
	p.start()
	for step := int64(0); p.at < int64(hours*3600e9); step++ {
		if step%100 == 0 && ctx.Err() != nil {
			return 0, 0, ctx.Err()
		}
		p.second()
	}
	p.put()
	err = log.Seal(logfmt.Record{T: p.at, N: p.n + 1, Kind: logfmt.End, Fields: []logfmt.Field{{Key: "reason", Val: "measured"}}})
	if p.err != nil {
		err = p.err
	}
	return p.n + 1, p.lines, err
}

// longPuller plays the deck of [longPull].
type longPuller struct {
	d      *session.Dry
	log    *logfmt.Log
	rate   int
	began  time.Time
	at     int64
	x      float64 // m
	acts   uint32
	n      uint64
	lines  int64
	err    error
	buf    []byte
	cycle  int64 // ns into it
	hauls  bool
	loaded bool
}

const (
	longHaul = int64(480e9)
	longEase = int64(240e9)
	longRun  = 0.04 // m/s
)

func (p *longPuller) start() {
	for _, src := range []string{session.SrcLoad, session.SrcLine, session.SrcStop} {
		p.d.Port(0, src, acquire.StateOpen, "")
	}
	p.second()
	p.second()
	p.do(safety.Director, session.ActZero, "")
	p.do(safety.Director, session.ActWaive, "weight a measurement")
	p.do(safety.Director, session.ActDepth, "6 m")
	p.do(safety.Director, session.ActPayout, "60 m")
	p.do(safety.Director, session.ActRead, "")
	for _, who := range []safety.Who{safety.WinchOperator, safety.Logger, safety.Director} {
		p.do(who, session.ActReady, "all live")
	}
	p.second()
	p.do(safety.Director, session.ActArm, "")
	p.do(safety.Director, session.ActStage, "pull")
	p.loaded, p.hauls, p.cycle = true, true, 0
}

func (p *longPuller) do(who safety.Who, what, value string) {
	p.acts++
	a := session.Act{Who: who, Name: "bench", What: what, Value: value}
	if what == session.ActStage {
		a.Stage, _ = trial.ParseStage(value)
		a.Value = ""
	}
	if out := p.d.Act(p.at, a, p.acts); out.Refused != "" && p.err == nil {
		p.err = fmt.Errorf("the made-up pull: %s %s was refused: %s", what, value, out.Refused)
	}
}

// second plays one second of the deck, and hands its records to the log.
func (p *longPuller) second() {
	switch {
	case !p.loaded:
	case p.hauls && p.cycle >= longHaul:
		p.hauls, p.cycle = false, 0
		p.do(safety.Director, session.ActStage, "ease")
	case !p.hauls && p.cycle >= longEase:
		p.hauls, p.cycle = true, 0
		p.do(safety.Director, session.ActStage, "pull")
	}
	from := p.at
	for i := range p.rate {
		t := from + int64(i+1)*1e9/int64(p.rate)
		dt := 1 / float64(p.rate)
		if p.loaded {
			if p.hauls {
				p.x += longRun * dt
			} else {
				p.x = max(0, p.x-2*longRun*dt)
			}
		}
		tenths := 10 // kgf
		if p.loaded {
			tenths = 400 + int(130*p.x) + int(t/1e7)%23
		}
		p.lines++
		p.buf = fmt.Appendf(p.buf[:0], "N +%07d @%08d\r\n", int(1000*p.x), p.lines)
		p.d.Rx(t-1e9/int64(2*p.rate), session.SrcLine, p.buf)
		p.lines++
		p.buf = fmt.Appendf(p.buf[:0], "+%04d.%d kgf #%08d\r\n", tenths/10, tenths%10, p.lines)
		p.d.Rx(t, session.SrcLoad, p.buf)
	}
	p.at = from + 1e9
	p.cycle += 1e9
	p.d.Clock(p.at, p.began.Add(time.Duration(p.at)))
	p.put()
}

// put hands what was recorded to the log, no further ahead than it can hold.
func (p *longPuller) put() {
	for _, r := range p.d.Records {
		p.log.Put(r)
		p.n = r.N
	}
	clear(p.d.Records)
	p.d.Records = p.d.Records[:0]
	for s := p.log.Status(); s.Queued-s.Written > 1<<15; s = p.log.Status() {
		if s.Dropped > 0 || s.Err != nil {
			p.err = fmt.Errorf("the log: %d records dropped: %w", s.Dropped, s.Err)
			return
		}
		runtime.Gosched()
		time.Sleep(100 * time.Microsecond)
	}
}
