package acquire

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hawse/trial"
)

// DepthReading is one frame of a sounder. In a good one the depths are NaN where
// the sounder says that it knows none.
type DepthReading struct {
	Kind  ReadingKind
	Below trial.Length // the transducer, m
	Depth trial.Length // the water line, m
	Why   string
}

// DepthDecoder reads the frames of a sounder.
type DepthDecoder struct {
	s    trial.Sounder
	line *pattern // of text that is no NMEA
	bin  *packed
}

// NewDepthDecoder checks what the trial file says of the sounder.
func NewDepthDecoder(s trial.Sounder) (*DepthDecoder, error) {
	d := &DepthDecoder{s: s, bin: newPacked(s.Wire)}
	if d.bin == nil && s.Wire.Kind != trial.WireNMEA {
		var err error
		if d.line, err = newPattern(s.Line, "depth", "status", "value", "unit", "counts"); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// Fits is as of [LoadDecoder.Fits].
func (d *DepthDecoder) Fits(frame []byte) bool {
	if d.line != nil {
		return d.line.match(frame) != nil
	}
	return d.bin != nil || fitsNMEA(frame, d.s.Wire.Talker, "DPT", "DBT")
}

func fitsNMEA(frame []byte, talker string, types ...string) bool {
	s, err := ParseSentence(frame)
	return err == nil && (talker == "" || s.Talker == talker) && slices.Contains(types, s.Type)
}

// Decode reads one frame. An offset to the water line, which is positive, is
// added; one to the keel, which is negative, never is: then the depth of the
// transducer that the file says is.
func (d *DepthDecoder) Decode(frame []byte) DepthReading {
	garbled := func(why string) DepthReading {
		nan := trial.Length(math.NaN())
		return DepthReading{Below: nan, Depth: nan, Why: why}
	}
	v, offset := math.NaN(), math.NaN()
	switch {
	case d.bin != nil:
		_, n, over, why := d.bin.value(frame)
		if why != "" {
			return garbled(why)
		}
		if v = n * d.s.Unit.M; over {
			v = math.NaN()
		}
	case d.line != nil:
		m := d.line.match(frame)
		if m == nil {
			return garbled("does not match the line pattern")
		}
		n, err := parseValue(d.line.part(frame, m, "depth"), decimalComma(d.s.Line, "depth"))
		if err != nil {
			return garbled(err.Error())
		}
		v = n * d.s.Unit.M
	default:
		s, err := ParseSentence(frame)
		if err == nil {
			v, offset, err = depthOf(s)
		}
		if err != nil {
			return garbled(err.Error())
		}
	}
	if v < 0 || v > deepest {
		return garbled(fmt.Sprintf("%g m is no depth", v))
	}
	if !(offset > 0) {
		offset = float64(d.s.Transducer)
	}
	return DepthReading{Kind: Good, Below: trial.Length(v), Depth: trial.Length(v + offset)}
}

func depthOf(s Sentence) (below, offset float64, err error) {
	switch s.Type {
	case "DPT":
		d, err := s.DPT()
		return d.Below, d.Offset, err
	case "DBT":
		d, err := s.DBT()
		return d.InMetres(), math.NaN(), err
	}
	return math.NaN(), math.NaN(), fmt.Errorf("%s%s is no sentence of a depth", s.Talker, s.Type)
}

// PositionReading is one sentence of a satellite receiver. In a good one
// position is NaN where there is no fix.
type PositionReading struct {
	Kind     ReadingKind
	Lat, Lon float64 // degrees, north and east positive
	Quality  int     // as of [GGA]; 1 for an RMC that is valid
	Why      string
}

// PositionFits says whether a frame is of this receiver.
func PositionFits(p trial.Positioner, frame []byte) bool {
	return fitsNMEA(frame, p.Wire.Talker, "GGA", "RMC")
}

// DecodePosition reads one frame. A position that is estimated, typed in or
// simulated is no fix.
func DecodePosition(frame []byte) PositionReading {
	nan := math.NaN()
	r := PositionReading{Lat: nan, Lon: nan}
	s, err := ParseSentence(frame)
	if err != nil {
		r.Why = err.Error()
		return r
	}
	switch s.Type {
	case "GGA":
		g, err := s.GGA()
		if err != nil {
			r.Why = err.Error()
			return r
		}
		r.Kind, r.Quality = Good, max(g.Quality, 0)
		if g.Quality >= 1 && g.Quality <= 5 {
			r.Lat, r.Lon = g.Lat, g.Lon
		} else {
			r.Why = fmt.Sprintf("no fix, quality %d", max(g.Quality, 0))
		}
	case "RMC":
		m, err := s.RMC()
		if err != nil {
			r.Why = err.Error()
			return r
		}
		r.Kind = Good
		// Without a mode, as before version 2.3, status alone says it.
		if m.Valid && (m.Mode == "" || m.Mode == "A" || m.Mode == "D" || m.Mode == "P" || m.Mode == "R" || m.Mode == "F") {
			r.Lat, r.Lon, r.Quality = m.Lat, m.Lon, 1
		} else {
			r.Why = "no fix"
		}
	default:
		r.Why = s.Talker + s.Type + " is no sentence of a position"
	}
	if math.IsNaN(r.Lat) || math.IsNaN(r.Lon) {
		r.Lat, r.Lon = nan, nan
	}
	return r
}

// HeadingFits says whether a frame is of this compass.
func HeadingFits(c trial.Compass, frame []byte) bool { return fitsNMEA(frame, c.Wire.Talker, "HDT") }

// DecodeHeading reads one frame: the true heading, rad from 0 to 2 pi, NaN where
// it is not known. why is not empty if the frame is bad.
func DecodeHeading(c trial.Compass, frame []byte) (heading trial.Angle, why string) {
	s, err := ParseSentence(frame)
	if err == nil && s.Type != "HDT" {
		err = fmt.Errorf("%s%s is no sentence of a heading", s.Talker, s.Type)
	}
	var h HDT
	if err == nil {
		h, err = s.HDT()
	}
	if err != nil {
		return trial.Angle(math.NaN()), err.Error()
	}
	v := math.Mod(h.Heading*math.Pi/180+float64(c.Offset)+2*math.Pi, 2*math.Pi)
	return trial.Angle(v), ""
}

// ClockFits says whether a frame is of this receiver.
func ClockFits(c trial.SatClock, frame []byte) bool {
	return fitsNMEA(frame, c.Wire.Talker, "ZDA", "RMC")
}

// DecodeClock reads one frame: the time of satellites, zero where it is not
// known. why is not empty if the frame is bad.
func DecodeClock(frame []byte) (at time.Time, why string) {
	s, err := ParseSentence(frame)
	if err != nil {
		return at, err.Error()
	}
	switch s.Type {
	case "ZDA":
		z, err := s.ZDA()
		if err != nil {
			return at, err.Error()
		}
		return z.At, ""
	case "RMC":
		m, err := s.RMC()
		if err != nil {
			return at, err.Error()
		}
		if m.Valid && m.Time >= 0 && !m.Date.IsZero() {
			at = m.Date.Add(m.Time)
		}
		return at, ""
	}
	return at, s.Talker + s.Type + " is no sentence of a time"
}
