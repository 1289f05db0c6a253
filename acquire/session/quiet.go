package session

import (
	"hawse/acquire"
	"hawse/safety"
)

// What is found of an instrument that has become silent. The alarm is one; whether
// a plug, an adapter, a box or a cable is to be looked at is not.
const (
	quietAway = "away" // its port is gone
	quietHalf = "half" // its port is open: the beginning of a line came, and no more
	quietOpen = "open" // its port is open and gives nothing
)

// tellQuiet says, behind the alarm for the silence of an instrument, how its port
// stands. Half a line cannot be told on a port that is asked: the next question
// forgets it.
func (c *Core) tellQuiet(e safety.Event) {
	src, s := SrcLoad, &c.load
	switch {
	case e.What != safety.AlarmUp:
		return
	case e.Cause == safety.LineSilent:
		src, s = SrcLine, &c.line
	case e.Cause != safety.LoadSilent:
		return
	}
	stands, words := quietOpen, "its port is open and gives nothing"
	switch {
	case !s.up() && s.state != acquire.StateStalled:
		stands, words = quietAway, "its port is away"
		if s.reason != "" {
			words += ": " + s.reason
		}
	case s.bad > s.badThen || c.half(src, s):
		stands, words = quietHalf, "its port is open; the beginning of a line came, then nothing"
	}
	if s.quiet == stands {
		return
	}
	s.quiet = stands
	c.out.Says = append(c.out.Says, say(c.by, "core", text("what", "quiet"), text("port", src), text("stands", stands), text("text", src+": "+words)))
}

// half says whether bytes of an instrument wait for the rest of their line.
func (c *Core) half(src string, s *stream) bool {
	if w := c.wires[src]; w != nil {
		return w.recv.Half()
	}
	return s.framer.Half()
}
