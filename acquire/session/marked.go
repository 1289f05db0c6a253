package session

import (
	"math"
	"slices"
	"strings"

	"hawse/acquire"
	"hawse/trial"
)

// Marked is a mark in the record, with where the line was then.
type Marked struct {
	T    int64
	X    trial.Length // line hauled; NaN unknown
	Text string
}

// Bounds of what a snapshot carries of marks: it goes to every screen that
// watches, twenty times a second.
const (
	marksKept   = 200
	markLetters = 160 // bytes of a text
)

// marked are the marks so far, oldest first. They are shown and judge nothing, so
// they are no part of the digest.
type marked struct {
	kept []Marked // only ever added to, or made anew: snapshots share it
	left int      // of the oldest, left out
}

// mark keeps a mark that was granted.
func (c *Core) mark(text string) {
	m := Marked{T: c.t, X: trial.Length(math.NaN()), Text: acquire.Visible([]byte(text))}
	if len(m.Text) > markLetters {
		m.Text = strings.ToValidUTF8(m.Text[:markLetters], "") + "..."
	}
	if c.haul.hasPayout && c.lineFresh(c.t) {
		m.X = c.haul.x
	}
	c.marked.add(m)
}

func (m *marked) add(one Marked) {
	if len(m.kept) == marksKept {
		m.kept = append(make([]Marked, 0, 2*marksKept), m.kept[1:]...)
		m.left++
	}
	m.kept = append(m.kept, one)
}

// later moves marks by so much of time and line, into a slice of their own.
func (m marked) later(t int64, x trial.Length) marked {
	m.kept = slices.Clone(m.kept)
	for i := range m.kept {
		m.kept[i].T += t
		m.kept[i].X += x
	}
	return m
}

// then are the marks of the parts before with those of the part that goes on.
func (m marked) then(next marked) marked {
	out := marked{kept: slices.Clone(m.kept), left: m.left + next.left}
	for _, one := range next.kept {
		out.add(one)
	}
	return out
}
