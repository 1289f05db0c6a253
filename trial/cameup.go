package trial

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// CameUp is what is looked at on an anchor that has come up. An empty word, or a
// zero, is something nobody said; it is never "none".
type CameUp struct {
	Flukes string // words of [CameUpLists]
	SoilAt string
	Soil   string
	Damage string
	Fit    string
	Angle  Angle  // between fluke and shank as measured, rad; 0 not measured
	Photo  string // its number or name; "" none
	Zero   Force  // what the load cell shows, less its zero, once nothing pulls on it, N
	Zeroed bool   // Zero was read
	Remark string // the person's own words
	Taken  string // keys of answers that are taken back, commas between; "" none
}

// CameUpWord is a word of the record, and what it says.
type CameUpWord struct{ Word, Text string }

// CameUpList is one thing that is answered from a list. Its key is the field's
// in the record.
type CameUpList struct {
	Key   string
	Name  string // before the answer, for people
	Words []CameUpWord
	of    func(*CameUp) *string
}

// CameUpLists are what is answered from lists, in the order in which it is
// asked. Words stand in records and never change. What is on the lists is common
// practice, no source.
var CameUpLists = []CameUpList{
	{"flukes", "flukes", []CameUpWord{{"clean", "clean"}, {"part", "partly clogged"}, {"clogged", "clogged"}},
		func(c *CameUp) *string { return &c.Flukes }},
	{"soil_at", "soil sat on", []CameUpWord{{"nowhere", "nowhere"}, {"flukes", "the flukes"}, {"shank", "shank and crown"}, {"chain", "the chain"}, {"all", "all of it"}},
		func(c *CameUp) *string { return &c.SoilAt }},
	{"soil", "soil", []CameUpWord{{"none", "none"}, {"soft-mud", "soft mud"}, {"stiff-clay", "stiff clay"}, {"sand", "sand"}, {"gravel", "gravel or shell"}, {"weed", "weed"}, {"stones", "stones"}},
		func(c *CameUp) *string { return &c.Soil }},
	{"damage", "damage", []CameUpWord{{"none", "none seen"}, {"fluke", "fluke bent"}, {"shank", "shank bent"}, {"joint", "shackle or swivel"}, {"coating", "coating alone"}, {"other", "another"}},
		func(c *CameUp) *string { return &c.Damage }},
	{"fit", "fit for another pull", []CameUpWord{{"yes", "as it is"}, {"cleaned", "once cleaned"}, {"no", "no"}},
		func(c *CameUp) *string { return &c.Fit }},
}

// The other keys of the form, as it is typed ([cameUpTaken] beside); "zero_n" and "fluke_rad" stand for
// zero and angle in the record.
const (
	cameUpAngle  = "angle"
	cameUpPhoto  = "photo"
	cameUpZero   = "zero"
	cameUpRemark = "remark"
)

// CameUpForm is how the form is typed, for help and errors.
const CameUpForm = `flukes=part soil_at=flukes soil=stiff-clay damage=none fit=cleaned angle=32.5 deg photo=12 zero=0.03 kN remark=WORDS`

// Bounds of the form: common practice, no source.
const (
	cameUpRemarkMost = 300 // bytes
	cameUpZeroMost   = 1e8 // N
)

// ParseCameUp reads the form as it is typed: pairs KEY=VALUE with blanks between,
// such as [CameUpForm]; a value goes on to the next key, a remark to the end. What
// is left out was not said. An answer is a word of its list, or what it says.
func ParseCameUp(s string) (CameUp, error) {
	var c CameUp
	seen := map[string]bool{}
	for s = strings.TrimSpace(s); s != ""; {
		key, rest, ok := strings.Cut(s, "=")
		if !ok || !isCameUpKey(key) {
			return CameUp{}, fmt.Errorf("%s does not begin with a key of the form; write %s", shown(s), CameUpForm)
		}
		if seen[key] {
			return CameUp{}, fmt.Errorf("%s is said twice; say it once", key)
		}
		seen[key] = true
		value := rest
		s = ""
		if key != cameUpRemark {
			value, s = cutAtKey(rest)
		}
		if err := c.say(key, strings.TrimSpace(value)); err != nil {
			return CameUp{}, err
		}
	}
	return c, c.Check()
}

// cutAtKey splits a value from the pair behind it.
func cutAtKey(s string) (value, rest string) {
	for at := 0; ; {
		i := strings.IndexByte(s[at:], ' ')
		if i < 0 {
			return s, ""
		}
		at += i + 1
		if word, _, ok := strings.Cut(s[at:], "="); ok && word != "" && !strings.Contains(word, " ") {
			return s[:at], s[at:]
		}
	}
}

func isCameUpKey(key string) bool {
	return key == cameUpAngle || key == cameUpPhoto || key == cameUpZero || key == cameUpRemark || key == cameUpTaken ||
		slices.ContainsFunc(CameUpLists, func(l CameUpList) bool { return l.Key == key })
}

// say takes one answer as it is typed.
func (c *CameUp) say(key, value string) error {
	if value == "" {
		return fmt.Errorf("%s= is empty; say it, or leave it out", key)
	}
	switch key {
	case cameUpAngle:
		a, err := ParseAngle(value)
		if err != nil {
			return fmt.Errorf("angle=%s: %w", shown(value), err)
		}
		if !(a > 0) {
			return fmt.Errorf("angle=%s is not above 0 deg; leave it out if it was not measured", shown(value))
		}
		c.Angle = a
	case cameUpPhoto:
		c.Photo = value
	case cameUpZero:
		minus := strings.HasPrefix(value, "-")
		f, err := ParseForce(strings.TrimPrefix(value, "-"))
		if err != nil {
			return fmt.Errorf("zero=%s: %w", shown(value), err)
		}
		if minus {
			f = -f
		}
		c.Zero, c.Zeroed = f, true
	case cameUpRemark:
		c.Remark = value
	case cameUpTaken:
		c.Taken = value
	}
	for _, l := range CameUpLists {
		if l.Key == key {
			*l.of(c) = l.wordOf(value)
		}
	}
	return nil
}

// wordOf is the word of the record for an answer, itself where there is none:
// Check then says so.
func (l *CameUpList) wordOf(value string) string {
	for _, w := range l.Words {
		if strings.EqualFold(value, w.Word) || strings.EqualFold(value, w.Text) {
			return w.Word
		}
	}
	return value
}

// textOf is what a word of the list says; "" for any other.
func (l *CameUpList) textOf(word string) string {
	for _, w := range l.Words {
		if w.Word == word {
			return w.Text
		}
	}
	return ""
}

// Of is the answer, in words for people; "" not said.
func (l *CameUpList) Of(c *CameUp) string { return l.textOf(*l.of(c)) }

// Word is the answer, as it stands in the record; "" not said.
func (l *CameUpList) Word(c *CameUp) string { return *l.of(c) }

var errCameUpEmpty = errors.New("nothing is said of the anchor; write " + CameUpForm)

// Check says what cannot stand in a record, nothing at all among it.
func (c *CameUp) Check() error {
	if *c == (CameUp{}) {
		return errCameUpEmpty
	}
	for _, l := range CameUpLists {
		v := *l.of(c)
		if v == "" || l.textOf(v) != "" {
			continue
		}
		words := make([]string, len(l.Words))
		for i, w := range l.Words {
			words[i] = w.Word
		}
		return fmt.Errorf("%s=%s is not on its list; say one of %s", l.Key, shown(v), strings.Join(words, ", "))
	}
	switch a := float64(c.Angle); {
	case c.Flukes == "clean" && (c.SoilAt == "flukes" || c.SoilAt == "all"):
		return fmt.Errorf("flukes=clean and soil_at=%s contradict each other; say which of them is so", c.SoilAt)
	case c.SoilAt == "nowhere" && c.Soil != "" && c.Soil != "none":
		return fmt.Errorf("soil_at=nowhere and soil=%s contradict each other; say which of them is so", c.Soil)
	case math.IsNaN(a) || a < 0 || a > math.Pi/2:
		return errors.New("the fluke angle is above 0 deg and at most 90 deg, between fluke and shank; measure it there")
	case c.Photo != "" && !idText.MatchString(c.Photo):
		return fmt.Errorf("photo=%s is not one plain word of up to 32 letters, digits, dots, hyphens and underscores; give its number", shown((c.Photo)))
	case c.Zeroed && !(math.Abs(float64(c.Zero)) <= cameUpZeroMost):
		return errors.New("zero is no force that a load cell shows; give what it shows now")
	case len(c.Remark) > cameUpRemarkMost || !utf8.ValidString(c.Remark):
		return fmt.Errorf("remark is no text of up to %d bytes; shorten it, or write an addendum", cameUpRemarkMost)
	}
	return c.checkTaken()
}

// Fields are the form as it stands in the record: SI, the unit in the key, what
// was not said left out.
func (c *CameUp) Fields() (out []KV) {
	put := func(k, v string) {
		if v != "" {
			out = append(out, KV{k, v})
		}
	}
	for _, l := range CameUpLists {
		put(l.Key, *l.of(c))
	}
	if c.Angle != 0 {
		put("fluke_rad", strconv.FormatFloat(float64(c.Angle), 'g', -1, 64))
	}
	put(cameUpPhoto, c.Photo)
	if c.Zeroed {
		put("zero_n", strconv.FormatFloat(float64(c.Zero), 'g', -1, 64))
	}
	put(cameUpTaken, c.Taken)
	put(cameUpRemark, c.Remark)
	return out
}

// Typed is the form as [ParseCameUp] reads it.
func (c *CameUp) Typed() string {
	var parts []string
	for _, l := range CameUpLists {
		if v := *l.of(c); v != "" {
			parts = append(parts, l.Key+"="+v)
		}
	}
	plain := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	if c.Angle != 0 {
		parts = append(parts, cameUpAngle+"="+plain(float64(c.Angle))+" rad")
	}
	if c.Photo != "" {
		parts = append(parts, cameUpPhoto+"="+c.Photo)
	}
	if c.Zeroed {
		parts = append(parts, cameUpZero+"="+plain(float64(c.Zero))+" N")
	}
	if c.Taken != "" {
		parts = append(parts, cameUpTaken+"="+c.Taken)
	}
	if c.Remark != "" {
		parts = append(parts, cameUpRemark+"="+c.Remark)
	}
	return strings.Join(parts, " ")
}

// Set gives a list's answer; "" takes it back.
func (l *CameUpList) Set(c *CameUp, word string) { *l.of(c) = word }

// CameUpFrom reads the form from the fields of a record.
func CameUpFrom(get func(key string) string) (c CameUp, err error) {
	for _, l := range CameUpLists {
		*l.of(&c) = get(l.Key)
	}
	number := func(key string) (v float64, some bool) {
		s := get(key)
		if s == "" || err != nil {
			return 0, false
		}
		if v, err = strconv.ParseFloat(s, 64); err != nil {
			err = fmt.Errorf("%s=%s is no number", key, shown(s))
		}
		return v, err == nil
	}
	angle, _ := number("fluke_rad")
	zero, zeroed := number("zero_n")
	if err != nil {
		return CameUp{}, err
	}
	c.Angle, c.Zero, c.Zeroed = Angle(angle), Force(zero), zeroed
	c.Photo, c.Remark, c.Taken = get(cameUpPhoto), get(cameUpRemark), get(cameUpTaken)
	return c, c.Check()
}

// cameUpMark begins the mark that the form was in older logs.
const cameUpMark = "anchor up: "

// ParseCameUpMark reads the form from a mark, as older logs have it: names and
// answers of the lists, "; " between. ok: it is one.
func ParseCameUpMark(mark string) (c CameUp, ok bool) {
	text, ok := strings.CutPrefix(mark, cameUpMark)
	if !ok {
		return CameUp{}, false
	}
	for part := range strings.SplitSeq(text, "; ") {
		for _, l := range CameUpLists {
			v, ok := strings.CutPrefix(part, l.Name+" ")
			v, _, _ = strings.Cut(v, ":")
			// "soil sat on" begins with "soil": what is on the list decides.
			if w := l.wordOf(v); ok && l.textOf(w) == v {
				*l.of(&c) = w
			}
		}
		if v, ok := strings.CutPrefix(part, "fluke angle "); ok && v != "not measured" {
			c.Angle, _ = ParseAngle(v)
		}
		if v, ok := strings.CutPrefix(part, "photo "); ok && v != "none" {
			c.Photo = v
		}
		if v, ok := strings.CutPrefix(part, "zero after "); ok {
			v, _, _ = strings.Cut(v, ",")
			c.Zeroed = c.say(cameUpZero, v) == nil
		}
	}
	return c, c.Check() == nil
}

// Text is the form in a line for people, in their units.
func (c *CameUp) Text(show Show) string {
	var parts []string
	for _, l := range CameUpLists[:4] {
		if t := l.Of(c); t != "" && !(l.Key == "soil" && c.Soil == "none") && !(l.Key == "soil_at" && c.SoilAt == "nowhere") {
			parts = append(parts, l.Name+" "+t)
		}
	}
	if c.Angle != 0 {
		parts = append(parts, "fluke angle "+c.AngleText())
	}
	if t := CameUpLists[4].Of(c); t != "" {
		parts = append(parts, CameUpLists[4].Name+" "+t)
	}
	if c.Photo != "" {
		parts = append(parts, "photo "+c.Photo)
	}
	if c.Zeroed {
		parts = append(parts, "the cell shows "+show.ForceText(roundedZero(c.Zero))+" free")
	}
	if c.Taken != "" {
		parts = append(parts, "taken back: "+strings.ReplaceAll(c.Taken, ",", ", "))
	}
	if c.Remark != "" {
		parts = append(parts, c.Remark)
	}
	return strings.Join(parts, "; ")
}

// AngleText is the fluke angle in degrees; "" not measured.
func (c *CameUp) AngleText() string {
	if c.Angle == 0 {
		return ""
	}
	return strconv.FormatFloat(math.Round(float64(c.Angle)*180/math.Pi*10)/10, 'f', -1, 64) + " deg"
}

// roundedZero is a reading of a free cell to the newton in words: its noise is larger.
func roundedZero(f Force) Force { return Force(math.Round(float64(f))) }
