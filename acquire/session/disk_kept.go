package session

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/trial"
)

// Between the Read that brings bytes and the write of their record lies a
// fraction of a millisecond, or as long as half a line waits for its rest. What
// a killed program held then would be gone. So each Read of an instrument goes
// straight into memory that outlives the program: a small file in a folder that
// is kept in memory by the system, mapped. It outlives neither a power cut nor a
// restart of the computer; there the disk counts.

// The layout of a kept file: a header of one page, then a ring of the last bytes
// that were read.
//
//	0   8 bytes  keptMagic
//	8   8 bytes  how many bytes were read in all, little-endian
//	16  8 bytes  the same and 1, once room is made for the next Read
//	24  8 bytes  how many bytes that room has
//	32           the log's full path, up to a NUL
//	4096 keptRing bytes: byte i of the stream stands at i mod keptRing
//
// Before a Read its room is filled with keptEmpty. Where the program dies
// between the Read and the new count, what differs from that was read.
const (
	keptMagic = "hawskp01"
	keptHead  = 4096
	keptRing  = 64 << 10
	keptRoom  = 4096 // a Read gets at most that much
	keptEmpty = 0xA5
)

// keptSources are the ports whose bytes are kept so.
var keptSources = [...]string{SrcLoad, SrcLine}

// SweepKept removes what was kept in dir for logs that are no longer there.
func SweepKept(dir string) {
	if dir == "" {
		return
	}
	files, _ := filepath.Glob(filepath.Join(globSafe(dir), "*-*"))
	for _, path := range files {
		f, err := os.Open(path)
		if err != nil {
			continue
		}
		head := make([]byte, keptHead)
		_, err = io.ReadFull(f, head)
		f.Close()
		if err != nil || string(head[:8]) != keptMagic {
			continue
		}
		log, _, _ := bytes.Cut(head[32:], []byte{0})
		if _, err := os.Lstat(string(log)); errors.Is(err, os.ErrNotExist) {
			os.Remove(path)
		}
	}
}

// fullPath is the log's, as it stands in what is kept for it.
func fullPath(log string) string {
	if abs, err := filepath.Abs(log); err == nil {
		return abs
	}
	return log
}

// keptPath is where a log's bytes of one port are kept.
func keptPath(dir, log, src string) string {
	sum := sha256.Sum256([]byte(fullPath(log)))
	return filepath.Join(dir, fmt.Sprintf("%x-%s", sum[:12], src))
}

// keeper is the memory of one port. Its Reads come from one goroutine at a time.
type keeper struct {
	path  string
	mem   []byte
	unmap func() error
	total uint64
}

// room is where the next Read may put its bytes, at most n of them.
func (k *keeper) room(n int) []byte {
	at := int(k.total % keptRing)
	room := k.mem[keptHead+at : keptHead+at+min(n, keptRoom, keptRing-at)]
	for i := range room {
		room[i] = keptEmpty
	}
	binary.LittleEndian.PutUint64(k.mem[24:], uint64(len(room)))
	binary.LittleEndian.PutUint64(k.mem[16:], k.total+1)
	return room
}

func (k *keeper) took(n int) {
	k.total += uint64(n)
	binary.LittleEndian.PutUint64(k.mem[8:], k.total)
}

// keptConn is a connection whose bytes are kept.
type keptConn struct {
	acquire.Conn
	k *keeper
}

// Read implements [acquire.Conn].
func (c *keptConn) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return c.Conn.Read(p)
	}
	room := c.k.room(len(p))
	n, err := c.Conn.Read(room)
	if n > 0 {
		n = copy(p, room[:min(n, len(room))])
		c.k.took(n)
	}
	return n, err
}

// keepDial is dial with what is read kept; without a keeper it is dial.
func keepDial(dial acquire.Dialer, k *keeper) acquire.Dialer {
	if k == nil {
		return dial
	}
	return func(name string, p trial.Port) (acquire.Conn, error) {
		conn, err := dial(name, p)
		if err != nil {
			return nil, err
		}
		return &keptConn{conn, k}, nil
	}
}

// Kept is what a program had read from a port when it died and had not written
// into its log.
type Kept struct {
	Src string
	Raw []byte
}

// tail gathers the end of one port's stream as a log holds it.
type tail struct {
	total uint64
	last  []byte
}

// tailLength is how much of the log must agree with what was kept, so that the
// one is tied to the other.
const tailLength = 256

func (t *tail) add(raw string) {
	t.total += uint64(len(raw))
	t.last = append(t.last, raw...)
	if over := len(t.last) - tailLength; over > 4096 {
		t.last = append(t.last[:0], t.last[over:]...)
	}
}

var errKept = errors.New("what was kept of it in memory does not fit the log")

// after returns what the ring holds behind the log's last byte.
func (t *tail) after(mem []byte) ([]byte, error) {
	if len(mem) != keptHead+keptRing || string(mem[:8]) != keptMagic {
		return nil, errKept
	}
	total := binary.LittleEndian.Uint64(mem[8:])
	ring := mem[keptHead:]
	at := int(total % keptRing)
	if binary.LittleEndian.Uint64(mem[16:]) == total+1 { // read, and not counted any more
		room := ring[at:min(at+int(min(binary.LittleEndian.Uint64(mem[24:]), keptRoom)), keptRing)]
		total += uint64(len(bytes.TrimRight(room, string([]byte{keptEmpty}))))
	}
	if t.total > total || total-t.total > keptRing-keptRoom {
		return nil, errKept
	}
	from := func(i uint64, n int) []byte {
		out := make([]byte, n)
		for j := range out {
			out[j] = ring[(i+uint64(j))%keptRing]
		}
		return out
	}
	held := t.last[max(len(t.last)-tailLength, 0):]
	held = held[max(len(held)-int(min(t.total, keptRing-keptRoom-(total-t.total))), 0):]
	if !bytes.Equal(from(t.total-uint64(len(held)), len(held)), held) {
		return nil, errKept
	}
	return from(t.total, int(total-t.total)), nil
}

// readKept returns what was kept in dir for the log at path and is not in it.
// Without anything kept it returns nothing. tails are the ends of the streams
// in the log.
func readKept(dir, log string, tails map[string]*tail) (out []Kept, err error) {
	if dir == "" {
		return nil, nil
	}
	for _, src := range keptSources {
		mem, rerr := os.ReadFile(keptPath(dir, log, src))
		if errors.Is(rerr, os.ErrNotExist) {
			continue
		}
		if rerr == nil {
			t := tails[src]
			if t == nil {
				t = &tail{}
			}
			var raw []byte
			if raw, rerr = t.after(mem); len(raw) > 0 {
				out = append(out, Kept{src, raw})
			}
		}
		if rerr != nil {
			err = errors.Join(err, fmt.Errorf("%s: %w", src, rerr))
		}
	}
	return out, err
}

// ForgetKept removes what was kept for a log, once it is in another one.
func ForgetKept(dir, log string) {
	if dir == "" {
		return
	}
	for _, src := range keptSources {
		os.Remove(keptPath(dir, log, src))
	}
}

// KeptOf returns what a program that died had read and not written into the log
// at path.
func KeptOf(dir, log string) ([]Kept, error) {
	f, err := logfmt.Open(log)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	tails := map[string]*tail{}
	r := logfmt.NewReader(f)
	for r.Next() {
		if rec := r.Record(); rec.Kind == logfmt.Rx {
			tailOf(tails, &rec)
		}
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	return readKept(dir, log, tails)
}

func tailOf(tails map[string]*tail, r *logfmt.Record) {
	src := r.Str("src")
	if tails[src] == nil {
		tails[src] = &tail{}
	}
	tails[src].add(r.Str("raw"))
}

// close removes the memory; free also takes it out of this program, once no Read
// can be in it.
func (k *keeper) close(free bool) {
	if k == nil {
		return
	}
	os.Remove(k.path)
	if free {
		_ = k.unmap()
	}
}
