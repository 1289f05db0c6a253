//go:build alone && unix

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hawse/acquire/deck"
)

// TestAloneEveryDecoder: each kind of box, over real pseudo-terminals into a capture
// in a process of its own: armed, hauling, both instruments read, nothing bad; the
// load cell unplugged, and back under another name, in the middle of it: the stop,
// its cause, and the cell read again; the log whole, and its replay the same.
func TestAloneEveryDecoder(t *testing.T) {
	for _, boxes := range []string{"lines,nmea", "shared", "one-line", "asked", "modbus,nmea", "frames"} {
		t.Run(strings.ReplaceAll(boxes, ",", " "), func(t *testing.T) {
			sc, err := deck.ParseScenario("boxes.txt", []byte(strings.NewReplacer("50 Hz", "10 Hz", "20 Hz", "10 Hz").Replace(slowPull)))
			if err != nil {
				t.Fatal(err)
			}
			if sc, err = sc.With(boxes, []string{"rename load 4 s@x 0.4 m"}); err != nil {
				t.Fatal(err)
			}
			r := newRigWith(t, sc)
			c := r.pull("a", false)
			c.hauling()
			c.eventually("tension and scope", 5*time.Second, func() bool { s := c.status(); return s.TensionN != nil && s.Scope != nil })
			c.eventually("the load cell to be unplugged", 20*time.Second, func() bool { return !c.deck.State().Load.Plugged })
			c.eventually("a stop for its silence", 5*time.Second, func() bool { return c.status().StopCause == "LOAD SILENT" })
			c.eventually("it to be back", 10*time.Second, func() bool { return c.deck.State().Load.Plugged })
			c.eventually("its tension again", 5*time.Second, func() bool { return c.status().TensionN != nil })
			if _, err := os.Lstat(filepath.Join(r.dir, "deck", "load")); err == nil {
				t.Error("it is back under its first name")
			}
			c.call("end", "")
			c.call("end", "")
			c.sealedAndWhole()
		})
	}
}
