package tui

import (
	"bytes"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/charmbracelet/lipgloss"
	"github.com/charmbracelet/x/vt"
	"github.com/muesli/termenv"
)

// rgb in 0 to 1, not linear.
type rgb [3]float64

// linear undoes the curve of sRGB, and luminance weighs the channels: WCAG 2.2,
// "relative luminance" (from memory).
func (c rgb) linear() (out rgb) {
	for i, v := range c {
		if v <= 0.04045 {
			out[i] = v / 12.92
		} else {
			out[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return out
}

func luminance(lin rgb) float64 { return 0.2126*lin[0] + 0.7152*lin[1] + 0.0722*lin[2] }

// contrast is WCAG 2.2, "contrast ratio" (from memory).
func contrast(a, b rgb) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

// cube is a colour of the 256: six steps a channel from 16 on, greys from 232.
func cube(n int) rgb {
	if n >= 232 {
		v := float64(8+10*(n-232)) / 255
		return rgb{v, v, v}
	}
	step := func(i int) float64 {
		if i == 0 {
			return 0
		}
		return float64(55+40*i) / 255
	}
	n -= 16
	return rgb{step(n / 36), step(n / 6 % 6), step(n % 6)}
}

// The sixteen colours are the terminal's own. These are those of the PC text
// mode, as a console without a colour scheme has them (from memory).
var sixteen = [16][3]int{
	{0, 0, 0}, {170, 0, 0}, {0, 170, 0}, {170, 85, 0}, {0, 0, 170}, {170, 0, 170}, {0, 170, 170}, {170, 170, 170},
	{85, 85, 85}, {255, 85, 85}, {85, 255, 85}, {255, 255, 85}, {85, 85, 255}, {255, 85, 255}, {85, 255, 255}, {255, 255, 255},
}

func of16(s string) rgb {
	n, _ := strconv.Atoi(s)
	c := sixteen[n]
	return rgb{float64(c[0]) / 255, float64(c[1]) / 255, float64(c[2]) / 255}
}

func of256(s string) rgb {
	n, _ := strconv.Atoi(s)
	return cube(n)
}

// eyes are how colours look to the commonest eyes, on linear RGB: Machado,
// Oliveira, Fernandes, "A Physiologically-based Model for Simulation of Color
// Vision Deficiency", 2009, severity 1.0 (matrices from memory).
var eyes = []struct {
	name string
	m    [3][3]float64
	text float64 // the least contrast of text
}{
	{"all cones", [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, 7},
	{"no red cones", [3][3]float64{{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}, 4.5},
	{"no green cones", [3][3]float64{{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}, 4.5},
	{"no blue cones", [3][3]float64{{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}}, 4.5},
	{"no colour", [3][3]float64{{0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}}, 7},
}

func seen(c rgb, m [3][3]float64) (out rgb) {
	lin := c.linear()
	for i := range out {
		for j := range lin {
			out[i] += m[i][j] * lin[j]
		}
		out[i] = math.Min(math.Max(out[i], 0), 1)
	}
	return out
}

func TestContrastFormula(t *testing.T) {
	white, black := rgb{1, 1, 1}.linear(), rgb{}.linear()
	if c := contrast(white, black); math.Abs(c-21) > 1e-9 {
		t.Errorf("white on black = %v, want 21", c)
	}
	grey := rgb{0x77 / 255., 0x77 / 255., 0x77 / 255.}.linear() // 4.48: the well-known grey just under 4.5 (from memory)
	if c := contrast(white, grey); math.Abs(c-4.48) > 0.005 {
		t.Errorf("#777777 on white = %v, want 4.48", c)
	}
}

// Text has a contrast of 7:1 or better in day and night light, with 256 colours
// and with sixteen, and 4.5:1 to eyes that lack a cone.
func TestTextContrast(t *testing.T) {
	for _, depth := range []struct {
		name string
		rgb  func(string) rgb
		of   func(colour) string
	}{
		{"256", of256, func(c colour) string { return c.ansi256 }},
		{"16", of16, func(c colour) string { return c.ansi }},
	} {
		for light := LightOwn; light < LightPlain; light++ {
			p := palettes[light]
			for r, look := range p.roles {
				ground := look.ground
				if ground == (colour{}) {
					ground = p.ground
				}
				if ground == (colour{}) {
					continue // the terminal's own: not known
				}
				for _, eye := range eyes {
					ink, under := seen(depth.rgb(depth.of(look.ink)), eye.m), seen(depth.rgb(depth.of(ground)), eye.m)
					if c := contrast(ink, under); c < eye.text {
						t.Errorf("%v light, %s colours, %s: role %d has a contrast of %.2f, want %.1f", light, depth.name, eye.name, r, c, eye.text)
					}
				}
			}
		}
	}
}

// An order stands out from the ground of the screen to every eye: its ground
// differs from it by 3:1, as WCAG 2.2 asks of what is no text (1.4.11, from memory).
func TestOrdersStandOutToEveryEye(t *testing.T) {
	for _, light := range []Light{LightDay, LightNight} {
		p := palettes[light]
		for _, eye := range eyes {
			for _, r := range []role{loud, keycap} {
				c := contrast(seen(of256(p.roles[r].ground.ansi256), eye.m), seen(of256(p.ground.ansi256), eye.m))
				if c < 3 {
					t.Errorf("%v light, %s: the ground of role %d differs by %.2f from that of the screen, want 3", light, eye.name, r, c)
				}
			}
		}
	}
}

// Night light has nothing blue or white in it.
func TestNightIsWarm(t *testing.T) {
	for r, look := range palettes[LightNight].roles {
		for _, c := range []colour{look.ink, look.ground} {
			if c == (colour{}) {
				continue
			}
			v := of256(c.ansi256)
			if v[2] > v[0]*0.7 || luminance(v.linear()) > 0.6 {
				t.Errorf("role %d has the colour %s, %v: too blue or too bright", r, c.ansi256, v)
			}
		}
	}
}

// Every depth of colour gives every light, and a plain screen sends nothing.
func TestDepthsOfColour(t *testing.T) {
	for _, tt := range []struct {
		profile termenv.Profile
		want    string // how the ground of day begins
	}{{termenv.TrueColor, "48;5;231"}, {termenv.ANSI256, "48;5;231"}, {termenv.ANSI, "107"}, {termenv.Ascii, ""}} {
		r := lipgloss.NewRenderer(&bytes.Buffer{})
		r.SetColorProfile(tt.profile)
		st := stylesFor(r, LightDay)
		if !strings.Contains(st.open[plain], tt.want) {
			t.Errorf("profile %v: day opens with %q, want %q in it", tt.profile, st.open[plain], tt.want)
		}
		if st := stylesFor(r, LightPlain); strings.Join(st.open[:], "")+strings.Join(st.shut[:], "") != "" {
			t.Errorf("profile %v: plain light sends %q", tt.profile, st.open)
		}
	}
}

// inLight is a scene in a light, with 256 colours.
func (sc scene) inLight(t *testing.T, l Light, ascii bool, w, h int) model {
	m, _ := sc.screen(t, w, h)
	r := lipgloss.NewRenderer(&bytes.Buffer{})
	r.SetColorProfile(termenv.ANSI256)
	m.st, m.light = stylesFor(r, l), l
	m.st.ascii = ascii
	m.frame = m.draw()
	return m
}

// looks shows which style each cell has, as a letter a style, and what the
// letters stand for.
func looks(frame string, w, h int) string {
	em := vt.NewEmulator(w, h)
	defer em.Close()
	_, _ = em.Write([]byte(strings.ReplaceAll(frame, "\n", "\r\n")))
	letters := map[string]byte{}
	var legend, out strings.Builder
	for y := range h {
		var line strings.Builder
		for x := range w {
			c := em.CellAt(x, y)
			if c == nil || c.Width == 0 {
				line.WriteByte(' ')
				continue
			}
			key := fmt.Sprintf("ink %v ground %v attributes %d", c.Style.Fg, c.Style.Bg, c.Style.Attrs)
			if _, ok := letters[key]; !ok {
				letters[key] = byte('a' + len(letters))
				fmt.Fprintf(&legend, "%c %s\n", letters[key], key)
			}
			line.WriteByte(letters[key])
		}
		out.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
	return out.String() + legend.String()
}

// Cells and colours of every view in day and night light, and in plain light
// without any character past ASCII.
func TestGoldenLights(t *testing.T) {
	const w, h = 80, 24
	for s := range numStands {
		for _, name := range []string{"pull", "warning", "trip-ease", "load-silent"} {
			for light := LightDay; light <= LightPlain; light++ {
				m := sceneNamed(name).from(s).inLight(t, light, light == LightPlain, w, h)
				got := cells(m.frame, w, h) + "--- looks\n" + looks(m.frame, w, h)
				if light != LightPlain { // the same text stands in the goldens of the views
					got = looks(m.frame, w, h)
				}
				golden(t, filepath.Join("lights", fmt.Sprintf("%v-%s-%v.txt", s, name, light)), got)
			}
		}
	}
}

// The same at the other sizes, for a stop in force.
func TestGoldenLightsAtEverySize(t *testing.T) {
	for s := range numStands {
		for light := LightDay; light <= LightNight; light++ {
			var got strings.Builder
			for _, size := range standSizes {
				m := sceneNamed("trip-ease").from(s).inLight(t, light, false, size[0], size[1])
				fmt.Fprintf(&got, "=== %dx%d\n%s", size[0], size[1], looks(m.frame, size[0], size[1]))
			}
			golden(t, filepath.Join("lights", fmt.Sprintf("%v-sizes-%v.txt", s, light)), got.String())
		}
	}
}

// A painted screen is painted to its last cell, and ASCII is all that an
// ASCII-only terminal gets.
func TestPaintedWholeAndASCIIAlone(t *testing.T) {
	for _, sc := range allScenes() {
		for s := range numStands {
			sc := sc.from(s)
			m := sc.inLight(t, LightNight, false, 80, 24)
			if err := checkFrame(m.frame, 80, 24); err != nil {
				t.Errorf("%s, %v: %v", sc.name, s, err)
			}
			for i, line := range strings.Split(m.frame, "\n") {
				if n := lipgloss.Width(line); n != 80 {
					t.Errorf("%s, %v: line %d paints %d cells, want 80", sc.name, s, i, n)
				}
			}
			m = sc.inLight(t, LightPlain, true, 80, 24)
			for i, r := range m.frame {
				if r >= 0x7f || r < 0x20 && r != '\n' {
					t.Errorf("%s, %v: %U at %d on a screen of ASCII", sc.name, s, r, i)
					break
				}
			}
		}
	}
}

func TestEnvironment(t *testing.T) {
	for _, tt := range []struct {
		env   map[string]string
		ascii bool
		light Light
	}{
		{nil, false, LightNight},
		{map[string]string{"LANG": "en_GB.UTF-8"}, false, LightNight},
		{map[string]string{"LANG": "en_GB.UTF-8", "LC_ALL": "C"}, true, LightNight},
		{map[string]string{"LC_CTYPE": "de_DE.utf8", "LANG": "C"}, false, LightNight},
		{map[string]string{"LANG": "POSIX"}, true, LightNight},
		{map[string]string{"COLORFGBG": "0;15"}, false, LightDay},
		{map[string]string{"COLORFGBG": "0;default;15"}, false, LightDay},
		{map[string]string{"COLORFGBG": "15;0"}, false, LightNight},
		{map[string]string{"COLORFGBG": "0;15", "NO_COLOR": "1"}, false, LightPlain},
	} {
		env := func(k string) string { return tt.env[k] }
		if a, l := NeedsASCII(env), DefaultLight(env); a != tt.ascii || l != tt.light {
			t.Errorf("%v: ASCII %v, %v light; want %v, %v", tt.env, a, l, tt.ascii, tt.light)
		}
	}
	for l := range numLights {
		if got, err := ParseLight(l.String()); got != l || err != nil {
			t.Errorf("ParseLight(%q) = %v, %v", l.String(), got, err)
		}
	}
	if _, err := ParseLight("dusk"); err == nil {
		t.Error("ParseLight of a wrong name gave no error")
	}
}
