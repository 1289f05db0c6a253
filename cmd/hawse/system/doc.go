// Package system is what differs from one operating system to another: signals,
// locks, processes, and what a disk tells.
package system
