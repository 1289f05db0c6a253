package session

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// unitConn is a port with two Modbus units at its other end; after a while the
// second answers later than it may.
type unitConn struct {
	in     chan []byte
	closed chan struct{}
	once   sync.Once
	asked  int
	lag    func(asked int, unit byte) time.Duration
}

func (u *unitConn) Write(p []byte) (int, error) {
	u.asked++
	var answer []byte
	switch {
	case p[0] == 1:
		answer = sealed(1, 3, 2, 0, byte(u.asked))
	default:
		answer = sealed(2, 3, 4, 0, 0, 0x30, byte(u.asked))
	}
	d := u.lag(u.asked, p[0])
	time.AfterFunc(d, func() {
		for i := 0; i < len(answer); i += 3 { // an adapter that smears the gaps
			select {
			case u.in <- answer[i:min(i+3, len(answer))]:
			case <-u.closed:
			}
		}
	})
	return len(p), nil
}

func (u *unitConn) Read(p []byte) (int, error) {
	select {
	case b := <-u.in:
		return copy(p, b), nil
	case <-u.closed:
		return 0, acquire.ErrClosed
	case <-time.After(100 * time.Millisecond):
		return 0, nil
	}
}

func (u *unitConn) Close() error { u.once.Do(func() { close(u.closed) }); return nil }

// TestAskedLive: a live capture of two units on one line. Nothing is garbled, no
// late answer is taken, and the log folds again to the same.
func TestAskedLive(t *testing.T) {
	text := trial.Template()
	for _, e := range [][2]string{{loadIs, "kind = \"modbus\"\n"}, {"over = [\"OL\"]", "over = []"},
		{"[load.calibration]\n", "[load.modbus]\naddress = 1\nregister = 0\nholds = \"int16\"\nfactor = 0.1\n[load.calibration]\n"},
		{lineBox, "on = \"load\"\nkind = \"modbus\""}, {lineIs, ""}, {stopIs, "[line.modbus]\naddress = 2\nregister = 8\nholds = \"int32\"\n" + stopIs}} {
		if !strings.Contains(text, e[0]) {
			t.Fatalf("the template no longer has %q", e[0])
		}
		text = strings.Replace(text, e[0], e[1], 1)
	}
	tr, err := trial.ParseTrial("trial.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	conn := &unitConn{in: make(chan []byte, 100), closed: make(chan struct{}), lag: func(asked int, unit byte) time.Duration {
		if asked > 20 && unit == 2 && asked%8 < 2 {
			return 250 * time.Millisecond
		}
		return 5 * time.Millisecond
	}}
	opened := false
	head := testHead(t)
	head.Trial, head.Mode = tr, "live"
	path := filepath.Join(t.TempDir(), "live.hawse")
	c, err := Start(context.Background(), Config{Head: head, LogPath: path, Clock: acquire.NewClock(),
		Dial: func(name string, _ trial.Port) (acquire.Conn, error) {
			if !strings.HasSuffix(name, "load") || opened {
				return nil, &acquire.PortError{Name: name, Fault: acquire.Missing}
			}
			opened = true
			return conn, nil
		}})
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(4 * time.Second)
	s := c.Snapshot()
	if s.Load.Good < 10 || s.Line.Good < 10 || s.Load.State != "open" || s.Line.State != "open" {
		t.Errorf("load %+v\nline %+v", s.Load, s.Line)
	}
	if s.Line.Bad == 0 {
		t.Errorf("line %+v: want the late answers counted as bad", s.Line)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if o, err := c.DoWait(ctx, Act{Who: safety.Director, What: ActEnd, Value: "done"}); err != nil || o.Refused != "" {
		t.Fatal(o, err)
	}
	<-c.Done()
	log, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	fold, damage, err := Refold(bytes.NewReader(log), head.Build)
	if err != nil || len(damage) > 0 || len(fold.Diffs) > 0 {
		t.Errorf("replay: %v, damage %v, differences %v", err, damage, fold.Diffs)
	}
	// An answer holds the number of its question: what is believed is always the
	// answer to the last one asked before it.
	var core Core
	var step Step
	asked, good := 0, uint64(0)
	for r := logfmt.NewReader(bytes.NewReader(log)); r.Next(); {
		rec := r.Record()
		if rec.Kind == logfmt.Tx && rec.Str("src") == SrcLoad {
			asked++
		}
		if err := core.Apply(&rec, &step); err != nil {
			t.Fatal(err)
		}
		if core.line.good > good && byte(core.haul.counts) != byte(asked) {
			t.Errorf("record %d: after question %d the answer to %d is believed", rec.N, asked, byte(core.haul.counts))
		}
		good = core.line.good
	}
	if asked < 30 || good < 10 {
		t.Errorf("%d asked, %d counts", asked, good)
	}
}
