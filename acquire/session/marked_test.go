package session

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hawse/safety"
)

// A screen that comes late has every mark, with its place, though the news it
// came with have long passed.
func TestMarksStayInTheSnapshot(t *testing.T) {
	h := byHand(t)
	h.run(time.Second)
	h.must(safety.Logger, ActMark, "before the rode out was said \x1b[2J"+strings.Repeat("x", 500))
	h.run(2 * time.Second)
	h.must(safety.Director, ActPayout, "60 m")
	h.haul(100, 10)
	x := h.d.Snapshot().Haul.X
	h.must(safety.Logger, ActMark, "felt or heard")
	early := h.d.Snapshot()
	h.do(safety.Watcher, ActPass, "50 m") // refused, so it is no mark
	for i := range newsKept + 5 {
		h.must(safety.Director, ActNote, fmt.Sprint("note ", i))
	}
	h.must(safety.WinchOperator, ActPass, "50 m")
	s := h.d.Snapshot()
	if len(s.Marks) != 3 || s.MarksLeft != 0 {
		t.Fatalf("%d marks, %d left out: %+v; want three", len(s.Marks), s.MarksLeft, s.Marks)
	}
	if a := s.Marks[0]; !math.IsNaN(float64(a.X)) || strings.Contains(a.Text, "\x1b") || len(a.Text) > markLetters+3 {
		t.Errorf("the first mark is %+v; want no place, and a text that is short and visible", a)
	}
	if a := s.Marks[1]; a.X != x || a.Text != "felt or heard" {
		t.Errorf("the second mark is %+v; want it at %v", a, x)
	}
	if a := s.Marks[2]; a.Text != "rode mark passing, rode out 50 m" {
		t.Errorf("the third mark is %+v", a)
	}
	for range marksKept {
		h.must(safety.Logger, ActMark, "again")
	}
	s = h.d.Snapshot()
	if len(s.Marks) != marksKept || s.MarksLeft != 3 {
		t.Errorf("%d marks, %d left out; want %d and 3", len(s.Marks), s.MarksLeft, marksKept)
	}
	if len(early.Marks) != 2 || early.Marks[1].Text != "felt or heard" {
		t.Errorf("a snapshot of before changed: %+v", early.Marks)
	}
	h.end()
	f, _, err := Refold(bytes.NewReader(logOf(h.d)), "test")
	if err != nil || len(f.Diffs) > 0 || fmt.Sprint(f.Snapshot().Marks) != fmt.Sprint(s.Marks) {
		t.Errorf("replay: %v, %v, marks %d", err, f.Diffs, len(f.Snapshot().Marks))
	}
}
