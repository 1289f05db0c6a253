package trial

import "strconv"

// ForceText writes a force in the unit to show, to six digits, with the unit:
// "6.4 kN". Without a unit to show it is in newtons, exactly.
func (s Show) ForceText(f Force) string {
	if !(s.Tension.N > 0) {
		return f.String()
	}
	return sixDigits(s.Tension.In(f)) + " " + s.Tension.Name
}

// LengthText is as ForceText.
func (s Show) LengthText(l Length) string {
	if !(s.Length.M > 0) {
		return l.String()
	}
	return sixDigits(s.Length.In(l)) + " " + s.Length.Name
}

// SpeedText is as ForceText.
func (s Show) SpeedText(v Speed) string {
	if !(s.Speed.MPS > 0) {
		return v.String()
	}
	return sixDigits(s.Speed.In(v)) + " " + s.Speed.Name
}

func sixDigits(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
