//go:build !linux && !windows

package acquire

import (
	"fmt"

	"go.bug.st/serial"
)

// ListPorts lists the serial ports of this machine by name. What is behind a
// name cannot be told here without a C compiler.
func ListPorts() ([]PortInfo, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, fmt.Errorf("serial ports cannot be listed: %w", err)
	}
	var out []PortInfo
	for _, n := range names {
		out = append(out, PortInfo{Name: Visible([]byte(n))})
	}
	return out, nil
}
