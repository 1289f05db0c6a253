package tui

import "strings"

// The environment of a program, as far as the screen asks it.
type Env func(key string) string

// NeedsASCII says whether a terminal is known to have no characters but those of
// ASCII: its locale is not UTF-8. Without a word of the locale it is taken to
// have them all. The first of the three variables that is set decides, by the
// rules of POSIX (XBD 8.2, from memory).
func NeedsASCII(env Env) bool {
	for _, key := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		v := strings.ToUpper(env(key))
		if v == "" {
			continue
		}
		return !strings.Contains(v, "UTF-8") && !strings.Contains(v, "UTF8")
	}
	return false
}

// DefaultLight is the light to begin with where a person has named none: plain
// where the environment asks for no colour, else by the ground that the terminal
// tells in COLORFGBG, else night: a dark screen at noon is read, a white one at
// night blinds.
func DefaultLight(env Env) Light {
	if env("NO_COLOR") != "" {
		return LightPlain
	}
	_, ground, ok := strings.Cut(env("COLORFGBG"), ";")
	if i := strings.LastIndexByte(ground, ';'); i >= 0 {
		ground = ground[i+1:]
	}
	if ok && (ground == "7" || ground == "15") {
		return LightDay
	}
	return LightNight
}

// asciiOf are the signs of the screen as a terminal without them shows them: one
// cell for one cell.
var asciiOf = map[rune]rune{
	'█': '#', '░': '.', '▁': '_', '▂': '_', '▃': '_', '▄': '=', '▅': '=', '▆': '#', '▇': '#',
	'▏': ' ', '▎': ' ', '▍': '>', '▌': '>', '▋': '>', '▊': '#', '▉': '#',
	'─': '-', '━': '=', '┼': '+', '┊': ':', '│': '|', '┤': '|', '·': '.', '…': '~', '–': '-',
	'►': '>', '▲': '^', '▽': 'V', '˙': '`', '▼': 'v', '●': 'O', '■': 'X', '□': 'o', '×': 'x', '°': 'o', '±': '~', '→': '>', '←': '<', '↑': '^', '↓': 'v',
	'“': '"', '”': '"', '’': '\'', '²': '2', '³': '3', 'µ': 'u', '\ufffd': '?',
}

// toASCII is the sign for r; what has none is a question mark. A braille cell is
// told by where its dots are: above, below, or both.
func toASCII(r rune) rune {
	switch {
	case r < 0x7f:
		return r
	case r >= 0x2800 && r < 0x2900:
		const upper, lower = 0x1b, 0xe4 // dots 1 2 4 5, and 3 6 7 8
		switch bits := r - 0x2800; {
		case bits == 0:
			return ' '
		case bits&lower == 0:
			return '\''
		case bits&upper == 0:
			return '.'
		}
		return ':'
	}
	if a, ok := asciiOf[r]; ok {
		return a
	}
	return '?'
}
