package bench

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"

	"hawse/logfmt"
)

// score is what became of the numbered lines of one instrument.
type score struct {
	sent       int
	captured   int // numbers that arrived as they were sent
	lost       int // numbers that never arrived as they were sent
	altered    int // lines that are none of those sent
	reordered  int // lines that came after one with a higher number
	duplicated int // lines that came again
}

// scorer compares one instrument's stream with what was sent. Lines with the
// number 0 were sent too, but are not counted.
type scorer struct {
	box     instrument
	seen    []bool // by number - 1
	highest int
	half    []byte // a line whose end has not come
	want    []byte
	s       score
}

func newScorer(box instrument, sent int) *scorer {
	return &scorer{box: box, seen: make([]bool, sent), s: score{sent: sent}}
}

// longestHalf bounds what a stream without line ends may hold.
const longestHalf = 1 << 20

// feed takes the next bytes of the stream, in pieces of any size.
func (s *scorer) feed(p []byte) {
	for len(p) > 0 {
		i := bytes.IndexByte(p, '\n')
		if i < 0 {
			if s.half = append(s.half, p...); len(s.half) > longestHalf {
				s.s.altered++
				s.half = s.half[:0]
			}
			return
		}
		if len(s.half) > 0 {
			s.half = append(s.half, p[:i+1]...)
			s.line(s.half)
			s.half = s.half[:0]
		} else {
			s.line(p[:i+1])
		}
		p = p[i+1:]
	}
}

// line takes one line with its end.
func (s *scorer) line(p []byte) {
	n, ok := numberAfter(p, numberMarks[s.box.which])
	if ok && n == 0 {
		return
	}
	if !ok || n > s.s.sent {
		s.s.altered++
		return
	}
	if s.want = s.box.append(s.want[:0], n, n); !bytes.Equal(p, s.want) {
		s.s.altered++
		return
	}
	switch {
	case s.seen[n-1]:
		s.s.duplicated++
		return
	case n < s.highest:
		s.s.reordered++
	}
	s.seen[n-1] = true
	s.highest = max(s.highest, n)
	s.s.captured++
}

// result is the score after the last byte. Half a line at the end is no line.
func (s *scorer) result() score {
	r := s.s
	r.lost = r.sent - r.captured
	return r
}

// bad says what must not be; "" if all is well.
func (s score) bad() string {
	if s.lost+s.altered+s.reordered+s.duplicated == 0 {
		return ""
	}
	return fmt.Sprintf("%d lost, %d altered, %d reordered, %d duplicated of %d", s.lost, s.altered, s.reordered, s.duplicated, s.sent)
}

// add puts two scores together.
func (s *score) add(o score) {
	s.sent += o.sent
	s.captured += o.captured
	s.lost += o.lost
	s.altered += o.altered
	s.reordered += o.reordered
	s.duplicated += o.duplicated
}

// scores adds what became of the lines, a column for each score.
func (t *table) scores(s ...score) {
	row := func(key, label string, of func(score) int) {
		var cells []cell
		for _, v := range s {
			cells = append(cells, cellInt(of(v)))
		}
		t.add(key, label, cells...)
	}
	row("sent", "lines sent", func(s score) int { return s.sent })
	row("captured", "captured as sent", func(s score) int { return s.captured })
	row("lost", "lost", func(s score) int { return s.lost })
	row("altered", "altered", func(s score) int { return s.altered })
	row("reordered", "reordered", func(s score) int { return s.reordered })
	row("duplicated", "duplicated", func(s score) int { return s.duplicated })
}

// eachRecord reads a raw log from beginning to end. Damage is an error: a
// figure from a damaged record would prove nothing.
func eachRecord(ctx context.Context, path string, take func(*logfmt.Record)) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	r := logfmt.NewReader(f)
	for n := 0; r.Next(); n++ {
		rec := r.Record()
		take(&rec)
		if n%4096 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
	}
	if err := r.Err(); err != nil {
		return err
	}
	if d := r.Damage(); len(d) > 0 {
		return fmt.Errorf("%s: %d damages, the first: %s", path, len(d), d[0])
	}
	return nil
}

// scoreLog feeds each instrument's scorer the raw bytes of its port, as the
// raw log has them.
func scoreLog(ctx context.Context, path string, to [instruments]*scorer) error {
	return eachRecord(ctx, path, func(r *logfmt.Record) {
		if r.Kind != logfmt.Rx {
			return
		}
		for i, src := range sources {
			if r.Str("src") == src {
				to[i].feed([]byte(r.Str("raw")))
			}
		}
	})
}

// scoreStamped feeds a scorer a file of lines that begin with a stamp and a
// blank.
func scoreStamped(path string, to *scorer) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	cut := stampCutter{to: to}
	_, err = io.Copy(&cut, f)
	return err
}

// stampCutter passes a stream on without what stands before the first blank of
// each line.
type stampCutter struct {
	to     *scorer
	inLine bool // past the stamp
}

func (c *stampCutter) Write(p []byte) (int, error) {
	n := len(p)
	for len(p) > 0 {
		if !c.inLine {
			i := bytes.IndexByte(p, ' ')
			if i < 0 {
				return n, nil
			}
			p, c.inLine = p[i+1:], true
			continue
		}
		end := bytes.IndexByte(p, '\n') + 1
		if end == 0 {
			c.to.feed(p)
			return n, nil
		}
		c.to.feed(p[:end])
		p, c.inLine = p[end:], false
	}
	return n, nil
}
