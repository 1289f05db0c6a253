package rode

import "errors"

// What can be wrong. Every error returned wraps one of these and adds the
// numbers, and where and what to do.
var (
	// ErrInput: a number is missing (NaN), infinite, of the wrong sign, or absurd.
	ErrInput = errors.New("rode: bad number")
	// ErrFloats: a piece or joint weighs nothing in water, or floats. The
	// equations here are for a line that hangs.
	ErrFloats = errors.New("rode: floats")
	// ErrBottomGap: a piece that may lie on the bottom stands above one that
	// has no bottom under it.
	ErrBottomGap = errors.New("rode: gap in the bottom")
	// ErrCannotHang: the tension is less than the weight that must hang from
	// the fairlead, so no rode of this height can have it.
	ErrCannotHang = errors.New("rode: tension is less than the hanging weight")
	// ErrTooShort: the rode out does not reach from anchor to fairlead.
	ErrTooShort = errors.New("rode: too short for the height")
	// ErrTooFar: the span is longer than a rode that cannot stretch allows.
	ErrTooFar = errors.New("rode: span is out of reach")
	// ErrBuried: a buried line cannot run to that depth with that tension.
	ErrBuried = errors.New("rode: buried line does not reach")
	// ErrNotConverged: the solver did not close. It is a fault of this package.
	ErrNotConverged = errors.New("rode: no solution found")
)
