package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/listen"
	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// usualBus are the settings tried for Modbus units: MODBUS over Serial Line V1.02,
// 2.5.1 and 2.6, has 19200 8E1 as the default, from memory; the rest common
// practice, no source.
var usualBus = []setting{{9600, "8N1"}, {19200, "8E1"}, {9600, "8E1"}, {19200, "8N1"}, {38400, "8N1"}, {115200, "8N1"}}

// answerWait is how long a unit may take to answer, over what the line takes, and
// busQuiet the silence kept after it: common practice, no source.
const (
	answerWait = 250 * time.Millisecond
	busQuiet   = 20 * time.Millisecond
)

// parseSpan reads "7" or "0-31".
func parseSpan(flag, s string, most int) (from, to int, err error) {
	a, b, two := strings.Cut(s, "-")
	from, err = strconv.Atoi(strings.TrimSpace(a))
	if to = from; two && err == nil {
		to, err = strconv.Atoi(strings.TrimSpace(b))
	}
	if err != nil || from < 0 || to < from || to > most {
		return 0, 0, cli.Usage("%s %q: give a number or two, from the least to the greatest, at most %d, such as 0-31", flag, visible(s), most)
	}
	return from, to, nil
}

// askRegisters reads registers of Modbus units: only that, and never more than was
// said.
func (f *listenFlags) askRegisters(ctx context.Context, c *cobra.Command, port string, long time.Duration) error {
	if f.ask != "" {
		return cli.Usage("--ask and --registers do not go together: one is a text, the other Modbus")
	}
	first, last, err := parseSpan("--registers", f.registers, 65535)
	if err != nil {
		return err
	}
	from, to, err := parseSpan("--units", f.units, 247)
	if err != nil {
		return err
	}
	var units []int
	for u := from; u <= to && len(units) <= listen.MostAskedUnits; u++ {
		units = append(units, u)
	}
	if _, err := listen.NewAsker(units, first, last); err != nil {
		return cli.Usage("--units %q, --registers %q: %w", visible(f.units), visible(f.registers), err)
	}
	try := usualBus
	if f.baud > 0 {
		try = []setting{{f.baud, "8N1"}}
		if f.frame != "" {
			try[0].frame = f.frame
		}
	}
	for _, s := range try {
		a, err := listen.NewAsker(units, first, last)
		if err != nil {
			return err
		}
		if err := poll(ctx, port, s, a, long); err != nil {
			return err
		}
		if a.Traffic.Frames > 0 {
			d := &otherDoc{Port: port, Baud: s.baud, Frame: s.frame, Seen: []string{}, Numbers: []otherNumber{}, Notes: []string{}}
			d.modbus(&a.Traffic, f.kind)
			return d.print(c.OutOrStdout(), f.asJSON)
		}
		if ctx.Err() != nil {
			break
		}
		fmt.Fprintf(c.ErrOrStderr(), "hawse: %d %s: no registers to be read\n", s.baud, s.frame)
	}
	return fmt.Errorf("%s: no unit of %s has registers in %s that functions 3 or 4 read: are --units, --registers, baud and frame those set in the box, are both wires the right way round?", visible(port), visible(f.units), visible(f.registers))
}

// poll asks, waits for the answer or its time, and goes on for so long once it has
// looked at all.
func poll(ctx context.Context, port string, s setting, a *listen.Asker, long time.Duration) error {
	conn, err := acquire.OpenSerial(port, trial.Port{Names: []string{port}, Baud: s.baud, Frame: s.frame})
	if err != nil {
		return err
	}
	defer conn.Close()
	start := time.Now()
	var until time.Time
	buf := make([]byte, 1024)
	for ctx.Err() == nil {
		if !a.Looking() && until.IsZero() {
			until = time.Now().Add(long)
		}
		q, ok := a.Next()
		if !ok || !until.IsZero() && time.Now().After(until) {
			return nil
		}
		if _, err := conn.Write(q); err != nil {
			return fmt.Errorf("%s: cannot ask: %w", visible(port), err)
		}
		var got []byte
		for end := time.Now().Add(answerWait + trial.ReadTurn(s.baud, a.Size())); time.Now().Before(end) && len(got) < 4*len(buf); {
			n, err := conn.Read(buf)
			if err != nil {
				return fmt.Errorf("%s: %w", visible(port), err)
			}
			if got = append(got, buf[:n]...); a.Whole(got) {
				break
			}
		}
		a.Answer(int64(time.Since(start)), got)
		time.Sleep(busQuiet)
	}
	return nil
}
