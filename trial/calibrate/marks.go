package calibrate

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Marks is a line counter held against the marks on the rode: the counts a
// metre, over all and on each layer of the drum.
type Marks struct {
	Layers []LayerMarks // the least rode out first; one only where the file has no column layer
	// HaulSign is +1 where counts rise while line comes in, -1 where they fall.
	HaulSign int
	Notes    []string
}

// LayerMarks is the counts a metre on one layer.
type LayerMarks struct {
	Name       string
	N          int
	From, To   float64 // the least and the greatest mark, m
	PerMetre   float64 // positive
	StdErr     float64
	ResidualSD float64 // m
	// WaysApart is how far the counter stood apart, on the mean, coming in and
	// going out at one mark, m. It says something only if HasWays.
	WaysApart float64
	HasWays   bool
}

// IsMarks says that a file is one of marks: it has columns mark and counts.
func IsMarks(name string, text []byte) bool {
	s, err := readSheet(name, text)
	if err != nil {
		return false
	}
	_, mark := s.columns["mark"]
	_, counts := s.columns["counts"]
	return mark && counts
}

// ReadMarks reads marks as they passed the fairlead: columns mark (the rode out
// there, in metres) and counts (what the box showed), and, where they are there,
// layer and direction ("in" or "out"), and fits the counts a metre.
func ReadMarks(name string, text []byte) (*Marks, error) {
	s, err := readSheet(name, text)
	if err != nil {
		return nil, err
	}
	mark, err := s.need("mark", "the rode out when it passed, in metres,")
	if err != nil {
		return nil, err
	}
	counts, err := s.need("counts", "what the box showed")
	if err != nil {
		return nil, err
	}
	if u := strings.ToLower(s.units["mark"]); u != "" && u != "m" {
		return nil, s.fail(1, "write the marks in metres", "gives the marks in %s", quoted(s.units["mark"]))
	}
	layer, hasLayer := s.columns["layer"]
	way, hasWay := s.columns["direction"]
	tables := map[string]*Table{}
	var names []string
	for i := range s.rows {
		r := Row{Line: s.lines[i]}
		if r.x, r.X, err = s.number(i, mark, "mark"); err != nil {
			return nil, err
		}
		if r.X < 0 {
			return nil, s.fail(r.Line, "write the rode out at the mark", "column mark: %v is negative", r.X)
		}
		if r.y, r.Y, err = s.number(i, counts, "counts"); err != nil {
			return nil, err
		}
		if hasWay {
			switch c := strings.ToLower(s.cell(i, way)); c {
			case "":
			case "in", "haul", "hauling":
				r.Direction = Up
			case "out", "pay out", "paying out":
				r.Direction = Down
			default:
				return nil, s.fail(r.Line, `write "in" or "out", or leave it empty`, "column direction: %s is neither", quoted(s.cell(i, way)))
			}
		}
		key := ""
		if hasLayer {
			if key = s.cell(i, layer); key == "" {
				return nil, s.fail(r.Line, "write the layer, or leave the column out", "column layer is empty")
			}
		}
		if tables[key] == nil {
			tables[key] = &Table{}
			names = append(names, key)
		}
		tables[key].Rows = append(tables[key].Rows, r)
	}
	if len(names) == 0 {
		return nil, s.fail(1, "write a row for each mark", "has no marks under its header")
	}
	m := &Marks{}
	for _, key := range names {
		l, sign, err := tables[key].layer(key, m)
		if err != nil {
			where := ""
			if key != "" {
				where = "layer " + plain(key) + ": "
			}
			return nil, s.fail(tables[key].Rows[0].Line, "pull more marks past the roller", "%s%v", where, err)
		}
		if m.HaulSign != 0 && sign != m.HaulSign {
			return nil, s.fail(tables[key].Rows[0].Line, "check the sign of the counts, or the layer", "layer %s counts the other way", plain(key))
		}
		m.HaulSign = sign
		m.Layers = append(m.Layers, l)
	}
	slices.SortFunc(m.Layers, func(a, b LayerMarks) int { return cmp.Compare(a.From, b.From) })
	for i := 1; i < len(m.Layers); i++ {
		if m.Layers[i].From < m.Layers[i-1].To {
			m.Notes = append(m.Notes, fmt.Sprintf("layers %s and %s overlap from %g m to %g m: is a mark on the wrong layer?",
				m.Layers[i-1].Name, m.Layers[i].Name, m.Layers[i].From, m.Layers[i-1].To))
		}
	}
	return m, nil
}

// layer fits the marks of one layer.
func (t *Table) layer(name string, m *Marks) (l LayerMarks, sign int, err error) {
	if n := len(t.Rows); n < 3 {
		return l, 0, fmt.Errorf("marks here: %d, and with fewer than 3 no scatter can be told", n)
	}
	f, err := t.Polynomial(1, false)
	if err != nil {
		return l, 0, fmt.Errorf("%s", strings.NewReplacer("column x", "column mark", "column y", "column counts", "load", "mark", "calibrate at", "pull past").Replace(err.Error()))
	}
	k := f.Coefficients[1]
	if k == 0 {
		return l, 0, fmt.Errorf("the counts do not go with the marks")
	}
	l = LayerMarks{Name: plain(name), N: f.N, PerMetre: math.Abs(k), StdErr: f.StandardErrors[1], ResidualSD: f.ResidualSD / math.Abs(k)}
	l.From, l.To = t.Span()
	which := "all marks"
	if name != "" {
		which = "layer " + l.Name
	}
	sign = -1 // counts grow with the rode out
	if k < 0 {
		sign = 1
	}
	var sum, n [3]float64
	worst := 0
	for i, r := range t.Rows {
		sum[r.Direction] += f.Residuals[i] / k
		n[r.Direction]++
		if math.Abs(f.Residuals[i]) > math.Abs(f.Residuals[worst]) {
			worst = i
		}
	}
	if n[Up] > 0 && n[Down] > 0 {
		l.HasWays, l.WaysApart = true, sum[Up]/n[Up]-sum[Down]/n[Down]
	} else {
		m.Notes = append(m.Notes, which+": marks not pulled both ways: slip and lag cannot be told")
	}
	if l.StdErr > 0.005*l.PerMetre {
		m.Notes = append(m.Notes, fmt.Sprintf("%s: the counts a metre are known to %.1f %% only: pull more marks", which, 100*l.StdErr/l.PerMetre))
	}
	r := &Report{Fit: f}
	r.Next, _ = t.Polynomial(2, false)
	if r.LeavesCurve() {
		m.Notes = append(m.Notes, fmt.Sprintf("%s: the counts a metre change along the line: more than one layer of a drum? name the layers in a column layer", which))
	}
	if f.DoF >= 5 && f.ResidualSD > 0 && math.Abs(f.Residuals[worst]) > 3*f.ResidualSD {
		m.Notes = append(m.Notes, fmt.Sprintf("line %d lies %.2f m off the others: a mark misread, or the wheel slipped", t.Rows[worst].Line, math.Abs(f.Residuals[worst]/k)))
	}
	return l, sign, nil
}

// Block is the keys of a trial file's [line] that say this.
func (m *Marks) Block() string {
	var b strings.Builder
	perMetre := func(v float64) string { return fmt.Sprintf("%.6g /m", v) }
	haul := "counts rise"
	if m.HaulSign < 0 {
		haul = "counts fall"
	}
	fmt.Fprintf(&b, "# in [line]\nhaul = %q\n", haul)
	if len(m.Layers) == 1 {
		fmt.Fprintf(&b, "scale = %q\n", perMetre(m.Layers[0].PerMetre))
		return b.String()
	}
	for i, l := range m.Layers {
		from := 0.0 // the first holds down to the fairlead, the others from half way to the one before
		if i > 0 {
			from = (m.Layers[i-1].To + l.From) / 2
		}
		fmt.Fprintf(&b, "\n[[line.layer]]   # %s\nfrom = \"%g m\"\nscale = %q\n", l.Name, from, perMetre(l.PerMetre))
	}
	return b.String()
}
