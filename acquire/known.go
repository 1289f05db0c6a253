package acquire

import "hawse/trial"

// What a search for the way a box speaks needs of the decoders.

// ModbusFits says whether a whole frame of Modbus RTU has the checksum it says.
func ModbusFits(frame []byte) bool { return len(frame) >= 4 && soundCRC(frame) }

// AppendModbusRead appends the question that reads what r says. It reads holding
// or input registers and never writes: r.Function is 3 or 4.
func AppendModbusRead(dst []byte, r trial.Registers) []byte { return appendRead(dst, r) }

// ModbusRefusal is an exception code in words.
func ModbusRefusal(code byte) string { return refusal(code) }

// FrameFits says whether a whole binary frame begins and ends as f says.
func FrameFits(frame []byte, f trial.Frames) bool {
	return len(frame) == f.Length && f.SumFrom < f.Length-f.SumBytes() && string(frame[:min(len(f.Sync), len(frame))]) == string(f.Sync) && frameSum(frame, f)
}

// ReadNumber reads the number at the start of p, which is long enough, without
// its factor.
func ReadNumber(p []byte, n trial.Number) float64 { return readNumber(p, n) }
