package acquire

// PortInfo is one serial port of this machine. USB fields are empty where the
// system does not tell them; all text comes from devices and is made visible.
type PortInfo struct {
	Name    string `json:"name"`
	USB     bool   `json:"usb"`
	VID     string `json:"vid,omitempty"` // four hex digits
	PID     string `json:"pid,omitempty"`
	Serial  string `json:"serial,omitempty"`
	Product string `json:"product,omitempty"`
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
