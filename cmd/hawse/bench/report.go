package bench

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
)

// newReport measures the report of many pulls against what it takes to read
// and hash the same files, in one run.
func newReport() *cobra.Command {
	var pulls int
	var dir string
	c := &cobra.Command{
		Use:   "report",
		Short: "The report of 200 pulls of a quarter of an hour, against hashing the same files",
		Long: `Write invented campaigns until there are so many pulls, make their report, and
give its time as a ratio to that of reading and hashing the same files with
SHA-256, in the same run, one file after the other as sha256sum does. All are
read once before, so that neither waits for the disk. The report is made by a
process of its own, so its processor time and memory are its alone.`,
		Example: "  hawse bench report\n  hawse bench report --pulls 20",
		Args:    cli.Exactly(0, "nothing else"),
		RunE: func(c *cobra.Command, _ []string) error {
			if pulls < 1 || pulls > 5000 {
				return cli.Usage("--pulls %d: from 1 to 5000", pulls)
			}
			tmp, err := os.MkdirTemp(dir, "hawse-bench-report-")
			if err != nil {
				return cli.Exit(cli.ExitStart, "%w", err)
			}
			defer os.RemoveAll(tmp)
			return measureReport(c.Context(), c.OutOrStdout(), tmp, pulls)
		},
	}
	c.Flags().IntVar(&pulls, "pulls", 200, "how many")
	c.Flags().StringVar(&dir, "dir", "", "where the logs are written (default: the system's temporary folder)")
	return c
}

func measureReport(ctx context.Context, out io.Writer, dir string, pulls int) error {
	began := time.Now()
	logs := filepath.Join(dir, "logs")
	if err := os.MkdirAll(logs, 0o755); err != nil {
		return err
	}
	var paths []string
	for seed := 1; len(paths) < pulls; seed++ {
		one := filepath.Join(dir, fmt.Sprintf("campaign-%d", seed))
		if _, _, err := runSelf(ctx, "demo", "--campaign", one, "--seed", strconv.Itoa(seed)); err != nil {
			return err
		}
		all, err := filepath.Glob(filepath.Join(one, "logs", "*.log"))
		if err != nil {
			return err
		}
		for _, path := range all {
			if len(paths) == pulls {
				break
			}
			to := filepath.Join(logs, fmt.Sprintf("%d-%s", seed, filepath.Base(path)))
			if err := os.Rename(path, to); err != nil {
				return err
			}
			paths = append(paths, to)
		}
		if err := os.RemoveAll(one); err != nil {
			return err
		}
	}
	made := time.Since(began)
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
	_, cost, err := runSelf(ctx, "report", logs, "--out", filepath.Join(dir, "report"))
	if err != nil {
		return err
	}
	files := 0
	if err := filepath.WalkDir(filepath.Join(dir, "report"), func(_ string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			files++
		}
		return err
	}); err != nil {
		return err
	}
	fmt.Fprintf(out, "%d logs, %s; written in %.1f s\n", len(paths), megabytes(size), made.Seconds())
	fmt.Fprintf(out, "read and hashed       %7.2f s\n", hashed.Seconds())
	fmt.Fprintf(out, "hawse report          %7.2f s, %.1f times the hashing, %d files on %d cores\n", cost.ran.Seconds(), cost.ran.Seconds()/hashed.Seconds(), files, runtime.GOMAXPROCS(0))
	fmt.Fprintf(out, "processor time        %7.2f s\n", cost.cpu.Seconds())
	if cost.peak > 0 {
		fmt.Fprintf(out, "most memory           %7s\n", megabytes(cost.peak))
	}
	return nil
}

func megabytes(n int64) string { return fmt.Sprintf("%.0f MB", float64(n)/1e6) }
