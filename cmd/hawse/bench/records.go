package bench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"time"

	"github.com/klauspost/compress/zstd"
	"github.com/spf13/cobra"

	"hawse/logfmt"
)

// What is wanted of the record: records a second written on one core, and the
// reader's speed to that of sha256sum.
const (
	recordsWanted = 1e6
	readerWanted  = 1.0 / 3
)

func newRecords(shared *sharedFlags) *cobra.Command {
	o := &options{}
	megabytes := 0
	c := command(shared, o, func(ctx context.Context, o options) (*report, error) {
		return measureRecords(ctx, o, megabytes)
	}, func() error {
		switch {
		case megabytes < 1 || megabytes > 4096:
			return fmt.Errorf("--mb %d: from 1 to 4096 megabytes", megabytes)
		case o.rounds < 1 || o.rounds > 100:
			return fmt.Errorf("--rounds %d: from 1 to 100", o.rounds)
		}
		return nil
	})
	c.Use, c.Short = "records", "The record itself: writer, reader against sha256sum, verify on all cores, size"
	c.Long = `Write a log of the lines of two invented instruments, then read it in all ways.
Each reading is done in turn with sha256sum of the same file, --rounds times, and
the best of each is told: the ratio is what counts, the file is in memory by then.

The writer runs on one core, with its fsyncs. Verify is given the same log many
times over, on one core and on all.`
	c.Example = "  hawse bench records\n  hawse bench records --mb 512 --dir /srv/big"
	c.Flags().IntVar(&megabytes, "mb", 64, "size of the log, megabytes")
	c.Flags().IntVar(&o.rounds, "rounds", 5, "rounds")
	return c
}

// recordOf is line i of two invented instruments, as a capture logs it.
func recordOf(i int, fields []logfmt.Field) logfmt.Record {
	t := int64(i) * 50_000_000
	src, raw := "load", fmt.Sprintf("%+07.1f kgf\r\n", 400+float64((i*i)%997)/7)
	if i%2 > 0 {
		src, raw = "line", fmt.Sprintf("N %+08d\r\n", 12000+i/3)
	}
	return logfmt.Record{T: t, N: uint64(i + 1), Kind: logfmt.Rx, Fields: append(fields,
		logfmt.Field{Key: "src", Val: src}, logfmt.Field{Key: "t0", Val: logfmt.FormatNs(t - 12_000_000)},
		logfmt.Field{Key: "chunk", Val: strconv.Itoa(i / 2)}, logfmt.Field{Key: "cut", Val: "end"}, logfmt.Field{Key: "raw", Val: raw})}
}

func measureRecords(ctx context.Context, o options, megabytes int) (*report, error) {
	return inFolder(o, func(dir string) (*report, error) {
		r := &report{title: fmt.Sprintf("The record: a log of %d MB, best of %d rounds", megabytes, o.rounds),
			settings: []setting{{"log_bytes_wanted", megabytes * 1_000_000}, {"rounds", o.rounds}}}
		path := filepath.Join(dir, "records.log")
		o.progress("writing %d MB", megabytes)
		w, err := recordsWriteBest(ctx, path, int64(megabytes)*1_000_000, o.rounds)
		if err != nil {
			return nil, err
		}
		packed, err := packFile(path)
		if err != nil {
			return nil, err
		}
		o.progress("reading it %d times in each way", o.rounds)
		times, err := recordsRead(ctx, path, o.rounds)
		if err != nil {
			return nil, err
		}
		o.progress("verifying it on 1 and on %d cores", runtime.NumCPU())
		one, all, logs, err := recordsScale(ctx, path, o.rounds)
		if err != nil {
			return nil, err
		}
		r.tables = []*table{writerTable(w), readerTable(times, w), scaleTable(one, all, logs, w), sizeTable(w, packed)}
		// Speed is the machine's too: short of what is wanted is told, no fault.
		if w.perSecond() < recordsWanted {
			r.note("The writer is short of the %.0f records/s that are wanted.", recordsWanted)
		}
		if sum := times[readSum].best; sum == 0 {
			r.note("sha256sum is not on this machine: no ratio to it.")
		} else if ratio := sum.Seconds() / times[readRecords].best.Seconds(); ratio < readerWanted {
			r.note("The reader is short of the third of sha256sum's speed that is wanted.")
		}
		return r, nil
	})
}

// written is a log that was written, and what that took.
type written struct {
	records       int
	bytes         int64
	encode, write time.Duration // of encoding alone; of the whole way to the disk
}

func (w written) perSecond() float64 { return float64(w.records) / w.write.Seconds() }

// recordsWriteBest writes the log several times and keeps the first file, with
// the best times of all.
func recordsWriteBest(ctx context.Context, path string, size int64, rounds int) (w written, err error) {
	for i := range rounds {
		name := path
		if i > 0 {
			name = fmt.Sprintf("%s.%d", path, i)
		}
		again, err := recordsWrite(name, size)
		if err = errors.Join(err, ctx.Err()); err != nil {
			return w, err
		}
		if i == 0 {
			w = again
			continue
		}
		w.encode, w.write = min(w.encode, again.encode), min(w.write, again.write)
		if err := errors.Join(os.Remove(name), os.Remove(name+".sha256")); err != nil {
			return w, err
		}
	}
	return w, nil
}

// recordsWrite writes a log on one core, and encodes the same records once more
// without a file.
func recordsWrite(path string, size int64) (w written, err error) {
	// The records are made before, so that only the log is timed.
	const block = 1 << 14
	var made []logfmt.Record
	for i := range block {
		made = append(made, recordOf(i, nil))
	}
	line, _ := logfmt.AppendRecord(nil, &made[block-1], 0)
	w.records = max(int(size)/len(line), 1)

	cores := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(cores)
	var prev uint32
	began := time.Now()
	for i := range w.records {
		rec := made[i%block]
		rec.T, rec.N = int64(i)*50_000_000, uint64(i+1)
		line, prev = logfmt.AppendRecord(line[:0], &rec, prev)
	}
	w.encode = time.Since(began)

	began = time.Now()
	l, err := logfmt.Create(path, logfmt.Options{})
	if err != nil {
		return w, err
	}
	for i := range w.records {
		rec := made[i%block]
		rec.T, rec.N = int64(i)*50_000_000, uint64(i+1)
		l.Put(rec)
		if i%4096 == 0 { // no further ahead than the queue holds
			for s := l.Status(); s.Queued-s.Written > 1<<16; s = l.Status() {
				time.Sleep(50 * time.Microsecond)
			}
		}
	}
	last := int64(w.records) * 50_000_000
	err = l.Seal(logfmt.Record{T: last, N: uint64(w.records + 1), Fields: []logfmt.Field{{Key: "reason", Val: "measured"}}})
	w.write = time.Since(began)
	s := l.Status()
	w.bytes = s.Bytes
	if err == nil && s.Dropped > 0 {
		err = fmt.Errorf("%d records found no room in memory: the disk is too slow to measure the writer", s.Dropped)
	}
	return w, errors.Join(err, l.Close())
}

// The ways in which the log is read.
const (
	readSum     = iota // sha256sum, a program of its own
	readRecords        // each record made and its crc proved
	readProved         // each line proved, no record made, SHA-256 too: verify
	readPacked         // as readRecords, out of zstd
	readWays
)

// best keeps the least of some times.
type best struct{ best time.Duration }

func (b *best) took(d time.Duration) {
	if b.best == 0 || d < b.best {
		b.best = d
	}
}

func recordsRead(ctx context.Context, path string, rounds int) (times [readWays]best, err error) {
	sumProgram, noSum := exec.LookPath("sha256sum")
	ways := [readWays]func() error{
		readSum: func() error {
			if noSum != nil {
				return nil
			}
			return exec.CommandContext(ctx, sumProgram, path).Run()
		},
		readRecords: func() error { return readAllRecords(path) },
		readProved: func() error {
			rep, err := logfmt.VerifyFile(path)
			if err == nil && !rep.Holds() {
				err = fmt.Errorf("the log is not whole: %s", rep.Verdict())
			}
			return err
		},
		readPacked: func() error { return readAllRecords(path + ".zst") },
	}
	for range rounds {
		for i, way := range ways {
			began := time.Now()
			if err := way(); err != nil {
				return times, err
			}
			if i != readSum || noSum == nil {
				times[i].took(time.Since(began))
			}
			if ctx.Err() != nil {
				return times, ctx.Err()
			}
		}
	}
	return times, nil
}

func readAllRecords(path string) error {
	f, err := logfmt.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	r := logfmt.NewReader(f)
	bytes := 0
	for r.Next() {
		rec := r.Record()
		bytes += len(rec.Str("raw"))
	}
	if bytes == 0 {
		return fmt.Errorf("%s: no bytes of an instrument in it", path)
	}
	return r.Err()
}

// recordsScale verifies the log many times over, one at a time and one on each
// core.
func recordsScale(ctx context.Context, path string, rounds int) (one, all time.Duration, logs int, err error) {
	cores := runtime.NumCPU()
	logs = 2 * cores
	paths := slices.Repeat([]string{path}, logs)
	timed := func(jobs int) (d time.Duration) {
		began := time.Now()
		logfmt.VerifyFiles(paths, jobs, func(_ string, _ logfmt.Report, fault error) { err = errors.Join(err, fault) })
		return time.Since(began)
	}
	var b1, bn best
	for range min(rounds, 3) {
		b1.took(timed(1))
		bn.took(timed(cores))
		if err = errors.Join(err, ctx.Err()); err != nil {
			return 0, 0, logs, err
		}
	}
	return b1.best, bn.best, logs, nil
}

// packedSize is the log packed with zstd at two levels.
type packedSize struct{ usual, best int64 }

// packFile packs a log beside itself at the usual level, and measures the best.
func packFile(path string) (p packedSize, err error) {
	usual, err := os.Create(path + ".zst")
	if err != nil {
		return p, err
	}
	defer usual.Close()
	if p.usual, err = packInto(usual, path, zstd.SpeedDefault); err != nil {
		return p, err
	}
	p.best, err = packInto(io.Discard, path, zstd.SpeedBestCompression)
	return p, err
}

func packInto(w io.Writer, path string, level zstd.EncoderLevel) (int64, error) {
	f, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	count := &countingWriter{w: w}
	z, err := zstd.NewWriter(count, zstd.WithEncoderLevel(level))
	if err != nil {
		return 0, err
	}
	_, err = io.Copy(z, f)
	return count.n, errors.Join(err, z.Close(), count.err)
}

// countingWriter counts what goes through it.
type countingWriter struct {
	w   io.Writer
	n   int64
	err error
}

func (c *countingWriter) Write(b []byte) (int, error) {
	n, err := c.w.Write(b)
	c.n += int64(n)
	c.err = errors.Join(c.err, err)
	return n, err
}
