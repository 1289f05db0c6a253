package tui

import (
	"math"
	"time"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// fitInstruments adds all that a trial may have besides: a pin in the roller that
// guards, a second cell that disagrees, and the vessel's own. Invented.
func fitInstruments(s *session.Snapshot) {
	deg := math.Pi / 180
	t := *s.Trial
	t.Load.Sits = trial.SitsRoller
	t.Others = []trial.OtherCell{{Table: "load2", LoadCell: trial.LoadCell{Sits: trial.SitsOutboard, Rate: 10}}}
	s.Trial = &t
	now := s.Tension.Now
	s.Tension.Pin = &session.Pin{Felt: now / 5, Likely: now * 0.92, U: now * 0.04, Bend: trial.Angle(17.4 * deg)}
	stream := func(src, last string, rate float64) session.Stream {
		return session.Stream{Src: src, Port: "/dev/" + src, State: "open", LastAt: s.T - second/5, HeardAt: s.T - second/5, Rate: rate, Good: 4000, Bad: 1, LastText: last}
	}
	s.Load.Late, s.Load.Bursts = 30, 1
	s.Cells = []session.CellShot{{Stream: stream("load2", "+0512.3 lbf", 10), Place: "outboard", Sits: "outboard", Tension: now / 2, Zero: session.Zero{Known: true}, Apart: now / 3}}
	s.Guard.Alarms[safety.CellsDisagree] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: s.T - 4*second, Value: float64(now / 3)}
	a := &s.Aids
	a.Depth, a.Position, a.Heading, a.Clock = stream("depth", "$SDDPT,5.9,0.6*57", 1), stream("position", "$GPGGA,...", 1), stream("heading", "$HEHDT,231.0,T*2C", 1), stream("clock", "$GPZDA,...", 1)
	a.Sounded, a.SoundedAt, a.Refused, a.Hand = 6.02, s.T, trial.Length(math.NaN()), 6
	a.Lat, a.Lon, a.Course = 50.75120, -1.30440, trial.Angle(231*deg)
	a.HasMoved, a.Along, a.Across, a.Uncertain = true, 0.8, -0.3, 1.5
	a.ClockKnown, a.ClockOff = true, 400*time.Millisecond
}
