package session

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"hawse/acquire"
)

// readerOf gives one piece a Read.
type readerOf struct {
	acquire.Conn
	pieces [][]byte
}

func (r *readerOf) Read(p []byte) (int, error) {
	if len(r.pieces) == 0 {
		return 0, errors.New("no more")
	}
	n := copy(p, r.pieces[0])
	if r.pieces[0] = r.pieces[0][n:]; len(r.pieces[0]) == 0 {
		r.pieces = r.pieces[1:]
	}
	return n, nil
}

// Wherever the program dies, what the log holds and what was kept are together
// what was read.
func TestKeptIsWhatTheLogLacks(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		k := &keeper{mem: make([]byte, keptHead+keptRing)}
		copy(k.mem, keptMagic)
		var stream []byte
		piece := rapid.SliceOfN(rapid.ByteRange(0, 0x7f), 1, 3000)
		conn := &keptConn{k: k}
		buf := make([]byte, 4096)
		for range rapid.IntRange(0, 60).Draw(rt, "reads") {
			r := &readerOf{pieces: [][]byte{piece.Draw(rt, "piece")}}
			conn.Conn = r
			for len(r.pieces) > 0 {
				n, err := conn.Read(buf)
				if err != nil {
					rt.Fatal(err)
				}
				stream = append(stream, buf[:n]...)
			}
		}
		if rapid.Bool().Draw(rt, "dies between the Read and its count") {
			p := piece.Draw(rt, "last")
			stream = append(stream, p[:copy(k.room(4096), p)]...)
		}
		lacks := rapid.IntRange(0, min(len(stream), keptRing-2*keptRoom)).Draw(rt, "lacks")
		var held tail
		for rest := stream[:len(stream)-lacks]; len(rest) > 0; {
			n := min(len(rest), rapid.IntRange(1, 2000).Draw(rt, "record"))
			held.add(string(rest[:n]))
			rest = rest[n:]
		}
		got, err := held.after(k.mem)
		if err != nil || !bytes.Equal(got, stream[len(stream)-lacks:]) {
			rt.Fatalf("%d read, the log lacks %d: kept %d, %v", len(stream), lacks, len(got), err)
		}
	})
}

func TestKeptThatDoesNotFit(t *testing.T) {
	k := &keeper{mem: make([]byte, keptHead+keptRing)}
	copy(k.mem, keptMagic)
	copy(k.room(10), "+0001.0\r\n")
	k.took(9)
	for _, tt := range []struct {
		name string
		log  string
		mem  []byte
		bad  bool
		want string
	}{
		{"the log has nothing", "", k.mem, false, "+0001.0\r\n"},
		{"the log has all", "+0001.0\r\n", k.mem, false, ""},
		{"the log has other bytes", "+0002.0", k.mem, true, ""},
		{"the log has more", "+0001.0\r\n+0001.0\r\n", k.mem, true, ""},
		{"cut short", "", k.mem[:5000], true, ""},
		{"not ours", "", make([]byte, keptHead+keptRing), true, ""},
		{"empty", "", nil, true, ""},
	} {
		var held tail
		held.add(tt.log)
		got, err := held.after(tt.mem)
		if (err != nil) != tt.bad || string(got) != tt.want {
			t.Errorf("%s: kept %q, %v; want %q", tt.name, got, err, tt.want)
		}
	}
}

// A capture that ends well leaves nothing in that memory; one that dies leaves
// what its log lacks, and the next log's head has it.
func TestCaptureKeepsWhatItReads(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("no memory that outlives the program here")
	}
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		b := startBenchOf(t, func(c *Config) { c.KeepDir = dir })
		b.pulling()
		names, _ := filepath.Glob(filepath.Join(dir, "*"))
		if len(names) != len(keptSources) {
			t.Fatalf("kept files %q, want one for each of %v", names, keptSources)
		}
		time.Sleep(time.Second)
		// As a crash would find it: a log that lacks its last bytes.
		text, err := os.ReadFile(b.log)
		if err != nil {
			t.Fatal(err)
		}
		lines := bytes.SplitAfter(text, []byte("\n"))
		crashed := filepath.Join(t.TempDir(), "a.log")
		if err := os.WriteFile(crashed, bytes.Join(lines[:len(lines)-30], nil), 0o644); err != nil {
			t.Fatal(err)
		}
		lost := ""
		for _, l := range lines[len(lines)-30:] {
			if bytes.Contains(l, []byte("k=rx src=load")) {
				_, raw, _ := strings.Cut(string(l), `raw="`)
				raw, _, _ = strings.Cut(raw, `\r\n"`)
				lost += raw + "\r\n"
			}
		}
		for _, src := range keptSources {
			mem, err := os.ReadFile(keptPath(dir, b.log, src))
			if err == nil {
				err = os.WriteFile(keptPath(dir, crashed, src), mem, 0o600)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		head := testHead(t)
		u, err := ReadUnfinished(crashed, head.Trial, dir)
		if err != nil || u.KeptFault != "" || len(u.Kept) == 0 || u.Kept[0].Src != SrcLoad || !strings.HasPrefix(string(u.Kept[0].Raw), lost) {
			t.Errorf("kept %+v, %v; want the load's %q", u, err, lost)
		}
		if got, err := KeptOf(dir, crashed); err != nil || len(got) != len(u.Kept) {
			t.Errorf("KeptOf: %v, %v", got, err)
		}
		head.After = &u.Handover
		d, err := NewDry(head)
		if err != nil {
			t.Fatal(err)
		}
		if got := d.core.Head().After.Kept; len(got) != len(u.Kept) || string(got[0].Raw) != string(u.Kept[0].Raw) {
			t.Errorf("in the next log's head %+v, want %+v", got, u.Kept)
		}
		SweepKept(dir) // both logs are there
		if names, _ = filepath.Glob(filepath.Join(dir, "*")); len(names) != 2*len(keptSources) {
			t.Errorf("swept while the logs are there: %q", names)
		}
		ForgetKept(dir, crashed)
		b.end()
		if names, _ = filepath.Glob(filepath.Join(dir, "*")); len(names) != 0 {
			t.Errorf("left behind: %q", names)
		}
		if k, err := newKeeper(dir, filepath.Join(dir, "gone.log"), SrcLoad); err != nil {
			t.Error(err)
		} else if err := k.unmap(); err != nil {
			t.Error(err)
		}
		write := func(name string) {
			if err := os.WriteFile(filepath.Join(dir, name), []byte("not ours"), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		write("some-thing")
		SweepKept(dir)
		if names, _ = filepath.Glob(filepath.Join(dir, "*")); len(names) != 1 {
			t.Errorf("swept to %q; want only what is not ours", names)
		}
	})
}
