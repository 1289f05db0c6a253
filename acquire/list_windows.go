package acquire

import (
	"fmt"

	"go.bug.st/serial/enumerator"
)

// ListPorts lists the serial ports of this machine.
func ListPorts() ([]PortInfo, error) {
	ports, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, fmt.Errorf("serial ports cannot be listed: %w", err)
	}
	var out []PortInfo
	show := func(s string) string { return Visible([]byte(s)) }
	for _, p := range ports {
		out = append(out, PortInfo{Name: show(p.Name), USB: p.IsUSB, VID: show(p.VID), PID: show(p.PID),
			Serial: show(p.SerialNumber), Product: show(p.Product)})
	}
	return out, nil
}
