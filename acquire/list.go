package acquire

import (
	"fmt"
	"strconv"
	"strings"
)

// PortInfo is one serial port of this machine. USB fields are empty where the
// system does not tell them; all text comes from devices and is made visible.
type PortInfo struct {
	Name    string `json:"name"`
	USB     bool   `json:"usb"`
	VID     string `json:"vid,omitempty"` // four hex digits
	PID     string `json:"pid,omitempty"`
	Serial  string `json:"serial,omitempty"`
	Product string `json:"product,omitempty"`

	adapter string // where its USB adapter is plugged in, as the system tells it
}

// String is the port on one line, its name first.
func (p PortInfo) String() string {
	if !p.USB {
		return p.Name
	}
	s := p.Name + "  USB " + p.VID + ":" + p.PID
	if p.Product != "" {
		s += " " + Visible([]byte(p.Product))
	}
	if p.Serial != "" {
		s += " serial " + Visible([]byte(p.Serial))
	}
	return s
}

// usbPrefix begins the name of a port that is found by the serial number of its
// USB adapter, whatever the system calls it today: "usb:SERIAL", and
// "usb:SERIAL/2" for the second port of an adapter that has several.
const usbPrefix = "usb:"

func isUSB(name string) bool { return strings.HasPrefix(name, usbPrefix) }

// findUSB is the system's name of a port named by its adapter. The error is a
// *PortError, also where more than one adapter has that number: to guess would
// be to read the wrong box.
func findUSB(name string, list func() ([]PortInfo, error)) (string, error) {
	serial, nth := strings.TrimPrefix(name, usbPrefix), 0
	if i := strings.LastIndexByte(serial, '/'); i >= 0 {
		n, err := strconv.Atoi(serial[i+1:])
		if err != nil || n < 1 {
			return "", &PortError{Name: name, Err: fmt.Errorf("%s is no number of a port", quoted(serial[i+1:]))}
		}
		serial, nth = serial[:i], n
	}
	ports, err := list()
	if err != nil {
		return "", &PortError{Name: name, Err: err}
	}
	var found []PortInfo
	devices := map[string]bool{}
	for _, p := range ports {
		if p.USB && serial != "" && p.Serial == serial {
			found = append(found, p)
			devices[p.adapter] = true
		}
	}
	switch {
	case len(found) == 0 || nth > len(found):
		return "", &PortError{Name: name, Fault: Missing}
	case len(devices) > 1:
		return "", &PortError{Name: name, Err: fmt.Errorf("%d adapters have this serial number: %s; name the port by its path under /dev/serial/by-path", len(devices), names(found))}
	case nth == 0 && len(found) > 1:
		return "", &PortError{Name: name, Err: fmt.Errorf("the adapter has %d ports: %s; add /1 for the first", len(found), names(found))}
	}
	return found[max(nth-1, 0)].Name, nil
}

func names(ports []PortInfo) string {
	var out []string
	for _, p := range ports {
		out = append(out, p.Name)
	}
	return strings.Join(out, ", ")
}
