package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// headless prints a status line a second and every piece of news at once, until
// done is closed. Output that nobody takes is dropped: it holds up nothing.
func headless(v session.View, out io.Writer, done <-chan struct{}) {
	lines := make(chan string, 256)
	finished := make(chan struct{})
	go func() {
		defer close(finished)
		for l := range lines {
			io.WriteString(out, l)
		}
	}()
	tell := func(l string) {
		select {
		case lines <- l + "\n":
		default:
		}
	}
	var seen uint64
	last := int64(-1)
	var mute time.Time // when its silence was last told
	look := func() {
		s := v.Snapshot()
		for i := len(s.News) - 1; i >= 0; i-- { // oldest first
			n := s.News[i]
			if n.Seq <= seen {
				continue
			}
			seen = n.Seq
			mark := "  "
			if n.Loud {
				mark = "! "
			}
			tell(fmt.Sprintf("%s %s%s", stamp(n.T), mark, n.Text))
		}
		if quiet := time.Since(s.Made); quiet > time.Second && !s.Ended && time.Since(mute) > time.Second {
			mute = time.Now()
			tell(fmt.Sprintf("! the guard has not answered for %.0f s: tension unknown, treat as loaded", quiet.Seconds()))
		}
		if sec := s.T / 1e9; sec > last {
			last = sec
			tell(statusLine(s))
		}
	}
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for running := true; running; {
		select {
		case <-tick.C:
		case <-done:
			running = false
		}
		look()
	}
	close(lines)
	select {
	case <-finished:
	case <-time.After(time.Second): // a blocked pipe does not keep the program
	}
}

func stamp(t int64) string { return fmt.Sprintf("%8.1f s", float64(t)/1e9) }

// statusLine is one line for people; programs take 'hawse call status --json'.
func statusLine(s *session.Snapshot) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s   %-8s ", stamp(s.T), s.Guard.Stage)
	switch {
	case s.Guard.Order != safety.NoOrder:
		fmt.Fprintf(&b, "%s (%s) ", s.Guard.Order, s.Guard.Stop.Cause.Title())
	case s.Guard.Permit:
		b.WriteString("haul permitted ")
	default:
		b.WriteString("haul not permitted ")
		if n := toDo(s); n > 0 {
			fmt.Fprintf(&b, "(%d to do before arming) ", n)
		}
	}
	show := trial.Show{}
	if s.Trial != nil {
		show = s.Trial.Show
	}
	switch {
	case s.Tension.Known:
		fmt.Fprintf(&b, " tension %.2f %s (%.1f s old)", float64(s.Tension.Now)/show.Tension.N, show.Tension.Name, age(s, s.Tension.At))
	case s.Guard.Cell != safety.CellOn:
		b.WriteString(" tension not measured: treat as loaded")
	default:
		b.WriteString(" tension unknown: treat as loaded")
		switch l := s.Load; {
		case l.State == acquire.StateOpen && l.LastText != "":
			fmt.Fprintf(&b, " (load port: last line \u201c%s\u201d)", l.LastText)
		case l.Reason != "":
			fmt.Fprintf(&b, " (load port: %s)", l.Reason)
		}
	}
	if s.Haul.Known {
		fmt.Fprintf(&b, "  hauled %.2f %s", float64(s.Haul.X)/show.Length.M, show.Length.Name)
		if !math.IsNaN(float64(s.Haul.Speed)) {
			fmt.Fprintf(&b, " at %.1f %s", float64(s.Haul.Speed)/show.Speed.MPS, show.Speed.Name)
		}
		if s.Haul.ScopeOK {
			fmt.Fprintf(&b, "  scope %.2f", s.Haul.Scope)
		}
	} else {
		b.WriteString("  hauled unknown")
	}
	fmt.Fprintf(&b, "  %s", s.Phase)
	if a := s.Anchor; a.HasTravel {
		m := show.Length.M
		fmt.Fprintf(&b, "  anchor came %.2f +- %.2f %s", float64(a.Travel)/m, float64(a.TravelU)/m, show.Length.Name)
	}
	if s.Log.Path != "" && s.Mode != "replay" {
		fmt.Fprintf(&b, "  log %d kB, on disk to %.1f s ago, lost %d", s.Log.Bytes/1000, float64(s.Log.OldestAge)/1e9, s.Log.Lost)
	}
	if s.Log.Fault != "" {
		b.WriteString("  RECORD FAILING: " + s.Log.Fault)
	}
	return b.String()
}

// toDo is how many lines of the list before arming are open.
func toDo(s *session.Snapshot) (n int) {
	for _, l := range s.Checklist {
		if !l.Good() {
			n++
		}
	}
	return n
}

func age(s *session.Snapshot, at int64) float64 { return float64(s.T-at) / 1e9 }
