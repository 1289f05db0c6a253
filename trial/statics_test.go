package trial

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"hawse/trial/rode"
)

func TestRodePieces(t *testing.T) {
	chain := Piece{Name: "chain", Length: 10, Weight: 12, EA: 4e5, Friction: 0.7, HasFriction: true}
	line := Piece{Name: "line", Length: 50, Weight: 0.3, EA: 4e5}
	part := func(p Piece, l, joint float64) rode.Piece {
		return rode.Piece{Length: l, Weight: float64(p.Weight), EA: float64(p.EA), Friction: p.Friction, JointWeight: joint}
	}
	for _, c := range []struct {
		name string
		gear []Gear
		want []rode.Piece
	}{
		{"none", []Gear{{Name: "winch"}, {Name: "shackle", HasAt: true, At: 5}}, []rode.Piece{part(chain, 10, 0), part(line, 50, 0)}},
		{"at the joint", []Gear{{HasAt: true, At: 10, Weight: 60}}, []rode.Piece{part(chain, 10, 60), part(line, 50, 0)}},
		{"two at the joint", []Gear{{HasAt: true, At: 10, Weight: 60}, {HasAt: true, At: 10, Weight: 5}}, []rode.Piece{part(chain, 10, 65), part(line, 50, 0)}},
		{"in a piece, out of order", []Gear{{HasAt: true, At: 30, Weight: 7}, {HasAt: true, At: 4, Weight: 9}},
			[]rode.Piece{part(chain, 4, 9), part(chain, 6, 0), part(line, 20, 7), part(line, 30, 0)}},
		{"at both ends", []Gear{{HasAt: true, At: 0, Weight: 9}, {HasAt: true, At: 60, Weight: 7}}, []rode.Piece{part(chain, 10, 0), part(line, 50, 0)}},
	} {
		tr := &Trial{Rode: []Piece{chain, line}, Gear: c.gear}
		if diff := cmp.Diff(c.want, tr.RodePieces()); diff != "" {
			t.Errorf("%s: pieces (-want +got):\n%s", c.name, diff)
		}
	}
}

// The template's rode hangs as a catenary: at 60 m out over 7.5 m the chain is
// lifted whole by a tension that its weight alone explains.
func TestStaticsOfTheTemplate(t *testing.T) {
	tr, err := ParseTrial("t.toml", []byte(Template()))
	if err != nil {
		t.Fatal(err)
	}
	r, err := tr.Statics(7.5)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.SetOut(60); err != nil {
		t.Fatal(err)
	}
	s, err := r.AtTension(3100)
	if err != nil {
		t.Fatal(err)
	}
	// Moments about the anchor of the whole rode as a rigid body: V X - H z is
	// what weight there is, each at its own place, between anchor and fairlead.
	weight := 10*12.0 + 4 + 50*0.3
	if got := s.V - s.AnchorV; math.Abs(got-weight) > 1e-6 {
		t.Errorf("vertical forces differ by %v N; want the weight of the rode, %v N", got, weight)
	}
	if s.AnchorV <= 0 || s.Regime != rode.Lifted && s.Regime != rode.Taut {
		t.Errorf("at 3.1 kN the anchor is lifted with %v N, %v; want the chain clear of the bottom", s.AnchorV, s.Regime)
	}
	tr.Rode[1].Weight = -0.3
	if _, err := tr.Statics(7.5); !errors.Is(err, rode.ErrFloats) {
		t.Errorf("a line that floats: %v; want ErrFloats", err)
	}
}

func TestLeastMBL(t *testing.T) {
	tr := &Trial{Rode: []Piece{{Name: "chain", Length: 10, MBL: 60e3}, {Name: "rope", Length: 50, MBL: 40e3}, {Name: "wire", Length: 50}}}
	for _, c := range []struct {
		out  Length
		name string
		mbl  Force
	}{{5, "chain", 60e3}, {10, "chain", 60e3}, {11, "rope", 40e3}, {200, "rope", 40e3}, {0, "", 0}} {
		if name, mbl := tr.LeastMBL(c.out); name != c.name || mbl != c.mbl {
			t.Errorf("LeastMBL(%v) = %q, %v; want %q, %v", c.out, name, mbl, c.name, c.mbl)
		}
	}
}
