package session

import (
	"hawse/logfmt"
	"hawse/trial"
)

// A log is read, folded and summed up by three goroutines in a row, so that two
// cores share the work. What passes between them keeps its order, so the figures
// are what one goroutine would have found.

const (
	pipeRecords = 512 // records handed on at once
	pipeFigures = 512 // samples
	pipeDepth   = 3   // of those on the way
)

// recordPipe reads the records of a log ahead.
type recordPipe struct {
	out  chan []logfmt.Record
	free chan []logfmt.Record
}

// readAhead begins to read. Whoever takes from it takes to the end; then the
// reader may be asked again.
func readAhead(read *logfmt.Reader) *recordPipe {
	p := &recordPipe{make(chan []logfmt.Record, pipeDepth), make(chan []logfmt.Record, pipeDepth+2)}
	go func() {
		defer close(p.out)
		batch := make([]logfmt.Record, 0, pipeRecords)
		for read.Next() {
			if batch = append(batch, read.Record()); len(batch) < pipeRecords {
				continue
			}
			p.out <- batch
			select {
			case batch = <-p.free:
			default:
				batch = make([]logfmt.Record, 0, pipeRecords)
			}
		}
		p.out <- batch
	}()
	return p
}

// each hands out every record to the end of the log.
func (p *recordPipe) each(do func(rec *logfmt.Record)) {
	for batch := range p.out {
		for i := range batch {
			do(&batch[i])
		}
		clear(batch)
		select {
		case p.free <- batch[:0]:
		default:
		}
	}
}

// figureOp is what the figures are told: a sample, or what op does instead; in is
// a gap then where nothing joins what comes after to what was before.
type figureOp struct {
	in        JudgeInput
	corrected trial.Force
	op        func(*Judge) // nil: a sample
}

// figurePipe works the figures out behind the fold.
type figurePipe struct {
	figures   *Judge
	corrected *Judge // nil: no correction applies
	watch     func(JudgeInput, trial.Length)
	batch     []figureOp
	in        chan []figureOp
	free      chan []figureOp
	done      chan struct{}
}

func newFigurePipe(figures, corrected *Judge, watch func(JudgeInput, trial.Length)) *figurePipe {
	p := &figurePipe{figures: figures, corrected: corrected, watch: watch, in: make(chan []figureOp, pipeDepth), free: make(chan []figureOp, pipeDepth+2), done: make(chan struct{})}
	go p.run()
	return p
}

func (p *figurePipe) run() {
	defer close(p.done)
	for batch := range p.in {
		for i := range batch {
			o := &batch[i]
			switch {
			case o.op != nil:
				o.op(p.figures)
				if p.corrected != nil {
					o.op(p.corrected)
				}
				if o.in.Gap {
					p.show(o.in)
				}
			default:
				p.figures.Apply(o.in, nil)
				p.show(o.in)
				if p.corrected != nil {
					o.in.Tension = o.corrected
					p.corrected.Apply(o.in, nil)
				}
			}
		}
		clear(batch)
		select {
		case p.free <- batch[:0]:
		default:
		}
	}
}

func (p *figurePipe) show(in JudgeInput) {
	if p.watch != nil {
		travel, _, _ := p.figures.study.Travel().Now()
		p.watch(in, travel)
	}
}

func (p *figurePipe) put(o figureOp) {
	p.batch = append(p.batch, o)
	if len(p.batch) >= pipeFigures {
		p.push()
	}
}

func (p *figurePipe) push() {
	p.in <- p.batch
	select {
	case p.batch = <-p.free:
	default:
		p.batch = make([]figureOp, 0, pipeFigures)
	}
}

// end waits until all is worked out. Nothing may follow.
func (p *figurePipe) end() {
	p.push()
	close(p.in)
	<-p.done
}
