//go:build !linux

package session

import "errors"

func newKeeper(string, string, string) (*keeper, error) { return nil, errors.ErrUnsupported }
