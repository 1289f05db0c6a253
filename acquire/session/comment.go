package session

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
)

// Commenter is a [View] of a pull that is over: what is learnt of it afterwards
// can be said there. Every method returns at once.
type Commenter interface {
	// Here is the moment of the pull that is shown.
	Here() Here
	// Comment has an addendum written about a moment. What came of it shows in
	// Comments; nothing that was said is dropped before it is on disk.
	Comment(at Here, a Addendum)
	// Retry tries again what could not be written.
	Retry()
	// Comments is what was said afterwards, never nil. It is not changed.
	Comments() *Comments
}

// Here is a moment of a pull.
type Here struct {
	Path string // of the part's log
	At   int64  // in the pull, ns
	Place
}

// Comments are what was said of a pull after it was over.
type Comments struct {
	List    []Commented // in the order in which they were written
	Faults  []string    // addenda that cannot be read, fit to be shown
	Pending int         // still being written
	Failed  []Unkept
	Told    string // what came of the last one, fit to be shown; "" nothing yet
	Loud    bool   // it could not be kept, or there is something to look at
	Count   int    // of words told so far
}

// Commented is an addendum and where it stands in the pull.
type Commented struct {
	Addendum
	At    int64 // in the pull, ns
	HasAt bool  // At says something: it is about a moment, in a part that was played
}

// Unkept is an addendum that could not be written.
type Unkept struct {
	At Here
	Addendum
	Err error
}

// Author is who comments, and what keeps a log from being commented on.
type Author struct {
	Who, Name   string // the seat and the person
	Tool, Build string
	Now         func() time.Time
	// Refuse says why a log cannot be commented on now, such as that it is being
	// written; nil: nothing does.
	Refuse func(path string) error
	Log    logfmt.Options
}

// comments is the part of a replay that keeps what is said of it.
type comments struct {
	author Author
	able   bool
	jobs   sync.WaitGroup
	one    sync.Mutex // one addendum is written at a time

	mu     sync.Mutex // guards what follows; never held while a file is touched
	now    Comments
	shifts map[string]int64 // of each part that was opened: ns from its time to the pull's
}

// CommentAs lets what is learnt of the pull be said at the screen, by that author,
// and reads what was said before. It is called before Run.
func (r *Replay) CommentAs(a Author) {
	k := &r.said
	if a.Now == nil {
		a.Now = time.Now
	}
	k.author, k.able = a, true
	k.jobs.Go(func() {
		k.one.Lock()
		defer k.one.Unlock()
		for _, p := range r.all {
			k.reread(p.Path)
		}
	})
}

// reread reads the addenda beside a part; one that is not in order is told.
func (k *comments) reread(path string) {
	list, err := Addenda(path)
	base := baseOf(path)
	var faults []string
	if err != nil {
		for line := range strings.SplitSeq(err.Error(), "\n") {
			faults = append(faults, acquire.Visible([]byte("not read: "+line)))
		}
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.now.List = slices.DeleteFunc(slices.Clone(k.now.List), func(c Commented) bool { return c.Of == base })
	for _, a := range list {
		k.now.List = append(k.now.List, Commented{Addendum: a})
		if name := filepath.Base(a.Path); !a.Whole {
			faults = append(faults, acquire.Visible([]byte(name+" is not whole: results do not apply it")))
		} else if !a.Matches {
			faults = append(faults, acquire.Visible([]byte(name+" is of another file: the log was changed since, or the addendum was moved; results do not apply it")))
		}
	}
	slices.SortStableFunc(k.now.List, func(a, b Commented) int { return a.Written.Compare(b.Written) })
	fresh := false
	k.now.Faults = slices.Clone(k.now.Faults)
	for _, f := range faults {
		if !slices.Contains(k.now.Faults, f) {
			k.now.Faults, fresh = append(k.now.Faults, f), true
		}
	}
	k.place()
	if fresh {
		k.tell("addendum "+faults[0], true)
	}
}

// place says where in the pull each stands, as far as its parts were played. The
// lock is held.
func (k *comments) place() {
	for i := range k.now.List {
		c := &k.now.List[i]
		shift, ok := k.shifts[c.Of]
		c.At, c.HasAt = c.About.T+shift, ok && c.About.N > 0
	}
}

func (k *comments) tell(text string, loud bool) {
	k.now.Told, k.now.Loud = text, loud
	k.now.Count++
}

// opened notes where in the pull a part begins.
func (k *comments) opened(path string, shift int64) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.shifts == nil {
		k.shifts = map[string]int64{}
	}
	k.shifts[baseOf(path)] = shift
	k.now.List = slices.Clone(k.now.List)
	k.place()
}

// about says whether something was said of a record.
func (k *comments) about(path string, n uint64) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(k.now.List) == 0 {
		return false
	}
	base := baseOf(path)
	return slices.ContainsFunc(k.now.List, func(c Commented) bool { return c.About.N == n && c.Of == base })
}

// Here implements [Commenter].
func (r *Replay) Here() Here {
	r.mu.Lock()
	defer r.mu.Unlock()
	at := Here{Path: r.path, At: r.played(), Place: Place{N: r.fold.last.N, T: r.fold.last.T}}
	s := r.fold.Snapshot()
	r.whole.onto(&s)
	if s.Haul.Known {
		at.X, at.HasX = s.Haul.X, true
	}
	return at
}

// Comments implements [Commenter].
func (r *Replay) Comments() *Comments {
	r.said.mu.Lock()
	defer r.said.mu.Unlock()
	now := r.said.now
	return &now
}

// Comment implements [Commenter].
func (r *Replay) Comment(at Here, a Addendum) {
	k := &r.said
	a.About = at.Place
	a.Who, a.Name, a.Tool, a.Build = k.author.Who, k.author.Name, k.author.Tool, k.author.Build
	if k.able {
		a.Written = k.author.Now()
	}
	k.mu.Lock()
	k.now.Pending++
	k.mu.Unlock()
	k.jobs.Go(func() { r.write(at, a) })
}

// Retry implements [Commenter].
func (r *Replay) Retry() {
	k := &r.said
	k.mu.Lock()
	again := k.now.Failed
	k.now.Failed = nil
	k.now.Pending += len(again)
	k.mu.Unlock()
	k.jobs.Go(func() {
		for _, u := range again {
			r.write(u.At, u.Addendum)
		}
	})
}

// write writes one addendum and tells what came of it.
func (r *Replay) write(at Here, a Addendum) {
	k := &r.said
	k.one.Lock()
	defer k.one.Unlock()
	err := errCannotComment
	if k.able {
		err = nil
		if k.author.Refuse != nil {
			err = k.author.Refuse(at.Path)
		}
	}
	var kept Addendum
	if err == nil {
		kept, err = WriteAddendum(at.Path, a, k.author.Log)
	}
	text, loud := "", false
	if err == nil {
		text = string(a.Kind) + " kept: " + filepath.Base(kept.Path)
		if rep, err := logfmt.VerifyFile(at.Path); err != nil || !rep.Whole || rep.Beside == logfmt.BesideDiffers {
			text, loud = text+"; but the log itself is not whole by its seal ('hawse verify' tells more)", true
		}
		k.reread(at.Path)
		r.passed(point{at.At, []PointKind{MarkPoint}})
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.now.Pending--
	if err != nil {
		k.now.Failed = append(slices.Clone(k.now.Failed), Unkept{at, a, err})
		k.tell(acquire.Visible([]byte(fmt.Sprintf("%s NOT kept: %v", a.Kind, err))), true)
		return
	}
	k.tell(acquire.Visible([]byte(text)), loud)
}

var errCannotComment = errors.New("nothing can be said of the log here")

// EndComments waits until what was said is written and returns what could not be.
// It is called when no more will be said.
func (r *Replay) EndComments() []Unkept {
	r.said.jobs.Wait()
	return r.Comments().Failed
}
