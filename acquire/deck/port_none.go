//go:build !(linux || darwin || freebsd || netbsd || openbsd || dragonfly)

package deck

import "errors"

// Without pseudo-terminals there is no deck; these make Open say so.

type port struct{}

const canTellAlone = false

type written uint8

const (
	sent written = iota
	unheard
	dropped
)

type dirLock struct{ path string }

func lockDir(path string) (*dirLock, error) {
	return nil, errors.New("deck: the simulated deck needs pseudo-terminals, which this system does not have; " +
		"use real ports or replay a log")
}

func (l *dirLock) release() error { return nil }

func openPort(string) (*port, error)     { return nil, errors.ErrUnsupported }
func (p *port) write([]byte) written     { return dropped }
func (p *port) read([]byte) (int, error) { return 0, errors.ErrUnsupported }
func (p *port) wakeReader()              {}
func (p *port) close() error             { return nil }
func (p *port) nobody() bool             { return true }
func clearLink(string) error             { return nil }
func isClosed(err error) bool            { return err != nil }
