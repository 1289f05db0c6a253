//go:build linux || darwin

package deck

import (
	"context"
	"io"
	"log"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/simonvetter/modbus"
)

// wallClock is real time from its making.
type wallClock struct{ start time.Time }

func (c wallClock) Now() int64 { return int64(time.Since(c.start)) }
func (c wallClock) Sleep(ctx context.Context, until int64) error {
	t := time.NewTimer(time.Duration(until - c.Now()))
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// TestModbusDeckWithAnotherMaster: the relay of a deck with "relay modbus" does
// for a Modbus library, which opens the port by itself, what a Modbus unit does.
func TestModbusDeckWithAnotherMaster(t *testing.T) {
	s := mustParse(t, strings.Replace(ramped, "[tension]", "relay modbus\n[tension]", 1))
	d, err := Open(s, Options{Dir: t.TempDir(), Clock: wallClock{time.Now()}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- d.Run(ctx) }()
	defer func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
		d.Close()
	}()
	port, err := filepath.EvalSymlinks(filepath.Join(d.dir.path, "stop"))
	if err != nil {
		t.Fatal(err)
	}
	client, err := modbus.NewClient(&modbus.ClientConfiguration{URL: "rtu://" + port, Speed: 115200, Timeout: 3 * time.Second, Logger: log.New(io.Discard, "", 0)})
	if err != nil {
		t.Fatal(err)
	}
	if err := client.Open(); err != nil {
		t.Fatal(err)
	}
	defer client.Close()
	coil := func(want bool) {
		t.Helper()
		if got, err := client.ReadCoil(0); err != nil || got != want {
			t.Errorf("coil reads %v, %v; want %v", got, err, want)
		}
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	coil(false)
	if err := client.WriteCoil(0, true); err != modbus.ErrServerDeviceFailure {
		t.Errorf("on without a session: %v; want it refused as a failure of the device", err)
	}
	must(client.WriteUint32(0, 0x0D0A0D0A)) // as hard on framing as it gets
	must(client.WriteCoil(0, true))
	for n := range uint16(10) { // half a second of heartbeats
		must(client.WriteRegister(2, n+1))
		time.Sleep(50 * time.Millisecond)
	}
	coil(true)
	if v, err := client.ReadUint32(0, modbus.HOLDING_REGISTER); err != nil || v != 0x0D0A0D0A {
		t.Errorf("session reads %#x, %v", v, err)
	}
	time.Sleep(400 * time.Millisecond) // longer than its window
	coil(false)
	if err := client.WriteCoil(0, true); err == nil {
		t.Error("closed again on a session it had")
	}
	if err := client.WriteCoil(7, true); err != modbus.ErrIllegalDataAddress {
		t.Errorf("a coil it does not have: %v", err)
	}
	if st := d.State(); st.RelayClosed || st.RelayReason != "beat-lost" || st.Session != 0x0D0A0D0A {
		t.Errorf("the deck says closed %v, %q, session %#x; want open, beat-lost", st.RelayClosed, st.RelayReason, st.Session)
	}
}
