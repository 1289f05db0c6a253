package logfmt

import (
	"io"
	"os"
	"path/filepath"
)

// A File is an open log as its writer sees it. Sync may run beside Write, never
// beside Close or another Sync.
type File interface {
	io.Writer
	Sync() error // returns when all bytes written before the call are on the disk
	Close() error
}

// An FS is what a log needs of a file system. It has no way to overwrite,
// shorten or remove a file.
type FS interface {
	// Create makes a new, empty file. If the name exists, in any form, the
	// error is fs.ErrExist and nothing is touched.
	Create(name string) (File, error)
	// Exists tells whether there is a file of that name.
	Exists(name string) (bool, error)
	// SyncDir brings the names in the folder to the disk. It does nothing where
	// the system has no such call.
	SyncDir(dir string) error
}

// OS is the system's own file system.
var OS FS = osFS{}

type osFS struct{}

func (osFS) Create(name string) (File, error) {
	return os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
}

func (osFS) Exists(name string) (bool, error) {
	_, err := os.Lstat(name)
	if os.IsNotExist(err) {
		return false, nil
	}
	return err == nil, err
}

func (osFS) SyncDir(dir string) error {
	return syncDir(filepath.Clean(dir))
}
