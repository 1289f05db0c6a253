package tui

import (
	"slices"
	"strings"

	"hawse/acquire/session"
)

// ledgerMost bounds what a ledger keeps; the oldest goes.
const ledgerMost = 200

// A mark is one that a person has put into the record, with where the line was.
type mark struct {
	t    int64
	x    float64 // m hauled; NaN unknown
	text string
}

// ledger gathers the marks from the news as they pass, newest first: a snapshot
// carries only the last lines. A screen that comes late has those alone.
type ledger struct {
	seq   uint64 // of the newest line that was looked at
	t     int64
	marks []mark
}

// isMark cuts the text of a mark out of a line of news.
func isMark(text string) (string, bool) {
	if _, after, ok := strings.Cut(text, ": mark: "); ok {
		return after, true
	}
	if by, after, ok := strings.Cut(text, ": mark at the fairlead, "); ok && by != "" {
		return "rode mark passing, " + after, true
	}
	return "", false
}

func (l ledger) next(s *session.Snapshot) ledger {
	if s.T < l.t || len(s.News) > 0 && s.News[0].Seq < l.seq { // a replay was put back
		l = ledger{}
	}
	l.t = s.T
	var fresh []mark
	for _, n := range s.News {
		if n.Seq <= l.seq && n.Seq > 0 {
			break
		}
		if text, ok := isMark(n.Text); ok {
			fresh = append(fresh, mark{n.T, hauledAt(s, n.T), text})
		}
	}
	if len(s.News) > 0 {
		if s.News[0].Seq == 0 { // unnumbered news stand for themselves
			l.marks = nil
		}
		l.seq = s.News[0].Seq
	}
	if len(fresh) > 0 {
		l.marks = slices.Concat(fresh, l.marks)
		l.marks = l.marks[:min(len(l.marks), ledgerMost)]
	}
	return l
}
