package trial

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestWeakest(t *testing.T) {
	piece := func(name string, wll Force) Piece { return Piece{Name: name, WLL: wll, Source: "x"} }
	gear := func(name string, wll Force) Gear { return Gear{Name: name, WLL: wll, Source: "x"} }
	tests := []struct {
		name    string
		trial   Trial
		weakest string
		wll     Force
		unrated []string
	}{
		{"nothing", Trial{}, "", 0, nil},
		{"the first of equals", Trial{Rode: []Piece{piece("a", 5)}, Gear: []Gear{gear("b", 5), gear("c", 6)}}, "a", 5, nil},
		{"gear rules", Trial{Rode: []Piece{piece("a", 5)}, Gear: []Gear{gear("b", 7), gear("c", 4)}}, "c", 4, nil},
		{"one without a rating is left out and named", Trial{Rode: []Piece{piece("a", 0), piece("d", 9)}, Gear: []Gear{gear("b", 0)}}, "d", 9, []string{"a", "b"}},
		{"one without a source counts and is named", Trial{Rode: []Piece{piece("a", 5)}, Gear: []Gear{{Name: "b", WLL: 3}}}, "b", 3, []string{"b"}},
		{"none rated", Trial{Rode: []Piece{piece("a", 0)}, Gear: []Gear{gear("b", 0)}}, "", 0, []string{"a", "b"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if name, wll := tt.trial.Weakest(); name != tt.weakest || wll != tt.wll {
				t.Errorf("Weakest() = %q, %v; want %q, %v", name, wll, tt.weakest, tt.wll)
			}
			if diff := cmp.Diff(tt.unrated, tt.trial.Unrated()); diff != "" {
				t.Errorf("Unrated() (-want +got):\n%s", diff)
			}
		})
	}
}

// What a file says of ratings, in all its forms.
func TestRatings(t *testing.T) {
	const shackle = "wll = \"15 kN\"              # working load limit, from its certificate\n"
	const from = "source = \"invented\"        # where the figure comes from\n"
	const both = "mbl = \"60 kN\"\nfactor = 5\n"
	tests := []struct {
		name, rating, source string // of the anchor shackle
		want                 string
		wll                  Force
		unrated, note        string
	}{
		{"a working load limit", shackle, from, "WLL 15 kN, invented", 15e3, "", ""},
		{"breaking load and factor", both, from, "MBL 60 kN / 5 = WLL 12 kN, invented", 12e3, "", ""},
		{"all three, agreeing", both + "wll = \"12 kN\"\n", from, "MBL 60 kN / 5 = WLL 12 kN, invented", 12e3, "", ""},
		{"all three, the certificate rounded up", both + "wll = \"12.1 kN\"\n", from, "MBL 60 kN / 5 = WLL 12 kN, invented", 12e3, "", ""},
		{"all three, the certificate rounded down", both + "wll = \"11.9 kN\"\n", from, "MBL 60 kN / 5 = WLL 11.9 kN, invented", 11.9e3, "", ""},
		{"a breaking load told beside", shackle + "mbl = \"60 kN\"\n", from, "WLL 15 kN (MBL 60 kN), invented", 15e3, "", ""},
		{"no rating", "", from, "no rating, invented", 0, "anchor shackle", "has no wll, and no mbl and factor"},
		{"a breaking load alone", "mbl = \"60 kN\"\n", from, "no WLL (MBL 60 kN without a factor), invented", 0, "anchor shackle", "mbl without a factor"},
		{"no source", shackle, "", "WLL 15 kN, no source", 15e3, "anchor shackle", "does not say the source"},
		{"neither", "", "", "no rating, no source", 0, "anchor shackle", "has no wll"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tr, err := ParseTrial("t.toml", []byte(edited(t, shackle, tt.rating, from, tt.source)))
			if err != nil {
				t.Fatalf("refused:\n%v", err)
			}
			g := tr.Gear[0]
			if got := g.Rating(tr.Show); got != tt.want || g.WLL != tt.wll {
				t.Errorf("Rating() = %q, WLL %v; want %q, %v", got, g.WLL, tt.want, tt.wll)
			}
			if got := strings.Join(tr.Unrated(), ","); got != tt.unrated {
				t.Errorf("Unrated() = %q, want %q", got, tt.unrated)
			}
			if notes := strings.Join(tr.Notes, "\n"); !strings.Contains(notes, tt.note) || (tt.note == "") != (notes == "") {
				t.Errorf("notes %q, want one with %q", notes, tt.note)
			}
			if name, wll := tr.Weakest(); name != "swivel" || wll != 10e3 {
				t.Errorf("Weakest() = %q, %v; want the swivel as before", name, wll)
			}
			checkWhole(t, tr)
		})
	}
}

// A file in which nothing is rated still reads: every piece is told.
func TestNothingRated(t *testing.T) {
	var lines []string
	for l := range strings.SplitSeq(Template(), "\n") {
		if key, _, _ := strings.Cut(l, " ="); key != "wll" && key != "mbl" && key != "factor" {
			lines = append(lines, l)
		}
	}
	tr, err := ParseTrial("t.toml", []byte(strings.Join(lines, "\n")))
	if err != nil {
		t.Fatalf("refused:\n%v", err)
	}
	name, wll := tr.Weakest()
	if n := len(tr.Unrated()); n != 7 || len(tr.Notes) != 7 || name != "" || wll != 0 {
		t.Errorf("%d unrated, %d notes, weakest %q %v; want 7, 7 and none", n, len(tr.Notes), name, wll)
	}
	if f, by := tr.TensionStop(Pull); f != 8000 || by.Key != "tension_stop" {
		t.Errorf("TensionStop(pull) = %v by %q; want 8 kN by tension_stop, for no share is known", f, by.Key)
	}
	for _, o := range tr.Overshoots() {
		if o.Covered() {
			t.Errorf("%v: covered, though no WLL is known", o.Stage)
		}
	}
	checkWhole(t, tr)
}

func TestNoPass(t *testing.T) {
	tr := &Trial{Gear: []Gear{
		{Name: "winch"},
		{Name: "swivel", At: 10, HasAt: true, Passes: true},
		{Name: "joint", At: 10, HasAt: true},
		{Name: "cell", At: 50, HasAt: true},
		{Name: "shackle", At: 0, HasAt: true},
	}}
	want := []Joint{{"cell", 50}, {"joint", 10}, {"shackle", 0}, {"anchor", 0}}
	if diff := cmp.Diff(want, tr.NoPass()); diff != "" {
		t.Errorf("NoPass() (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]Joint{{"anchor", 0}}, (&Trial{}).NoPass()); diff != "" {
		t.Errorf("NoPass() of nothing (-want +got):\n%s", diff)
	}
}

func TestStiffness(t *testing.T) {
	mixed := []Piece{{Length: 10, EA: 1e6}, {Length: 20, EA: 200e3}}
	tests := []struct {
		name string
		rode []Piece
		out  Length
		want float64 // N/m; 0: not known
		tol  float64
	}{
		// Computed from EA/L: 400 kN over 44 m is 9.1 kN/m; 45 m 8.9 kN/m.
		{"one stiffness, 44 m", []Piece{{Length: 10, EA: 400e3}, {Length: 70, EA: 400e3}}, 44, 9.1e3, 50},
		{"one stiffness, 45 m", []Piece{{Length: 10, EA: 400e3}, {Length: 70, EA: 400e3}}, 45, 8.9e3, 50},
		// Computed from EA/L: wire of 1.7 MN, 40 m: 42.5 kN/m.
		{"wire", []Piece{{Length: 40, EA: 1.7e6}}, 40, 42.5e3, 1e-6},
		// By hand, springs in series: 10/1e6 + 20/2e5 = 1.1e-4 m/N.
		{"two pieces", mixed, 30, 1 / 1.1e-4, 1e-9},
		// By hand: 10/1e6 + 5/2e5 = 3.5e-5 m/N.
		{"a part of the second", mixed, 15, 1 / 3.5e-5, 1e-9},
		{"a part of the first", mixed, 5, 200e3, 1e-6},
		{"to the joint", mixed, 10, 100e3, 1e-6},
		{"more out than there is", mixed, 31, 1 / 1.1e-4, 1e-9},
		{"nothing out", mixed, 0, 0, 0},
		{"less than nothing", mixed, -1, 0, 0},
		{"not a number", mixed, Length(math.NaN()), 0, 0},
		{"without end", mixed, Length(math.Inf(1)), 0, 0},
		{"no rode", nil, 10, 0, 0},
		{"no EA", []Piece{{Length: 10, EA: 1e6}, {Length: 20}}, 15, 0, 0},
		{"no EA in what is not out", []Piece{{Length: 10, EA: 1e6}, {Length: 20}}, 8, 125e3, 1e-6},
	}
	for _, tt := range tests {
		got, ok := (&Trial{Rode: tt.rode}).Stiffness(tt.out)
		if ok != (tt.want != 0) || math.Abs(got-tt.want) > tt.tol {
			t.Errorf("%s: Stiffness(%v) = %v, %v; want %v", tt.name, tt.out, got, ok, tt.want)
		}
	}
}

// More rode out never makes it stiffer, and no rode is stiffer than its
// softest piece alone.
func TestStiffnessFallsWithRode(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var tr Trial
		for range rapid.IntRange(1, 5).Draw(t, "pieces") {
			tr.Rode = append(tr.Rode, Piece{
				Length: Length(rapid.Float64Range(0.01, 1000).Draw(t, "length")),
				EA:     Force(rapid.Float64Range(1, 1e9).Draw(t, "ea")),
			})
		}
		a := Length(rapid.Float64Range(0.01, 6000).Draw(t, "out"))
		b := a + Length(rapid.Float64Range(0, 1000).Draw(t, "more"))
		ka, okA := tr.Stiffness(a)
		kb, okB := tr.Stiffness(b)
		if !okA || !okB || kb > ka*(1+1e-12) {
			t.Fatalf("Stiffness(%v) = %v, %v; Stiffness(%v) = %v, %v", a, ka, okA, b, kb, okB)
		}
		whole, _ := tr.Stiffness(tr.RodeLength())
		for _, p := range tr.Rode {
			if alone := float64(p.EA) / float64(p.Length); whole > alone*(1+1e-12) {
				t.Fatalf("the whole, %v, is stiffer than %+v alone, %v", whole, p, alone)
			}
		}
	})
}

func TestStiffnessAllocatesNothing(t *testing.T) {
	tr := parseTemplate(t)
	if n := testing.AllocsPerRun(100, func() { tr.Stiffness(44) }); n != 0 {
		t.Errorf("Stiffness allocates %v times; it is asked at every sample", n)
	}
}
