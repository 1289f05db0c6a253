package rode

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// T = w h (1 + (L/h)^2)/2: from L = h sqrt(2T/(w h) - 1), Faltinsen, Sea Loads
// on Ships and Offshore Structures, 1990, ch. 8; from memory.
func TestLiftsFromOnePiece(t *testing.T) {
	for _, c := range []struct{ h, l, w float64 }{{10, 44.05, 19.6}, {7.5, 60, 12}, {200, 500, 800}, {7.5, 7.6, 12}} {
		r, err := New(c.h, []Piece{{Length: c.l, Weight: c.w, EA: Unlimited, Friction: 1}})
		if err != nil {
			t.Fatal(err)
		}
		got, err := r.LiftsFrom()
		if err != nil {
			t.Fatal(err)
		}
		near(t, "lifts from", got, c.w*c.h*(1+c.l*c.l/(c.h*c.h))/2, 1e-9, 0)
	}
}

// A little under it the anchor is not lifted, a little over it is; a rode that
// is dragged with just its own friction has none left at the anchor.
func TestLiftsFromAndDraggedAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		h := draw("height", 3, 30)
		pieces := []Piece{
			{Length: draw("chain", 2, 40), Weight: draw("w1", 5, 40), EA: 1e7, Friction: draw("mu1", 0, 1), JointWeight: draw("joint", 0, 80)},
			{Length: h + draw("line", 1, 100), Weight: draw("w2", 0.1, 10), EA: 4e5, Friction: draw("mu2", 0, 1)},
		}
		r, err := New(h, pieces)
		if err != nil {
			t.Fatal(err)
		}
		lifts, err := r.LiftsFrom()
		if err != nil {
			t.Fatal(err)
		}
		at := func(tension float64) State {
			s, err := r.AtTension(tension)
			if err != nil {
				t.Fatal(err)
			}
			return s
		}
		if under, over := at(lifts*0.9999), at(lifts*1.0001); under.AnchorV > 1e-6 || over.AnchorV <= 0 {
			t.Fatalf("lifts from %v N: under it %v N up, over it %v N", lifts, under.AnchorV, over.AnchorV)
		}
		drag, err := r.Dragged()
		if err != nil {
			t.Fatal(err)
		}
		if over := at(drag * 1.0001); over.AnchorT < 0 || over.AnchorT > 0.001*drag+1e-4*drag {
			t.Fatalf("dragged at %v N: a little over it %v N reach the end", drag, over.AnchorT)
		}
		slack, _ := r.AtSpan(0)
		if drag > slack.T*1.001 {
			if under := at(drag * 0.999); under.AnchorT > 0 {
				t.Fatalf("dragged at %v N: under it %v N reach the end", drag, under.AnchorT)
			}
		}
	})
}

// A rode of 20 ft of chain and 230 ft of cable, dragged alone over the bottom by
// a boat, reads 20 to 70 lbf, mean 55 to 60: common practice, no source. With
// 5/16 in chain (about 1.0 lbf/ft in water) and friction near 1 on chain and
// cable the statics are of that order.
func TestDraggedRodeIsOfTheOrderThatIsRead(t *testing.T) {
	const ft, lbf = 0.3048, 4.4482216152605
	r, err := New(20*ft, []Piece{
		{Length: 20 * ft, Weight: 1.0 * lbf / ft, EA: 1e7, Friction: 0.9},
		{Length: 230 * ft, Weight: 0.22 * lbf / ft, EA: 1e7, Friction: 0.7},
	})
	if err != nil {
		t.Fatal(err)
	}
	got, err := r.Dragged()
	if err != nil {
		t.Fatal(err)
	}
	if got /= lbf; math.IsNaN(got) || got < 20 || got > 70 {
		t.Errorf("dragged at %.1f lbf; want 20 to 70", got)
	}
}
