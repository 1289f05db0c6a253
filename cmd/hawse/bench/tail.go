package bench

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"runtime"
	"sync/atomic"
	"time"
)

// tailer watches files that grow and notes when each numbered line can first
// be read in one of them. It looks for the number only, so it sees any format
// that keeps a line's text.
type tailer struct {
	files []tailedFile
	buf   []byte
	seen  [instruments][]int64      // when, by number - 1; 0: not yet
	last  [instruments]atomic.Int64 // the highest number seen
	bytes atomic.Int64
}

type tailedFile struct {
	path string
	f    *os.File
	half []byte
}

func newTailer(sent int, paths ...string) *tailer {
	t := &tailer{buf: make([]byte, 256<<10)}
	for i := range t.seen {
		t.seen[i] = make([]int64, sent)
	}
	for _, p := range paths {
		t.files = append(t.files, tailedFile{path: p})
	}
	return t
}

// look reads what every file has had added. A file that is not there yet is
// looked for again.
func (t *tailer) look(now func() int64) error {
	for i := range t.files {
		f := &t.files[i]
		if f.f == nil {
			file, err := os.Open(f.path)
			if errors.Is(err, fs.ErrNotExist) {
				continue
			}
			if err != nil {
				return err
			}
			f.f = file
		}
		for {
			n, err := f.f.Read(t.buf)
			if n > 0 {
				t.bytes.Add(int64(n))
				t.take(f, t.buf[:n], now())
			}
			if err == io.EOF || err == nil && n < len(t.buf) {
				break
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// take notes the numbers in the lines that p ends.
func (t *tailer) take(f *tailedFile, p []byte, at int64) {
	for {
		i := bytes.IndexByte(p, '\n')
		if i < 0 {
			f.half = append(f.half, p...)
			return
		}
		line := p[:i]
		if len(f.half) > 0 {
			f.half = append(f.half, line...)
			line = f.half
		}
		for which, mark := range numberMarks {
			n, ok := numberAfter(line, mark)
			if !ok || n == 0 || n > len(t.seen[which]) {
				continue
			}
			if t.seen[which][n-1] == 0 {
				t.seen[which][n-1] = at
			}
			t.last[which].Store(max(t.last[which].Load(), int64(n)))
		}
		f.half = f.half[:0]
		p = p[i+1:]
	}
}

// run looks every so often until ctx ends. It has a thread of its own, so that
// nothing else in this program delays a look.
func (t *tailer) run(ctx context.Context, now func() int64, every time.Duration) error {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	due := now()
	for ctx.Err() == nil {
		if err := t.look(now); err != nil {
			return err
		}
		due = max(due+int64(every), now())
		sleep(due - now())
	}
	return nil
}

// settled waits until the last line of both instruments is in the files, or
// nothing more comes for a while: then what is missing is lost, and the score
// tells.
func (t *tailer) settled(ctx context.Context, sent int) error {
	const patience = 3 * time.Second
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	was, since := [instruments]int64{}, time.Now()
	for {
		now, all := [instruments]int64{}, true
		for i := range now {
			now[i] = t.last[i].Load()
			all = all && now[i] == int64(sent)
		}
		switch {
		case all:
			return nil
		case now != was:
			was, since = now, time.Now()
		case time.Since(since) > patience:
			return nil
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// started waits until every file has something in it.
func (t *tailer) started(ctx context.Context, within time.Duration) error {
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for end := time.Now().Add(within); ; {
		missing := ""
		for _, f := range t.files {
			if info, err := os.Stat(f.path); err != nil || info.Size() == 0 {
				missing = f.path
			}
		}
		if missing == "" {
			return nil
		}
		if time.Now().After(end) {
			return fmt.Errorf("nothing arrived in %s within %v", missing, within)
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// delays are the times from sent to seen, of all that were seen, and how many
// of them are longer than late.
func (t *tailer) delays(which int, sent []int64, late time.Duration) (ns []int64, tooLate int) {
	for i, at := range t.seen[which] {
		if at == 0 || i >= len(sent) {
			continue
		}
		ns = append(ns, at-sent[i])
		if at-sent[i] > int64(late) {
			tooLate++
		}
	}
	return ns, tooLate
}

func (t *tailer) close() {
	for _, f := range t.files {
		if f.f != nil {
			f.f.Close()
		}
	}
}
