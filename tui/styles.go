package tui

import (
	"fmt"
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

// Light is what the screen is read in.
type Light uint8

// The lights. Day and night paint the whole screen, so that their contrast is
// known; own leaves the terminal its ground; plain sends no attribute at all.
const (
	LightOwn Light = iota
	LightDay
	LightNight
	LightPlain
	numLights
)

var lightNames = [numLights]string{"own", "day", "night", "plain"}

func (l Light) String() string {
	if l >= numLights {
		return fmt.Sprintf("light(%d)", uint8(l))
	}
	return lightNames[l]
}

// ParseLight reads a light by its name. Its error lists them.
func ParseLight(name string) (Light, error) {
	for i, n := range lightNames {
		if strings.EqualFold(n, name) {
			return Light(i), nil
		}
	}
	return 0, fmt.Errorf("%q is no light: %s", name, strings.Join(lightNames[:], ", "))
}

// colour is one of the 256, and what stands for it where there are sixteen. A
// terminal with true colour gets the 256's too: they are fixed by the same cube
// everywhere, so the contrast is what the test computes. Empty: the terminal's own.
type colour struct{ ansi256, ansi string }

// paint is how a role looks.
type paint struct {
	ink, ground          colour
	bold, faint, reverse bool
}

// palette is the looks of a light. ground is what the screen is painted with.
type palette struct {
	ground colour
	roles  [numRoles]paint
}

// The colours are few and never say that a load is safe: there is no green. An
// order has a ground of its own in each; the words on it tell it as well.
var palettes = [numLights]palette{
	LightOwn: {roles: [numRoles]paint{ // holds on a light and on a dark terminal
		dim:      {faint: true},
		strong:   {bold: true},
		accent:   {ink: colour{"31", "6"}, bold: true},
		standing: {ink: colour{"136", "3"}, bold: true},
		caution:  {ink: colour{"16", "0"}, ground: colour{"220", "11"}, bold: true},
		flash:    {ink: colour{"124", "1"}, ground: colour{"231", "15"}, bold: true},
		loud:     {ink: colour{"231", "15"}, ground: colour{"124", "1"}, bold: true},
		stopLine: {ink: colour{"160", "1"}},
		warnLine: {ink: colour{"136", "3"}},
		keycap:   {bold: true, reverse: true},
	}},
	LightDay: {ground: colour{"231", "15"}, roles: [numRoles]paint{
		plain:    {ink: colour{"16", "0"}},
		dim:      {ink: colour{"239", "0"}},
		strong:   {ink: colour{"16", "0"}, bold: true},
		accent:   {ink: colour{"24", "4"}, bold: true},
		standing: {ink: colour{"52", "0"}, bold: true},
		caution:  {ink: colour{"16", "0"}, ground: colour{"220", "11"}, bold: true},
		flash:    {ink: colour{"231", "15"}, ground: colour{"16", "0"}, bold: true},
		loud:     {ink: colour{"231", "15"}, ground: colour{"124", "1"}, bold: true},
		stopLine: {ink: colour{"124", "1"}},
		warnLine: {ink: colour{"52", "0"}},
		keycap:   {ink: colour{"231", "15"}, ground: colour{"16", "0"}, bold: true},
	}},
	// Warm and dim, nothing blue or white: eyes stay used to the dark.
	LightNight: {ground: colour{"16", "0"}, roles: [numRoles]paint{
		plain:    {ink: colour{"180", "7"}},
		dim:      {ink: colour{"173", "7"}},
		strong:   {ink: colour{"180", "7"}, bold: true},
		accent:   {ink: colour{"214", "11"}, bold: true},
		standing: {ink: colour{"178", "11"}, bold: true},
		caution:  {ink: colour{"16", "0"}, ground: colour{"178", "11"}, bold: true},
		flash:    {ink: colour{"209", "11"}, ground: colour{"16", "0"}, bold: true},
		loud:     {ink: colour{"16", "0"}, ground: colour{"209", "7"}, bold: true},
		stopLine: {ink: colour{"209", "11"}},
		warnLine: {ink: colour{"178", "11"}},
		keycap:   {ink: colour{"16", "0"}, ground: colour{"180", "7"}, bold: true},
	}},
	LightPlain: {},
}

// styles is every role as the terminal's own sequences, made once.
type styles struct {
	open, shut [numRoles]string
	bare       [numRoles]bool // a blank in it looks like nothing
	ascii      bool           // the terminal has no other characters
}

// newStyles finds what the terminal behind w can show, from the environment
// alone: it never asks the terminal. In plain light no attribute is sent at all,
// so everything must be told by its text; the screen holds to that anyway.
func newStyles(w io.Writer, light Light) *styles {
	r := lipgloss.NewRenderer(w)
	r.SetHasDarkBackground(true) // so that nothing asks; no style depends on it
	return stylesFor(r, light)
}

// stylesFor builds the styles of a light.
func stylesFor(r *lipgloss.Renderer, light Light) *styles {
	if light == LightPlain {
		bare := lipgloss.NewRenderer(io.Discard)
		bare.SetColorProfile(termenv.Ascii)
		bare.SetHasDarkBackground(true)
		r = bare
	}
	p := palettes[light]
	var st styles
	for i, look := range p.roles {
		s := r.NewStyle().Bold(look.bold).Faint(look.faint).Reverse(look.reverse)
		ground := look.ground
		if ground == (colour{}) {
			ground = p.ground
		}
		if look.ink != (colour{}) {
			s = s.Foreground(look.ink.lip())
		}
		if ground != (colour{}) {
			s = s.Background(ground.lip())
		}
		st.open[i], st.shut[i], _ = strings.Cut(s.Render("x"), "x")
		st.bare[i] = ground == (colour{}) && !look.reverse
	}
	if light == LightPlain { // as in colour, what has a ground keeps its cells
		for i, look := range palettes[LightOwn].roles {
			st.bare[i] = look.ground == (colour{}) && !look.reverse
		}
	}
	return &st
}

func (c colour) lip() lipgloss.TerminalColor {
	return lipgloss.CompleteColor{TrueColor: c.ansi256, ANSI256: c.ansi256, ANSI: c.ansi}
}
