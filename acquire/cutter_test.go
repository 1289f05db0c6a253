package acquire

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestCutter(t *testing.T) {
	const ms = int64(1e6)
	full := strings.Repeat("x", MaxCut)
	type step struct {
		at int64  // ms
		do string // bytes of one Read; "idle" and "lost" in angle brackets
	}
	tests := []struct {
		name  string
		steps []step
		want  []Cut
	}{
		{"a line", []step{{5, "ab\r\n"}}, []Cut{{5 * ms, 5 * ms, 1, CutEnd, []byte("ab\r\n")}}},
		{"three lines in one read", []step{{5, "a\nb\rc\r\n"}}, []Cut{
			{5 * ms, 5 * ms, 1, CutEnd, []byte("a\n")}, {5 * ms, 5 * ms, 1, CutEnd, []byte("b\r")}, {5 * ms, 5 * ms, 1, CutEnd, []byte("c\r\n")}}},
		{"a line in three reads", []step{{5, "+003"}, {7, "12.4"}, {9, " lb\r\n"}}, []Cut{{5 * ms, 9 * ms, 3, CutEnd, []byte("+00312.4 lb\r\n")}}},
		{"CR waits for nothing", []step{{5, "ab\r"}, {6, "\ncd\n"}}, []Cut{
			{5 * ms, 5 * ms, 1, CutEnd, []byte("ab\r")}, {6 * ms, 6 * ms, 2, CutEnd, []byte("\n")}, {6 * ms, 6 * ms, 2, CutEnd, []byte("cd\n")}}},
		{"not silent long enough", []step{{5, "+003"}, {104, "<idle>"}}, nil},
		{"half a line and silence", []step{{5, "+0"}, {6, "03"}, {106, "<idle>"}, {110, "12\n"}}, []Cut{
			{5 * ms, 6 * ms, 2, CutIdle, []byte("+003")}, {110 * ms, 110 * ms, 3, CutEnd, []byte("12\n")}}},
		{"bytes without end", []step{{5, "a"}, {90, "b"}, {175, "c"}, {254, "d"}, {255, "e"}, {340, "f"}, {341, "\n"}}, []Cut{
			{5 * ms, 255 * ms, 5, CutLong, []byte("abcde")}, {340 * ms, 341 * ms, 7, CutEnd, []byte("f\n")}}},
		{"silence alone", []step{{5, "a\n"}, {500, "<idle>"}}, []Cut{{5 * ms, 5 * ms, 1, CutEnd, []byte("a\n")}}},
		{"lost", []step{{5, "a\n+003"}, {6, "<lost>"}}, []Cut{
			{5 * ms, 5 * ms, 1, CutEnd, []byte("a\n")}, {5 * ms, 5 * ms, 1, CutLost, []byte("+003")}}},
		{"full in one read", []step{{5, full + "y\n"}}, []Cut{
			{5 * ms, 5 * ms, 1, CutFull, []byte(full)}, {5 * ms, 5 * ms, 1, CutEnd, []byte("y\n")}}},
		{"full over two reads", []step{{5, full[1:]}, {6, "xy"}, {7, "\n"}}, []Cut{
			{5 * ms, 6 * ms, 2, CutFull, []byte(full)}, {6 * ms, 7 * ms, 3, CutEnd, []byte("y\n")}}},
		{"a line that just fits", []step{{5, full[1:] + "\n"}}, []Cut{{5 * ms, 5 * ms, 1, CutEnd, []byte(full[1:] + "\n")}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var got []Cut
			emit := func(c Cut) { got = append(got, c) }
			c, chunk := NewCutter(), uint64(0)
			for _, s := range tt.steps {
				switch s.do {
				case "<idle>":
					c.Idle(s.at*ms, emit)
				case "<lost>":
					c.Lost(s.at*ms, emit)
				default:
					chunk++
					c.Push(s.at*ms, chunk, []byte(s.do), emit)
				}
			}
			if diff := cmp.Diff(tt.want, got); diff != "" {
				t.Errorf("cuts (-want +got):\n%s", diff)
			}
		})
	}
}

// Any stream in any Reads with silences anywhere: the cuts joined are the
// stream, their times and numbers are in order, and they frame like the stream.
func TestCutterLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stream := wireBytes().Draw(t, "stream")
		var cuts []Cut
		emit := func(c Cut) { cuts = append(cuts, c) }
		c, now := NewCutter(), int64(0)
		starts := map[int]int64{} // offset of each Read in the stream: its time
		at := 0
		for i, p := range chunks(t, stream) {
			now += rapid.Int64Range(0, 2*idleAfter).Draw(t, "gap")
			if rapid.Bool().Draw(t, "idle") {
				c.Idle(now, emit)
			}
			starts[at] = now
			p = bytes.Clone(p)
			c.Push(now, uint64(i+1), p, emit)
			at += len(p)
			clear(p) // the caller's buffer is used again
		}
		c.Lost(now, emit)

		var joined []byte
		var raws [][]byte
		readTime := int64(0)
		last := Cut{}
		for _, cut := range cuts {
			if len(cut.Raw) == 0 || len(cut.Raw) > MaxCut || cap(cut.Raw) != len(cut.Raw) {
				t.Fatalf("cut of %d bytes with room for %d; want 1 to %d and no room", len(cut.Raw), cap(cut.Raw), MaxCut)
			}
			for i := range cut.Raw {
				if s, ok := starts[len(joined)+i]; ok {
					readTime = s
				}
				if i == 0 && cut.T0 != readTime || i == len(cut.Raw)-1 && cut.T != readTime {
					t.Fatalf("cut %+v: byte %d came with the Read at %d", cut, i, readTime)
				}
			}
			if cut.T0 < last.T || cut.T < cut.T0 || cut.Chunk < last.Chunk {
				t.Fatalf("cut %+v comes after %+v", cut, last)
			}
			last = cut
			joined = append(joined, cut.Raw...)
			raws = append(raws, cut.Raw)
		}
		if !bytes.Equal(joined, stream) {
			t.Fatalf("cuts joined: %q\nthe stream:  %q", joined, stream)
		}
		if diff := cmp.Diff(framesOf(stream), framesOf(raws...)); diff != "" {
			t.Fatalf("frames of the stream (-) and of its cuts (+):\n%s", diff)
		}
	})
}
