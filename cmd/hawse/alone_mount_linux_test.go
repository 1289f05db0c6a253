//go:build alone

package main

import "golang.org/x/sys/unix"

// mountSmall mounts a small disk in memory, which takes the rights to.
func mountSmall(dir, size string) error { return unix.Mount("tmpfs", dir, "tmpfs", 0, size) }

func unmountSmall(dir string) { _ = unix.Unmount(dir, unix.MNT_DETACH) }
