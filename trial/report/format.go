package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"hawse/trial"
)

const dash = "–"

func parseFloat(s string) (float64, error) { return strconv.ParseFloat(s, 64) }

// units is how a campaign's numbers are shown.
type units struct {
	show     trial.Show
	invented string // what every plot says that holds data of no real anchor; "" none does
}

func (u units) force() (by float64, name string)  { return u.show.InUnit("N") }
func (u units) length() (by float64, name string) { return u.show.InUnit("m") }

// digits3 is a number to three digits, no more.
func digits3(v float64) string {
	if math.IsNaN(v) {
		return dash
	}
	if math.IsInf(v, 0) {
		return "open"
	}
	if v == 0 {
		return "0"
	}
	d := min(max(2-int(math.Floor(math.Log10(math.Abs(v)))), 0), 6)
	return strconv.FormatFloat(v, 'f', d, 64)
}

func (u units) n(v float64) string {
	by, _ := u.force()
	return digits3(v / by)
}

func (u units) nWith(v float64) string {
	if math.IsNaN(v) {
		return dash
	}
	_, name := u.force()
	return u.n(v) + " " + name
}

func (u units) m(v float64) string {
	by, _ := u.length()
	if math.IsNaN(v) {
		return dash
	}
	return strconv.FormatFloat(v/by, 'f', 1, 64)
}

// kg is a mass as it was weighed.
func kg(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }

// raw is a number for a file: exactly, empty where it is not known.
func raw(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

func num(text string, v float64) cell { return cell{text, raw(v)} }

// quantity is a figure as a page and a file show it.
func (u units) quantity(f *trial.Figure, q trial.Quantity, reading int) cell {
	if f.Word != "" {
		return plain(f.Word)
	}
	v := f.Read[reading]
	if !v.Known {
		return cell{dash, ""}
	}
	by, _ := u.show.InUnit(trial.Quantities[q].Unit)
	text := digits3(v.V / by)
	if f.Bound != "" {
		text = "> " + text
	}
	return cell{text, raw(v.V)}
}

func hms(d time.Duration) string {
	s := int64((d + time.Second/2) / time.Second)
	if s < 3600 {
		return fmt.Sprintf("%d:%02d", s/60, s%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
}

func utc(t time.Time) string {
	if t.IsZero() {
		return dash
	}
	return t.UTC().Format("2006-01-02 15:04")
}

// p-values to what they can carry.
func pText(p float64) string {
	switch {
	case math.IsNaN(p):
		return dash
	case p < 0.0001:
		return "< 0.0001"
	case p < 0.1:
		return strconv.FormatFloat(p+1e-9, 'f', 4, 64) // 1/32 is not always a little less
	}
	return strconv.FormatFloat(p, 'f', 2, 64)
}

// fileName makes a name of a file from a text, so that no text can name another
// place.
func fileName(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9':
			b.WriteRune(r)
		default:
			b.WriteByte('-')
		}
		if b.Len() >= 60 {
			break
		}
	}
	if b.Len() == 0 {
		return "x"
	}
	return b.String()
}

func count(n int, of string) string {
	if n == 1 {
		return "1 " + of
	}
	return strconv.Itoa(n) + " " + of + "s"
}
