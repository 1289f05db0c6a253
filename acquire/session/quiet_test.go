package session

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
)

// TestQuiet: the alarm for a silent load cell is one, and behind it stands how its
// port is: once, until a good line has come.
func TestQuiet(t *testing.T) {
	for _, tt := range []struct {
		name string
		do   func(h *hand)
		want string
	}{
		{"it says nothing", func(*hand) {}, "load: its port is open and gives nothing"},
		{"half a line", func(h *hand) { h.d.Rx(h.at, SrcLoad, []byte("+00")) }, "load: its port is open; the beginning of a line came, then nothing"},
		{"a line end of its own is no half line", func(h *hand) { h.d.Rx(h.at, SrcLoad, []byte("\n")) }, "load: its port is open and gives nothing"},
		{"the port is gone", func(h *hand) {
			h.d.Port(h.at, SrcLoad, acquire.StateLost, "unplugged")
			h.d.Port(h.at, SrcLoad, acquire.StateRetry, "no such port ./load")
		}, "load: its port is away: no such port ./load"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := byHand(t)
			h.run(3 * time.Second)
			h.pulling()
			for range 2 { // silent, heard again, silent again
				h.d.Port(h.at, SrcLoad, acquire.StateOpen, "")
				h.run(2 * time.Second)
				tt.do(h)
				for range 40 {
					h.at += 100e6
					h.count(h.counts)
				}
			}
			var told []string
			for _, r := range h.d.Records {
				if r.Str("what") == "quiet" && r.Str("port") == SrcLoad {
					told = append(told, r.Str("text"))
				}
			}
			if want := []string{tt.want, tt.want}; !slices.Equal(told, want) {
				t.Errorf("told %q; want %q", told, want)
			}
		})
	}
}

// TestOpenUnderAnotherName: the news say that a port has come back as another.
func TestOpenUnderAnotherName(t *testing.T) {
	var b board
	for i, name := range []string{"./load", "./load", "usb:A1 at /dev/ttyUSB1"} {
		r := logfmt.Record{Kind: logfmt.PortEvent, Fields: portFields(acquire.Item{Src: SrcLoad, State: acquire.StateOpen, Name: name})}
		b.add(&r)
		was := strings.Contains(b.news[len(b.news)-1].Text, "another name than before: ./load")
		if was != (i == 2) {
			t.Errorf("open %d on %s: %q", i, name, b.news[len(b.news)-1].Text)
		}
	}
	for i := range 10 * portsMost {
		r := logfmt.Record{Kind: logfmt.PortEvent, Fields: portFields(acquire.Item{Src: fmt.Sprint("p", i), State: acquire.StateOpen, Name: "n"})}
		b.add(&r)
	}
	if len(b.opened) > portsMost {
		t.Errorf("%d names are kept; want %d at most", len(b.opened), portsMost)
	}
}
