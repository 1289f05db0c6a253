package safety

import "encoding/binary"

// AppendBits appends the whole state to dst, floats by their bits: two states
// with the same bits are the same. It is for a checksum, not for keeping: what
// stands where changes with the program.
func (s *State) AppendBits(dst []byte) []byte {
	dst, err := binary.Append(dst, binary.LittleEndian, s)
	if err != nil {
		panic("safety: a field of State has no fixed size: " + err.Error()) // a test holds that none has
	}
	return dst
}
