package acquire

import (
	"testing"

	"go.uber.org/goleak"
	"pgregory.net/rapid"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// wireBytes draws streams rich in line ends, NULs and long lines.
func wireBytes() *rapid.Generator[[]byte] {
	piece := rapid.OneOf(
		rapid.Just([]byte("+00312.4 lb\r\n")),
		rapid.SampledFrom([][]byte{{'\r'}, {'\n'}, {'\r', '\n'}, {'\n', '\r'}, {0}, {}}),
		rapid.SliceOfN(rapid.Byte(), 0, 20),
		rapid.Map(rapid.SampledFrom([]int{255, 256, 257, 4095, 4096, 4097}), func(n int) []byte {
			p := make([]byte, n)
			for i := range p {
				p[i] = 'a' + byte(i%26)
			}
			return p
		}),
	)
	return rapid.Map(rapid.SliceOfN(piece, 0, 12), func(pieces [][]byte) []byte {
		var out []byte
		for _, p := range pieces {
			out = append(out, p...)
		}
		return out
	})
}

// chunks draws a way to break a stream into Reads, none empty.
func chunks(t *rapid.T, stream []byte) (out [][]byte) {
	for len(stream) > 0 {
		n := rapid.IntRange(1, len(stream)).Draw(t, "read")
		out = append(out, stream[:n])
		stream = stream[n:]
	}
	return out
}

// frame is one frame as a Framer hands it out.
type frame struct{ Text, Bad string }

// framesOf feeds the pieces to one Framer.
func framesOf(pieces ...[]byte) (out []frame) {
	var f Framer
	for _, p := range pieces {
		f.Feed(p, func(b []byte, bad string) { out = append(out, frame{string(b), bad}) })
	}
	return out
}
