package export

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"hawse/logfmt"
)

// Why a file is followed no further.
var (
	// ErrAnew says that the file that was followed is another one now, or was cut:
	// what comes is to be read from its start.
	ErrAnew = errors.New("the file was cut or replaced while it was followed")
	// ErrNoWriter says that nothing can come any more.
	ErrNoWriter = errors.New("its writer is gone, the log was not ended")
)

// Writer is what can be seen of the program that writes a file.
type Writer uint8

// What can be seen.
const (
	WriterHidden Writer = iota // none is seen, but it may be on another machine
	WriterNone                 // none is seen, and it would be
	WriterSeen
)

// Follower reads a file that is being written: at its end it waits for more. A
// file that is taken away is waited on under its name.
type Follower struct {
	ctx   context.Context
	path  string
	file  *os.File
	off   int64
	every time.Duration

	look   func(*os.File) Writer // nil: the writer is not asked about
	hidden func()
	waited time.Duration // since the writer was asked about
	quiet  time.Duration // since the last byte
	asked  bool
	seen   bool // the writer was
	grew   bool // bytes came while it was waited for them
	last   bool // the writer is gone: what can be read now is all
}

// Follow opens a log to be followed, looking for more so often. Reading ends
// with io.EOF when ctx does, and with [ErrAnew].
func Follow(ctx context.Context, path string, every time.Duration) (*Follower, error) {
	f, err := logfmt.OpenFile(path)
	if err != nil {
		return nil, fmt.Errorf("%w; give the path of a log", err)
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, fmt.Errorf("%s is a directory; give the path of a log", path)
	}
	return &Follower{ctx: ctx, path: path, file: f, every: every}, nil
}

// Watch has reading end with [ErrNoWriter] once the writer is gone and all it
// left is read. look is asked once a second, with the open file. A writer that was seen is gone when
// it is not seen any more. If none was ever seen, and none can be hidden, then it
// was gone before; but bytes that come are proof of one. Of a hidden writer
// nothing can be known: hidden is called, and reading goes on.
func (f *Follower) Watch(look func(*os.File) Writer, hidden func()) { f.look, f.hidden = look, hidden }

// Close closes the file.
func (f *Follower) Close() error { return f.file.Close() }

// Packed says whether the file is packed: then it is done, and nothing follows.
func (f *Follower) Packed() bool {
	var head [4]byte
	n, _ := f.file.ReadAt(head[:], 0)
	return bytes.Equal(head[:n], []byte{0x28, 0xB5, 0x2F, 0xFD}) // zstd: RFC 8878, section 3.1.1
}

// Read implements [io.Reader].
func (f *Follower) Read(p []byte) (int, error) {
	for {
		n, err := f.file.Read(p)
		f.off += int64(n)
		if n > 0 {
			f.grew = f.grew || f.asked
			f.quiet, f.last = 0, false
			return n, nil
		}
		switch {
		case err != nil && err != io.EOF:
			return 0, err
		case f.ctx.Err() != nil:
			return 0, io.EOF
		case f.anew():
			return 0, ErrAnew
		case f.last:
			return 0, ErrNoWriter
		}
		if f.last = f.gone(); f.last {
			continue // what it wrote before it went
		}
		select {
		case <-f.ctx.Done():
		case <-time.After(f.every):
			f.waited += f.every
			f.quiet += f.every
		}
	}
}

const (
	// askEvery is how often the writer is asked about, and how long nothing must
	// have come before it is taken for gone: a capture writes every 50 ms.
	askEvery = time.Second
	// unseenFor is how long nothing must have come of a writer that was never seen:
	// a disk may stall.
	unseenFor = 3 * time.Second
)

// gone asks about the writer, if it is time to.
func (f *Follower) gone() bool {
	if f.look == nil || f.asked && f.waited < askEvery {
		return false
	}
	f.asked, f.waited = true, 0
	now := f.look(f.file)
	f.seen = f.seen || now == WriterSeen
	switch {
	case now == WriterSeen, f.quiet < askEvery:
		return false
	case f.seen:
		return true
	case now == WriterNone && !f.grew:
		return f.quiet >= unseenFor
	}
	if f.hidden != nil {
		f.hidden()
		f.hidden = nil
	}
	return false
}

// anew looks whether what has the name now is still the file, and no shorter.
func (f *Follower) anew() bool {
	now, err := os.Stat(f.path)
	if err != nil {
		return false
	}
	own, err := f.file.Stat()
	return err == nil && (own.Size() < f.off || !os.SameFile(own, now))
}
