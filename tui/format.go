package tui

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// units is how quantities are shown: the crew's units, and as many decimals as
// a person can read off a moving number.
type units struct {
	force  trial.ForceUnit
	length trial.LengthUnit
	speed  trial.SpeedUnit

	forceDec, lengthDec, speedDec int
	slots                         string // the widest tension expected, as a pattern of digits
}

// unitsOf takes the units of the trial, kN and m without one.
func unitsOf(s *session.Snapshot) units {
	u := units{
		force:  trial.ForceUnit{Name: "kN", N: 1000},
		length: trial.LengthUnit{Name: "m", M: 1},
		speed:  trial.SpeedUnit{Name: "m/min", MPS: 1.0 / 60},
	}
	top := 10 * trial.Force(1000)
	if t := s.Trial; t != nil {
		if t.Show.Tension.N > 0 {
			u.force = t.Show.Tension
		}
		if t.Show.Length.M > 0 {
			u.length = t.Show.Length
		}
		if t.Show.Speed.MPS > 0 {
			u.speed = t.Show.Speed
		}
		if t.Load.Range > 0 {
			top = t.Load.Range
		}
	}
	u.forceDec = decimals(u.force.N, 10)
	if most := u.force.In(top); most >= 1000 {
		u.forceDec = 0
	} else if most >= 100 {
		u.forceDec = min(u.forceDec, 1)
	}
	u.lengthDec = decimals(u.length.M, 0.1)
	u.speedDec = decimals(u.speed.MPS, 0.002)
	u.slots = strings.Map(func(r rune) rune {
		if r == '.' {
			return r
		}
		return '8'
	}, strconv.FormatFloat(u.force.In(top), 'f', u.forceDec, 64))
	return u
}

// decimals so that the last digit of a value in a unit of size one is about
// step; at most three.
func decimals(one, step float64) int {
	d := 0
	for d < 3 && one > step*1.5 {
		one /= 10
		d++
	}
	return d
}

func fixed(v float64, dec int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	s := strconv.FormatFloat(v, 'f', dec, 64)
	if s[0] == '-' && strings.Trim(s, "-0.") == "" {
		return s[1:] // no minus zero
	}
	return s
}

func (u units) tension(f trial.Force) string { return fixed(u.force.In(f), u.forceDec) }
func (u units) metres(l trial.Length) string { return fixed(u.length.In(l), u.lengthDec) }

func (u units) tensionUnit(f trial.Force) string { return u.tension(f) + " " + u.force.Name }
func (u units) metresUnit(l trial.Length) string { return u.metres(l) + " " + u.length.Name }

func (u units) speedUnit(v trial.Speed) string {
	return fixed(u.speed.In(v), u.speedDec) + " " + u.speed.Name
}

func scopeText(v float64) string { return fixed(v, 2) + ":1" }

// measure is what a cause is measured in.
type measure uint8

const (
	noMeasure measure = iota
	byForce
	byShare
	byLength
	byScope
	byTime
)

func measureOf(c safety.Cause) measure {
	switch c {
	case safety.TensionLimit, safety.LoadOverRange, safety.Terminated, safety.TensionReached, safety.VesselMoves, safety.ZeroMoved, safety.MayNotComeUp, safety.CellsDisagree:
		return byForce
	case safety.WLLShare, safety.AnchorNotMoving, safety.Snag, safety.LineContradicts:
		return byShare
	case safety.LineHauled, safety.AtFairlead, safety.LineJumped, safety.LineReversed:
		return byLength
	case safety.MinimumScope:
		return byScope
	case safety.LoadSilent, safety.LoadGarbled, safety.LineSilent, safety.StoodStill, safety.StageDuration,
		safety.LoadUnchanged, safety.LoadNeverFalls, safety.CellMissing:
		return byTime
	}
	return noMeasure
}

// value is a cause's value as a number, and its unit.
func (u units) value(c safety.Cause, v float64) (number, unit string) {
	switch measureOf(c) {
	case byForce:
		return u.tension(trial.Force(v)), u.force.Name
	case byShare:
		return fixed(v*100, 0), "%"
	case byLength:
		return u.metres(trial.Length(v)), u.length.Name
	case byScope:
		return fixed(v, 2), ":1"
	case byTime:
		if c == safety.StageDuration {
			return clockText(seconds(v)), ""
		}
		return fixed(v, 1), "s"
	}
	return "–", ""
}

// amount is a cause's value with its unit, as one word of a sentence.
func (u units) amount(c safety.Cause, v float64) string {
	n, unit := u.value(c, v)
	switch unit {
	case "":
		return n
	case ":1":
		return n + unit
	}
	return n + " " + unit
}

func seconds(v float64) time.Duration {
	if !(math.Abs(v) < 1e9) {
		return 0
	}
	return time.Duration(v * float64(time.Second))
}

// clockText is a span as 0:07, 12:30, 3:05:00.
func clockText(d time.Duration) string {
	s := int64(max(d, 0) / time.Second)
	if s >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// ageText is an age: tenths of a second while they matter.
func ageText(d time.Duration) string {
	d = max(d, 0)
	switch {
	case d < 10*time.Second:
		return fmt.Sprintf("%d.%d s", d/time.Second, d%time.Second/(100*time.Millisecond))
	case d < 100*time.Second:
		return fmt.Sprintf("%d s", d/time.Second)
	}
	return clockText(d)
}

func sizeText(bytes int64) string {
	switch {
	case bytes < 10_000:
		return fmt.Sprintf("%d B", bytes)
	case bytes < 1_000_000:
		return fmt.Sprintf("%d kB", bytes/1000)
	case bytes < 1_000_000_000:
		return fmt.Sprintf("%.2f MB", float64(bytes)/1e6)
	}
	return fmt.Sprintf("%.2f GB", float64(bytes)/1e9)
}
