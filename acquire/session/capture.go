package session

import (
	"context"
	"errors"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/trial"
)

// Config is what a capture needs to start.
type Config struct {
	Head    Head
	LogPath string
	Clock   acquire.Clock
	Dial    acquire.Dialer
	Dir     string         // relative port names start here
	Before  *Before        // the pull up to where Head.After broke off, which goes with the capture; nil: not known
	Log     logfmt.Options // Clock is set from Config.Clock

	// CopyPath, if not "", is a second file that gets every record too, by
	// goroutines of its own: what fails there is told and holds up nothing.
	CopyPath string
	CopyFS   logfmt.FS // nil: as Log has

	// Free says how many bytes may still be written where a path is; nil: not
	// known. Slept is how long this computer has been suspended since it was
	// switched on; nil: not known. Free may hang: it is asked beside all else.
	// KeepDir is a folder whose files the system keeps in memory, where what an
	// instrument sends is kept until it is in the log; "" none.
	KeepDir string
	Free    func(path string) (bytes int64, known bool)
	Slept   func() (d time.Duration, known bool)
}

// Capture is a running capture: ports, sequencer, guard, Judge and log. It is a
// [View]. It ends by an accepted act to end, or when its context does.
type Capture struct {
	cfg    Config
	log    *logfmt.Log
	copy   *recordCopy // the second file; nil: none
	keep   [len(keptSources)]*keeper
	disks  *diskWatch // nil: nobody says how much room there is
	judge  *judgeRunner
	pull   *Before // the pull in the log's and those before it; nil: the log has it all
	folder         // the sequencer's own

	items chan acquire.Item
	acts  chan actRequest
	ports sync.WaitGroup
	halt  context.CancelFunc // ends the ports

	snap atomic.Pointer[Snapshot]
	done chan struct{}
	err  error // after done

	// The sequencer's own too.
	lastClock int64
	lastShot  time.Time
	shotN     uint64 // newest record in the last snapshot
	scale     float64
	sealed    bool
	recordBad bool
	room      forecast
	slept     time.Duration // as last looked
	behind    bool          // the items that arrive are old; told
}

type actRequest struct {
	act   Act
	reply chan Outcome // nil: nobody waits
}

// Outcome is what came of an act: the record it stands in, and the refusal.
type Outcome struct {
	N       uint64
	Refused string
}

// Start creates the log and begins capturing. The log must not exist yet.
func Start(ctx context.Context, cfg Config) (*Capture, error) {
	cfg.Log.Clock = cfg.Clock.Now
	log, err := logfmt.Create(cfg.LogPath, cfg.Log)
	if err != nil {
		return nil, err
	}
	var second *recordCopy
	if cfg.CopyPath != "" {
		if second, err = openCopy(cfg); err != nil {
			return nil, errors.Join(err, log.Close())
		}
	}
	c := &Capture{cfg: cfg, log: log, copy: second, scale: max(cfg.Head.Scale, 1),
		items: make(chan acquire.Item, 1<<14), acts: make(chan actRequest, 64), done: make(chan struct{})}
	c.judge = startJudge(cfg.Head)
	c.folder = folder{keep: c.keepRecord, explain: c.judge.add}
	for _, r := range cfg.Head.Records() {
		if err := c.put(r); err != nil {
			close(c.judge.in)
			<-c.judge.done
			log.Close()
			second.close()
			return nil, err
		}
	}
	c.goOn(cfg.Before)
	c.headOut()
	if cfg.Slept != nil {
		c.slept, _ = cfg.Slept()
	}
	c.clock(cfg.Clock.Now())
	c.disks = watchDisks(cfg)
	SweepKept(cfg.KeepDir)
	portCtx, halt := context.WithCancel(context.WithoutCancel(ctx))
	c.halt = halt
	open := func(src string, port trial.Port, form acquire.Form) poster {
		if len(port.Names) == 0 {
			return nil
		}
		opt := acquire.OwnerOptions{Src: src, Port: port, Dial: keepDial(cfg.Dial, c.keeperOf(src)), Form: form, Clock: cfg.Clock, Out: c.items, Dir: cfg.Dir}
		if form == nil {
			instrumentOptions(&opt, cfg.Head.Trial)
		}
		o := acquire.NewOwner(opt)
		c.ports.Go(func() { o.Run(portCtx) })
		return o
	}
	tr := cfg.Head.Trial
	for _, ins := range tr.Instruments() {
		open(ins.Table, ins.Port, nil)
	}
	stop := acquire.NewStopForm(tr.Stop)
	c.out.init(open(SrcStop, tr.Stop.Port, stop), stop, c.patience(tr.Stop.Beat), c.scale)
	if tr.Horn != nil {
		horn := acquire.NewHornForm(tr.Horn)
		c.horn.init(open(SrcHorn, tr.Horn.Port, horn), horn, c.scale)
	}
	c.publish()
	go c.run(ctx)
	return c, nil
}

// headOut waits until the system has the head, so that a log without one is
// never what a capture that has begun leaves behind. A disk that will not take
// it is told like any other.
func (c *Capture) headOut() {
	const most = time.Second
	for end := time.Now().Add(most); c.log.Status().Written < c.n && time.Now().Before(end); {
		time.Sleep(time.Millisecond)
	}
}

// keeperOf makes the memory for what a port sends; nil where there is none. Not
// to have it is no reason not to capture.
func (c *Capture) keeperOf(src string) *keeper {
	i := slices.Index(keptSources[:], src)
	if i < 0 || c.cfg.KeepDir == "" {
		return nil
	}
	c.keep[i], _ = newKeeper(c.cfg.KeepDir, c.cfg.LogPath, src)
	return c.keep[i]
}

// Snapshot implements [View].
func (c *Capture) Snapshot() *Snapshot { return c.snap.Load() }

// Trace implements [View].
func (c *Capture) Trace(q TraceQuery, dst []trial.Col) []trial.Col { return c.judge.envelope(q, dst) }

// Do implements [View]. Should the sequencer be so far behind that there is no
// room for the act, it waits in a goroutine of its own: none is lost.
func (c *Capture) Do(a Act) {
	deliver := func() {
		select {
		case c.acts <- actRequest{act: a}:
		case <-c.done:
		}
	}
	if len(c.acts) < cap(c.acts) {
		deliver()
		return
	}
	go deliver()
}

// DoWait hands over an act and waits for what came of it.
func (c *Capture) DoWait(ctx context.Context, a Act) (Outcome, error) {
	req := actRequest{act: a, reply: make(chan Outcome, 1)}
	select {
	case c.acts <- req:
	case <-c.done:
		return Outcome{}, errors.New("the capture has ended")
	case <-ctx.Done():
		return Outcome{}, ctx.Err()
	}
	select {
	case o := <-req.reply:
		return o, nil
	case <-c.done:
		select {
		case o := <-req.reply:
			return o, nil
		default:
			return Outcome{}, errors.New("the capture ended before it could answer")
		}
	case <-ctx.Done():
		return Outcome{}, ctx.Err()
	}
}

// ScreenState tells the guard that a screen came or went.
func (c *Capture) ScreenState(attached bool, reason string) {
	state := stateAttached
	if !attached {
		state = acquire.StateLost
	}
	select {
	case c.items <- acquire.Item{Src: SrcScreen, Kind: acquire.State, T: c.cfg.Clock.Now(), State: state, Reason: reason}:
	case <-c.done:
	}
}

// Done is closed when the log is sealed and everything has stopped.
func (c *Capture) Done() <-chan struct{} { return c.done }

// Err returns what went wrong with the capture itself; only after Done.
func (c *Capture) Err() error { return c.err }
