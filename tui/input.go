package tui

import (
	"io"
	"os"
)

// watched is an input that tells when it has ended: then no key can arrive any
// more, and the screen is lost.
type watched struct {
	io.Reader
	ended func(error)
}

func (w watched) Read(p []byte) (int, error) {
	n, err := w.Reader.Read(p)
	if err != nil {
		w.ended(err)
	}
	return n, err
}

// watchedFile is the same for a terminal: the library finds its descriptor.
type watchedFile struct {
	*os.File
	ended func(error)
}

func (w watchedFile) Read(p []byte) (int, error) {
	n, err := w.File.Read(p)
	if err != nil {
		w.ended(err)
	}
	return n, err
}

func watch(in io.Reader, ended func(error)) io.Reader {
	if f, ok := in.(*os.File); ok {
		return watchedFile{f, ended}
	}
	return watched{in, ended}
}
