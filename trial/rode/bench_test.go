package rode

import "testing"

var onePiece = []Piece{{Length: 80, Weight: 19.6, EA: 8.54e6, Friction: 0.7}}

var threePieces = []Piece{
	{Length: 20, Weight: 19.6, EA: 8.54e6, Friction: 0.7, JointWeight: 60},
	{Length: 40, Weight: 5, EA: 1e7, Friction: 0.4, JointWeight: 20},
	{Length: 30, Weight: 0.6, EA: 2.5e5, Friction: 0.2},
}

func bench(b *testing.B, pieces []Piece, span bool) {
	r := must(b, 10, pieces...)
	// Slack to taut, so that no one case is favoured.
	var tensions, spans []float64
	for t := r.hang * 1.01; t < 5e4; t *= 1.3 {
		s, err := r.AtTension(t)
		if err != nil {
			b.Fatal(err)
		}
		tensions, spans = append(tensions, t), append(spans, s.Span)
	}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		var err error
		if k := i % len(spans); span {
			_, err = r.AtSpan(spans[k])
		} else {
			_, err = r.AtTension(tensions[k])
		}
		if err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOnePiece(b *testing.B) {
	b.Run("AtTension", func(b *testing.B) { bench(b, onePiece, false) })
	b.Run("AtSpan", func(b *testing.B) { bench(b, onePiece, true) })
}

func BenchmarkThreePieces(b *testing.B) {
	b.Run("AtTension", func(b *testing.B) { bench(b, threePieces, false) })
	b.Run("AtSpan", func(b *testing.B) { bench(b, threePieces, true) })
}

func TestSolvingAllocatesNothing(t *testing.T) {
	r := must(t, 10, threePieces...)
	points, states := make([]Point, 0, 64), make([]PieceState, 0, 8)
	got := testing.AllocsPerRun(100, func() {
		if r.SetOut(70) != nil || r.SetHeight(9) != nil {
			t.Error("not set")
		}
		s, err := r.AtTension(4000)
		if err == nil {
			_, err = r.AtSpan(s.Span)
		}
		if err == nil {
			_, err = r.NoUplift(4000)
		}
		if err != nil {
			t.Error(err)
		}
		points = r.Shape(s, 50, points[:0])
		states = r.Pieces(s, states[:0])
	})
	if got != 0 {
		t.Errorf("%v allocations a run, want 0", got)
	}
}
