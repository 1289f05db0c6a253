package trial

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Weakest is the piece of rode or gear with the least WLL; the first of
// equals, rode before gear. Bigger gear elsewhere changes nothing. What has no
// WLL is left out here and named by [Trial.Unrated]; a WLL without a source
// counts, for it can only make the limits stricter. With none it is "", 0.
func (t *Trial) Weakest() (name string, wll Force) {
	found := false
	take := func(n string, w Force) {
		// A negative one cannot come from a file; it is let through to be refused.
		if w != 0 && (!found || w < wll) {
			name, wll, found = n, w, true
		}
	}
	for _, p := range t.Rode {
		take(p.Name, p.WLL)
	}
	for _, g := range t.Gear {
		take(g.Name, g.WLL)
	}
	return name, wll
}

// Unrated names each piece of rode and gear that has no WLL, or whose rating
// has no source, in the order of the file, rode before gear. While there is
// one no pull may be armed: nobody knows whether it is the weakest.
func (t *Trial) Unrated() []string {
	var out []string
	for _, p := range t.Rode {
		if !(p.WLL > 0) || p.Source == "" {
			out = append(out, p.Name)
		}
	}
	for _, g := range t.Gear {
		if !(g.WLL > 0) || g.Source == "" {
			out = append(out, g.Name)
		}
	}
	return out
}

// Rating is the WLL and where it comes from, in the units of the file: "WLL
// 10 kN, certificate 12", or "MBL 60 kN / 5 = WLL 12 kN, maker's table".
func (g Gear) Rating(s Show) string { return rating(g.WLL, g.MBL, g.Factor, g.Source, s) }

// Rating is as for [Gear].
func (p Piece) Rating(s Show) string { return rating(p.WLL, p.MBL, p.Factor, p.Source, s) }

func rating(wll, mbl Force, factor float64, source string, s Show) string {
	source = cmp.Or(source, "no source")
	switch {
	case wll == 0 && mbl == 0:
		return "no rating, " + source
	case wll == 0:
		return fmt.Sprintf("no WLL (MBL %s without a factor), %s", s.ForceText(mbl), source)
	case mbl == 0:
		return fmt.Sprintf("WLL %s, %s", s.ForceText(wll), source)
	case factor == 0:
		return fmt.Sprintf("WLL %s (MBL %s), %s", s.ForceText(wll), s.ForceText(mbl), source)
	}
	return fmt.Sprintf("MBL %s / %s = WLL %s, %s", s.ForceText(mbl), shortest(factor), s.ForceText(wll), source)
}

// theAnchor is what [Trial.NoPass] calls the end of the rode.
const theAnchor = "anchor"

// NoPass is what may not pass the fairlead, in the order in which it comes up
// to it: farthest from the anchor first. The last is always the anchor, at 0.
func (t *Trial) NoPass() []Joint {
	var out []Joint
	for _, g := range t.Gear {
		if g.HasAt && !g.Passes {
			out = append(out, Joint{g.Name, g.At})
		}
	}
	slices.SortStableFunc(out, func(a, b Joint) int { return cmp.Compare(b.At, a.At) })
	return append(out, Joint{Name: theAnchor})
}

// Stiffness is the axial stiffness of the first out metres of rode from the
// anchor, N/m: springs in series, 1/k = sum of length/EA over the pieces and
// the part of the last one that is out. More out than there is rode gives the
// whole rode. It is not ok if out is not above 0 or finite, or if a piece that
// is out has no EA.
//
// It is the stiffness of a rode pulled straight, the most it can have: weight
// and curve make the same rode softer.
//
// Source: springs in series, textbook mechanics, from memory.
func (t *Trial) Stiffness(out Length) (nPerM float64, ok bool) { return Stiffness(t.Rode, out) }

// Stiffness is [Trial.Stiffness] of a rode given from the anchor on.
func Stiffness(rode []Piece, out Length) (nPerM float64, ok bool) {
	if !(out > 0) || math.IsInf(float64(out), 1) {
		return 0, false
	}
	give := 0.0 // m/N
	for _, p := range rode {
		if out <= 0 {
			break
		}
		if !(p.EA > 0) {
			return 0, false
		}
		give += float64(min(out, p.Length)) / float64(p.EA)
		out -= p.Length
	}
	if !(give > 0) {
		return 0, false
	}
	return 1 / give, true
}
