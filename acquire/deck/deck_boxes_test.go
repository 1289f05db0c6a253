//go:build linux || darwin

package deck

import (
	"context"
	"io"
	"log"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/simonvetter/modbus"
)

// realClock is this machine's.
type realClock struct{ began time.Time }

func (c realClock) Now() int64 { return int64(time.Since(c.began)) }
func (c realClock) Sleep(ctx context.Context, until int64) error {
	select {
	case <-time.After(time.Duration(until - c.Now())):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// TestUnitsAgainstAnotherClient: another implementation's Modbus client reads both
// units over their pseudo-terminal as what is on the hook and on the counter, and
// names the refusals.
func TestUnitsAgainstAnotherClient(t *testing.T) {
	text := strings.Replace(least, "[tension]", "boxes modbus\nregisters 4 float32 CDAB\nlatency 1 ms\ncount 70000\n[tension]", 1) + "[winch]\ncell hook 25 kg\n"
	dir := filepath.Join(t.TempDir(), "deck")
	d, err := Open(mustParse(t, text), Options{Dir: dir, Clock: realClock{time.Now()}, Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- d.Run(t.Context()) }()
	defer func() {
		if err := d.Close(); err != nil {
			t.Error(err)
		}
		<-done
	}()
	name, err := os.Readlink(filepath.Join(dir, "load"))
	if err != nil {
		t.Fatal(err)
	}
	c, err := modbus.NewClient(&modbus.ClientConfiguration{URL: "rtu://" + name, Speed: 19200, Timeout: 3 * time.Second, Logger: log.New(io.Discard, "", 0)})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Open(); err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_ = c.SetEncoding(modbus.BIG_ENDIAN, modbus.LOW_WORD_FIRST)
	_ = c.SetUnitId(loadUnit)
	if v, err := c.ReadFloat32(loadRegister, modbus.INPUT_REGISTER); err != nil || math.Abs(float64(v)-25) > 0.051 {
		t.Errorf("load: %v kgf, %v; want 25.0", v, err)
	}
	if _, err := c.ReadRegister(0, modbus.INPUT_REGISTER); err != modbus.ErrIllegalDataAddress {
		t.Errorf("a register it does not have: %v", err)
	}
	if _, err := c.ReadRegister(loadRegister, modbus.HOLDING_REGISTER); err != modbus.ErrIllegalFunction {
		t.Errorf("a function it does not have: %v", err)
	}
	_ = c.SetEncoding(modbus.BIG_ENDIAN, modbus.HIGH_WORD_FIRST)
	_ = c.SetUnitId(lineUnit)
	for range 20 {
		if v, err := c.ReadUint32(lineRegister, modbus.HOLDING_REGISTER); err != nil || v != 70000 {
			t.Errorf("line: %d, %v; want 70000", v, err)
		}
	}
}

// TestRenamed: the port comes back under its second name, and the first is gone.
func TestRenamed(t *testing.T) {
	r := opened(t, mustParse(t, ramped+"[faults]\nat 1 s: rename load 1 s\n")).run()
	r.clock.set(1500 * ms)
	await(t, "the plug to be pulled", func() bool { return !r.State().Load.Plugged })
	r.clock.set(2100 * ms)
	await(t, "it to be back", func() bool { return r.State().Load.Plugged })
	if _, err := os.Lstat(filepath.Join(r.dir, "load")); !os.IsNotExist(err) {
		t.Errorf("the first name is still there: %v", err)
	}
	if _, err := os.Stat(filepath.Join(r.dir, "load"+secondName)); err != nil {
		t.Error(err)
	}
	r.Close()
	if left, _ := filepath.Glob(filepath.Join(r.dir, "*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestHalfOpen: a port that is half open gives nothing, however long it is held
// open, and is whole again for who closes it and opens it anew.
func TestHalfOpen(t *testing.T) {
	if !canTellAlone {
		t.Skip("this system cannot tell a port nobody has open")
	}
	r := opened(t, mustParse(t, ramped+"[faults]\nat 1 s: half-open load 10 min\n")).run()
	load := r.reader("load")
	r.clock.set(900 * ms)
	for range 9 {
		load.line()
	}
	sent := r.State().Load.Sent
	r.clock.set(60e9)
	await(t, "a minute", func() bool { return r.State().T == 60e9 })
	if s := r.State().Load; s.Sent > sent+1 || !s.Plugged {
		t.Errorf("load %+v, want it plugged in and nothing sent", s)
	}
	load.Close()
	r.clock.set(60.2e9)
	await(t, "the deck to see it closed", func() bool { return r.State().T == 60.2e9 })
	again := r.reader("load")
	r.clock.set(60.4e9)
	again.line()
}
