package rode_test

import (
	"fmt"

	"hawse/trial/rode"
)

// Invented gear: 20 m of chain at the anchor, a sinker, 60 m of wire.
func Example() {
	r, err := rode.New(9, []rode.Piece{
		{Length: 20, Weight: 19, EA: 8.5e6, Friction: 0.7, JointWeight: 60},
		{Length: 60, Weight: 4, EA: 6e6, Friction: 0.4},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	// 144.6 m is more rode than there is: the last piece is taken as endless.
	for _, tension := range []float64{30, 40, 500, 3000, 10000} {
		s, err := r.AtTension(tension)
		if err != nil {
			fmt.Println(err)
			continue
		}
		lo, hi := s.AnchorBand()
		fmt.Printf("%5.0f N: %-13s span %.2f m, %4.1f m on the bottom, anchor %.0f N (%.0f to %.0f), %.1f kN/m\n",
			tension, s.Regime, s.Span, s.OnBottom, s.AnchorT, lo, hi, s.Stiffness/1e3)
	}
	least, _ := r.NoUplift(10000)
	fmt.Printf("no uplift at 10 kN from %.1f m\n", least)
	// Output:
	// rode: tension is less than the hanging weight: 30 N at the fairlead, but 35.9999 N must hang from it; check the zero of the load cell, the height 9 m and the weights
	//    40 N: on bottom     span 73.04 m, 70.1 m on the bottom, anchor 0 N (0 to 392), 0.0 kN/m
	//   500 N: on bottom     span 78.84 m, 33.4 m on the bottom, anchor 135 N (135 to 793), 0.8 kN/m
	//  3000 N: on bottom     span 79.40 m,  7.3 m on the bottom, anchor 2854 N (2854 to 3048), 16.2 kN/m
	// 10000 N: taut          span 79.60 m,  0.0 m on the bottom, anchor 9932 N (9932 to 9932), 67.0 kN/m
	// no uplift at 10 kN from 144.6 m
}
