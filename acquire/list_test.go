package acquire

import (
	"errors"
	"strings"
	"testing"
)

func TestFindUSB(t *testing.T) {
	ports := []PortInfo{
		{Name: "/dev/ttyS0"},
		{Name: "/dev/ttyUSB0", USB: true, Serial: "A1", adapter: "1"}, {Name: "/dev/ttyUSB7", USB: true, Serial: "B2", adapter: "2"},
		{Name: "/dev/ttyUSB8", USB: true, Serial: "B2", adapter: "2"}, {Name: "/dev/ttyUSB3", USB: true, Serial: "0001", adapter: "3"},
		{Name: "/dev/ttyUSB4", USB: true, Serial: "0001", adapter: "4"}, {Name: "/dev/ttyUSB5", USB: true, adapter: "5"},
	}
	list := func() ([]PortInfo, error) { return ports, nil }
	for _, tt := range []struct{ name, want, fault string }{
		{"usb:A1", "/dev/ttyUSB0", ""}, {"usb:A1/1", "/dev/ttyUSB0", ""}, {"usb:B2/2", "/dev/ttyUSB8", ""},
		{"usb:A1/2", "", "no such port"}, {"usb:C3", "", "no such port"}, {"usb:", "", "no such port"}, {"usb:a1", "", "no such port"},
		{"usb:B2", "", "has 2 ports: /dev/ttyUSB7, /dev/ttyUSB8; add /1"}, {"usb:0001", "", "2 adapters have this serial number"},
		{"usb:B2/x", "", `"x" is no number of a port`}, {"usb:B2/0", "", "no number"},
	} {
		got, err := findUSB(tt.name, list)
		if got != tt.want || (err == nil) != (tt.fault == "") || err != nil && !strings.Contains(err.Error(), tt.fault) {
			t.Errorf("findUSB(%q) = %q, %v; want %q, %q", tt.name, got, err, tt.want, tt.fault)
		}
		if _, ok := errors.AsType[*PortError](err); err != nil && !ok {
			t.Errorf("findUSB(%q): %T, want a PortError", tt.name, err)
		}
	}
	// Plugged in again under another name, it is found.
	ports[1].Name = "/dev/ttyUSB9"
	if got, err := findUSB("usb:A1", list); got != "/dev/ttyUSB9" {
		t.Errorf("after a replug: %q, %v", got, err)
	}
	if _, err := findUSB("usb:A1", func() ([]PortInfo, error) { return nil, errors.New("no list") }); err == nil || !strings.Contains(err.Error(), "no list") {
		t.Error(err)
	}
}
