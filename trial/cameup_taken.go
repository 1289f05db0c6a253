package trial

import (
	"fmt"
	"slices"
	"strings"
)

// An answer that was wrong and has no right one in its place is taken back: the key
// `taken` names those of the form, as they are typed, with commas between. What it
// names is then not said.

const cameUpTaken = "taken"

// cameUpAnswer is one answer of the form: its key as it is typed, whether it was said,
// and how it is taken out.
type cameUpAnswer struct {
	key  string
	said func(*CameUp) bool
	drop func(*CameUp)
	copy func(to, from *CameUp)
}

// cameUpAnswers are all answers, in the order in which they are typed.
var cameUpAnswers = func() (out []cameUpAnswer) {
	words := func(key string, of func(*CameUp) *string) {
		out = append(out, cameUpAnswer{key, func(c *CameUp) bool { return *of(c) != "" }, func(c *CameUp) { *of(c) = "" },
			func(to, from *CameUp) { *of(to) = *of(from) }})
	}
	for _, l := range CameUpLists {
		words(l.Key, l.of)
	}
	out = append(out, cameUpAnswer{cameUpAngle, func(c *CameUp) bool { return c.Angle != 0 }, func(c *CameUp) { c.Angle = 0 },
		func(to, from *CameUp) { to.Angle = from.Angle }})
	words(cameUpPhoto, func(c *CameUp) *string { return &c.Photo })
	out = append(out, cameUpAnswer{cameUpZero, func(c *CameUp) bool { return c.Zeroed }, func(c *CameUp) { c.Zero, c.Zeroed = 0, false },
		func(to, from *CameUp) { to.Zero, to.Zeroed = from.Zero, from.Zeroed }})
	words(cameUpRemark, func(c *CameUp) *string { return &c.Remark })
	return out
}()

// checkTaken says what is wrong with what is taken back.
func (c *CameUp) checkTaken() error {
	if c.Taken == "" {
		return nil
	}
	var seen []string
	for key := range strings.SplitSeq(c.Taken, ",") {
		i := slices.IndexFunc(cameUpAnswers, func(a cameUpAnswer) bool { return a.key == key })
		switch {
		case i < 0:
			return fmt.Errorf("taken=%s: %s is no answer of the form; its keys are those of %s", shown(c.Taken), shown(key), CameUpForm)
		case slices.Contains(seen, key):
			return fmt.Errorf("taken=%s: %s is named twice; name it once", shown(c.Taken), key)
		case cameUpAnswers[i].said(c):
			return fmt.Errorf("%s is said and taken back at once; leave one of them out", key)
		}
		seen = append(seen, key)
	}
	return nil
}

// With is the form with what was said later: its answers take the place of
// earlier ones, what it takes back is not said, what it leaves out stands.
func (c CameUp) With(later CameUp) CameUp {
	taken := strings.Split(later.Taken, ",")
	for _, a := range cameUpAnswers {
		switch {
		case a.said(&later):
			a.copy(&c, &later)
		case slices.Contains(taken, a.key):
			a.drop(&c)
		}
	}
	c.Taken = ""
	return c
}

// To is what is to be said so that c becomes want: the answers that differ, and
// those that are taken back. It is the zero form where they are the same.
func (c CameUp) To(want CameUp) (say CameUp) {
	var taken []string
	for _, a := range cameUpAnswers {
		one, other := CameUp{}, CameUp{}
		a.copy(&one, &c)
		a.copy(&other, &want)
		switch {
		case one == other:
		case a.said(&want):
			a.copy(&say, &want)
		default:
			taken = append(taken, a.key)
		}
	}
	say.Taken = strings.Join(taken, ",")
	return say
}
