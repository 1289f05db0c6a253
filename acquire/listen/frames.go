package listen

import (
	"bytes"
	"cmp"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"hawse/acquire"
	"hawse/trial"
)

// Binary is what frames of one length have in common.
type Binary struct {
	Form    trial.Frames // At and Number are of the reading found first
	Frames  int          // whole ones
	Fits    int          // of them, whose checksum fits, or that begin with the sync bytes
	Share   float64      // of all bytes, that lie in those
	Rate    float64      // frames a second; 0 not known
	Counter []int        // bytes that count frames, by their place
	Numbers []Found      // that moved, the one that took most values first
	Notes   []string
}

// How a frame is looked for: common practice, no source.
const (
	leastFrame    = 4
	mostFrame     = 250 // as in a trial file
	mostLooked    = 16 << 10
	leastFrames   = 8    // to say anything
	mostPeriods   = 12   // tried
	alike         = 0.9  // share of frames in which a byte must be the same to be one of sync
	mostSync      = 4    // bytes of sync that are proposed
	sumFits       = 0.9  // share of frames whose checksum must fit
	counts        = 0.9  // share of frames to the next of which a counter counts on
	stretch       = 16   // frames in a row that are looked at,
	mostStretches = 6    // in so many places
	mostStarts    = 8    // of a frame whose checksum seems to fit
	repeated      = 0.15 // by so much more bytes must come again than by chance
)

// Chunk is bytes as they were read.
type Chunk struct {
	T   int64 // ns, of its last byte
	Raw []byte
}

// FindFrames looks for binary frames of one length: the distance at which bytes
// come again, those that never change, the checksum, what counts, what moves.
func FindFrames(chunks []Chunk) (*Binary, error) {
	var raw []byte
	for _, c := range chunks {
		raw = append(raw, c.Raw...)
		if len(raw) >= mostLooked {
			raw = raw[:mostLooked]
			break
		}
	}
	if len(raw) < leastFrames*leastFrame {
		return nil, fmt.Errorf("%d bytes: too few to see what comes again; listen longer", len(raw))
	}
	var best *Binary
	for _, length := range periods(raw) {
		b := frameOf(raw, length)
		if b == nil {
			continue
		}
		if best == nil || b.better(best) {
			best = b
		}
	}
	if best == nil {
		return nil, fmt.Errorf("no distance from %d to %d at which %d bytes come again: no frames of one length, or the speed is wrong", leastFrame, mostFrame, len(raw))
	}
	best.fill(chunks)
	return best, nil
}

func (b *Binary) better(o *Binary) bool {
	if sum, osum := b.Form.Checksum != trial.SumNone, o.Form.Checksum != trial.SumNone; sum != osum {
		return sum
	}
	return b.Share > o.Share+0.1 // the shorter period comes first; a multiple of it says no more
}

// periods are the distances at which bytes come again more than by chance, the
// shortest first.
func periods(raw []byte) []int {
	most := min(mostFrame, len(raw)/leastFrames)
	if most < leastFrame {
		return nil
	}
	share := make([]float64, most+1)
	mean := 0.0
	for lag := leastFrame; lag <= most; lag++ {
		n := 0
		for i := lag; i < len(raw); i++ {
			if raw[i] == raw[i-lag] {
				n++
			}
		}
		share[lag] = float64(n) / float64(len(raw)-lag)
		mean += share[lag] / float64(most-leastFrame+1)
	}
	var out []int
	for lag := leastFrame; lag <= most; lag++ {
		if share[lag] > mean+min(repeated, (1-mean)/2) {
			out = append(out, lag)
		}
	}
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(share[b], share[a]) })
	out = out[:min(len(out), mostPeriods)]
	slices.Sort(out)
	return out
}

// frameOf is a frame of that length, nil where none can be told. Noise, or a byte
// that was lost, shifts all that follows: it looks at some frames in a row, in
// several places, and holds what it finds against all that came.
func frameOf(raw []byte, length int) (best *Binary) {
	wide := stretch * length
	for at := 0; at < len(raw) && at < mostStretches*wide/2; at += wide / 2 {
		b := frameIn(raw[at:min(at+wide, len(raw))], raw, length)
		if b == nil {
			continue
		}
		if b.Form.Checksum != trial.SumNone {
			return b
		}
		if best == nil || b.Share > best.Share {
			best = b
		}
	}
	return best
}

func frameIn(part, raw []byte, length int) *Binary {
	rows := cutAt(part, length)
	if len(rows) < leastFrames {
		return nil
	}
	same := make([]bool, length) // a byte that never changes
	value := make([]byte, length)
	any := false
	for at := range length {
		var n [256]int
		for _, r := range rows {
			n[r[at]]++
		}
		for v, k := range n {
			if k > n[value[at]] {
				value[at] = byte(v)
			}
		}
		same[at] = float64(n[value[at]]) >= alike*float64(len(rows))
		any = any || same[at]
	}
	if !any {
		return nil
	}
	// Where it begins: at the byte after a checksum that fits. The exclusive or of a
	// whole frame is 0 wherever it is begun, so of several the one with most sync is
	// taken, and one of zeros last.
	var found *Binary
	for start, tried := 0, 0; start < length && tried < mostStarts; start++ {
		if !same[start] {
			continue
		}
		f, ok := summed(part[start:], start, length, same, runAt(same, value, start))
		if !ok {
			continue
		}
		tried++
		b := tally(raw, f)
		if float64(b.Fits) >= sumFits*float64(b.Frames) && b.Fits >= leastFrames && (found == nil || b.worth() > found.worth()) {
			found = b
		}
	}
	if found != nil {
		found.Form.Sync = plainSync(found.Form.Sync)
		return found
	}
	// None: it begins where most bytes in a row never change.
	best, bestRun := -1, []byte(nil)
	for start := range length {
		if run := runAt(same, value, start); same[start] && !same[(start+length-1)%length] && len(run) > len(bestRun) {
			best, bestRun = start, run
		}
	}
	if best < 0 || len(bestRun) < 2 {
		return nil // one byte alone is found anywhere
	}
	return tally(raw, trial.Frames{Sync: bestRun, Length: length, Checksum: trial.SumNone})
}

// summed is a frame that begins there, with a checksum that fits all but one of
// some in a row.
func summed(part []byte, start, length int, same []bool, sync []byte) (trial.Frames, bool) {
	rows := cutAt(part, length)
	for _, sum := range []string{trial.SumCRC16, trial.SumXor8, trial.SumAdd8} {
		f := trial.Frames{Sync: sync, Length: length, Checksum: sum}
		if !moves(same, start, f.SumBytes()) {
			continue // a checksum that never changes proves nothing
		}
		for from := 0; from <= len(sync) && from < length-f.SumBytes(); from++ {
			f.SumFrom = from
			bad := 0
			for _, r := range rows {
				if bad > 1 {
					break
				}
				if !acquire.FrameFits(r, f) {
					bad++
				}
			}
			if bad <= 1 && len(rows) >= leastFrames-1 {
				return f, true
			}
		}
	}
	return trial.Frames{}, false
}

func (b *Binary) worth() int {
	n := len(b.Form.Sync)
	if b.Form.Sync[0] == 0 {
		n -= mostSync
	}
	if b.Form.Checksum == trial.SumCRC16 {
		n += 2 * mostSync
	}
	return n
}

// plainSync is no more sync than a checksum needs beside it: what never changed
// while listening may be a flag, or the high byte of the number.
func plainSync(sync []byte) []byte {
	if len(sync) > 1 && sync[1] != 0 && sync[1] != 0xff {
		return sync[:2]
	}
	return sync[:1]
}

// moves says that any of the last n bytes before start changes.
func moves(same []bool, start, n int) bool {
	for i := 1; i <= n; i++ {
		if !same[(start-i+len(same))%len(same)] {
			return true
		}
	}
	return false
}

// runAt is the bytes that never change from start on, a few.
func runAt(same []bool, value []byte, start int) (run []byte) {
	for i := range mostSync {
		at := (start + i) % len(same)
		if i >= len(same) || !same[at] {
			break
		}
		run = append(run, value[at])
	}
	return run
}

func cutAt(raw []byte, length int) (rows [][]byte) {
	for at := 0; at+length <= len(raw); at += length {
		rows = append(rows, raw[at:at+length])
	}
	return rows
}

// tally counts the frames of a form as the program finds them when it captures: by
// sync and checksum, a false start costing one byte.
func tally(raw []byte, f trial.Frames) *Binary {
	b := &Binary{Form: f, Frames: len(raw) / f.Length}
	b.Fits, _ = scan(raw, f, nil)
	b.Share = float64(b.Fits*f.Length) / float64(len(raw))
	return b
}

// scan finds frames; each is handed over with where it ends.
func scan(raw []byte, f trial.Frames, each func(frame []byte, end int)) (n, rest int) {
	at := 0
	for at+f.Length <= len(raw) {
		frame := raw[at : at+f.Length]
		if !acquire.FrameFits(frame, f) {
			at++
			continue
		}
		n++
		if each != nil {
			each(frame, at+f.Length)
		}
		at += f.Length
	}
	return n, at
}

// fill works out rate, counters and numbers of all that came.
func (b *Binary) fill(chunks []Chunk) {
	var rows [][]byte
	var times []int64
	var buf []byte
	total := 0
	for _, c := range chunks {
		buf = append(buf, c.Raw...)
		total += len(c.Raw)
		_, rest := scan(buf, b.Form, func(frame []byte, _ int) {
			if len(rows) < mostAnswers {
				rows, times = append(rows, bytes.Clone(frame)), append(times, c.T)
			}
		})
		buf = buf[:copy(buf, buf[rest:])]
	}
	b.Fits, b.Frames = len(rows), total/b.Form.Length
	b.Share = float64(b.Fits*b.Form.Length) / float64(max(total, 1))
	if n := len(times); n > 1 && times[n-1] > times[0] {
		b.Rate = float64(n-1) / (float64(times[n-1]-times[0]) / 1e9)
	}
	if len(rows) < 3 {
		return
	}
	dead := make([]bool, b.Form.Length)
	for at := range dead {
		if at < len(b.Form.Sync) || at >= b.Form.Length-b.Form.SumBytes() {
			dead[at] = true
		} else if countsOn(rows, at) {
			dead[at], b.Counter = true, append(b.Counter, at)
		}
	}
	b.Numbers = findNumbers(rows, 1, dead)
	if len(b.Numbers) > 0 {
		b.Form.At, b.Form.Number = b.Numbers[0].At, b.Numbers[0].Number
	} else {
		b.Notes = append(b.Notes, "no number in it moved: hang something on the cell, or turn the drum, while it listens")
	}
	switch {
	case b.Form.Checksum == trial.SumNone:
		b.Notes = append(b.Notes, "no checksum was found: one of another kind, or none. Without it noise is read as a load: look for one in the box's manual")
	case b.Share < 0.9:
		b.Notes = append(b.Notes, fmt.Sprintf("%.0f %% of the bytes are in no frame: noise, or frames of another length between", 100*(1-b.Share)))
	}
	if b.Rate > 0 && b.Rate < 9.5 {
		b.Notes = append(b.Notes, fmt.Sprintf("%.1f frames a second: peaks are missed under 10 a second; set the box faster if it can", b.Rate))
	}
}

// countsOn says that a byte goes up by one, or by another fixed step, from frame
// to frame.
func countsOn(rows [][]byte, at int) bool {
	var steps [256]int
	for i := 1; i < len(rows); i++ {
		steps[rows[i][at]-rows[i-1][at]]++
	}
	for step, n := range steps {
		if step != 0 && float64(n) >= counts*float64(len(rows)-1) {
			return true
		}
	}
	return false
}

// Block is the table of a trial file that reads the first number.
func (b *Binary) Block(kind, port string, baud int, frame string) string {
	var s strings.Builder
	say := func(format string, a ...any) { fmt.Fprintf(&s, format+"\n", a...) }
	say("[%s]\nport = %q\nbaud = %d\nframe = %q\nkind = \"frames\"", kind, port, baud, frame)
	rest(&s, kind, b.Rate)
	f := b.Form
	say("[%s.frames]\nsync = %q\nlength = %d\nchecksum = %q", kind, strings.ToUpper(hexBytes(f.Sync)), f.Length, f.Checksum)
	if f.Checksum != trial.SumNone {
		say("checksum_from = %d", f.SumFrom)
	}
	if len(b.Numbers) == 0 {
		say("at =            # where the number begins: none moved\nholds = \"\"")
		return s.String()
	}
	say("at = %d\nholds = %q\norder = %q", f.At, f.Number.Holds, f.Number.Order)
	if kind == Load {
		say("factor = 1      # by the display: 0.1 if it shows one decimal, negative if the sign is reversed")
	}
	return s.String()
}

func hexBytes(p []byte) string {
	parts := make([]string, len(p))
	for i := range p {
		parts[i] = hex.EncodeToString(p[i : i+1])
	}
	return strings.Join(parts, " ")
}
