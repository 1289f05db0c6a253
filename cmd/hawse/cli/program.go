package cli

import (
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"sync"
)

// Version is the program's version as --version says it, and Tool as the head of
// a log does.
const (
	Version = "0.1.0"
	Tool    = "hawse/" + Version
)

// Build identifies this very program file: a replay by the same build must say
// the same to the bit, so a version number would not do.
var Build = sync.OnceValue(func() string {
	path, err := os.Executable()
	if err != nil {
		return "unknown"
	}
	f, err := os.Open(path)
	if err != nil {
		return "unknown"
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "unknown"
	}
	return fmt.Sprintf("%x", h.Sum(nil)[:6])
})
