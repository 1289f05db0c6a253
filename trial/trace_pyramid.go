package trial

import (
	"math"
	"slices"
)

const (
	pyramidLevels = 20      // 4^19 base cells hold every index a trace can ask for
	chunkBits     = 9       // cells in a chunk, as a power of two: 10 KiB each
	maxGaps       = 1 << 14 // gaps kept apart; beyond, neighbours are merged
)

// pyramid holds the least, the greatest and the number of the samples in cells
// 4^k base cells wide, at levels k = base … pyramidLevels-1.
//
// Cells live in chunks that exist only where there are samples, so a hole in the
// index costs nothing. Levels quadruple rather than double: a query reads at most
// a few more cells a column, and the levels above the finest cost a third of it
// in memory instead of as much again.
type pyramid struct {
	levels [pyramidLevels]layer
	base   int // finest level still held
	chunks int // in all levels
	gaps   []cellRange
}

type layer struct {
	chunks map[int64]*chunk
	key    int64  // of the chunk last written
	last   *chunk // nil: none
}

// chunk is laid out by field, without padding: 20 bytes a cell.
type chunk struct {
	lo, hi [1 << chunkBits]float64
	n      [1 << chunkBits]uint32 // stays at its greatest value when full
}

// cellRange is a ≤ cell < b, in base cells.
type cellRange struct{ a, b int64 }

// add puts one value in a base cell, and drops the finest level as often as the
// number of chunks exceeds limit.
func (p *pyramid) add(cell int64, v float64, limit int) {
	for k := p.base; k < pyramidLevels; k++ {
		l := &p.levels[k]
		at := cell >> (2 * k)
		key := at >> chunkBits
		if l.last == nil || l.key != key {
			p.turnTo(l, key)
		}
		c, i := l.last, at&(1<<chunkBits-1)
		switch {
		case c.n[i] == 0:
			c.lo[i], c.hi[i] = v, v
		case v < c.lo[i]:
			c.lo[i] = v
		case v > c.hi[i]:
			c.hi[i] = v
		}
		if c.n[i] < math.MaxUint32 {
			c.n[i]++
		}
	}
	for p.chunks > limit && p.base < pyramidLevels-1 {
		p.chunks -= len(p.levels[p.base].chunks)
		p.levels[p.base] = layer{}
		p.base++
	}
}

func (p *pyramid) turnTo(l *layer, key int64) {
	c := l.chunks[key]
	if c == nil {
		if l.chunks == nil {
			l.chunks = make(map[int64]*chunk)
		}
		c = new(chunk)
		l.chunks[key] = c
		p.chunks++
	}
	l.key, l.last = key, c
}

func (p *pyramid) reset() {
	*p = pyramid{gaps: p.gaps[:0]}
}

// level chooses the level with the widest cells that are not wider than a column
// of that many base cells.
func (p *pyramid) level(column float64) int {
	k := p.base
	for k < pyramidLevels-1 && math.Ldexp(1, 2*(k+1)) <= column {
		k++
	}
	return k
}

// reader reads columns of one level in turn, keeping hold of the chunk it is in.
type reader struct {
	p     *pyramid
	level int
	key   int64
	chunk *chunk // nil: no samples there
	any   bool   // a chunk has been looked for
}

// reader is for columns of that many base cells.
func (p *pyramid) reader(width float64) reader {
	return reader{p: p, level: p.level(width)}
}

// column joins the cells that begin in low ≤ base cell < high, both moved down to
// a cell edge; high is moved up instead in the last column.
func (r *reader) column(low, high int64, last bool) Col {
	col := Col{Gap: r.p.gapIn(low, max(high, low+1))}
	shift := 2 * r.level
	if last {
		high += 1<<shift - 1
	}
	n := uint64(0)
	for at := low >> shift; at < high>>shift; at++ {
		if key := at >> chunkBits; !r.any || key != r.key {
			r.key, r.chunk, r.any = key, r.p.levels[r.level].chunks[key], true
		}
		i := at & (1<<chunkBits - 1)
		if r.chunk == nil || r.chunk.n[i] == 0 {
			continue
		}
		lo, hi := Force(r.chunk.lo[i]), Force(r.chunk.hi[i])
		if n == 0 {
			col.Lo, col.Hi = lo, hi
		}
		col.Lo, col.Hi = min(col.Lo, lo), max(col.Hi, hi)
		n += uint64(r.chunk.n[i])
	}
	col.N = int(n)
	return col
}

// addGap marks a ≤ cell < b as touched by a loss. The ranges are kept sorted and
// apart; when there are maxGaps of them, a new one is merged with its nearest
// neighbour, so that a loss is drawn too wide rather than forgotten.
func (p *pyramid) addGap(a, b int64) {
	i, _ := slices.BinarySearchFunc(p.gaps, a, func(r cellRange, a int64) int {
		if r.b < a {
			return -1
		}
		return 1
	})
	j := i
	for j < len(p.gaps) && p.gaps[j].a <= b {
		j++
	}
	if i < j {
		a, b = min(a, p.gaps[i].a), max(b, p.gaps[j-1].b)
		p.gaps = slices.Replace(p.gaps, i, j, cellRange{a, b})
		return
	}
	if len(p.gaps) < maxGaps {
		p.gaps = slices.Insert(p.gaps, i, cellRange{a, b})
		return
	}
	if i == len(p.gaps) || i > 0 && a-p.gaps[i-1].b < p.gaps[i].a-b {
		p.gaps[i-1].b = b
	} else {
		p.gaps[i].a = a
	}
}

func (p *pyramid) gapIn(a, b int64) bool {
	i, _ := slices.BinarySearchFunc(p.gaps, a, func(r cellRange, a int64) int {
		if r.b <= a {
			return -1
		}
		return 1
	})
	return i < len(p.gaps) && p.gaps[i].a < b
}
