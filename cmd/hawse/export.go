package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"

	"github.com/mattn/go-isatty"
	"github.com/spf13/cobra"

	"hawse/acquire/export"
	"hawse/cmd/hawse/cli"
)

func newExport() *cobra.Command {
	var x exportArgs
	c := &cobra.Command{
		Use:   "export LOG|FOLDER... [--to csv|parquet] [--of samples|cells|frames] [-o FILE|FOLDER]",
		Short: "Make tables of raw logs: CSV or Parquet, samples or raw frames",
		Long: `Make a table of each log, for a spreadsheet or a program that analyses it.

samples  a row for each frame of the load cell: what the fold made of it, to the
         bit, joined with the line, the stage, the phase and the order in force
cells    a row for each frame of every further load cell, [load2] and [load3]
frames   a row for each record that holds bytes of a port, as they came

Each column name ends in its unit; what is missing is empty, never 0. CSV is that
of RFC 4180; times are exact to the nanosecond. Parquet has the trial file, the
log's head, its SHA-256, and unit and meaning of each column in its metadata.

One log goes to standard output, if it is CSV and -o is not given, or to the file
or folder of -o. Several logs, or a folder with all its logs and those in folders
below it, go to the folder of -o, a file a log: A1.log to A1.samples.csv. Nothing
that exists is replaced without --force, and a log never.

A damaged log is exported up to the damage and after it; the column lost_records
says where, standard error what. A log cut short is exported to the cut. Whether
its seal holds is said of each log, and stands in Parquet as hawse.seal. A log or
folder that cannot be read is named, and the others are exported. Addenda are not
applied: a table is what the log itself says.

` + exportColumns() + `

Exit code 0: all logs were whole and their seals hold. 6: tables were made, but
of a log that is damaged, has no end or another seal. 4: a file exists or cannot
be made. 1: a log or folder could not be read, or a file not be written.`,
		Example: `  hawse export logs/A1-20260412T090211Z.log > a1.csv
  hawse export logs/A1-20260412T090211Z.log --of frames -o a1-frames.csv
  hawse export logs --to parquet -o tables`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cli.Usage("say which log to export")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			x.toSaid = c.Flags().Changed("to")
			return x.run(c, args)
		},
	}
	c.Flags().StringVar(&x.to, "to", string(export.CSV), "csv or parquet")
	c.Flags().StringVar(&x.of, "of", string(export.Samples), "samples, cells or frames")
	c.Flags().StringVarP(&x.out, "out", "o", "", "file or folder to write to; - is standard output")
	c.Flags().BoolVar(&x.force, "force", false, "replace files that exist")
	c.Flags().IntVar(&x.jobs, "jobs", runtime.NumCPU(), "how many logs to export at once")
	return c
}

// exportColumns lists the columns of the tables.
func exportColumns() string {
	var b strings.Builder
	for _, of := range []export.Of{export.Samples, export.Cells, export.Frames} {
		cols, err := export.Columns(of)
		if err != nil {
			continue
		}
		fmt.Fprintf(&b, "Columns of %s:\n", of)
		for _, c := range cols {
			fmt.Fprintf(&b, "  %-21s %s\n", c.Name, c.About)
		}
	}
	return strings.TrimSuffix(b.String(), "\n")
}

type exportArgs struct {
	to, of, out string
	force       bool
	jobs        int
	toSaid      bool
}

func (x *exportArgs) run(c *cobra.Command, args []string) error {
	o := export.Options{Of: export.Of(x.of), To: export.Format(x.to), Tool: "hawse " + cli.Version + " (build " + cli.Build() + ")"}
	if err := o.Check(); err != nil {
		return cli.Usage("%w", err)
	}
	if x.jobs < 1 || x.jobs > 1024 {
		return cli.Usage("--jobs %d: from 1 to 1024 logs at once", x.jobs)
	}
	single := len(args) == 1 && !isDir(args[0])
	if end := strings.ToLower(filepath.Ext(x.out)); single && (end == ".csv" || end == ".parquet") && end != "."+x.to {
		if x.toSaid {
			return cli.Usage("-o %s and --to %s do not fit", visible(x.out), x.to)
		}
		o.To = export.Format(end[1:])
	}
	ctx, stop := cli.Interruptible(c)
	defer stop()
	switch {
	case x.out == "-" && !single:
		return cli.Usage("standard output takes one log; give a folder with -o")
	case x.out == "" && (!single || o.To != export.CSV):
		return cli.Usage("say with -o where to; only CSV of one log goes to standard output by itself")
	case x.out == "-" || x.out == "":
		if out, ok := c.OutOrStdout().(*os.File); ok && o.To != export.CSV && isatty.IsTerminal(out.Fd()) {
			return cli.Usage("a terminal shows no Parquet; give a file with -o")
		}
		return exportTo(ctx, c.OutOrStdout(), c.ErrOrStderr(), args[0], o)
	case single && !isDir(x.out) && !strings.HasSuffix(x.out, "/") && !strings.HasSuffix(x.out, string(filepath.Separator)):
		dir, name := filepath.Dir(x.out), filepath.Base(x.out)
		if !isDir(dir) {
			return cli.Exit(cli.ExitStart, "%s: no such folder; make it, or choose another", visible(dir))
		}
		return x.exportAll(ctx, c, dir, []export.Job{{Log: args[0], Out: name}}, nil, o)
	}
	jobs, unread, err := exportJobs(c.ErrOrStderr(), args, o)
	if err != nil {
		return err
	}
	return x.exportAll(ctx, c, x.out, jobs, unread, o)
}

func isDir(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

// exportJobs are the files that the logs become, and the folders that could not
// be read. A log of a folder keeps its place below it.
func exportJobs(errOut io.Writer, args []string, o export.Options) (jobs []export.Job, unread []error, err error) {
	for _, arg := range args {
		paths, folders := logsIn([]string{arg})
		for _, f := range folders {
			unread = append(unread, f)
		}
		folder := isDir(arg)
		for _, path := range paths {
			name := filepath.Base(path)
			if folder {
				if export.IsAddendum(path) {
					fmt.Fprintf(errOut, "hawse: %s is an addendum, which has no table: left out\n", visible(path))
					continue
				}
				if rel, err := filepath.Rel(arg, path); err == nil && filepath.IsLocal(rel) {
					name = rel
				}
			}
			jobs = append(jobs, export.Job{Log: path, Out: export.OutName(filepath.ToSlash(name), o)})
		}
	}
	if err := export.Collide(jobs); err != nil {
		return nil, nil, cli.Usage("%w", err)
	}
	return jobs, unread, nil
}

// exportTo writes the table of one log to a stream.
func exportTo(ctx context.Context, out, errOut io.Writer, log string, o export.Options) error {
	res, err := export.File(ctx, out, log, o)
	if brokenPipe(err) {
		return nil // whoever read has had enough
	}
	if err != nil {
		return exportError(err)
	}
	sayDamage(errOut, log, res)
	if res.Seal.Good { // else it has been told
		fmt.Fprintf(errOut, "hawse: %s: %s %s, %s\n", visible(log), cli.Grouped(res.Rows), o.Of, res.SealText())
	}
	if !res.Whole() {
		return cli.Exit(cli.ExitRecord, "%s is not whole: what there is was exported", visible(log))
	}
	return nil
}

// exportAll makes the files of all jobs. failed is what has failed before.
func (x *exportArgs) exportAll(ctx context.Context, c *cobra.Command, dir string, jobs []export.Job, failed []error, o export.Options) error {
	if len(jobs) == 0 && len(failed) > 0 {
		return errors.Join(failed...)
	}
	folder, err := export.OpenFolder(dir, x.force)
	if err != nil {
		return exportError(err)
	}
	defer folder.Close()
	unread, bad, broken, rows := len(failed), 0, 0, uint64(0)
	export.All(ctx, folder, jobs, o, x.jobs, func(d export.Done) {
		if d.Err != nil {
			failed = append(failed, exportError(d.Err))
			return
		}
		rows += d.Res.Rows
		fmt.Fprintf(c.OutOrStdout(), "%s: %s %s of %s, %s\n", visible(filepath.Join(dir, filepath.FromSlash(d.Out))),
			cli.Grouped(d.Res.Rows), o.Of, visible(d.Log), d.Res.SealText())
		sayDamage(c.ErrOrStderr(), d.Log, d.Res)
		if !d.Res.Whole() {
			bad++
		}
		if !d.Res.Seal.Good {
			broken++
		}
	})
	if ctx.Err() != nil {
		return errors.New("interrupted: some logs were not exported")
	}
	if len(jobs) > 1 {
		fmt.Fprintf(c.OutOrStdout(), "%d logs, %s %s: %d not whole, %d without a seal that holds, %d not exported\n",
			len(jobs), cli.Grouped(rows), o.Of, bad, broken, len(failed)-unread)
	}
	switch {
	case len(failed) == 1:
		return failed[0]
	case len(failed) > 1:
		return cli.Exit(codeOf(failed), "%w", errors.Join(failed...))
	case bad > 0:
		return cli.Exit(cli.ExitRecord, "%d of %d logs not whole: what there is was exported", bad, len(jobs))
	}
	return nil
}

// exportError gives an error its exit code.
func exportError(err error) error {
	if _, ok := errors.AsType[*export.FileError](err); ok {
		return cli.Exit(cli.ExitStart, "%w", err)
	}
	if errors.Is(err, export.ErrNoHead) {
		return cli.Exit(cli.ExitRecord, "%w", err)
	}
	return err
}

// codeOf is the exit code of several errors: theirs, if it is one.
func codeOf(errs []error) int {
	code := 0
	for _, err := range errs {
		own := cli.Code(err)
		if code != 0 && code != own {
			return cli.ExitFailed
		}
		code = own
	}
	return code
}

// mostDamage is how many damages of a log are told: verify names them all.
const mostDamage = 10

// sayDamage tells what is wrong with a log that was read.
func sayDamage(errOut io.Writer, log string, res *export.Result) {
	sayDamages(errOut, log, res)
	name := visible(log)
	switch {
	case res.Broken != nil:
		fmt.Fprintf(errOut, "hawse: %s: %s\n", name, visible(res.Broken.Error()))
	case !res.Sealed:
		fmt.Fprintf(errOut, "hawse: %s: cut short: the log has no end\n", name)
	case !res.Seal.Good:
		fmt.Fprintf(errOut, "hawse: %s: %s\n", name, res.SealText())
	}
}

// sayDamages names them.
func sayDamages(errOut io.Writer, log string, res *export.Result) {
	name := visible(log)
	for i, d := range res.Damage {
		if i == mostDamage {
			fmt.Fprintf(errOut, "hawse: %s: and %d more damages; 'hawse verify' names them\n", name, len(res.Damage)-i)
			break
		}
		fmt.Fprintf(errOut, "hawse: %s: %s\n", name, d)
	}
}

// brokenPipe says whether a write failed because nobody reads any more.
func brokenPipe(err error) bool {
	return errors.Is(err, syscall.EPIPE) || errors.Is(err, io.ErrClosedPipe)
}
