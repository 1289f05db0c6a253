package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/charmbracelet/x/ansi"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/trial"
)

const dash = "–"

// visible is a text from outside, short and with what is not to be seen escaped.
func visible(s string) string { return acquire.Visible([]byte(s)) }

// clipped keeps a text in its column.
func clipped(s string, wide int) string {
	return ansi.Truncate(s, wide, "~")
}

func showOf(t *trial.Trial) trial.Show {
	if t == nil {
		return trial.Show{}
	}
	return t.Show
}

func utc(t time.Time, layout string) string {
	if t.IsZero() {
		return dash
	}
	return t.UTC().Format(layout)
}

// clock is a time since the pull began, or a length of time: m:ss.
func clock(ns int64) string {
	s := (ns + 5e8) / 1e9
	if s < 3600 {
		return fmt.Sprintf("%d:%02d", s/60, s%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
}

func greatestIn(show trial.Show, g trial.Greatest) string {
	if !g.Known {
		return dash
	}
	text := forceIn(show, g.Value)
	if g.Bound != "" {
		text = "> " + text
	}
	return text
}

// forceIn and lengthIn are for people: about a ten-newton, and a centimetre.
func forceIn(show trial.Show, f trial.Force) string {
	u := show.Tension
	if !(u.N > 0) {
		u = trial.ForceUnit{Name: "N", N: 1}
	}
	return places(u.In(f), u.N/10) + " " + u.Name
}

// percent is a share with its sign, which nothing has not.
func percent(share float64) string {
	text := fmt.Sprintf("%+.1f %%", 100*share)
	if strings.Trim(text, "+-0. %") == "" {
		return text[1:]
	}
	return text
}

// finely is a force to four digits: what a check of the load cell is read to.
func finely(show trial.Show, f trial.Force) string {
	if !(show.Tension.N > 0) {
		return fmt.Sprintf("%.4g N", float64(f))
	}
	return fmt.Sprintf("%.4g %s", show.Tension.In(f), show.Tension.Name)
}

func lengthIn(show trial.Show, l trial.Length) string {
	if math.IsNaN(float64(l)) {
		return dash
	}
	u := show.Length
	if !(u.M > 0) {
		u = trial.LengthUnit{Name: "m", M: 1}
	}
	return places(u.In(l), u.M*100) + " " + u.Name
}

// places writes a number to so many decimals as tell steps apart of which a
// unit has n.
func places(v, n float64) string {
	text := strconv.FormatFloat(v, 'f', int(max(0, min(4, math.Floor(math.Log10(n)+0.5)))), 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// invented says that no real anchor was pulled.
func invented(r *session.Result) bool { return r.Ready && r.Head.Mode != "live" }

// printable is a text of any length with what is not to be seen escaped as in
// the log; letters of any script stay.
func printable(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) || r == utf8.RuneError }) {
		return s
	}
	var b strings.Builder
	for i, r := range s {
		size := utf8.RuneLen(r)
		if r == utf8.RuneError {
			_, size = utf8.DecodeRuneInString(s[i:])
		}
		if part := s[i : i+size]; unicode.IsPrint(r) && r != utf8.RuneError {
			b.WriteString(part)
		} else {
			b.Write(logfmt.AppendEscaped(nil, part))
		}
	}
	return b.String()
}
