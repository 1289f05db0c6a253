package session

import (
	"fmt"
	"path/filepath"
)

// DropCopies leaves out results of pulls that are there already, such as those
// of a second log on another disk, and returns what was left out. A copy may be
// shorter, or lack the log that went on: the one that holds most is kept. Two
// logs that go on from the same one are two pulls, and each says so.
func DropCopies(all []*Result) (kept, copies []*Result) {
	for _, r := range all {
		i, found := 0, false
		for ; i < len(kept); i++ {
			if same, forked := r.like(kept[i]); same {
				found = true
				break
			} else if forked {
				for _, two := range [2][2]*Result{{r, kept[i]}, {kept[i], r}} {
					two[0].Faults = append(two[0].Faults, "another log goes on from the same one: "+two[1].Parts[len(two[1].Parts)-1].Path)
				}
			}
		}
		switch {
		case !found:
			kept = append(kept, r)
		case r.held() > kept[i].held():
			kept[i].copied(r)
			copies = append(copies, kept[i])
			kept[i] = r
		default:
			r.copied(kept[i])
			copies = append(copies, r)
		}
	}
	return kept, copies
}

// like says whether two results are of the same pull, told by run and start of
// their logs, and whether they begin with the same log and go on in others.
func (r *Result) like(o *Result) (same, forked bool) {
	if !r.Ready || !o.Ready {
		return false, false
	}
	for i := range min(len(r.Parts), len(o.Parts)) {
		a, b := &r.Parts[i], &o.Parts[i]
		if a.Run != b.Run || !a.Started.Equal(b.Started) || a.Started.IsZero() {
			return false, i > 0
		}
	}
	return true, false
}

// held is how many records there are of it.
func (r *Result) held() (n uint64) {
	for i := range r.Parts {
		n += r.Parts[i].Records
	}
	return n
}

// copied says what r is to the one that is told.
func (r *Result) copied(of *Result) {
	name := filepath.Join(filepath.Base(filepath.Dir(of.Parts[0].Path)), filepath.Base(of.Parts[0].Path))
	r.CopyOf = fmt.Sprintf("the same log as %s", name)
	if r.held() < of.held() {
		r.CopyOf = fmt.Sprintf("a shorter copy of %s, %d of its %d records", name, r.held(), of.held())
	}
}
