package acquire

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// The tree is made up, in the shape the kernel gives it.
func TestListPorts(t *testing.T) {
	root := t.TempDir()
	write := func(path, text string) {
		t.Helper()
		path = filepath.Join(root, path)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	port := func(name, device, kind string) {
		t.Helper()
		write("class/"+name+"/type", kind+"\n")
		if device == "" {
			return
		}
		if err := os.MkdirAll(filepath.Join(root, device), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(filepath.Join(root, device), filepath.Join(root, "class", name, "device")); err != nil {
			t.Fatal(err)
		}
	}
	port("tty0", "", "") // a console
	port("ttyS0", "pnp/00:00", "4")
	port("ttyS1", "pnp/00:01", "0") // no chip behind it
	port("ttyUSB0", "usb/1-2/1-2:1.0/ttyUSB0", "")
	write("usb/1-2/idVendor", "12ab\n")
	write("usb/1-2/idProduct", "00ff\n")
	write("usb/1-2/serial", "\x1b[2J7\n")
	port("ttyACM0", "usb/1-3/1-3:1.0", "")
	write("usb/1-3/idVendor", "12ab\n")
	write("usb/1-3/product", "Demo adapter\n")

	got, err := listPorts(filepath.Join(root, "class"), "/dev")
	want := []PortInfo{
		{Name: "/dev/ttyACM0", USB: true, VID: "12AB", Product: "Demo adapter"},
		{Name: "/dev/ttyS0"},
		{Name: "/dev/ttyUSB0", USB: true, VID: "12AB", PID: "00FF", Serial: `\x1b[2J7`},
	}
	if diff := cmp.Diff(want, got, cmpopts.IgnoreUnexported(PortInfo{})); err != nil || diff != "" {
		t.Errorf("ports, %v (-want +got):\n%s", err, diff)
	}
	if _, err := listPorts(filepath.Join(root, "none"), "/dev"); err == nil {
		t.Error("listing a folder that is not there gives no error")
	}
	if _, err := ListPorts(); err != nil {
		t.Errorf("ListPorts on this machine: %v", err)
	}
}
