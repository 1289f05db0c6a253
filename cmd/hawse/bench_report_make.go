package main

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"time"

	"github.com/spf13/cobra"

	"hawse/trial"
	"hawse/trial/report"
)

// newBenchReport measures the report of many pulls against what it takes to read
// and hash the same files, in one run.
func newBenchReport() *cobra.Command {
	var pulls int
	var dir string
	c := &cobra.Command{
		Use:   "report",
		Short: "The report of 200 pulls of a quarter of an hour, against hashing the same files",
		Long: `Write invented campaigns until there are so many pulls, make their report, and
give its time as a ratio to that of reading and hashing the same files with
SHA-256, in the same run, one file after the other as sha256sum does. Both are
read once before, so that neither waits for the disk.`,
		Example: "  hawse bench report\n  hawse bench report --pulls 20",
		Args:    exactly(0, "nothing else"),
		RunE: func(c *cobra.Command, _ []string) error {
			if pulls < 1 || pulls > 5000 {
				return usageError{fmt.Errorf("--pulls %d: from 1 to 5000", pulls)}
			}
			tmp, err := os.MkdirTemp(dir, "hawse-bench-report-")
			if err != nil {
				return exitWith(exitStart, "%w", err)
			}
			defer os.RemoveAll(tmp)
			return benchReportOf(c.Context(), c.OutOrStdout(), tmp, pulls)
		},
	}
	c.Flags().IntVar(&pulls, "pulls", 200, "how many")
	c.Flags().StringVar(&dir, "dir", "", "where the logs are written (default: the system's temporary folder)")
	return c
}

func benchReportOf(ctx context.Context, out io.Writer, dir string, pulls int) error {
	began := time.Now()
	logs := filepath.Join(dir, "logs")
	if err := os.MkdirAll(logs, 0o755); err != nil {
		return err
	}
	have := 0
	for seed := uint64(1); have < pulls; seed++ {
		one := filepath.Join(dir, fmt.Sprintf("campaign-%d", seed))
		if err := writeCampaign(ctx, one, seed, nil); err != nil {
			return err
		}
		all, err := filepath.Glob(filepath.Join(one, "logs", "*.log"))
		if err != nil {
			return err
		}
		for _, path := range all {
			if have == pulls {
				break
			}
			if err := os.Rename(path, filepath.Join(logs, fmt.Sprintf("%d-%s", seed, filepath.Base(path)))); err != nil {
				return err
			}
			have++
		}
		if err := os.RemoveAll(one); err != nil {
			return err
		}
	}
	made := time.Since(began)
	paths, _ := logsIn([]string{logs})
	hash := func() (bytes int64, took time.Duration, err error) {
		began := time.Now()
		for _, path := range paths {
			f, err := os.Open(path)
			if err != nil {
				return 0, 0, err
			}
			n, err := io.Copy(sha256.New(), f)
			f.Close()
			if err != nil {
				return 0, 0, err
			}
			bytes += n
		}
		return bytes, time.Since(began), nil
	}
	if _, _, err := hash(); err != nil { // so that the second reads from memory
		return err
	}
	size, hashed, err := hash()
	if err != nil {
		return err
	}
	began = time.Now()
	set := readReport(logs, nil)
	read := time.Since(began)
	set.campaign.By, set.campaign.Seed = trial.Peak1m, 1
	seconds := 0.0
	for i := range set.campaign.Pulls {
		seconds += set.campaign.Pulls[i].Length.Seconds()
	}
	var files atomic.Int64
	to := reportTo(filepath.Join(dir, "report"))
	err = report.Make(&set.campaign, onAllCores(nil), func(name string, write func(io.Writer) error) error {
		files.Add(1)
		return to(name, write)
	})
	if err != nil {
		return err
	}
	all := time.Since(began)
	drawnIn := all - read
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	fmt.Fprintf(out, "%d pulls of %.1f min at 10 lines/s from two instruments, %s; written in %.1f s\n", len(set.campaign.Pulls), seconds/60/float64(max(len(set.campaign.Pulls), 1)), megabytes(size), made.Seconds())
	fmt.Fprintf(out, "read and hashed       %7.2f s\n", hashed.Seconds())
	fmt.Fprintf(out, "read for the report   %7.2f s\n", read.Seconds())
	fmt.Fprintf(out, "drawn and written     %7.2f s\n", drawnIn.Seconds())
	fmt.Fprintf(out, "the report in all     %7.2f s, %.1f times the hashing, %d files on %d cores\n", all.Seconds(), all.Seconds()/hashed.Seconds(), files.Load(), runtime.GOMAXPROCS(0))
	fmt.Fprintf(out, "memory                %7s taken from the system, most\n", megabytes(int64(m.Sys)))
	return nil
}

func megabytes(n int64) string { return fmt.Sprintf("%.0f MB", float64(n)/1e6) }
