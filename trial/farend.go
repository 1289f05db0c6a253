package trial

import "math"

// FarEnd is what the statics, the reference levels and the travel make of the
// samples of one pull: what the anchor feels, and how far it has come. It is pure:
// the same samples give the same numbers, whoever asks.
type FarEnd struct {
	hang   *Hang
	along  *Along
	travel *Travel
	bare   Force // at the last sample; 0 unknown
	dead   Force
}

// NewFarEnd is for one run of a trial.
func NewFarEnd(t *Trial, run Run) FarEnd {
	return FarEnd{hang: NewHang(t), travel: NewTravel(t.Load), along: NewAlong(t, run, t.Limits[Pull].Haul)}
}

// Solve gives a sample what the statics and the levels make of it.
func (s *FarEnd) Solve(r *Reading) {
	out, height := orNaN(r.RodeOut), orNaN(r.Height)
	s.hang.Follow(r.Tension, r.X, out, height)
	if st, ok := s.hang.State(); ok && !math.IsInf(st.StiffnessCounted, 1) {
		r.Stiff = st.StiffnessCounted
	}
	s.bare, s.dead = s.along.At(out, height)
	r.Bare, r.Dead = s.bare, s.dead
	s.travel.pinU = s.travel.cell.pinUncertain(r)
	s.travel.Add(r.Stage, r.Tension, r.X, s.dead, s.hang)
	r.Travel, _, _ = s.travel.Now()
}

// Lose is the tension not known, and why: nothing is known of the anchor then.
func (s *FarEnd) Lose(why error) {
	s.hang.Gap(why)
	s.travel.Gap()
}

// Levels are the reference levels at the last sample, 0 unknown, and where they
// come from.
func (s *FarEnd) Levels() (bare, dead Force, source string) { return s.bare, s.dead, s.along.Source() }

// Hang is the statics of the rode.
func (s *FarEnd) Hang() *Hang { return s.hang }

// Travel is that of the anchor.
func (s *FarEnd) Travel() *Travel { return s.travel }

// Moved says how far the vessel has moved towards the anchor since the haul began.
func (s *FarEnd) Moved(by, u Length) { s.travel.Moved(by, u) }

// GoOn takes over the travel of a pull that broke off.
func (s *FarEnd) GoOn(c Came) { s.travel.GoOn(c) }

// orNaN is a length of a [Point] as the statics take it.
func orNaN(l Length) Length {
	if l == 0 {
		return Length(math.NaN())
	}
	return l
}
