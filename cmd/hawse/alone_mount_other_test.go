//go:build alone && unix && !linux

package main

import "errors"

func mountSmall(string, string) error { return errors.ErrUnsupported }

func unmountSmall(string) {}
