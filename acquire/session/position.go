package session

import (
	"fmt"
	"math"

	"hawse/acquire"
	"hawse/trial"
)

// place is a point of the plane through the first fix of the run, m.
type place struct{ north, east float64 }

// track is where the fairlead is, by satellites.
type track struct {
	s        stream
	lat, lon float64 // of the antenna, degrees; NaN unknown
	quality  int
	at       int64

	origin  struct{ lat, lon float64 } // degrees: the first fix
	hasZero bool
	zero    place // of the fairlead at the last fix

	ring [fixes]struct {
		t int64
		place
	}
	n int

	stage   trial.Stage
	from    place   // where the fairlead was when the pull began
	hasFrom bool    // known
	lead    float64 // the way to the anchor then, rad from north; NaN unknown
	gone    bool    // that there is no fix was told
	told    int     // how often the vessel's moving was told, in steps
}

// How a position is used: common practice, no source.
const (
	fixes     = 32
	fixesOver = 10e9 // ns: the mean of so long is where the vessel is
	driftTold = 2.0  // m: moving is told from here, and from each such step more
	driftSure = 3.0  // times its uncertainty a movement must be to be told
)

func (p *track) begin() {
	p.lat, p.lon, p.at, p.lead = math.NaN(), math.NaN(), -1, math.NaN()
}

// Radii of the Earth's ellipsoid, WGS 84: NGA.STND.0036, table 3.1 (from memory).
const (
	wgsA = 6378137.0
	wgsF = 1 / 298.257223563
)

// onPlane is where a position lies, seen from an origin, degrees in and metres
// out: the radii of curvature at the middle latitude. Within a kilometre it is
// good to a tenth of a millimetre.
func onPlane(lat0, lon0, lat, lon float64) place {
	const deg = math.Pi / 180
	const e2 = wgsF * (2 - wgsF)
	s := math.Sin((lat0 + lat) / 2 * deg)
	w := 1 - e2*s*s
	return place{
		north: (lat - lat0) * deg * wgsA * (1 - e2) / (w * math.Sqrt(w)),
		east:  math.Remainder(lon-lon0, 360) * deg * wgsA / math.Sqrt(w) * math.Cos((lat0+lat)/2*deg),
	}
}

func (c *Core) positionFrame(frame []byte, bad string) {
	p := &c.aids.position
	var r acquire.PositionReading
	if bad == "" {
		r = acquire.DecodePosition(frame)
	}
	good := bad == "" && r.Kind == acquire.Good
	if p.s.count(c.t, frame, good); !good {
		return
	}
	if p.quality = r.Quality; math.IsNaN(r.Lat) {
		return // no fix is no position
	}
	p.lat, p.lon, p.at = r.Lat, r.Lon, c.t
	if p.gone {
		p.gone = false
		c.tell(c.by, "the satellite receiver tells a position again", text("what", "position"), text("state", "heard"))
	}
	if !p.hasZero {
		p.hasZero, p.origin.lat, p.origin.lon = true, r.Lat, r.Lon
	}
	p.zero = c.fairleadAt(onPlane(p.origin.lat, p.origin.lon, r.Lat, r.Lon))
	if p.n == fixes {
		p.n = copy(p.ring[:], p.ring[1:])
	}
	p.ring[p.n].t, p.ring[p.n].place = c.t, p.zero
	p.n++
	c.drift()
}

// watchFix tells that there has been no fix for a while, whether the receiver says
// so or says nothing. It is looked at where the clock is, once a second.
func (c *Core) watchFix() {
	p := &c.aids.position
	if p.at < 0 || p.gone || c.t-p.at < heldFor {
		return
	}
	p.gone = true
	c.tell(c.by, "the satellite receiver tells no position; how far the vessel moves is not known", text("what", "position"), text("state", "silent"))
}

// fairleadAt takes the antenna's offset off. Without a heading it cannot be
// turned, and the antenna stands for the fairlead: a turn then looks like a
// movement.
func (c *Core) fairleadAt(antenna place) place {
	h := float64(c.headingNow())
	if math.IsNaN(h) {
		return antenna
	}
	pos := c.head.Trial.Positioner
	aft, starboard := float64(pos.Aft), float64(pos.Starboard)
	sin, cos := math.Sincos(h)
	return place{north: antenna.north + aft*cos + starboard*sin, east: antenna.east + aft*sin - starboard*cos}
}

// mean is where the fairlead was over the last 10 s.
func (p *track) mean(t int64) (at place, ok bool) {
	n := 0.0
	for _, f := range p.ring[:p.n] {
		if t-f.t < fixesOver {
			at.north += f.north
			at.east += f.east
			n++
		}
	}
	return place{at.north / n, at.east / n}, n > 0
}

// followStage notes where the vessel is when a pull begins, and which way the
// anchor lies: over the bow, or as the file says the rode leads.
func (c *Core) followStage() {
	p := &c.aids.position
	if c.head.Trial.Positioner == nil {
		return
	}
	stage := c.guard.State().Stage
	if stage == p.stage {
		return
	}
	if stage == trial.PayOut {
		c.tellDrop()
	}
	held := stage == trial.Hold && p.stage == trial.Pull || stage == trial.Pull && p.stage == trial.Hold
	if p.stage = stage; held || stage != trial.Pull && stage != trial.Preset {
		return
	}
	p.from, p.hasFrom = p.mean(c.t)
	p.lead, p.told = float64(c.headingNow()+c.head.Trial.Positioner.Lead), 0
}

// moved is how far the fairlead has moved towards the anchor and across since
// the pull began, with its standard uncertainty. It is not ok without a fix, or
// a heading at the beginning.
func (c *Core) moved() (along, across, u trial.Length, ok bool) {
	p := &c.aids.position
	at, has := p.mean(c.t)
	if !has || !p.hasFrom || math.IsNaN(p.lead) {
		nan := trial.Length(math.NaN())
		return nan, nan, nan, false
	}
	north, east := at.north-p.from.north, at.east-p.from.east
	sin, cos := math.Sincos(p.lead)
	return trial.Length(north*cos + east*sin), trial.Length(east*cos - north*sin), c.head.Trial.Positioner.Uncertain, true
}

// drift tells that the vessel moves, each time it has gone a step further.
func (c *Core) drift() {
	along, across, u, ok := c.moved()
	p := &c.aids.position
	if !ok || p.stage != trial.Pull && p.stage != trial.Hold && p.stage != trial.Preset {
		return
	}
	far := math.Hypot(float64(along), float64(across))
	steps := int(far / max(driftTold, driftSure*float64(u)))
	if steps <= p.told {
		return
	}
	p.told = steps
	side := "starboard"
	if across < 0 {
		side = "port"
	}
	way := "towards the anchor"
	if along < 0 {
		way = "away from the anchor"
	}
	c.tell(c.by, fmt.Sprintf("the vessel has moved since the stage began: %s %s, %s to %s of the lane, give or take %s",
		c.length(trial.Length(math.Abs(float64(along)))), way, c.length(trial.Length(math.Abs(float64(across)))), side, c.length(u)),
		text("what", "vessel-moved"), metres("along_m", along), metres("across_m", across), metres("u_m", u))
}
