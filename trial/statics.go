package trial

import (
	"cmp"
	"fmt"
	"slices"

	"hawse/trial/rode"
)

// RodePieces is the rode for its statics, from the anchor up: each piece, cut
// in two where something heavy sits in it. All of it may lie on the bottom; a
// piece that says no friction is taken as smooth, so that the tension at the
// anchor comes out as the most it can be.
func (t *Trial) RodePieces() []rode.Piece {
	heavy := slices.DeleteFunc(slices.Clone(t.Gear), func(g Gear) bool { return !g.HasAt || g.Weight == 0 })
	slices.SortStableFunc(heavy, func(a, b Gear) int { return cmp.Compare(a.At, b.At) })
	var out []rode.Piece
	at := Length(0) // of the lower end of what is left of the piece
	for _, p := range t.Rode {
		end := at + p.Length
		for len(heavy) > 0 && heavy[0].At <= end {
			out = cutAt(out, p, heavy[0].At-at, heavy[0].Weight)
			at = max(at, heavy[0].At)
			heavy = heavy[1:]
		}
		out = cutAt(out, p, end-at, 0)
		at = end
	}
	if n := len(out); n > 0 {
		out[n-1].JointWeight = 0 // at the vessel's end it never leaves her
	}
	return out
}

// cutAt appends so much of a piece and the weight at its upper end. Nothing of
// it puts the weight on the joint below; at the anchor there is none, and the
// weight is the anchor's.
func cutAt(out []rode.Piece, p Piece, length Length, weight Force) []rode.Piece {
	if length > 0 {
		out = append(out, rode.Piece{Length: float64(length), Weight: float64(p.Weight), EA: float64(p.EA), Friction: p.Friction})
	}
	if n := len(out); n > 0 {
		out[n-1].JointWeight += float64(weight)
	}
	return out
}

// Statics is the rode made ready to be solved, with the fairlead so high over
// the anchor: depth and roller height. The error names the piece that cannot
// be solved, as one that floats.
func (t *Trial) Statics(height Length) (*rode.Rode, error) {
	r, err := rode.New(float64(height), t.RodePieces())
	if err != nil {
		return nil, fmt.Errorf("the rode of the trial file: %w", err)
	}
	return r, nil
}

// LeastMBL is the least breaking load of the pieces of rode that are out, N,
// and whose it is; 0 if none says one.
func (t *Trial) LeastMBL(out Length) (name string, mbl Force) {
	for _, p := range t.Rode {
		if out <= 0 {
			break
		}
		if p.MBL > 0 && (mbl == 0 || p.MBL < mbl) {
			name, mbl = p.Name, p.MBL
		}
		out -= p.Length
	}
	return name, mbl
}
