// Package rode is the statics of the line between fairlead and anchor: its
// shape, the forces at both ends, what lies on the bottom, how much it
// stretches and how stiffly it answers the winch.
//
// A rode is one or more pieces, given from the anchor up, with a weight at a
// joint if there is one. [New] checks them; [Rode.SetOut] cuts the rode from
// the vessel's end as the winch hauls; [Rode.AtTension] and [Rode.AtSpan]
// solve it. The answer depends on the arguments alone, never on what was
// solved before, and solving allocates nothing.
//
// # Units
//
// Plain float64 in SI: newtons, metres, radians, newtons a metre, joules.
// Lengths of rode are unstretched unless the name says counted or stretched.
// Weights are submerged. Angles are from the horizontal, positive where the
// line rises towards the vessel.
//
// # Model
//
// The elastic catenary, with the part on the bottom straight and level. Clear
// of the bottom, H the horizontal and V the vertical force at the upper end of
// a piece, T = sqrt(H^2+V^2), 1 its lower and 2 its upper end:
//
//	x = H/w (asinh(V2/H) - asinh(V1/H)) + H l/EA
//	z = (T2 - T1)/w + (V2^2 - V1^2)/(2 w EA)
//
// On the bottom the tension falls towards the anchor by friction times weight
// until it is zero. The equations are those of Irvine, Cable Structures (1992),
// read as quoted elsewhere, and of Jonkman, NREL/TP-500-41958 (2007), from memory.
// The code uses forms of them without a difference of near-equal terms, so a
// weight that goes to zero gives the straight line.
//
// Not in the model: currents and waves, slope of the bottom, a line that drags
// sideways, bending, creep and hysteresis of fibre, stretch that is not linear.
// A buried line is a model of its own ([Soil]).
//
// The breaking load is judged elsewhere: any tension is solved, however absurd.
package rode
