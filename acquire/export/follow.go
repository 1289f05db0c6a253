package export

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"
)

// ErrAnew says that the file that was followed is another one now, or was cut:
// what comes is to be read from its start.
var ErrAnew = errors.New("the file was cut or replaced while it was followed")

// Follower reads a file that is being written: at its end it waits for more. A
// file that is taken away is waited on under its name.
type Follower struct {
	ctx   context.Context
	path  string
	file  *os.File
	off   int64
	every time.Duration
}

// Follow opens a log to be followed, looking for more so often. Reading ends
// with io.EOF when ctx does, and with [ErrAnew].
func Follow(ctx context.Context, path string, every time.Duration) (*Follower, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%w; give the path of a log", err)
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, fmt.Errorf("%s is a directory; give the path of a log", path)
	}
	return &Follower{ctx: ctx, path: path, file: f, every: every}, nil
}

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
		if n > 0 || err != nil && err != io.EOF {
			return n, err
		}
		if f.ctx.Err() != nil {
			return 0, io.EOF
		}
		if f.anew() {
			return 0, ErrAnew
		}
		select {
		case <-f.ctx.Done():
		case <-time.After(f.every):
		}
	}
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
