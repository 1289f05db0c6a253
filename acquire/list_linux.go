package acquire

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// ListPorts lists the serial ports of this machine, by name.
//
// It reads what the kernel tells in /sys and opens no port: the serial library
// opens the built-in ones to see whether they are real, and that would set
// another speed on a port that is being captured from.
func ListPorts() ([]PortInfo, error) { return listPorts("/sys/class/tty", "/dev") }

func listPorts(class, dev string) ([]PortInfo, error) {
	entries, err := os.ReadDir(class)
	if err != nil {
		return nil, fmt.Errorf("serial ports cannot be listed: %w", err)
	}
	var out []PortInfo
	for _, e := range entries {
		dir := filepath.Join(class, e.Name())
		device, err := filepath.EvalSymlinks(filepath.Join(dir, "device"))
		if err != nil || attribute(dir, "type") == "0" {
			continue // a console or a pseudo-terminal; a built-in port with no chip behind it
		}
		info := PortInfo{Name: Visible([]byte(filepath.Join(dev, e.Name())))}
		if usb := usbFolder(device); usb != "" {
			info.USB, info.adapter = true, usb
			info.VID = strings.ToUpper(attribute(usb, "idVendor"))
			info.PID = strings.ToUpper(attribute(usb, "idProduct"))
			info.Serial, info.Product = attribute(usb, "serial"), attribute(usb, "product")
		}
		out = append(out, info)
	}
	slices.SortFunc(out, func(a, b PortInfo) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

// usbFolder is the nearest folder above a device that names a USB product.
func usbFolder(device string) string {
	const levels = 4 // port, interface, device, and one to spare
	for range levels {
		if attribute(device, "idVendor") != "" {
			return device
		}
		device = filepath.Dir(device)
	}
	return ""
}

func attribute(dir, name string) string {
	text, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		return ""
	}
	return Visible([]byte(strings.TrimSpace(string(text))))
}
