package tui

import (
	"strings"
	"testing"
	"time"

	"hawse/safety"
	"hawse/trial"
)

// The bytes of a notice, and what hostile words leave of themselves in it.
func TestNotice(t *testing.T) {
	for _, tt := range []struct{ way, words, want string }{
		{"", "STOP: X", ""},
		{"osc1337", "STOP: X", ""},
		{trial.NotifyOSC9, "STOP: LOAD ABOVE STOP LIMIT, run A1", "\x1b]9;Hawse: STOP: LOAD ABOVE STOP LIMIT, run A1\x1b\\"},
		{trial.NotifyOSC777, "STOP: X", "\x1b]777;notify;Hawse;STOP: X\x1b\\"},
		{trial.NotifyOSC777, "a;b", "\x1b]777;notify;Hawse;a,b\x1b\\"},
		{trial.NotifyOSC9, "a\x07\x1b\\\x1b[2Jb\u009cc\u202ed\r\ne\x00\x7f\xff", "\x1b]9;Hawse: a\\[2Jbcde\x1b\\"},
		{trial.NotifyOSC9, strings.Repeat("x", 5000), "\x1b]9;Hawse: " + strings.Repeat("x", 100) + "\x1b\\"},
	} {
		if got := string(notice(tt.way, tt.words)); got != tt.want {
			t.Errorf("notice(%q, %.40q) = %q, want %q", tt.way, tt.words, got, tt.want)
		}
	}
}

// emergency puts a trip nobody has acknowledged into what the bench shows.
func (b *bench) emergency(c safety.Cause) {
	s := *b.view.snap
	tripped(&s, c, 8000, 8000, safety.OrderStop)
	b.view.set(&s)
}

// A notice is asked for once, where it is allowed alone.
func TestNoticeIsAskedForOnce(t *testing.T) {
	for way, want := range map[string]string{"": "", trial.NotifyOSC9: "\x1b]9;Hawse: STOP: " + safety.TensionLimit.Title() + ", run A1\x1b\\"} {
		b := newBench(t, "pull")
		b.m.notify = way
		s := *b.view.snap
		s.Mode = "live"
		b.view.set(&s)
		b.tick()
		b.emergency(safety.TensionLimit)
		runCmd(b.tick())
		for range 20 {
			b.now = b.now.Add(time.Second)
			runCmd(b.tick())
		}
		if got := string(b.term.told); got != want {
			t.Errorf("allowed %q: told %q, want %q", way, got, want)
		}
	}
}

// The bell rings on until the emergency is seen to; silence acknowledges nothing,
// and does not outlast the next emergency.
func TestSilenceDoesNotAcknowledge(t *testing.T) {
	b := newBench(t, "pull")
	b.emergency(safety.TensionLimit)
	runCmd(b.tick())
	wait := func(d time.Duration) {
		for end := b.now.Add(d); b.now.Before(end); {
			b.now = b.now.Add(500 * time.Millisecond)
			runCmd(b.tick())
		}
	}
	wait(11 * time.Second)
	if b.term.rings != 3 {
		t.Errorf("%d rings in 11 s of an emergency, want 3", b.term.rings)
	}
	b.press("b")
	wait(30 * time.Second)
	if b.term.rings != 3 || len(b.view.did()) > 0 {
		t.Errorf("silenced: %d rings, acts %v; want none of either", b.term.rings, b.view.did())
	}
	if !strings.Contains(b.m.View(), "NOT ACKNOWLEDGED") && !strings.Contains(b.m.View(), "not acknowledged") {
		t.Errorf("silenced, the screen no longer says that nothing is acknowledged:\n%s", b.m.View())
	}
	s := *b.view.snap
	s.Guard.Alarms[safety.LoadSilent] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Emergency, Since: s.T}
	b.view.set(&s)
	runCmd(b.tick())
	wait(6 * time.Second)
	if b.term.rings != 5 {
		t.Errorf("another emergency: %d rings, want 2 more", b.term.rings)
	}
	s = *b.view.snap
	for c := range s.Guard.Alarms {
		if s.Guard.Alarms[c].State == safety.Unacknowledged {
			s.Guard.Alarms[c].State = safety.Acknowledged
		}
	}
	b.view.set(&s)
	runCmd(b.tick())
	wait(20 * time.Second)
	if b.term.rings != 5 {
		t.Errorf("acknowledged: %d rings, want no more", b.term.rings)
	}
}
