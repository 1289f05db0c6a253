package rode

import (
	"errors"
	"math"
)

// LiftsFrom is the tension at the fairlead, N, from which the rode that is out
// no longer lies level at the anchor: more, and the line leaves it upwards. It
// undoes [Rode.NoUplift]. For one piece that does not stretch it is
// w h (1 + (L/h)^2)/2.
//
// It returns the error of a rode that does not hang, or [ErrTooFar] if no
// tension lifts the anchor's end.
func (r *Rode) LiftsFrom() (float64, error) {
	slack, err := r.AtSpan(0)
	if err != nil {
		return 0, err
	}
	lifts := func(t float64) (bool, error) {
		l, err := r.NoUplift(t)
		if errors.Is(err, ErrCannotHang) {
			return false, nil
		}
		return l > r.out, err
	}
	lo, hi := slack.T, 2*slack.T
	for ; hi < maxTension; hi *= 2 {
		yes, err := lifts(hi)
		if err != nil {
			return 0, err
		}
		if yes {
			break
		}
		lo = hi
	}
	if hi >= maxTension {
		return 0, ErrTooFar
	}
	for {
		mid := lo + (hi-lo)/2
		if mid <= lo || mid >= hi || hi-lo < 1e-12*hi {
			return hi, nil
		}
		yes, err := lifts(mid)
		switch {
		case err != nil:
			return 0, err
		case yes:
			hi = mid
		default:
			lo = mid
		}
	}
}

// Dragged is the tension at the fairlead, N, at which friction on the bottom
// takes just all of it: what it is to haul in the rode with nothing at its end.
// It shrinks as rode is lifted off the bottom. Without friction it is the
// weight that hangs.
func (r *Rode) Dragged() (float64, error) {
	slack, err := r.AtSpan(0)
	if err != nil {
		return 0, err
	}
	lo, hi := slack.T, 2*slack.T
	held := func(t float64) (bool, error) {
		s, err := r.AtTension(t)
		return s.AnchorT <= 0 && s.OnBottom > 0, err
	}
	if held, err := held(math.Nextafter(lo*(1+1e-9), hi)); err != nil || !held {
		return lo, err
	}
	for ; hi < maxTension; hi *= 2 {
		yes, err := held(hi)
		if err != nil {
			return 0, err
		}
		if !yes {
			break
		}
		lo = hi
	}
	for range 60 {
		mid := lo + (hi-lo)/2
		if hi-lo < 1e-9*hi {
			break
		}
		yes, err := held(mid)
		switch {
		case err != nil:
			return 0, err
		case yes:
			lo = mid
		default:
			hi = mid
		}
	}
	return hi, nil
}
