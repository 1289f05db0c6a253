package acquire

// PortInfo is one serial port of this machine. USB fields are empty where the
// system does not tell them; all text comes from devices and is made visible.
type PortInfo struct {
	Name    string
	USB     bool
	VID     string // four hex digits
	PID     string
	Serial  string
	Product string
}
