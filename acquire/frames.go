package acquire

import (
	"bytes"

	"hawse/trial"
)

// newFrameScan finds binary frames of one length by their sync bytes and
// checksum. A frame whose checksum does not fit costs its first byte: the next
// may begin inside it.
func newFrameScan(f trial.Frames) scan {
	return scan{
		length: func(p []byte) int {
			if k := min(len(p), len(f.Sync)); !bytes.Equal(p[:k], f.Sync[:k]) {
				return 0
			}
			return f.Length
		},
		sound: func(frame []byte) bool { return frameSum(frame, f) },
	}
}

// frameSum reports whether the checksum of a whole frame fits.
func frameSum(frame []byte, f trial.Frames) bool {
	body := frame[:f.Length-f.SumBytes()]
	covered := body[f.SumFrom:]
	var sum byte
	switch f.Checksum {
	case trial.SumXor8:
		for _, b := range covered {
			sum ^= b
		}
	case trial.SumAdd8:
		for _, b := range covered {
			sum += b
		}
	case trial.SumCRC16:
		c := crc16(covered)
		return frame[len(body)] == byte(c) && frame[len(body)+1] == byte(c>>8)
	default:
		return true
	}
	return frame[len(body)] == sum
}
