package session

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"hawse/acquire"
	"hawse/trial"
)

// EarlierWanted says which earlier pulls are looked for.
type EarlierWanted struct {
	Dirs []string // folders of logs
	Run  trial.Run
	Own  []string // logs of the pull in hand: never read as an earlier one
	// Before: only pulls that were started before it; zero: all there are.
	Before time.Time
	// Planned gives the block of a run by its id, where a plan says so; nil none.
	// Without one a block is every anchor once at one station, in the order in
	// which they were pulled.
	Planned map[string]int
	// Whole is the pull in hand itself, to be read whole as well: a replay's.
	Whole []Part
	// Gentle has the reading rest most of the time: a capture runs beside it.
	Gentle bool
}

// EarlierPulls is what was found so far. It is not changed afterwards.
type EarlierPulls struct {
	Done   bool      // nothing more will come
	Anchor *Course   // the last pull of the same anchor; nil none, or not read yet
	Block  []*Course // others of the same block, the newest first
	More   int       // others of the block that are not kept
	Whole  *Course   // the pull in hand
	Fault  string    // why that cannot be laid beside another, fit to be shown; "" it can, or was not asked for
	// LeftOut are the logs that could not be used, each with the reason, fit to be
	// shown.
	LeftOut []string
}

const (
	mostBlock   = 6    // pulls of a block that are kept: more curves cannot be told apart
	mostEarlier = 5000 // logs looked at
	mostLeftOut = 50
)

// Earlier reads earlier pulls in its own goroutine.
type Earlier struct {
	now  atomic.Pointer[EarlierPulls]
	done chan struct{}
}

// ReadEarlier begins to read, until ctx ends. Wait waits for it.
func ReadEarlier(ctx context.Context, want EarlierWanted) *Earlier {
	e := &Earlier{done: make(chan struct{})}
	e.now.Store(&EarlierPulls{})
	go func() {
		defer close(e.done)
		e.read(ctx, want)
	}()
	return e
}

// Now is what was found so far, never nil. It returns at once.
func (e *Earlier) Now() *EarlierPulls {
	if e == nil {
		return &EarlierPulls{Done: true}
	}
	return e.now.Load()
}

// Wait returns when nothing more will come.
func (e *Earlier) Wait() { <-e.done }

func (e *Earlier) read(ctx context.Context, want EarlierWanted) {
	var p EarlierPulls
	show := func() {
		now := p
		now.Block, now.LeftOut = slices.Clone(p.Block), slices.Clone(p.LeftOut)
		e.now.Store(&now)
	}
	leave := func(why string) {
		if len(p.LeftOut) < mostLeftOut {
			p.LeftOut = append(p.LeftOut, acquire.Visible([]byte(why)))
		}
	}
	defer func() {
		if r := recover(); r != nil {
			leave(fmt.Sprintf("earlier pulls: looking for them failed: %v", r))
		}
		p.Done = true
		show()
	}()
	pace := gentle(ctx, want.Gentle)
	if len(want.Whole) > 0 {
		c, err := ReadCourse(want.Whole, pace)
		switch {
		case err != nil:
			leave(err.Error())
			p.Fault = acquire.Visible([]byte(err.Error()))
		case c.Pull.Empty():
			p.Fault = "nothing was hauled in stage pull"
		}
		p.Whole = c
		show()
	}
	pulls, faults := earlierPulls(want)
	for _, f := range faults {
		leave(f.Error())
	}
	got := map[string]*Course{}
	course := func(l PullLogs) *Course {
		path := l.Parts[0].Path
		if c, tried := got[path]; tried {
			return c
		}
		c, err := ReadCourse(l.Parts, pace)
		if err == nil && c.Pull.Empty() {
			c, err = nil, fmt.Errorf("%s: nothing was hauled in stage pull", filepath.Base(path))
		}
		if err != nil && ctx.Err() == nil {
			leave(err.Error())
		}
		got[path] = c
		return c
	}
	for _, l := range slices.Backward(pulls) { // the newest that can be read
		if want.Run.Anchor == "" || l.Parts[0].Of.Anchor != want.Run.Anchor || ctx.Err() != nil {
			continue
		}
		if p.Anchor = course(l); p.Anchor != nil {
			break
		}
	}
	show()
	for _, l := range slices.Backward(blockOf(pulls, want)) {
		if ctx.Err() != nil {
			return
		}
		if len(p.Block) == mostBlock {
			p.More++
			continue
		}
		if c := course(l); c != nil {
			p.Block = append(p.Block, c)
			show()
		}
	}
}

// earlierPulls are the pulls of anchors in the folders, the oldest first, and what
// is wrong with other logs there.
func earlierPulls(want EarlierWanted) ([]PullLogs, []error) {
	var found []string
	var faults []error
	own := map[string]bool{}
	for _, path := range want.Own {
		own[real(path)] = true
	}
	seen := map[string]bool{}
	for _, dir := range want.Dirs {
		files, err := os.ReadDir(dir)
		if err != nil {
			if !errors.Is(err, os.ErrNotExist) {
				faults = append(faults, fmt.Errorf("earlier pulls: %w", err))
			}
			continue
		}
		for _, f := range files {
			if name := f.Name(); !strings.HasSuffix(name, ".log") && !strings.HasSuffix(name, ".log"+packed) || f.IsDir() {
				continue
			}
			path := filepath.Join(dir, f.Name())
			if seen[real(path)] || own[real(path)] {
				continue
			}
			if seen[real(path)] = true; len(found) == mostEarlier {
				faults = append(faults, fmt.Errorf("%s: more than %d logs; the others are not looked at", dir, mostEarlier))
				break
			}
			found = append(found, path)
		}
	}
	pulls, more := FindPulls(nil, found)
	pulls = slices.DeleteFunc(pulls, func(p PullLogs) bool {
		o := p.Parts[0].Opening
		mine := slices.ContainsFunc(p.Parts, func(k Part) bool { return own[real(k.Path)] })
		return mine || o.Of.Kind != trial.KindPull || !want.Before.IsZero() && !o.Started.Before(want.Before)
	})
	return pulls, append(faults, more...)
}

// blockOf are the other pulls of the block that the run stands in. Pulls stand in
// the order in which they were started; the run comes after them.
func blockOf(pulls []PullLogs, want EarlierWanted) (block []PullLogs) {
	mine := want.Planned[want.Run.ID]
	has := map[string]bool{}
	for _, p := range pulls {
		o := p.Parts[0].Of
		switch {
		case o.Station != want.Run.Station || o.ID == want.Run.ID:
			continue
		case mine > 0 && want.Planned[o.ID] == mine:
			block = append(block, p)
			continue
		case mine > 0:
			continue
		case has[o.Anchor]: // this one begins the next block
			block, has = nil, map[string]bool{}
		}
		has[o.Anchor] = true
		block = append(block, p)
	}
	if mine == 0 && has[want.Run.Anchor] {
		return nil
	}
	return block
}

// Of the time that passes a gentle reading works one part in four, a few
// milliseconds at a stretch: a core always has room for what arrives.
const (
	workFor = 2 * time.Millisecond
	restFor = 6 * time.Millisecond
)

// gentle is a pace that ends with ctx and, if it is to, rests.
func gentle(ctx context.Context, rests bool) func() error {
	began := time.Now()
	return func() error {
		if err := ctx.Err(); err != nil || !rests || time.Since(began) < workFor {
			return err
		}
		select {
		case <-time.After(restFor):
		case <-ctx.Done():
		}
		began = time.Now()
		return ctx.Err()
	}
}
