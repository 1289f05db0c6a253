package session

import (
	"fmt"
	"math"

	"hawse/logfmt"
	"hawse/trial"
	"hawse/trial/geo"
	"hawse/trial/plan"
)

// Drop is where the planned drop point of the run lies, seen from the roller. It is
// shown until the anchor is down.
type Drop struct {
	Shown    bool // there is one, and the stage is one before it is down
	Known    bool // what follows; otherwise the receiver has no fix
	Bearing  trial.Angle
	Distance trial.Length
	Within   trial.Length // so near is near enough
	Near     bool         // it is
	// Antenna says that there is no heading: what is seen is from the antenna.
	Antenna bool
}

// beginDrop works out the drop point, if the file has a plan and a receiver.
func (c *Core) beginDrop() {
	t, a := c.head.Trial, &c.aids
	if t.Positioner == nil || t.Plan == nil {
		return
	}
	var err error
	a.drop, err = plan.DropOf(t, c.head.Run)
	a.hasDrop = err == nil
}

// roller is where the roller is now by the newest fix; false without a fresh one.
func (c *Core) roller() (geo.Point, bool) {
	p := &c.aids.position
	if !p.hasZero || p.at < 0 || c.t-p.at > heldFor {
		return geo.Point{}, false
	}
	return geo.Plane{Origin: geo.Point{Lat: p.origin.lat, Lon: p.origin.lon}}.From(p.zero.east, p.zero.north), true
}

func (c *Core) dropNow() Drop {
	a := &c.aids
	if stage := c.guard.State().Stage; !a.hasDrop || stage != trial.StandBy && stage != trial.PayOut {
		return Drop{}
	}
	d := Drop{Shown: true, Within: trial.Length(a.drop.Within), Antenna: math.IsNaN(float64(c.headingNow()))}
	at, ok := c.roller()
	if !ok {
		return d
	}
	bearing, distance := a.drop.From(at)
	d.Known, d.Bearing, d.Distance = true, trial.Angle(bearing), trial.Length(distance)
	d.Near = d.Distance <= d.Within
	return d
}

// tellDrop says where the anchor is lowered, against where it was planned: what
// is told when rode begins to go out.
func (c *Core) tellDrop() {
	d := c.dropNow()
	if !d.Shown {
		return
	}
	within := metres("within_m", d.Within)
	if !d.Known {
		c.tell(c.by, "rode goes out; how far from the planned drop point is not known: no fix", text("what", "drop"), metres("off_m", trial.Length(math.NaN())), within)
		return
	}
	at, _ := c.roller()
	side := "within"
	if !d.Near {
		side = "MORE than"
	}
	words := fmt.Sprintf("rode goes out %s from the planned drop point, which bears %03.0f deg: %s the %s allowed", c.length(d.Distance), bearingText(d.Bearing), side, c.length(d.Within))
	if d.Antenna {
		words += ", by the antenna: no heading"
	}
	degrees := func(key string, v float64) logfmt.Field { return text(key, logfmt.FormatFloat(v)) }
	c.tell(c.by, words, text("what", "drop"), metres("off_m", d.Distance), within, text("bearing_rad", logfmt.FormatFloat(float64(d.Bearing))),
		degrees("north_deg", at.Lat), degrees("east_deg", at.Lon), degrees("planned_north_deg", c.aids.drop.Point.Lat), degrees("planned_east_deg", c.aids.drop.Point.Lon))
}

// bearingText is whole degrees from 0 to 359.
func bearingText(a trial.Angle) float64 {
	return math.Mod(math.Round(float64(a)*180/math.Pi), 360)
}

// DropTold is where rode began to go out, as it was told on deck then.
type DropTold struct {
	T           int64        // ns of the pull
	Off         trial.Length // from the planned drop point; NaN not known
	Within      trial.Length // that was near enough
	At, Planned geo.Point    // of the roller, and the planned one; of no meaning without Off
	Text        string
}

// mostDrops bounds how many are listed: an anchor is lowered again a few times.
const mostDrops = 20

func (r *Result) sayDrop(t int64, rec *logfmt.Record) {
	if len(r.Drops) == mostDrops {
		r.More++
		return
	}
	num := func(key string) float64 {
		if v, ok := rec.Float(key); ok {
			return v
		}
		return math.NaN()
	}
	r.Drops = append(r.Drops, DropTold{T: t, Off: trial.Length(num("off_m")), Within: trial.Length(num("within_m")), Text: clip(rec.Str("text")),
		At: geo.Point{Lat: num("north_deg"), Lon: num("east_deg")}, Planned: geo.Point{Lat: num("planned_north_deg"), Lon: num("planned_east_deg")}})
}
