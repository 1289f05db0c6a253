package tui

import (
	"io"
	"strings"

	"github.com/charmbracelet/lipgloss"
	"github.com/muesli/termenv"
)

// role is what a piece of the screen is, not how it looks.
type role uint8

const (
	plain    role = iota
	dim           // labels, axes, what can wait
	strong        // values
	accent        // the one accent: the trace, the nearest limit, headings
	standing      // a caution that stands for most of a pull
	caution       // a warning: needs attention, not yet an order
	flash         // loud the other way round: what nobody has acknowledged, every other half second
	loud          // an order, an alarm nobody has acknowledged, unknown tension
	stopLine      // the stop limit in the trace
	warnLine      // the warning level in the trace
	keycap        // a key to press
	numRoles
)

// styles is every role as the terminal's own sequences, made once.
type styles struct {
	open, shut [numRoles]string
	bare       [numRoles]bool // a blank in it looks like nothing
}

// newStyles finds what the terminal behind w can show, from the environment
// alone: it never asks the terminal. With noColour set no attribute is sent at
// all, so everything must be told by its text; the screen holds to that anyway.
func newStyles(w io.Writer, noColour bool) *styles {
	r := lipgloss.NewRenderer(w)
	r.SetHasDarkBackground(true) // so that nothing asks; no style depends on it
	if noColour {
		r.SetColorProfile(termenv.Ascii)
	}
	return stylesFor(r)
}

// stylesFor builds the styles. The colours are few, hold on a light and on a
// dark terminal, and never say that a load is safe: there is no green.
func stylesFor(r *lipgloss.Renderer) *styles {
	ink := func(ansi, ansi256 string) lipgloss.TerminalColor {
		return lipgloss.CompleteColor{TrueColor: ansi256, ANSI256: ansi256, ANSI: ansi}
	}
	s := r.NewStyle
	look := [numRoles]lipgloss.Style{
		plain:    s(),
		dim:      s().Faint(true),
		strong:   s().Bold(true),
		accent:   s().Bold(true).Foreground(ink("6", "31")),
		standing: s().Bold(true).Foreground(ink("3", "136")),
		caution:  s().Bold(true).Foreground(ink("0", "16")).Background(ink("3", "220")),
		flash:    s().Bold(true).Foreground(ink("1", "160")).Background(ink("15", "231")),
		loud:     s().Bold(true).Foreground(ink("15", "231")).Background(ink("1", "160")),
		stopLine: s().Foreground(ink("1", "160")),
		warnLine: s().Foreground(ink("3", "136")),
		keycap:   s().Bold(true).Reverse(true),
	}
	var st styles
	for i, l := range look {
		st.open[i], st.shut[i], _ = strings.Cut(l.Render("x"), "x")
		st.bare[i] = role(i) != caution && role(i) != loud && role(i) != flash && role(i) != keycap
	}
	return &st
}
