package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/safety"
	"hawse/trial"
)

// How counts are held against marks on the rode: common practice, no source. A
// mark is read at the roller to a tenth of a metre or so.
const (
	markNear       = 0.02 // share by which count and marks may differ
	markWrong      = 0.05 // share past which the scope would be wrong
	mostCheckMarks = 50
	markPatient    = 20 * time.Minute // for each mark
)

// parseMarks reads the marks to pay out to.
func parseMarks(s string) (out []trial.Length, err error) {
	if s == "" {
		return nil, nil
	}
	for part := range strings.SplitSeq(s, ",") {
		m, err := trial.ParseLength(strings.TrimSpace(part))
		switch {
		case err != nil:
			return nil, cli.Usage("--marks: %w", err)
		case m < 0:
			return nil, cli.Usage("--marks %q: a mark is so far from the anchor's end; none is under 0", visible(s))
		case len(out) > 0 && m <= out[len(out)-1]:
			return nil, cli.Usage("--marks %q: the line is paid out from mark to mark, for hauling is not permitted here: give them from the least to the greatest", visible(s))
		}
		out = append(out, m)
	}
	if len(out) < 2 || len(out) > mostCheckMarks {
		return nil, cli.Usage("--marks %q: give 2 to %d marks, such as \"10 m, 20 m\"", visible(s), mostCheckMarks)
	}
	return out, nil
}

// markTry is line paid out from mark to mark while a person says when each is at
// the roller.
type markTry struct {
	marks []trial.Length
	in    io.Reader
	out   io.Writer
	show  trial.Show

	spans []markSpan
	left  int    // marks that were left out
	why   string // it ended before its time
}

// markSpan is line from one mark to another: as marked, and as counted by what the
// trial file says of the counter; m, paying out positive.
type markSpan struct{ from, to, counted trial.Length }

// run asks for one mark after the other. Each is the rode out from then on, so
// that what is counted to the next stands in the record too.
func (m *markTry) run(ctx context.Context, c *session.Capture) error {
	if len(m.marks) == 0 {
		return nil
	}
	lines := typed(ctx, m.in)
	last := trial.Length(math.NaN())
	for _, mark := range m.marks {
		text := m.show.LengthText(mark)
		fmt.Fprintf(m.out, "hawse: pay out until the mark at %s is at the roller, then press Enter (s and Enter leaves it out): ", text)
		var answer string
		var ok bool
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(markPatient):
		case answer, ok = <-lines:
		}
		fmt.Fprintln(m.out)
		if !ok {
			m.why = "nobody said when the mark at " + text + " was at the roller"
			return nil
		}
		if strings.TrimSpace(answer) == "s" {
			m.left++
			continue
		}
		h := c.Snapshot().Haul
		if !math.IsNaN(float64(last)) {
			if !h.Known {
				m.why = "the counter was silent, or jumped, on the way to " + text
				return nil
			}
			m.spans = append(m.spans, markSpan{last, mark, h.RodeOut - last})
		}
		out, err := c.DoWait(ctx, session.Act{Who: safety.Logger, Name: "check", What: session.ActPayout, Value: fmt.Sprintf("%g m", float64(mark))})
		if err != nil {
			return cli.Exit(cli.ExitRecord, "the record of the check: %w", err)
		}
		if out.Refused != "" {
			m.why = out.Refused
			return nil
		}
		last = mark
	}
	return nil
}

// typed is the lines a person types. A read from a terminal cannot be broken off:
// the goroutine ends with its input or with the program.
func typed(ctx context.Context, in io.Reader) <-chan string {
	lines := make(chan string)
	go func() {
		defer close(lines)
		for s := bufio.NewScanner(in); s.Scan(); {
			select {
			case lines <- s.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return lines
}

// byMarks is which way the counts go and how many make a metre.
func (k *checks) byMarks() {
	const way, scale = "count direction", "counts a metre"
	if k.seen.last.Line.Good == 0 {
		return
	}
	layers := k.t.Line.Drum != nil || len(k.t.Line.Layers) > 0
	said := fmt.Sprintf("%.6g a metre", k.t.Line.PerMetre)
	if layers {
		said = fmt.Sprintf("by layers, %s on the first", said)
	}
	rises := map[int]string{1: "counts rise while hauling", -1: "counts fall while hauling"}
	m := k.marks
	if len(m.spans) == 0 {
		why, do := m.why, `pay out past two of the marks, or hawse calibrate MARKS.csv, or x in the run`
		switch {
		case len(m.marks) == 0:
			why, do = "not tried", `say --marks "10 m, 20 m", or hawse calibrate MARKS.csv, or x in the run`
		case why == "" && m.left == len(m.marks):
			why = "every mark was left out"
		case why == "":
			why = "all marks but one were left out"
		}
		k.add(way, checkLook, rises[k.t.Line.HaulSign]+" is said, "+why, do)
		k.add(scale, checkLook, said+", "+why, do)
		return
	}
	var marked, counted float64
	worst, at := 0.0, m.spans[0]
	for _, s := range m.spans {
		d := float64(s.to - s.from)
		marked, counted = marked+d, counted+float64(s.counted)
		if off := math.Abs(float64(s.counted)) - d; math.Abs(off/d) >= math.Abs(worst) {
			worst, at = off/d, s
		}
	}
	ratio := counted / marked
	span := func(s markSpan) string {
		return fmt.Sprintf("%s to %s counts as %s", k.t.Show.LengthText(s.from), k.t.Show.LengthText(s.to), k.t.Show.LengthText(round2(s.counted)))
	}
	switch {
	case math.Abs(ratio) < 0.05:
		k.add(way, checkCannot, "paid out, and the count stands still: "+span(at), "does the wheel turn, does it touch the line?")
		return
	case ratio < 0:
		other := rises[-k.t.Line.HaulSign]
		k.add(way, checkCannot, fmt.Sprintf("the other way: %s, and %s is said", other, rises[k.t.Line.HaulSign]), `write haul = "`+strings.TrimSuffix(other, " while hauling")+`" in [line]`)
	default:
		k.add(way, checkSeen, rises[k.t.Line.HaulSign]+", as said", "")
	}
	ratio = math.Abs(ratio)
	value := fmt.Sprintf("%s; over all %s", span(at), percent(ratio-1))
	do := fmt.Sprintf("write scale = \"%.6g /m\" in [line], or pull more marks: hawse calibrate MARKS.csv", k.t.Line.PerMetre*ratio)
	if layers {
		do = "correct the drum, or the layers: hawse calibrate MARKS.csv, with a column layer"
	}
	result := checkSeen
	switch off := max(math.Abs(ratio-1), math.Abs(worst)); {
	case off > markWrong:
		result = checkCannot
	case off > markNear:
		result = checkLook
	}
	if m.why != "" && result == checkSeen {
		result, do = checkLook, m.why
	}
	k.add(scale, result, value, do)
}

// round2 is to a centimetre, for a person.
func round2(l trial.Length) trial.Length { return trial.Length(math.Round(float64(l)*100) / 100) }
