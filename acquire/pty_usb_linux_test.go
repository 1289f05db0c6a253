package acquire

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// sysfs is a made-up tree in the shape the kernel gives it, whose ports are links to
// pseudo-terminals: what an owner resolves usb: names by.
type sysfs struct {
	t    *testing.T
	root string
}

func newSysfs(t *testing.T) *sysfs {
	t.Helper()
	s := &sysfs{t, t.TempDir()}
	for _, dir := range []string{"class", "dev"} {
		if err := os.Mkdir(filepath.Join(s.root, dir), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func (s *sysfs) must(err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
}

// plug puts a port of the adapter at a place of the bus in, with its serial number.
func (s *sysfs) plug(name, place, serial string, w *wire) {
	s.t.Helper()
	device := filepath.Join(s.root, "usb", place, place+":1.0", name)
	class := filepath.Join(s.root, "class", name)
	s.must(os.MkdirAll(device, 0o755))
	s.must(os.MkdirAll(class, 0o755))
	for file, text := range map[string]string{"idVendor": "12ab", "idProduct": "00ff", "serial": serial} {
		s.must(os.WriteFile(filepath.Join(s.root, "usb", place, file), []byte(text+"\n"), 0o600))
	}
	w.link(filepath.Join(s.root, "dev", name))
	s.must(os.Symlink(device, filepath.Join(class, "device")))
}

// pull takes it out.
func (s *sysfs) pull(name string, w *wire) {
	s.t.Helper()
	s.must(os.RemoveAll(filepath.Join(s.root, "class", name)))
	s.must(os.Remove(filepath.Join(s.root, "dev", name)))
	w.unplug()
}

// own runs an owner of that name whose ports are this tree's.
func (s *sysfs) own(names ...string) *owned {
	return ownOf(s.t, OwnerOptions{Src: "load", Port: anyPort(names...),
		list: func() ([]PortInfo, error) {
			return listPorts(filepath.Join(s.root, "class"), filepath.Join(s.root, "dev"))
		}})
}

// until is the next state of that kind; others that a retry makes may come before.
func (o *owned) until(state string) Item {
	o.t.Helper()
	for {
		if it := o.next(); it.Kind == State && it.State == state {
			return it
		} else if it.Kind == State && it.State != StateRetry {
			o.t.Fatalf("item %+v; want state %s", it, state)
		}
	}
}

// An adapter known by its serial number is pulled out and comes back under another
// name, on another terminal: the same owner reads on.
func TestPtyUSBSerial(t *testing.T) {
	s, first := newSysfs(t), newWire(t)
	s.plug("ttyUSB0", "1-2", "A1", first)
	o := s.own("usb:A1")
	dev := filepath.Join(s.root, "dev")
	if it := o.want(State, StateOpen); it.Name != "usb:A1 at "+dev+"/ttyUSB0" {
		t.Errorf("open as %q", it.Name)
	}
	first.send("+1 kN\r\n")
	o.want(Data, "+1 kN\r\n")

	s.pull("ttyUSB0", first)
	lost := o.want(State, StateLost)
	if lost.Reason != "unplugged" {
		t.Errorf("lost: %q; want unplugged", lost.Reason)
	}
	if it := o.want(State, StateRetry); !strings.Contains(it.Reason, "no such port usb:A1") {
		t.Errorf("while it is away: %q", it.Reason)
	}
	// Another adapter takes the name that has become free: it is not ours.
	other, second := newWire(t), newWire(t)
	s.plug("ttyUSB0", "1-3", "B2", other)
	s.plug("ttyUSB1", "1-2", "A1", second)
	if it := o.until(StateOpen); it.Name != "usb:A1 at "+dev+"/ttyUSB1" || it.Gap != it.T-lost.T {
		t.Errorf("open %+v; want ttyUSB1 and the gap since %d", it, lost.T)
	}
	other.send("+999 kN\r\n")
	second.send("+2 kN\r\n")
	o.want(Data, "+2 kN\r\n")
}

// Two adapters with one serial number: neither is guessed at, until one is taken out.
func TestPtyUSBTwoWithOneSerial(t *testing.T) {
	s, a, b := newSysfs(t), newWire(t), newWire(t)
	s.plug("ttyUSB0", "1-2", "0001", a)
	s.plug("ttyUSB1", "1-3", "0001", b)
	o := s.own("usb:0001")
	if it := o.want(State, StateRetry); !strings.Contains(it.Reason, "2 adapters have this serial number") || !strings.Contains(it.Reason, "by-path") {
		t.Errorf("told %q; want how many there are, and what to do", it.Reason)
	}
	s.pull("ttyUSB0", a)
	o.until(StateOpen)
	b.send("b\r\n")
	o.want(Data, "b\r\n")
}

// An adapter with two ports: they are named by their number.
func TestPtyUSBSeveralPorts(t *testing.T) {
	s, a, b := newSysfs(t), newWire(t), newWire(t)
	s.plug("ttyUSB3", "1-2", "C3", a)
	s.plug("ttyUSB4", "1-2", "C3", b)
	if it := s.own("usb:C3").want(State, StateRetry); !strings.Contains(it.Reason, "the adapter has 2 ports") || !strings.Contains(it.Reason, "add /1 for the first") {
		t.Errorf("without a number: %q", it.Reason)
	}
	one, two := s.own("usb:C3/1"), s.own("usb:C3/2")
	one.want(State, StateOpen)
	two.want(State, StateOpen)
	a.send("a\r\n")
	b.send("b\r\n")
	one.want(Data, "a\r\n")
	two.want(Data, "b\r\n")
}

// A name under /dev/serial/by-id is a link that the system points elsewhere when the
// adapter comes back: the port is opened behind it as it points then, and one that
// is open is not changed by a link that moves.
func TestPtyByIDLinkMoves(t *testing.T) {
	dir, first, second := t.TempDir(), newWire(t), newWire(t)
	link := filepath.Join(dir, "usb-Invented_adapter_A1-if00-port0")
	first.link(link)
	o := own(t, dir, link)
	o.want(State, StateOpen)
	second.link(link)
	first.send("first\r\n")
	o.want(Data, "first\r\n")
	first.unplug()
	o.want(State, StateLost)
	if it := o.until(StateOpen); it.Name != link {
		t.Errorf("open as %q; want the link %q", it.Name, link)
	}
	second.send("second\r\n")
	o.want(Data, "second\r\n")
}
