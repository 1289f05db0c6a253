package bench

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
	"hawse/trial"
)

// run runs a bench and returns what it printed.
func run(args ...string) (out string, err error) {
	var b bytes.Buffer
	c := Command()
	c.SilenceErrors, c.SilenceUsage = true, true
	c.SetArgs(args)
	c.SetOut(&b)
	c.SetErr(io.Discard)
	err = c.Execute()
	return b.String(), err
}

// linesOf is the lines of these numbers as one instrument sends them.
func linesOf(box instrument, numbers ...int) (b []byte) {
	for _, n := range numbers {
		b = box.append(b, n, n)
	}
	return b
}

func TestScorer(t *testing.T) {
	box := newBoxes(100, 20, time.Minute)[loadCell]
	one := string(linesOf(box, 1))
	tests := []struct {
		name   string
		stream string
		want   score
	}{
		{"nothing came", "", score{sent: 3, lost: 3}},
		{"all came", string(linesOf(box, 1, 2, 3)), score{sent: 3, captured: 3}},
		{"uncounted lines between", string(linesOf(box, 0, 1, 0, 2, 3, 0)), score{sent: 3, captured: 3}},
		{"one lost", string(linesOf(box, 1, 3)), score{sent: 3, captured: 2, lost: 1}},
		{"two changed places", string(linesOf(box, 2, 1, 3)), score{sent: 3, captured: 3, reordered: 1}},
		{"one came twice", string(linesOf(box, 1, 2, 2, 3)), score{sent: 3, captured: 3, duplicated: 1}},
		{"a digit altered", strings.Replace(one, "100.1", "900.1", 1) + string(linesOf(box, 2, 3)), score{sent: 3, captured: 2, lost: 1, altered: 1}},
		{"two lines run together", strings.TrimSuffix(one, "\r\n") + string(linesOf(box, 2, 3)), score{sent: 3, captured: 1, lost: 2, altered: 1}},
		{"the CR lost", strings.Replace(one, "\r", "", 1) + string(linesOf(box, 2, 3)), score{sent: 3, captured: 2, lost: 1, altered: 1}},
		{"a number never sent", string(linesOf(box, 1, 2, 3, 4)), score{sent: 3, captured: 3, altered: 1}},
		{"not a line of ours", one + "OL\r\n" + string(linesOf(box, 2, 3)), score{sent: 3, captured: 3, altered: 1}},
		{"half a line at the end", string(linesOf(box, 1, 2)) + one[:9], score{sent: 3, captured: 2, lost: 1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newScorer(box, tt.want.sent)
			s.feed([]byte(tt.stream))
			if got := s.result(); got != tt.want {
				t.Errorf("score of %q:\n got %+v\nwant %+v", tt.stream, got, tt.want)
			}
			if whole := tt.want == (score{sent: 3, captured: 3}); (s.result().bad() == "") != whole {
				t.Errorf("bad() = %q, want words: %v", s.result().bad(), !whole)
			}
		})
	}
}

// TestScorerCountsAnyOrder: whatever is dropped, doubled or moved, and however
// the stream is cut, the counts are those of the numbers that came.
func TestScorerCountsAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const sent = 20
		box := newBoxes(10, 20, time.Second)[rapid.IntRange(0, instruments-1).Draw(t, "box")]
		came := rapid.SliceOf(rapid.IntRange(0, sent)).Draw(t, "came")
		want, highest, seen := score{sent: sent}, 0, map[int]bool{}
		for _, n := range came {
			switch {
			case n == 0:
				continue
			case seen[n]:
				want.duplicated++
				continue
			case n < highest:
				want.reordered++
			}
			seen[n], highest = true, max(highest, n)
		}
		want.captured = len(seen)
		want.lost = sent - want.captured
		s, stream := newScorer(box, sent), linesOf(box, came...)
		for len(stream) > 0 {
			n := rapid.IntRange(1, len(stream)).Draw(t, "piece")
			s.feed(stream[:n])
			stream = stream[n:]
		}
		if got := s.result(); got != want {
			t.Errorf("score of %v:\n got %+v\nwant %+v", came, got, want)
		}
	})
}

func TestScorerBoundsAStreamWithoutLineEnds(t *testing.T) {
	s := newScorer(newBoxes(10, 20, time.Second)[loadCell], 1)
	for range 3 {
		s.feed(bytes.Repeat([]byte("x"), longestHalf))
	}
	if len(s.half) > longestHalf || s.s.altered == 0 {
		t.Errorf("after 3 MiB without a line end: %d bytes held, %d altered; want at most %d held and altered counted", len(s.half), s.s.altered, longestHalf)
	}
}

// writeLog writes records as a raw log.
func writeLog(t *testing.T, recs ...logfmt.Record) string {
	t.Helper()
	var b []byte
	prev := uint32(0)
	for i := range recs {
		recs[i].N = uint64(i + 1)
		b, prev = logfmt.AppendRecord(b, &recs[i], prev)
	}
	path := filepath.Join(t.TempDir(), "test.log")
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func record(t int64, kind logfmt.Kind, kv ...string) logfmt.Record {
	r := logfmt.Record{T: t, Kind: kind}
	for i := 0; i < len(kv); i += 2 {
		r.Fields = append(r.Fields, logfmt.Field{Key: kv[i], Val: kv[i+1]})
	}
	return r
}

func TestScoreLog(t *testing.T) {
	boxes := newBoxes(100, 20, time.Minute)
	load, line := string(linesOf(boxes[loadCell], 1, 2)), string(linesOf(boxes[encoder], 1, 2))
	path := writeLog(t,
		record(1, logfmt.Rx, "src", "load", "raw", load[:30]), // a cut in the middle of line 2
		record(2, logfmt.Rx, "src", "line", "raw", line),
		record(3, logfmt.Tx, "src", "stop", "raw", load),
		record(4, logfmt.Say, "src", "load", "raw", load),
		record(5, logfmt.Rx, "src", "load", "raw", load[30:]))
	var to [instruments]*scorer
	for i := range to {
		to[i] = newScorer(boxes[i], 2)
	}
	if err := scoreLog(context.Background(), path, to); err != nil {
		t.Fatal(err)
	}
	for i := range to {
		if got, want := to[i].result(), (score{sent: 2, captured: 2}); got != want {
			t.Errorf("%s: got %+v, want %+v", sources[i], got, want)
		}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	b[20] ^= 1
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := scoreLog(context.Background(), path, to); err == nil {
		t.Error("a log with a flipped bit was scored; want an error")
	}
}

func TestScoreStamped(t *testing.T) {
	box := newBoxes(100, 20, time.Minute)[encoder]
	var file []byte
	for n := range 4 {
		file = append(file, "1770000000.123456 "...)
		file = append(file, linesOf(box, n)...)
	}
	cut := stampCutter{to: newScorer(box, 3)}
	for p := range slices.Chunk(file, 7) {
		if n, err := cut.Write(p); n != len(p) || err != nil {
			t.Fatalf("Write = %d, %v; want %d, nil", n, err, len(p))
		}
	}
	if got, want := cut.to.result(), (score{sent: 3, captured: 3}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestTailer(t *testing.T) {
	boxes := newBoxes(100, 20, time.Minute)
	path := filepath.Join(t.TempDir(), "grows")
	tail := newTailer(3, path)
	defer tail.close()
	at := int64(0)
	look := func() {
		t.Helper()
		at += 10
		if err := tail.look(func() int64 { return at }); err != nil {
			t.Fatal(err)
		}
	}
	look() // it is not there yet
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	add := func(s string) {
		t.Helper()
		if _, err := f.WriteString(s); err != nil {
			t.Fatal(err)
		}
	}
	load := func(n int) string { return "t=1.0 raw=\"" + string(linesOf(boxes[loadCell], n)) }
	add("# a head with a mark and no number #1234\n" + load(0) + load(1) + load(2)[:25])
	look() // 20: line 1, and half of 2
	look() // 30: nothing new
	add(load(2)[25:])
	look() // 40
	add(string(linesOf(boxes[encoder], 3)) + load(1))
	look() // 50: line 1 once more does not count
	if want := []int64{20, 40, 0}; !slices.Equal(tail.seen[loadCell], want) {
		t.Errorf("load seen at %v, want %v", tail.seen[loadCell], want)
	}
	if want := []int64{0, 0, 50}; !slices.Equal(tail.seen[encoder], want) {
		t.Errorf("line seen at %v, want %v", tail.seen[encoder], want)
	}
	if a, b := tail.last[loadCell].Load(), tail.last[encoder].Load(); a != 2 || b != 3 {
		t.Errorf("highest seen %d and %d, want 2 and 3", a, b)
	}
	ns, late := tail.delays(loadCell, []int64{5, 10, 15}, 20)
	if want := []int64{15, 30}; !slices.Equal(ns, want) || late != 1 {
		t.Errorf("delays = %v, %d late; want %v, 1", ns, late, want)
	}
}

func TestSpread(t *testing.T) {
	hundred := make([]int64, 100)
	for i := range hundred {
		hundred[i] = int64(i + 1)
	}
	rand.Shuffle(len(hundred), func(i, j int) { hundred[i], hundred[j] = hundred[j], hundred[i] })
	tests := []struct {
		name string
		ns   []int64
		want spread
	}{
		{"none", nil, spread{}},
		{"one", []int64{7}, spread{1, 7, 7, 7}},
		{"two", []int64{9, 3}, spread{2, 3, 9, 9}},
		{"a hundred, in any order", hundred, spread{100, 50, 99, 100}},
		{"a hundred and one", append(hundred[:100:100], 1000), spread{101, 51, 100, 1000}},
	}
	for _, tt := range tests {
		if got := spreadOf(tt.ns); got != tt.want {
			t.Errorf("%s: %+v, want %+v", tt.name, got, tt.want)
		}
	}
}

// TestLinesAreTheTrials: what the bench sends is what its trial file
// tells a capture to read.
func TestLinesAreTheTrials(t *testing.T) {
	text, err := trialFile(1000, "/dev/pts/1", "/dev/pts/2", "/dev/pts/3")
	if err != nil {
		t.Fatal(err)
	}
	tr, err := trial.ParseTrial("trial.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	load, err := acquire.NewLoadDecoder(tr.Load)
	if err != nil {
		t.Fatal(err)
	}
	line, err := acquire.NewLineDecoder(tr.Line)
	if err != nil {
		t.Fatal(err)
	}
	pull := tr.Limits[trial.Pull]
	boxes := newBoxes(1000, floodSpan, time.Minute)
	for _, n := range []int{0, 1, 3999, 60_000, mostLines} {
		frame := bytes.TrimRight(boxes[loadCell].append(nil, n, n), "\r\n")
		if r := load.Decode(frame); r.Kind != acquire.Good || !(r.Tension < pull.TensionWarn) {
			t.Errorf("load line %q reads %v, %v: want good and below the warning, %v", frame, r.Kind, r.Tension, pull.TensionWarn)
		}
		frame = bytes.TrimRight(boxes[encoder].append(nil, n, n), "\r\n")
		r := line.Decode(frame)
		if hauled := trial.Length(float64(r.Counts) / tr.Line.PerMetre); r.Kind != acquire.Good || hauled > floodSpan || !(hauled < pull.Haul) {
			t.Errorf("encoder line %q reads %v, %v hauled: want good and within %v m", frame, r.Kind, hauled, floodSpan)
		}
		if got, ok := numberAfter(frame, numberMarks[encoder]); !ok || got != n {
			t.Errorf("number in %q = %d, %v; want %d", frame, got, ok, n)
		}
	}
	if r := load.Decode([]byte("OL")); r.Kind != acquire.OverRange {
		t.Errorf("OL reads %v, want over range", r.Kind)
	}
}

// slowView has folded a fixed number of lines.
type slowView struct{ snap session.Snapshot }

func (v slowView) Snapshot() *session.Snapshot                       { return &v.snap }
func (v slowView) Trace(session.TraceQuery, []trial.Col) []trial.Col { return nil }
func (v slowView) Segments() []trial.Segment                         { return nil }
func (v slowView) Do(session.Act)                                    {}

type stillClock struct{ now int64 }

func (c *stillClock) Now() int64 { return c.now }

func TestFeedSpeaksByTheClockAndWaitsForTheCapture(t *testing.T) {
	clock := &stillClock{}
	boxes := newBoxes(100, 20, time.Hour)
	f := newFeed(clock, 100, boxes)
	conn, err := f.dial("load", trial.Port{})
	if err != nil {
		t.Fatal(err)
	}
	s := newScorer(boxes[loadCell], 100_000)
	buf := make([]byte, 100) // less than whole lines
	drain := func() int {
		for n := 1; n > 0; {
			n = conn.(*feedConn).fill(buf)
			s.feed(buf[:n])
		}
		return s.result().captured
	}
	if n := drain(); n != 0 {
		t.Errorf("%d lines before anybody watches, want 0", n)
	}
	f.watch(slowView{})
	f.goOn(500)
	clock.now = 3e9
	if n := drain(); n != 300 {
		t.Errorf("%d lines after 3 s at 100 a second, want 300", n)
	}
	clock.now = 60e9
	if n := drain(); n != 500 {
		t.Errorf("%d lines after a minute, want the 500 asked for", n)
	}
	f.goOn(100_000)
	clock.now += 1000e9
	if n := drain(); n != feedLead {
		t.Errorf("%d lines to a capture that folds none, want no more than %d", n, feedLead)
	}
	if got := s.result(); got.altered+got.reordered+got.duplicated != 0 {
		t.Errorf("score %+v, want every line as it is made", got)
	}
	if err := conn.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := conn.Read(buf); !errors.Is(err, acquire.ErrClosed) {
		t.Errorf("Read after Close: %v, want ErrClosed", err)
	}
}

func TestRefusesBadFlags(t *testing.T) {
	for _, args := range []string{"flood --rate 0", "idle --size 20x10", "idle --size wide", "idle --rate 0", "flood --rate 99999", "flood --for 1ms", "flood --rate 20000 --for 24h", "flood --screen maybe",
		"flood extra", "stop --screen blocked", "stop --cycles 0", "versus --rounds 0", "idle --for 25h", "long --hours 0", "long --scale 0.5", "report --pulls 0", "pulls --pulls 0", "tide"} {
		if _, err := run(strings.Fields(args)...); cli.Code(err) != cli.ExitUsage {
			t.Errorf("bench %s: %v; want it refused as a wrong command line", args, err)
		}
	}
}
