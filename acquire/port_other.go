//go:build !(linux || darwin || freebsd || openbsd)

package acquire

import (
	"errors"
	"io/fs"

	"go.bug.st/serial"
)

// plainDevice is a port of the serial library. Where it opens ports exclusively,
// as on Windows, no lock is needed.
type plainDevice struct{ serial.Port }

func openDevice(name string, mode *serial.Mode) (device, error) {
	port, err := serial.Open(name, mode)
	if err == nil {
		err = port.SetReadTimeout(readTimeout)
		if err != nil {
			port.Close()
		}
	}
	if err != nil {
		fault := serialFault(name, err)
		if fault.Fault == Failed && errors.Is(err, fs.ErrNotExist) {
			fault.Fault = Missing
		}
		return nil, fault
	}
	return plainDevice{port}, nil
}

func (d plainDevice) Wake()        { _ = d.ResetOutputBuffer() }
func (d plainDevice) Flush() error { return d.ResetInputBuffer() }

// deviceGone reports whether the system says that nothing is behind the port.
// Here every error of an open port means that: the next try to open it tells.
func deviceGone(error) bool { return true }
