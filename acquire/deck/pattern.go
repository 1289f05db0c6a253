package deck

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"hawse/trial"
)

// token is one word of a statement, or one text in quotes.
type token struct {
	text   string
	quoted bool
}

// tokens cuts a statement into words; a # outside quotes ends it.
func tokens(line string) ([]token, error) {
	var out []token
	for {
		line = strings.TrimLeftFunc(line, unicode.IsSpace)
		switch {
		case line == "" || line[0] == '#':
			return out, nil
		case line[0] == '"':
			end := strings.IndexByte(line[1:], '"')
			if end < 0 {
				return nil, errors.New("a text is not closed; end it with \"")
			}
			out = append(out, token{line[1 : 1+end], true})
			line = line[2+end:]
		default:
			end := strings.IndexFunc(line, func(r rune) bool { return unicode.IsSpace(r) || r == '#' || r == '"' })
			if end < 0 {
				end = len(line)
			}
			out = append(out, token{line[:end], false})
			line = line[end:]
		}
	}
}

// quantities are the words of a pattern that stand for a number with its unit.
var quantities = map[string]func(string) (float64, error){
	"FORCE":  func(s string) (float64, error) { v, err := trial.ParseForce(s); return float64(v), err },
	"LENGTH": func(s string) (float64, error) { v, err := trial.ParseLength(s); return float64(v), err },
	"SPEED":  func(s string) (float64, error) { v, err := trial.ParseSpeed(s); return float64(v), err },
	"RATE":   func(s string) (float64, error) { v, err := trial.ParseRate(s); return float64(v), err },
	"TIME":   func(s string) (float64, error) { v, err := trial.ParseDuration(s); return v.Seconds(), err },
	"WEIGHT": parseWeight,
	"SHARE":  parseShare,

	"ANGLE":      func(s string) (float64, error) { v, err := trial.ParseAngle(s); return float64(v), err },
	"LINEWEIGHT": func(s string) (float64, error) { v, err := trial.ParseLineWeight(s); return float64(v), err },
	"PRESSURE":   parsePressure,
	"NUMBER":     parseNumber,
}

// parseWeight is what a mass weighs, or a force, in newtons.
func parseWeight(s string) (float64, error) {
	m, err := trial.ParseMass(s)
	if err == nil {
		return float64(m) * float64(kgf), nil
	}
	if f, ferr := trial.ParseForce(s); ferr == nil {
		return float64(f), nil
	}
	return 0, err
}

func parseShare(s string) (float64, error) {
	number, ok := strings.CutSuffix(s, "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if !ok || err != nil || !(v >= 0 && v <= 100) {
		return 0, fmt.Errorf("%s is no share; write a number from 0 to 100 and %%, such as \"4 %%\"", quoted(s))
	}
	return v / 100, nil
}

// match is what a pattern made of a statement.
type match struct {
	args []string
	si   []float64 // of the quantities in order
	used int       // tokens understood, to tell the nearest of several patterns
	err  error
}

// fit holds tokens against a pattern: words to be met as they are, a|b for one
// of several, rode_out for words that count as one, and in capitals what a
// person fills in: a quantity, a name of some kind, COUNT or TEXT. args leaves out the
// first word.
func fit(pattern string, toks []token) (m match) {
	words := strings.Fields(pattern)
	i := 0
	for w, word := range words {
		if i >= len(toks) {
			m.err = errors.New("the statement ends too early")
			return m
		}
		var arg string
		var n int
		if parse, ok := quantities[word]; ok {
			var si float64
			arg, n = quantityText(toks[i:], words[w+1:])
			if si, m.err = parse(arg); m.err != nil {
				m.used = i + 1 // its first word is in the right place
				return m
			}
			m.si = append(m.si, si)
		} else if arg, n, m.err = wordText(word, toks[i:]); m.err != nil {
			m.used = i
			return m
		}
		if w > 0 {
			m.args = append(m.args, arg)
		}
		i += n
		m.used = i
	}
	if i < len(toks) {
		m.err = fmt.Errorf("%s is too much", quoted(toks[i].text))
	}
	return m
}

// quantityText is the number and its unit, in one token or two.
func quantityText(toks []token, next []string) (string, int) {
	first := toks[0].text
	hasUnit := strings.ContainsFunc(first, func(r rune) bool { return unicode.IsLetter(r) && r != 'e' && r != 'E' || r == '%' })
	if toks[0].quoted || hasUnit || len(toks) < 2 || toks[1].quoted {
		return first, 1
	}
	if len(next) > 0 && toks[1].text == next[0] {
		return first, 1
	}
	return first + " " + toks[1].text, 2
}

func wordText(word string, toks []token) (arg string, n int, err error) {
	t := toks[0]
	switch word {
	case "TEXT":
		if !t.quoted || strings.TrimSpace(t.text) == "" {
			return "", 0, fmt.Errorf("%s is no text in quotes", quoted(t.text))
		}
		return t.text, 1, checkText(t.text)
	case "NAME":
		if t.quoted || !plainName(t.text) {
			return "", 0, fmt.Errorf("%s is no name of lower-case letters, digits and hyphens", quoted(t.text))
		}
		return t.text, 1, nil
	case "STAGE":
		var text []string
		for _, t := range toks {
			text = append(text, t.text)
		}
		s, err := trial.ParseStage(strings.Join(text, " "))
		return s.Key(), len(toks), err
	case "RUN":
		if t.quoted || !plainRun(t.text) {
			return "", 0, fmt.Errorf("%s is no run of letters, digits and hyphens", quoted(t.text))
		}
		return t.text, 1, nil
	case "FORCEUNIT":
		if _, ok := trial.ForceUnitNamed(t.text); !ok || t.quoted {
			return "", 0, fmt.Errorf("%s is no unit of force", quoted(t.text))
		}
		return t.text, 1, nil
	case "LIMIT":
		if t.quoted || !slices.Contains(limitNames, t.text) {
			return "", 0, fmt.Errorf("%s is no limit that can be made stricter", quoted(t.text))
		}
		return t.text, 1, nil
	case "COUNT":
		v, err := strconv.ParseInt(t.text, 10, 32)
		if err != nil || v < 0 {
			return "", 0, fmt.Errorf("%s is no whole number from 0 up", quoted(t.text))
		}
		return t.text, 1, nil
	}
	for choice := range strings.SplitSeq(word, "|") {
		parts := strings.Split(choice, "_")
		if len(parts) > len(toks) {
			continue
		}
		same := true
		for i, p := range parts {
			same = same && !toks[i].quoted && toks[i].text == p
		}
		if same {
			return strings.Join(parts, " "), len(parts), nil
		}
	}
	return "", 0, fmt.Errorf("%s stands where %s is wanted", quoted(t.text), readable(word))
}

func plainName(s string) bool {
	return s != "" && len(s) <= 40 && strings.Trim(s, "abcdefghijklmnopqrstuvwxyz0123456789-") == ""
}

// limitNames are the keys of limits that can be made stricter during a pull.
var limitNames = []string{"tension_stop", "tension_warn", "haul", "scope_min"}

func plainRun(s string) bool {
	return s != "" && len(s) <= 40 && !strings.ContainsFunc(s, func(r rune) bool {
		return r != '-' && (r < '0' || r > '9') && (r < 'A' || r > 'Z') && (r < 'a' || r > 'z')
	})
}

// checkText refuses what a screen must not be sent.
func checkText(s string) error {
	if len(s) > 200 {
		return errors.New("the text is too long; 200 bytes are the most")
	}
	if i := strings.IndexFunc(s, func(r rune) bool { return !unicode.IsPrint(r) }); i >= 0 {
		return fmt.Errorf("the text %s has a character that cannot be shown", quoted(s))
	}
	return nil
}

// choose finds the pattern a statement fits, or says what is wrong with it in
// the light of the nearest one.
func choose(what string, patterns []string, toks []token) (pattern string, m match, wrong, do string) {
	best := -1
	var near match
	for _, p := range patterns {
		m := fit(p, toks)
		if m.err == nil {
			return p, m, "", ""
		}
		if m.used > 0 && m.used > near.used {
			best, near, pattern = m.used, m, p
		}
	}
	if best < 0 {
		return "", match{}, fmt.Sprintf("unknown %s %s", what, quoted(toks[0].text)), "write one of: " + forms(patterns)
	}
	var like []string
	for _, p := range patterns {
		if fit(p, toks).used == best {
			like = append(like, p)
		}
	}
	return "", match{}, near.err.Error(), "write " + strings.ReplaceAll(forms(like), ", ", " or ")
}

func forms(patterns []string) string {
	out := make([]string, len(patterns))
	for i, p := range patterns {
		out[i] = readable(p)
	}
	return strings.Join(out, ", ")
}

// examples are what the words in capitals look like to a person.
var examples = strings.NewReplacer("FORCEUNIT", "lbf", "FORCE", "0.3 kN", "WEIGHT", "25 kg", "LIMIT", strings.Join(limitNames, "|"), "RUN", "A1",
	"ACT", "act ...", "LENGTH", "8 m", "SPEED", "6 m/min", "RATE", "10 Hz", "TIME", "2 s",
	"SHARE", "4 %", "ANGLE", "9 deg", "LINEWEIGHT", "12 N/m", "PRESSURE", "1.5 kPa", "NUMBER", "0.7", "STAGE", "pull", "COUNT", "4200", "TEXT", `"text"`, "NAME", "a-name", "_", " ")

func readable(pattern string) string { return examples.Replace(pattern) }

// quoted makes a word from a script safe to print, and short.
func quoted(s string) string {
	const most = 60
	if len(s) > most {
		return strconv.Quote(s[:most]) + "..."
	}
	return strconv.Quote(s)
}
