//go:build !linux

package main

import "testing"

func hawseAsNobody(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Skip("how to run as a user without rights is written for Linux only")
	return 0, "", ""
}

func openFolder(t *testing.T) string { return t.TempDir() }
