package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/listen"
	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// usual are the settings tried, the commonest first: common practice, no source.
var usual = []setting{
	{9600, "8N1"}, {4800, "8N1"}, {19200, "8N1"}, {38400, "8N1"}, {115200, "8N1"}, {57600, "8N1"}, {2400, "8N1"}, {1200, "8N1"},
	{9600, "7E1"}, {9600, "8E1"}, {9600, "7O1"}, {4800, "7E1"}, {2400, "7E1"}, {1200, "7E1"}, {19200, "7E1"}, {19200, "8E1"},
}

type setting struct {
	baud  int
	frame string
}

const (
	lookFor   = 1500 * time.Millisecond // at each setting, until it is seen to be wrong
	askEvery  = 200 * time.Millisecond
	legible   = 0.97    // share of text in the bytes of a right setting
	mostHeard = 1 << 20 // bytes kept
	shownHead = 192     // bytes shown as they came
)

// listenFlags is what the command line of `hawse listen` said.
type listenFlags struct {
	baud             int
	frame, ask, kind string
	registers, units string
	length           string
	asJSON           bool
}

func newListen() *cobra.Command {
	var f listenFlags
	c := &cobra.Command{
		Use:   "listen PORT",
		Short: "Listen to a box nobody knows, and write its block for the trial file",
		Long: `Open a serial port, try the usual speeds and frames until text comes, show the
bytes as they came, and work out what the lines have in common: which number is the
reading, its unit, how often it comes, how finely, how it flickers; whether peak hold
or averaging seems to be on. The block for the trial file is proposed; what stands
in it as "" only a person can say.

NMEA 0183, Modbus RTU that is overheard between others, and binary frames of one
length are told as such: sentences and what they feed; units, registers, and where a
float or a whole number moves, in which order of bytes; sync bytes, length, checksum,
counters. Let something move meanwhile: hang a load on, turn the drum.

Nothing is sent to the box, unless --ask says what: \r \n \t \\ and \xHH are the
bytes they stand for; it is sent five times a second. Or --registers says which
registers of Modbus units to read, from 0 as on the wire; --units says of which. They
are read by functions 3 and 4, never written; 32 units and 256 registers at most.

It only proposes. Hang a known weight on the cell before you believe a unit. Do not
run it on a port a capture is using: the port is refused.

` + cli.ExitHelp,
		Example: `  hawse listen /dev/ttyUSB0
  hawse listen /dev/ttyUSB0 --baud 4800 --frame 7E1 --for 20s
  hawse listen /dev/ttyUSB1 --ask 'R\r' --json
  hawse listen /dev/ttyUSB1 --registers 0-31 --units 1-4 --baud 19200 --frame 8E1`,
		Args: cli.Exactly(1, "one port; 'hawse ports' lists them"),
		RunE: func(c *cobra.Command, args []string) error {
			ctx, stop := cli.Interruptible(c)
			defer stop()
			return f.run(ctx, c, args[0])
		},
	}
	s := c.Flags()
	s.IntVar(&f.baud, "baud", 0, "bits a second (default: the usual ones are tried)")
	s.StringVar(&f.frame, "frame", "", "data bits, parity, stop bits (default: with --baud 8N1)")
	s.StringVar(&f.ask, "ask", "", `what to send to a box that waits to be asked, such as 'R\r'`)
	s.StringVar(&f.registers, "registers", "", `read these registers of Modbus units, such as "0-31"`)
	s.StringVar(&f.units, "units", "1", `with --registers: of which units, such as "1" or "1-8"`)
	s.StringVar(&f.kind, "as", "", `"load" or "line" (default: found out)`)
	s.StringVar(&f.length, "for", "8s", "how long to listen once text comes, at most 10m")
	s.BoolVar(&f.asJSON, "json", false, "one object in JSON")
	return c
}

// heard is what came at one setting.
type heard struct {
	setting
	raw    []byte
	lines  listen.Lines
	chunks []listen.Chunk
	bus    listen.Traffic
	binary *listen.Binary // nil until it was looked for and found
}

func (f *listenFlags) run(ctx context.Context, c *cobra.Command, port string) error {
	long, err := time.ParseDuration(f.length)
	switch {
	case err != nil || long < 500*time.Millisecond || long > 10*time.Minute:
		return cli.Usage("--for %q: give a time from 500ms to 10m, such as 20s", visible(f.length))
	case f.kind != "" && f.kind != listen.Load && f.kind != listen.Counts:
		return cli.Usage("--as %q: give load or line", visible(f.kind))
	case f.frame != "" && f.baud == 0:
		return cli.Usage("--frame goes with --baud")
	case f.baud < 0:
		return cli.Usage("--baud %d: give the bits a second, such as 9600", f.baud)
	}
	ask, err := unescape(f.ask)
	if err != nil {
		return err
	}
	if f.registers != "" {
		return f.askRegisters(ctx, c, port, long)
	}
	try := usual
	if f.baud > 0 {
		try = []setting{{f.baud, "8N1"}}
		if f.frame != "" {
			try[0].frame = f.frame
		}
	}
	var best *heard
	for _, s := range try {
		h, err := hear(ctx, port, s, ask, long)
		if err != nil {
			return err
		}
		if best == nil || better(h, best) {
			best = h
		}
		if h.right() || h.sure() || ctx.Err() != nil {
			break
		}
		fmt.Fprintf(c.ErrOrStderr(), "hawse: %d %s: %s\n", s.baud, s.frame, h.came())
		if len(h.raw) == 0 && f.baud == 0 && s == usual[1] {
			break // silence at two speeds is no matter of speed
		}
	}
	if len(best.raw) == 0 {
		return fmt.Errorf("%s: not a byte came: is the box on, is it the right port ('hawse ports'), does it wait to be asked (--ask)?", visible(port))
	}
	if d := best.other(port, f.kind); d != nil {
		return d.print(c.OutOrStdout(), f.asJSON)
	}
	if share := listen.Legible(best.raw); share < 0.8 {
		return fmt.Errorf("%s at %d %s: %.0f %% of %d bytes are text: the speed is wrong, or the box sends binary frames of no one length; it came as\n%s", visible(port), best.baud, best.frame, 100*share, len(best.raw), acquire.Visible(best.raw[:min(len(best.raw), shownHead)]))
	}
	shape, err := listen.Find(best.lines.All, f.kind)
	if err != nil {
		return fmt.Errorf("%s at %d %s: %w; it came as\n%s", visible(port), best.baud, best.frame, err, acquire.Visible(best.raw[:min(len(best.raw), shownHead)]))
	}
	if f.asJSON {
		return cli.WriteJSON(c.OutOrStdout(), listenJSON(port, best, shape))
	}
	_, err = io.WriteString(c.OutOrStdout(), listenPage(port, best, shape))
	return err
}

// came is what came, for people who wait.
func (h *heard) came() string {
	if len(h.raw) == 0 {
		return "not a byte came"
	}
	return fmt.Sprintf("%d bytes, %.0f %% text, %d lines", len(h.raw), 100*listen.Legible(h.raw), len(h.lines.All))
}

func (h *heard) right() bool {
	return len(h.lines.All) >= 3 && listen.Legible(h.raw) >= legible
}

// text says that what came so far is text, of a slow box perhaps; a wrong speed
// soon shows.
func (h *heard) text() bool { return len(h.raw) >= 8 && listen.Legible(h.raw) >= legible }

func better(a, b *heard) bool {
	la, lb := listen.Legible(a.raw), listen.Legible(b.raw)
	switch {
	case len(a.raw) == 0 || len(b.raw) == 0:
		return len(a.raw) > 0
	case a.right() != b.right():
		return a.right()
	case a.sure() != b.sure():
		return a.sure()
	case (a.binary != nil) != (b.binary != nil):
		return a.binary != nil
	}
	return la > lb
}

// hear reads one setting: for a moment, and on, once what comes is text.
func hear(ctx context.Context, port string, s setting, ask []byte, long time.Duration) (*heard, error) {
	conn, err := acquire.OpenSerial(port, trial.Port{Names: []string{port}, Baud: s.baud, Frame: s.frame})
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	h := &heard{setting: s}
	start := time.Now()
	asked := start.Add(-askEvery)
	looked := false
	buf := make([]byte, 4096)
	for ctx.Err() == nil && len(h.raw) < mostHeard {
		spent := time.Since(start)
		if spent >= lookFor && !looked && !h.text() {
			looked = true
			h.binary, _ = listen.FindFrames(h.chunks)
		}
		if spent >= long || spent >= lookFor && !h.text() && !h.sure() {
			break
		}
		if len(ask) > 0 && time.Since(asked) >= askEvery {
			asked = time.Now()
			if _, err := conn.Write(ask); err != nil {
				return nil, fmt.Errorf("%s: cannot ask: %w", visible(port), err)
			}
		}
		n, err := conn.Read(buf)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", visible(port), err)
		}
		h.raw = append(h.raw, buf[:n]...)
		t := int64(time.Since(start))
		h.lines.Feed(t, buf[:n])
		h.bus.Feed(t, buf[:n])
		if n > 0 {
			h.chunks = append(h.chunks, listen.Chunk{T: t, Raw: bytes.Clone(buf[:n])})
		}
	}
	if !h.text() {
		h.binary, _ = listen.FindFrames(h.chunks)
	}
	return h, nil
}

// unescape reads what to send.
func unescape(s string) ([]byte, error) {
	var out []byte
	for i := 0; i < len(s); i++ {
		if s[i] != '\\' {
			out = append(out, s[i])
			continue
		}
		bad := cli.Usage(`--ask %q: after a backslash write r, n, t, another one, or x and two digits`, visible(s))
		if i++; i >= len(s) {
			return nil, bad
		}
		switch s[i] {
		case 'r':
			out = append(out, '\r')
		case 'n':
			out = append(out, '\n')
		case 't':
			out = append(out, '\t')
		case '\\':
			out = append(out, '\\')
		case 'x':
			var v byte
			if i+2 >= len(s) {
				return nil, bad
			}
			if _, err := fmt.Sscanf(s[i+1:i+3], "%02x", &v); err != nil || strings.ContainsAny(s[i+1:i+3], " +-") {
				return nil, bad
			}
			out, i = append(out, v), i+2
		default:
			return nil, bad
		}
	}
	if len(out) > 256 {
		return nil, cli.Usage("--ask: more than 256 bytes is no question")
	}
	return out, nil
}

// listenDoc is `hawse listen --json`; forces in the box's unit.
type listenDoc struct {
	Port    string   `json:"port"`
	Baud    int      `json:"baud"`
	Frame   string   `json:"frame"`
	Kind    string   `json:"kind"`
	Pattern string   `json:"line"`
	Unit    string   `json:"unit,omitempty"`
	Fits    int      `json:"lines_fit"`
	Of      int      `json:"lines"`
	Over    []string `json:"over"`
	Others  []string `json:"other_lines"`
	Status  []string `json:"status"`
	Rate    float64  `json:"rate_hz"`
	Step    float64  `json:"step"`
	Noise   float64  `json:"noise"`
	Last    float64  `json:"last"`
	Notes   []string `json:"notes"`
	Block   string   `json:"block"`
}

func listenJSON(port string, h *heard, s *listen.Shape) listenDoc {
	some := func(list []string) []string { return append([]string{}, list...) }
	d := listenDoc{Port: port, Baud: h.baud, Frame: h.frame, Kind: s.Kind, Pattern: s.Pattern, Unit: s.Unit, Fits: s.Fits, Of: s.Of, Over: some(s.Over),
		Others: some(s.Others), Status: some(s.Status), Rate: s.Rate, Step: s.Step, Noise: s.Noise, Notes: some(s.Notes), Block: s.Block(port, h.baud, h.frame)}
	if n := len(s.Values); n > 0 {
		d.Last = s.Values[n-1]
	}
	return d
}

func listenPage(port string, h *heard, s *listen.Shape) string {
	p := &limitsPage{}
	p.line(2, "%s at %d %s: %d lines, %d of one shape", visible(port), h.baud, h.frame, s.Of, s.Fits)
	p.line(2, "  %s", acquire.Visible(h.raw[:min(len(h.raw), shownHead)]))
	p.WriteString("\n")
	what := "a load in " + s.Unit
	switch {
	case s.Kind == listen.Counts:
		what = "counts of line"
	case s.Unit == "":
		what = "a load in a unit it does not send"
	}
	last := 0.0
	if n := len(s.Values); n > 0 {
		last = s.Values[n-1]
	}
	p.line(2, "reads as  %s, last %g", what, last)
	p.line(2, "rate      %.1f a second", s.Rate)
	step := "not seen: it never changed"
	if s.Step > 0 {
		step = fmt.Sprintf("%.6g", s.Step)
	}
	p.line(2, "step      %s; from one reading to the next it scatters by %.3g", step, s.Noise)
	if len(s.Status) > 0 {
		p.line(2, "status    %s", strings.Join(s.Status, ", "))
	}
	if len(s.Over) > 0 {
		p.line(2, "over      %s", visible(strings.Join(s.Over, ", ")))
	}
	for _, o := range s.Others {
		p.line(2, "also came %s", o)
	}
	for i, n := range s.Notes {
		if i == 0 {
			p.WriteString("\nNOTES\n")
		}
		p.line(4, "  %s", n)
	}
	p.WriteString("\nFOR THE TRIAL FILE, proposed; \"\" is for you to say\n" + s.Block(port, h.baud, h.frame))
	return p.String()
}
