package calibrate

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"hawse/trial/rode"
)

// passed is marks every 5 m of line coming off a drum with these layers, in and
// out, read to a count.
func passed(d rode.Drum, perTurn float64, layers bool) string {
	var b strings.Builder
	b.WriteString("mark [m],counts,direction,layer\n")
	full := d.TurnsFor(d.Capacity())
	for _, way := range []string{"out", "in"} {
		for m := 5.0; m < 70; m += 2.5 {
			turns := full - d.TurnsFor(d.Capacity()-m)
			layer := fmt.Sprint(d.LayerOf(full - turns))
			if !layers {
				layer = "1"
			}
			fmt.Fprintf(&b, "%g,%.0f,%s,%s\n", m, 1000+turns*perTurn, way, layer)
		}
	}
	return b.String()
}

// TestMarksOnADrum: the counts a metre of each layer are those of its
// diameter; taken as one layer it is told. The drum is invented, its geometry is
// held against published rows in trial/rode.
func TestMarksOnADrum(t *testing.T) {
	d := rode.Drum{Barrel: 0.2, Flange: 0.3, Width: 0.4, Line: 0.012}
	const perTurn = 4096
	m, err := ReadMarks("marks.csv", []byte(passed(d, perTurn, true)))
	if err != nil {
		t.Fatal(err)
	}
	if m.HaulSign != -1 || len(m.Layers) < 3 {
		t.Fatalf("%+v, want three layers, counts falling while hauling", m)
	}
	for _, l := range m.Layers {
		var n int
		fmt.Sscan(l.Name, &n)
		want := perTurn / (math.Pi * d.WrapDiameter(n))
		if math.Abs(l.PerMetre/want-1) > 1e-4 || !l.HasWays || math.Abs(l.WaysApart) > 1e-3 {
			t.Errorf("layer %d: %+v, want %g /m", n, l, want)
		}
	}
	if block := m.Block(); strings.Count(block, "[[line.layer]]") != len(m.Layers) || !strings.Contains(block, `from = "0 m"`) || !strings.Contains(block, `haul = "counts fall"`) {
		t.Errorf("block:\n%s", block)
	}
	if m, err = ReadMarks("marks.csv", []byte(passed(d, perTurn, false))); err != nil || !strings.Contains(strings.Join(m.Notes, "\n"), "more than one layer") {
		t.Errorf("as one layer: %+v, %v", m, err)
	}
}

func TestMarksOnAWheel(t *testing.T) {
	m, err := ReadMarks("marks.csv", []byte("counts,mark\n100,60\n10100,50\n20101,40\n30099,30\n"))
	if err != nil || len(m.Layers) != 1 || m.HaulSign != 1 || math.Abs(m.Layers[0].PerMetre-1000) > 0.2 {
		t.Fatalf("%+v, %v; want 1000 /m, counts rising while hauling", m, err)
	}
	if !strings.Contains(m.Block(), "scale = \"999.98") || !strings.Contains(strings.Join(m.Notes, "\n"), "both ways") {
		t.Errorf("block and notes:\n%s\n%v", m.Block(), m.Notes)
	}
}

func TestBadMarks(t *testing.T) {
	for _, tt := range []struct{ name, text, want string }{
		{"two marks", "mark,counts\n10,100\n20,200\n", "no scatter can be told"},
		{"one mark again and again", "mark,counts\n10,100\n10,200\n10,300\n", "column mark is constant"},
		{"counts that stand still", "mark,counts\n10,100\n20,100\n30,100\n", "column counts is constant"},
		{"in feet", "mark [ft],counts\n10,100\n", `in "ft"`},
		{"under the water", "mark,counts\n-10,100\n", "negative"},
		{"no counts", "mark,count\n10,100\n", "no column counts"},
		{"no rows", "mark,counts\n", "no marks"},
		{"a layer that counts the other way", "mark,counts,layer\n1,1,1\n2,2,1\n3,3,1\n4,9,2\n5,8,2\n6,7,2\n", "counts the other way"},
		{"no layer", "mark,counts,layer\n1,1,\n", "column layer is empty"},
		{"both ways at once", "mark,counts,direction\n1,1,up\n", `"up" is neither`},
	} {
		if _, err := ReadMarks("marks.csv", []byte(tt.text)); err == nil || !strings.Contains(err.Error(), tt.want) || !strings.HasPrefix(err.Error(), "marks.csv:") {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
}
