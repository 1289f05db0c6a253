//go:build unix

package logfmt

import (
	"errors"
	"os"
	"syscall"
)

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	if cerr := d.Close(); err == nil {
		err = cerr
	}
	// Some network and shared-folder file systems have no fsync for folders and
	// say so in one of these ways; they are not faulty.
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported) {
		return nil
	}
	return err
}
