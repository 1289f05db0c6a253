package bench

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/spf13/cobra"
)

func newReport(shared *sharedFlags) *cobra.Command {
	o := &options{}
	c := command(shared, o, measureReport, func() error {
		if o.times < 1 || o.times > 5000 {
			return fmt.Errorf("--pulls %d: from 1 to 5000", o.times)
		}
		return nil
	})
	c.Use, c.Short = "report", "The report of 200 pulls of a quarter of an hour, against hashing the same files"
	c.Long = `Write invented campaigns until there are so many pulls, make their report, and
give its time as a ratio to that of reading and hashing the same files with
SHA-256, in the same run, one file after the other as sha256sum does. All are
read once before, so that neither waits for the disk. The report is made by a
process of its own, so its processor time and memory are its alone.`
	c.Example = "  hawse bench report\n  hawse bench report --pulls 20"
	c.Flags().IntVar(&o.times, "pulls", 200, "how many")
	return c
}

// measureReport makes the report of many pulls and reads and hashes the same
// files, in one run.
func measureReport(ctx context.Context, o options) (*report, error) {
	return inFolder(o, func(dir string) (*report, error) {
		began := time.Now()
		logs, to := filepath.Join(dir, "logs"), filepath.Join(dir, "report")
		paths, err := writePulls(ctx, o, dir, logs)
		if err != nil {
			return nil, err
		}
		made := time.Since(began)
		if _, _, err := hashAll(paths); err != nil { // so that the second reads from memory
			return nil, err
		}
		size, hashed, err := hashAll(paths)
		if err != nil {
			return nil, err
		}
		o.progress("the report of %d pulls", len(paths))
		_, cost, err := runSelf(ctx, "report", logs, "--out", to)
		if err != nil {
			return nil, err
		}
		files := 0
		if err := filepath.WalkDir(to, func(_ string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() {
				files++
			}
			return err
		}); err != nil {
			return nil, err
		}
		r := &report{title: fmt.Sprintf("hawse report: %d invented pulls", len(paths)), settings: []setting{{"pulls", o.times}}}
		t := &table{key: "report", columns: []column{{}}}
		t.add("logs_bytes", "logs, MB", cellMB(size))
		t.add("written_s", "written in, s", cellSeconds(made))
		t.add("hashed_s", "read and hashed, s", cellSeconds(hashed))
		t.add("report_s", "hawse report, s", cellSeconds(cost.ran))
		t.add("to_hashed", "times the hashing", cellNumber(cost.ran.Seconds()/hashed.Seconds(), "%.1f"))
		t.add("cpu_s", "CPU, all cores, s", cellSeconds(cost.cpu))
		t.add("memory_peak_bytes", "most memory, MB", cellMB(cost.peak))
		t.add("files", "files", cellInt(files))
		r.tables = []*table{t}
		return r, nil
	})
}

// writePulls writes invented campaigns until so many logs are in one folder.
func writePulls(ctx context.Context, o options, dir, logs string) (paths []string, err error) {
	if err := os.Mkdir(logs, 0o755); err != nil {
		return nil, err
	}
	for seed := 1; len(paths) < o.times; seed++ {
		o.progress("writing campaign %d: %d of %d pulls", seed, len(paths), o.times)
		one := filepath.Join(dir, fmt.Sprintf("campaign-%d", seed))
		if _, _, err := runSelf(ctx, "demo", "--campaign", one, "--seed", strconv.Itoa(seed)); err != nil {
			return nil, err
		}
		all, err := filepath.Glob(filepath.Join(one, "logs", "*.log"))
		if err != nil {
			return nil, err
		}
		for _, path := range all[:min(len(all), o.times-len(paths))] {
			to := filepath.Join(logs, fmt.Sprintf("%d-%s", seed, filepath.Base(path)))
			if err := os.Rename(path, to); err != nil {
				return nil, err
			}
			paths = append(paths, to)
		}
		if err := os.RemoveAll(one); err != nil {
			return nil, err
		}
	}
	return paths, nil
}

// hashAll reads and hashes files, one after the other.
func hashAll(paths []string) (bytes int64, took time.Duration, err error) {
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
