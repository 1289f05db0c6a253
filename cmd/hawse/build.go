package main

import (
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"sync"
)

// build identifies this very program file: a replay by the same build must say
// the same to the bit, so a version number would not do.
var build = sync.OnceValue(func() string {
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
