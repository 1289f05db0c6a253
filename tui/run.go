package tui

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"sync"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/lipgloss"
	"github.com/charmbracelet/x/term"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/tui/early"
)

func init() {
	early.Restore()
	lipgloss.SetHasDarkBackground(true) // nothing may ask the terminal later either
}

// Options say how a screen is shown. The zero value is the director's screen
// on standard input and output.
type Options struct {
	In  io.Reader // keys; nil: standard input. An *os.File that is a terminal is set to raw mode and back
	Out io.Writer // nil: standard output. The size comes from it if it is a terminal

	Stand Stand // what is shown first; a key changes it

	Seat safety.Who // whose acts these are; zero: the director's
	Name string     // which person or screen, in the record; empty: "screen"

	// Lost is called once if the screen is lost while it runs: the terminal was
	// closed or hung up, the input ended, or the screen itself failed. It is
	// called before the terminal is restored, from any goroutine, and should
	// not block. A person who leaves, or ctx ending, is no loss.
	Lost func(reason string)

	Light Light // what the screen is read in first; a key changes it
	// Notify is how the terminal is asked for a notice on the desktop when
	// something urgent comes, a word of [trial.ParseNotify]; "" not at all.
	Notify string

	Plain bool // no colours and no attributes, as under NO_COLOR, whatever Light says
	ASCII bool // the terminal has no characters but those of ASCII
	FPS   int  // frames a second; 0: 12
	// Watch is a screen beside the capture's own: leaving it ends nothing.
	Watch bool
	// Stay keeps the screen on after the capture has ended, until a person
	// leaves; a replay always does. Otherwise Run returns when it has ended.
	Stay bool
	// Earlier gives the earlier pulls that can be drawn beneath the trace; it
	// returns at once. nil: there are none to look for.
	Earlier func() *session.EarlierPulls
	pair    duo // of RunPair

	Width, Height int              // where Out is no terminal to ask
	Now           func() time.Time // nil: time.Now; to see a stalled session
}

// LostError is why a screen was lost.
type LostError struct {
	Reason string
	Stack  []byte // of a panic; empty otherwise
}

func (e *LostError) Error() string { return "screen lost: " + e.Reason }

// closeWithin is how long a terminal may take to be put back.
const closeWithin = 300 * time.Millisecond

// Run shows the screen until the person leaves or the capture has ended, and
// returns nil; until ctx ends, and returns its error; or until the screen is
// lost, and returns a [*LostError]. The terminal is restored in every case,
// except that one which is blocked is given up after a moment.
//
// It makes the whole program deaf to ctrl-z and to job control, for good, and
// to hang-ups once the terminal has gone: a capture goes on without its screen.
// SIGTERM and SIGINT are left to the caller.
func Run(ctx context.Context, v session.View, o Options) error {
	return run(ctx, v, o, func(*tea.Program) {})
}

// run is Run, with the program shown to a test.
func run(ctx context.Context, v session.View, o Options, began func(*tea.Program)) error {
	o = o.filled()
	ignoreJobControl()
	in, done, err := o.keys()
	if err != nil {
		return err
	}
	defer done()

	var prog *tea.Program
	ready := make(chan struct{})
	var loss lossOnce
	loss.tell = o.Lost
	lose := func(reason string, stack []byte) {
		if loss.set(reason, stack) {
			<-ready
			prog.Kill()
		}
	}
	closed := func(error) { lose("terminal closed", nil) }

	out := newOutlet(o.Out, closed)
	m := newModel(v, o, out, lose)
	opts := []tea.ProgramOption{
		tea.WithAltScreen(), tea.WithMouseCellMotion(), tea.WithoutSignalHandler(), tea.WithoutCatchPanics(), tea.WithoutBracketedPaste(),
		tea.WithFPS(max(20, o.FPS)), tea.WithInput(watch(in, closed)),
	}
	if f, ok := o.Out.(*os.File); ok {
		opts = append(opts, tea.WithOutput(fileOutlet{out, f}))
	} else {
		opts = append(opts, tea.WithOutput(out))
	}
	prog = tea.NewProgram(m, opts...)
	close(ready)
	began(prog)

	over := make(chan struct{})
	var helpers sync.WaitGroup
	hups := make(chan os.Signal, 1)
	hangUps(hups)
	helpers.Go(func() {
		select {
		case <-hups:
			outliveHangUps()
			closed(nil)
		case <-ctx.Done():
			prog.Quit()
		case <-over:
		}
	})

	put := keepMode(in)
	err = runProgram(prog, lose)
	close(over)
	helpers.Wait()
	if loss.happened() {
		outliveHangUps()
	} else {
		signal.Stop(hups)
	}
	put()
	var last []byte
	if out.dirty.Load() || loss.happened() {
		last = []byte(restore)
	}
	out.close(last, closeWithin)
	defer loss.end() // what ends later is no loss of a screen that is gone
	switch {
	case loss.happened():
		return loss.err()
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil:
		err = fmt.Errorf("screen: %w; run headless, or in another terminal", err)
		lose(err.Error(), nil)
		return err
	}
	return nil
}

func (o Options) filled() Options {
	if o.Out == nil {
		o.Out = os.Stdout
	}
	if o.Seat == safety.Nobody {
		o.Seat = safety.Director
	}
	if o.Name == "" {
		o.Name = "screen"
	}
	if o.FPS <= 0 {
		o.FPS = 12
	}
	o.FPS = min(o.FPS, 60)
	if o.Now == nil {
		o.Now = time.Now
	}
	return o
}

// keys is where keys come from: In, else standard input, else the terminal
// itself where standard input is something else.
func (o Options) keys() (in io.Reader, done func(), err error) {
	if o.In != nil {
		return o.In, func() {}, nil
	}
	if term.IsTerminal(os.Stdin.Fd()) {
		return os.Stdin, func() {}, nil
	}
	f, err := os.Open(terminalFile)
	if err != nil {
		return nil, nil, fmt.Errorf("screen: no keyboard: standard input is no terminal and %w; run headless", err)
	}
	return f, func() { _ = f.Close() }, nil // only read from
}

func newModel(v session.View, o Options, out terminal, lose func(string, []byte)) model {
	m := model{
		view: v, stand: o.Stand, seat: o.Seat, name: o.Name, stay: o.Stay, watch: o.Watch, notify: o.Notify, now: o.Now, out: out, lost: lose,
		every: time.Second / time.Duration(o.FPS), w: o.Width, h: o.Height,
	}
	m.player, _ = v.(session.Player)
	m.comment, _ = v.(session.Commenter)
	m.earlier, m.pair = o.Earlier, o.pair
	m.light = min(o.Light, numLights-1)
	if o.Plain {
		m.light = LightPlain
	}
	for l := range numLights {
		m.lights[l] = newStyles(o.Out, l)
		m.lights[l].ascii = o.ASCII
	}
	m.st = m.lights[m.light]
	return m
}

// runProgram is the library's loop; a panic in the library itself is a lost
// screen too.
func runProgram(p *tea.Program, lose func(string, []byte)) (err error) {
	defer func() {
		if r := recover(); r != nil {
			lose(fmt.Sprintf("the screen failed: %v", r), stackNow())
			err = errors.New("the screen failed")
		}
	}()
	_, err = p.Run()
	return err
}

// keepMode remembers the mode of a terminal and returns what puts it back: the
// library does so itself, but not after its own failure.
func keepMode(in io.Reader) func() {
	f, ok := in.(*os.File)
	if !ok || !term.IsTerminal(f.Fd()) {
		return func() {}
	}
	state, err := term.GetState(f.Fd())
	if err != nil {
		return func() {}
	}
	return func() { _ = term.Restore(f.Fd(), state) } // at the end: nobody is left to tell
}

// lossOnce holds the first reason a screen was lost.
type lossOnce struct {
	mu   sync.Mutex
	lost *LostError
	over bool
	tell func(string)
}

func (l *lossOnce) set(reason string, stack []byte) bool {
	l.mu.Lock()
	first := l.lost == nil && !l.over
	if first {
		l.lost = &LostError{reason, stack}
	}
	l.mu.Unlock()
	if first && l.tell != nil {
		l.tell(reason)
	}
	return first
}

func (l *lossOnce) end() {
	l.mu.Lock()
	l.over = true
	l.mu.Unlock()
}

func (l *lossOnce) happened() bool { return l.err() != nil }

func (l *lossOnce) err() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.lost == nil {
		return nil
	}
	return l.lost
}

func stackNow() []byte { return debug.Stack() }
