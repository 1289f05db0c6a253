package acquire

import (
	"math"

	"hawse/trial"
)

// packed reads the one number an instrument has in a frame that is no text: the
// answer of a Modbus unit, or a binary frame.
type packed struct {
	regs   *registers
	frames trial.Frames
}

// newPacked is nil for a wire of text.
func newPacked(w trial.Wire) *packed {
	switch w.Kind {
	case trial.WireModbus:
		return &packed{regs: &registers{w.Registers}}
	case trial.WireFrames:
		return &packed{frames: w.Frames}
	}
	return nil
}

// value is the number as it stands in a whole, sound frame, and the one it
// means. why is not empty if there is none; over if flags beside it say so.
func (b *packed) value(frame []byte) (raw, v float64, over bool, why string) {
	if b.regs != nil {
		return b.regs.value(frame)
	}
	f := &b.frames
	if len(frame) != f.Length {
		return math.NaN(), math.NaN(), false, "is no frame of this box"
	}
	raw = readNumber(frame[f.At:], f.Number)
	return raw, raw * f.Number.Factor, f.HasFlags && int(frame[f.Flags])&f.Over != 0, ""
}

// counts is value for a whole number, which has no factor.
func (b *packed) counts(frame []byte) (n int64, why string) {
	if b.regs != nil {
		return b.regs.counts(frame)
	}
	if len(frame) != b.frames.Length {
		return 0, "is no frame of this box"
	}
	return readWhole(frame[b.frames.At:], b.frames.Number), ""
}
