package trial

import (
	"errors"
	"math"
	"testing"
)

func TestScope(t *testing.T) {
	nan, inf := Length(math.NaN()), Length(math.Inf(1))
	tests := []struct {
		name                     string
		rodeOut, depth, fairlead Length
		want                     float64
		err                      error
	}{
		// 60 m out under a roller of 1.5 m while the tide rises: L / (depth + roller), by hand.
		{"start", 60, 6.0, 1.5, 8.0, nil},
		{"tide up by half", 60, 6.5, 1.5, 7.5, nil},
		{"tide up by one and a half", 60, 7.5, 1.5, 60.0 / 9, nil},
		{"least scope", 30, 6.0, 1.5, 4.0, nil},
		{"no roller height", 60, 6.0, 0, 10.0, nil},
		{"up and down", 7.5, 6.0, 1.5, 1.0, nil},
		{"does not reach", 7.4, 6.0, 1.5, 0, ErrRodeShort},
		{"nothing out", 0, 6.0, 1.5, 0, ErrScopeUnknown},
		{"hauled past zero", -1, 6.0, 1.5, 0, ErrScopeUnknown},
		{"rode unknown", nan, 6.0, 1.5, 0, ErrScopeUnknown},
		{"depth unknown", 60, nan, 1.5, 0, ErrScopeUnknown},
		{"no depth", 60, 0, 1.5, 0, ErrScopeUnknown},
		{"negative depth", 60, -6, 1.5, 0, ErrScopeUnknown},
		{"fairlead unknown", 60, 6, nan, 0, ErrScopeUnknown},
		{"fairlead under water", 60, 6, -1.5, 0, ErrScopeUnknown},
		{"infinite rode", inf, 6, 1.5, 0, ErrScopeUnknown},
		{"infinite depth", 60, inf, 1.5, 0, ErrScopeUnknown},
		{"infinite fairlead", 60, 6, inf, 0, ErrScopeUnknown},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := Scope(tt.rodeOut, tt.depth, tt.fairlead)
			if got != tt.want || !errors.Is(err, tt.err) {
				t.Errorf("Scope(%v, %v, %v) = %v, %v; want %v, %v", tt.rodeOut, tt.depth, tt.fairlead, got, err, tt.want, tt.err)
			}
		})
	}
}

func TestScopeByDepth(t *testing.T) {
	if got, err := ScopeByDepth(60, 6); got != 10 || err != nil {
		t.Errorf("ScopeByDepth(60 m, 6 m) = %v, %v; want 10", got, err)
	}
	if _, err := ScopeByDepth(5, 6); !errors.Is(err, ErrRodeShort) {
		t.Errorf("ScopeByDepth(5 m, 6 m): %v, want ErrRodeShort", err)
	}
	if _, err := ScopeByDepth(60, Length(math.NaN())); !errors.Is(err, ErrScopeUnknown) {
		t.Errorf("ScopeByDepth(60 m, NaN): %v, want ErrScopeUnknown", err)
	}
}

func TestScopeCostsNothing(t *testing.T) {
	if n := testing.AllocsPerRun(100, func() {
		_, _ = Scope(60, 6, 1.5)
		_, _ = Scope(1, 6, 1.5)
		_, _ = Scope(60, Length(math.NaN()), 1.5)
	}); n != 0 {
		t.Errorf("a scope allocates %v times, want 0: it is asked for at every sample", n)
	}
}
