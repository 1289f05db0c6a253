package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire/export"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
	"hawse/logfmt"
)

// lookEvery is how often a log that is followed is looked at for more.
const lookEvery = 100 * time.Millisecond

func newCat() *cobra.Command {
	var follow, asJSON bool
	c := &cobra.Command{
		Use:   "cat LOG [--follow] [--json]",
		Short: "Print the records of a raw log, one a line, also as they arrive",
		Long: `Print each record that proves itself by its checksum, one a line, and behind a
frame of the load cell what the fold makes of it: tension, line, scope, stage,
phase, order. Nothing that acts on a terminal is printed: bytes stand as in the
log, \r \n \t \" \\ \xHH.

As text, a line is that of the log without its checksums, key=value throughout.
With --json it is one object, times exact in t_s, what is missing left out.

With --follow it waits for more, looking every 0.1 s, until the record that ends
the log, or ctrl-c, or until the program that wrote the log is gone. A program on
another machine cannot be seen: a log on a network share is followed on. A log
that is cut or replaced meanwhile is read anew from its start. Each record is
written at once.

Exit code 0: the log was whole and its seal holds, or it was followed until
ctrl-c. 6: it is damaged or has no end, or its writer is gone without one.`,
		Example: `  hawse cat logs/A1-20260412T090211Z.log | grep k=act
  hawse cat --json logs/A1-20260412T090211Z.log | jq -c '.samples[]? | [.tension_n, .hauled_m]'
  hawse cat --follow --json logs/A1-20260412T090211Z.log | my-plotter`,
		Args: cli.Exactly(1, "one log"),
		RunE: func(c *cobra.Command, args []string) error {
			o := export.CatOptions{JSON: asJSON, Flush: follow, ToEnd: follow}
			var res *export.Result
			var err error
			if follow {
				ctx, stop := cli.Interruptible(c)
				defer stop()
				res, err = catFollow(ctx, c.OutOrStdout(), c.ErrOrStderr(), args[0], o)
			} else {
				res, err = catFile(c.OutOrStdout(), c.ErrOrStderr(), args[0], o)
			}
			return catEnd(c.ErrOrStderr(), args[0], res, err, follow)
		},
	}
	c.Flags().BoolVarP(&follow, "follow", "f", false, "wait for more until the log ends")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object a record")
	return c
}

func catFile(out, errOut io.Writer, path string, o export.CatOptions) (*export.Result, error) {
	in, err := logfmt.Open(path)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	return catFrom(out, errOut, path, in, o)
}

func catFrom(out, errOut io.Writer, path string, in io.Reader, o export.CatOptions) (*export.Result, error) {
	res, dumb, err := export.Cat(out, in, o)
	if dumb != nil {
		fmt.Fprintf(errOut, "hawse: %s: its frames cannot be understood: %s\n", visible(path), visible(dumb.Error()))
	}
	return res, err
}

// catFollow prints a log that may still be written, from its start, and anew if
// it is cut or replaced.
func catFollow(ctx context.Context, out, errOut io.Writer, path string, o export.CatOptions) (*export.Result, error) {
	var once sync.Once
	for {
		in, err := export.Follow(ctx, path, lookEvery)
		if err != nil {
			return nil, err
		}
		in.Watch(func(f *os.File) export.Writer { return writerOf(path, f) }, func() {
			once.Do(func() {
				fmt.Fprintf(errOut, "hawse: %s: no program on this machine is seen writing it; whether another still does cannot be known: followed on until ctrl-c\n", visible(path))
			})
		})
		if in.Packed() {
			in.Close()
			return catFile(out, errOut, path, o)
		}
		res, err := catFrom(out, errOut, path, in, o)
		in.Close()
		if err != nil || !errors.Is(res.Broken, export.ErrAnew) {
			return res, err
		}
		fmt.Fprintf(errOut, "hawse: %s was cut or replaced after %d records: read anew from its start\n", visible(path), res.Records)
	}
}

// writerOf says what can be seen of the program that writes a log: it holds the
// lock or answers calls, as in [owned].
func writerOf(path string, f *os.File) export.Writer {
	local := system.OnLocalDisk(f)
	if system.LockedFile(f) {
		return export.WriterSeen
	}
	conn, err := net.DialTimeout("unix", session.SocketPath(path), time.Second)
	if err == nil {
		conn.Close()
		return export.WriterSeen
	}
	switch {
	case local:
		return export.WriterNone // the lock tells, whoever's socket was left behind
	case errors.Is(err, fs.ErrPermission):
		return export.WriterSeen
	}
	return export.WriterHidden
}

// catEnd makes an exit code of how it went.
func catEnd(errOut io.Writer, path string, res *export.Result, err error, followed bool) error {
	switch {
	case brokenPipe(err):
		return nil // whoever read has had enough
	case err != nil:
		return err
	case res.Records == 0 && !followed:
		return fmt.Errorf("%s: %w", visible(path), export.ErrNotLog)
	case followed && !res.Sealed && res.Broken == nil:
		return nil // by ctrl-c; its last line may be half written
	case errors.Is(res.Broken, export.ErrNoWriter):
		res.Broken = nil
		sayDamages(errOut, path, res)
		return cli.Exit(cli.ExitRecord, "%s: %w", visible(path), export.ErrNoWriter)
	}
	sayDamage(errOut, path, res)
	if !res.Whole() {
		return cli.Exit(cli.ExitRecord, "%s is not whole", visible(path))
	}
	return nil
}
