package dryrun

import (
	"testing"

	"hawse/acquire/session"
)

// Stops and stages that the Judge is told of are no samples: what can be
// jumped to in the course of a pull lies where the line was.
func TestCourseHasSamplesAlone(t *testing.T) {
	_, path := playedLog(t, "called-stop", 1)
	pulls, faults := session.FindPulls([]string{path}, nil)
	if len(pulls) != 1 || len(faults) > 0 {
		t.Fatalf("%d pulls, %v", len(pulls), faults)
	}
	c, err := session.ReadCourse(pulls[0].Parts, func() error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	last := c.Pull.Stamps[len(c.Pull.Stamps)-1]
	for _, p := range c.Points {
		if p.T > c.Pull.T0+5*second && p.T <= last.T && !(p.X > 0) {
			t.Errorf("%q at %.1f s lies at %v m hauled; the line has come %v m", p.Text, float64(p.T)/1e9, p.X, last.X)
		}
	}
}
