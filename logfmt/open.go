package logfmt

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/klauspost/compress/zstd"
)

// packSuffix ends the name of a log that was packed with zstd once it was done.
const packSuffix = ".zst"

// zstdMagic are the first bytes of a zstd frame: RFC 8878, section 3.1.1. No
// log begins so.
var zstdMagic = []byte{0x28, 0xB5, 0x2F, 0xFD}

// packWindow bounds the memory that a packed file can ask for; `zstd --long`
// needs this much.
const packWindow = 128 << 20

// A PackError says that a log's zstd packing is damaged. What comes out before
// it is as it was packed; nothing after it can be read.
type PackError struct {
	At  int64 // unpacked bytes before it
	Err error
}

func (e *PackError) Error() string {
	return fmt.Sprintf("logfmt: the zstd packing is damaged after %d unpacked bytes: %v; look for another copy", e.At, e.Err)
}

// Unwrap returns what the unpacker said.
func (e *PackError) Unwrap() error { return e.Err }

// A Source gives the bytes of a log, unpacked if it was packed with zstd. The
// first bytes tell, not the name.
type Source struct {
	in     *bufio.Reader
	file   *os.File // nil if it reads something else
	dec    *zstd.Decoder
	looked bool
	given  int64
}

// NewSource returns the log in r, packed or not. Close frees what unpacking
// took; r is the caller's to close.
func NewSource(r io.Reader) *Source { return &Source{in: bufio.NewReaderSize(r, 4096)} }

// OpenFile opens a file of the record for reading. What is no plain file is
// refused before it is opened: a pipe with nobody at its other end would hold
// its reader for ever. The program's own standard input may be one.
func OpenFile(path string) (*os.File, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, fmt.Errorf("%s is a folder", path)
	case !info.Mode().IsRegular() && path != "/dev/stdin":
		return nil, fmt.Errorf("%s is no plain file but a pipe, a socket or a device", path)
	}
	return os.Open(path)
}

// Open opens a log for reading. Only Close closes it.
func Open(path string) (*Source, error) {
	f, err := OpenFile(path)
	if err != nil {
		return nil, fmt.Errorf("logfmt: %w; give the path of a log", err)
	}
	s := NewSource(f)
	s.file = f
	return s, nil
}

// Read reads the log's own bytes. An error of unpacking is a [*PackError].
func (s *Source) Read(b []byte) (int, error) {
	if !s.looked {
		s.looked = true
		if head, _ := s.in.Peek(len(zstdMagic)); bytes.Equal(head, zstdMagic) {
			// Without concurrency it has no goroutine of its own.
			dec, err := zstd.NewReader(s.in, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(packWindow), zstd.WithDecoderLowmem(true))
			if err != nil {
				return 0, &PackError{Err: err}
			}
			s.dec = dec
		}
	}
	if s.dec == nil {
		n, err := s.in.Read(b)
		s.given += int64(n)
		return n, err
	}
	n, err := s.dec.Read(b)
	s.given += int64(n)
	if err != nil && err != io.EOF {
		err = &PackError{At: s.given, Err: err}
	}
	return n, err
}

// Packed tells, once something was read, whether the log is packed.
func (s *Source) Packed() bool { return s.dec != nil }

// Close closes the file that Open opened.
func (s *Source) Close() error {
	if s.dec != nil {
		s.dec.Close()
	}
	if s.file == nil {
		return nil
	}
	return s.file.Close()
}

// unpackedName is the name a log had before it was packed.
func unpackedName(name string) string { return strings.TrimSuffix(name, packSuffix) }
