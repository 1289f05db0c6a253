package logfmt

import (
	"bytes"
	"io/fs"
	"path/filepath"
	"sync"
	"time"
)

// An op is one call into the file system.
type op struct {
	index int // of all calls, from 0
	what  string
	name  string // base name of the file
	bytes int    // of a write
}

// A trouble is what happens to an op. The zero value is none.
type trouble struct {
	err   error
	takes int             // bytes a write with err takes; without err none is left out
	short int             // bytes a write leaves out without an error
	stall <-chan struct{} // waited for before anything happens
	delay time.Duration   // likewise
}

// A faultFS keeps files in memory, in two states: as the system sees them, and
// as they are after a power cut.
type faultFS struct {
	plan func(op) trouble // nil: all goes well; called with mu held

	mu    sync.Mutex
	ops   []op
	files map[string]*faultFile
	room  int // bytes left on the disk; -1: no end
	full  error
}

func newFaultFS(plan func(op) trouble) *faultFS {
	return &faultFS{plan: plan, files: map[string]*faultFile{}, room: -1}
}

type faultFile struct {
	fs      *faultFS
	name    string
	data    []byte
	durable []bool // of each byte
	lost    int    // bytes before this that a failed fsync lost, if not durable
	named   bool   // its folder was synced
	closed  bool
}

// do counts the op and waits out its trouble.
func (f *faultFS) do(what, name string, n int) trouble {
	f.mu.Lock()
	o := op{len(f.ops), what, filepath.Base(name), n}
	f.ops = append(f.ops, o)
	var t trouble
	if f.plan != nil {
		t = f.plan(o)
	}
	f.mu.Unlock()
	if t.stall != nil {
		<-t.stall
	}
	if t.delay > 0 {
		time.Sleep(t.delay)
	}
	return t
}

func (f *faultFS) Create(name string) (File, error) {
	if t := f.do("create", name, 0); t.err != nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: t.err}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.files[name] != nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrExist}
	}
	file := &faultFile{fs: f, name: name}
	f.files[name] = file
	return file, nil
}

func (f *faultFS) Exists(name string) (bool, error) {
	t := f.do("exists", name, 0)
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.files[name] != nil, t.err
}

func (f *faultFS) SyncDir(dir string) error {
	if t := f.do("syncdir", dir, 0); t.err != nil {
		return t.err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	for name, file := range f.files {
		file.named = file.named || filepath.Dir(name) == filepath.Clean(dir)
	}
	return nil
}

func (f *faultFile) Write(b []byte) (int, error) {
	t := f.fs.do("write", f.name, len(b))
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	if f.closed {
		panic("write after close")
	}
	n := len(b) - min(t.short, len(b))
	if t.err != nil {
		n = min(t.takes, len(b))
	}
	if f.fs.room >= 0 {
		if n > f.fs.room {
			n, t.err = f.fs.room, f.fs.full
		}
		f.fs.room -= n
	}
	f.data = append(f.data, b[:n]...)
	f.durable = append(f.durable, make([]bool, n)...)
	if t.err != nil {
		t.err = &fs.PathError{Op: "write", Path: f.name, Err: t.err}
	}
	return n, t.err
}

func (f *faultFile) Sync() error {
	f.fs.mu.Lock()
	length := len(f.data) // what a sync that is slow covers for sure
	f.fs.mu.Unlock()
	t := f.fs.do("sync", f.name, 0)
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	if f.closed {
		panic("sync after close")
	}
	if t.err != nil {
		// The worst the system may do: drop all that was not yet safe, and
		// call it clean.
		f.lost = len(f.data)
		return &fs.PathError{Op: "sync", Path: f.name, Err: t.err}
	}
	for i := f.lost; i < length; i++ {
		f.durable[i] = true
	}
	return nil
}

func (f *faultFile) Close() error {
	t := f.fs.do("close", f.name, 0)
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	if f.closed {
		panic("closed twice")
	}
	f.closed = true
	return t.err
}

// setRoom changes how many more bytes the disk takes.
func (f *faultFS) setRoom(n int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.room = n
}

// now returns the file as the system sees it, nil if there is none.
func (f *faultFS) now(name string) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.files[name] == nil {
		return nil
	}
	return bytes.Clone(f.files[name].data)
}

// afterPowerCut is a clone of the file that keeps only what was synced: other
// bytes are NUL, and it is gone if its name was not synced.
func (f *faultFS) afterPowerCut(name string) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.syncedOnly(name)
}

// syncedOnly is afterPowerCut for a caller that holds mu.
func (f *faultFS) syncedOnly(name string) []byte {
	file := f.files[name]
	if file == nil || !file.named {
		return nil
	}
	left, end := bytes.Clone(file.data), 0
	for i, safe := range file.durable {
		if safe {
			end = i + 1
		} else {
			left[i] = 0
		}
	}
	return left[:end]
}

// sector is what a disk keeps or loses as one; small, so that a test has many.
const sector = 64

// crash is a clone of the file as a crash may leave it: what was synced is kept;
// of the rest each sector as keep says, NUL if not, and the end is where ends
// says, given the least and the greatest length it may have.
func (f *faultFS) crash(name string, keep func() bool, ends func(least, most int) int) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	synced := f.syncedOnly(name)
	if synced == nil {
		return nil
	}
	file := f.files[name]
	left := make([]byte, len(file.data))
	copy(left, synced)
	for from := 0; from < len(left); from += sector {
		if keep() {
			to := min(from+sector, len(left))
			copy(left[from:to], file.data[from:to])
		}
	}
	return left[:ends(len(synced), len(left))]
}

// count returns how many calls of a kind there were on a file.
func (f *faultFS) count(what, name string) int {
	f.mu.Lock()
	defer f.mu.Unlock()
	n := 0
	for _, o := range f.ops {
		if o.what == what && o.name == name {
			n++
		}
	}
	return n
}
