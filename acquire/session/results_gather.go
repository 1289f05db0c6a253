package session

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"hawse/acquire"
	"hawse/logfmt"
)

// PullLogs is where one pull is recorded: its parts in order, and the addenda
// beside them by the part's path.
type PullLogs struct {
	Parts   []Part
	Addenda map[string][]Addendum
	Faults  []string // addenda that cannot be read
	// Beside is how many other logs of pulls lie in the folders of the parts.
	Beside int
}

// FindPulls sorts logs into pulls, in the order in which they were started.
// Logs that go on from each other are one, and parts beside a log are found by
// the chain in their heads, whichever of them is named. Addenda are no pulls; a
// salvaged log is one only where the log it was taken from is not beside it.
//
// named are logs that a person named: one that is no pull is an error. found are
// those of folders: there such a log is left out, and an addendum whose log is
// nowhere told. An error concerns one log, and keeps no other from being found.
func FindPulls(named, found []string) (pulls []PullLogs, faults []error) {
	g := gatherer{folders: map[string]*folderOf{}, taken: map[string]bool{}}
	for i, path := range append(slices.Clone(named), found...) {
		p, err := g.pullOf(path, i < len(named))
		if err != nil {
			faults = append(faults, err)
		} else if p != nil {
			pulls = append(pulls, *p)
		}
	}
	for i := range pulls {
		pulls[i].Beside = g.beside(pulls[i].Parts)
	}
	slices.SortStableFunc(pulls, func(a, b PullLogs) int {
		return cmp.Or(a.Parts[0].Started.Compare(b.Parts[0].Started), cmp.Compare(a.Parts[0].Path, b.Parts[0].Path))
	})
	return pulls, faults
}

// gatherer remembers what lies in the folders it has been in.
type gatherer struct {
	folders map[string]*folderOf
	taken   map[string]bool // logs that are in a pull already, by their real path
}

// real is a path without links, so that a log is known again.
func real(path string) string {
	if p, err := filepath.EvalSymlinks(path); err == nil {
		path = p
	}
	if p, err := filepath.Abs(path); err == nil {
		path = p
	}
	return path
}

// folderOf is one folder: its logs, and the addenda in it by the base name of
// the log they comment on.
type folderOf struct {
	logs    []Opening
	addenda map[string][]Addendum
	faults  map[string][]string
	beside  int // logs of pulls that are in no pull found; -1 not counted
}

func (g *gatherer) folder(dir string) *folderOf {
	if f := g.folders[dir]; f != nil {
		return f
	}
	f := &folderOf{beside: -1, logs: openings(dir), addenda: map[string][]Addendum{}, faults: map[string][]string{}}
	for _, o := range f.logs {
		if o.Part != addendumPart {
			continue
		}
		a, err := ReadAddendum(o.Path)
		if err != nil {
			f.faults[a.Of] = append(f.faults[a.Of], err.Error())
			continue
		}
		f.addenda[a.Of] = append(f.addenda[a.Of], a)
	}
	g.folders[dir] = f
	return f
}

// has says whether a log of that name is in the folder, packed or not.
func (f *folderOf) has(base string) bool {
	return slices.ContainsFunc(f.logs, func(o Opening) bool { return baseOf(o.Path) == base })
}

// pullOf is the pull that a log belongs to; nil where it has been found before,
// or is none and nobody named it.
func (g *gatherer) pullOf(path string, named bool) (*PullLogs, error) {
	switch info, err := os.Stat(path); {
	case err != nil:
		return nil, fmt.Errorf("%w; give the path of a log or a folder", err)
	case info.Mode().IsRegular() && info.Size() == 0 && named:
		return nil, fmt.Errorf("%s: the file is empty: nothing was recorded, or it was lost", path)
	}
	if g.taken[real(path)] {
		return nil, nil
	}
	o, err := ReadOpening(path)
	if err != nil {
		return nil, err
	}
	f := g.folder(filepath.Dir(path))
	switch o.Part {
	case addendumPart:
		return nil, addendumAlone(path, f, named)
	case "salvage":
		of := salvagedFrom(path)
		switch {
		case !f.has(of):
		case named:
			return nil, fmt.Errorf("%s: salvaged from %s, which is beside it; name that", path, acquire.Visible([]byte(of)))
		default:
			return nil, nil
		}
	}
	if o.Run == "" {
		return nil, fmt.Errorf("%s: no log of a pull, or cut short in its head: it names no run; 'hawse verify' tells more", path)
	}
	p := &PullLogs{Parts: []Part{{Opening: o}}, Addenda: map[string][]Addendum{}}
	if goesOn := func(next Opening) bool { return next.Predecessor == baseOf(path) }; o.Predecessor != "" || slices.ContainsFunc(f.logs, goesOn) {
		if p.Parts, err = Chain(path); err != nil {
			return nil, err
		}
	}
	for _, part := range p.Parts {
		g.taken[real(part.Path)] = true
		if err := g.comments(p, part.Path); err != nil {
			p.Faults = append(p.Faults, err.Error())
		}
	}
	return p, nil
}

// addendumAlone says what is wrong with an addendum in the place of a log.
func addendumAlone(path string, f *folderOf, named bool) error {
	a, err := ReadAddendum(path)
	switch {
	case named && a.Of != "":
		return fmt.Errorf("%s: an addendum to %s; name that", path, acquire.Visible([]byte(a.Of)))
	case named:
		return err
	case !f.has(a.Of):
		return errors.Join(err, fmt.Errorf("%s: an addendum to %s, which is not beside it", path, acquire.Visible([]byte(a.Of))))
	}
	return nil // told with its log
}

// comments takes the addenda beside a part, in the order in which they were
// written.
func (g *gatherer) comments(p *PullLogs, path string) error {
	f, base := g.folder(filepath.Dir(path)), baseOf(path)
	p.Faults = append(p.Faults, f.faults[base]...)
	all := slices.Clone(f.addenda[base])
	if len(all) == 0 {
		return nil
	}
	sum, err := logfmt.SumFile(path)
	for i := range all {
		all[i].Matches = err == nil && all[i].SHA256 == sum
	}
	slices.SortStableFunc(all, func(a, b Addendum) int {
		return cmp.Or(a.Written.Compare(b.Written), cmp.Compare(len(a.Path), len(b.Path)), cmp.Compare(a.Path, b.Path))
	})
	p.Addenda[path] = all
	return err
}

// beside is how many logs of pulls in the folders of the parts are in no pull.
// It is asked once all pulls are found.
func (g *gatherer) beside(parts []Part) (n int) {
	var dirs []string
	for _, p := range parts {
		dir := filepath.Dir(p.Path)
		if slices.Contains(dirs, dir) {
			continue
		}
		dirs = append(dirs, dir)
		f := g.folder(dir)
		if f.beside < 0 {
			f.beside = 0
			for _, o := range f.logs {
				if o.Part == "" && o.Run != "" && !g.taken[real(o.Path)] {
					f.beside++
				}
			}
		}
		n += f.beside
	}
	return n
}

// salvagedFrom is the base name of the log that a salvaged one was taken from.
func salvagedFrom(path string) string {
	f, err := logfmt.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	r := logfmt.NewReader(f)
	for n := 0; n < openingRecords && r.Next(); n++ {
		if rec := r.Record(); rec.Kind == logfmt.Head && rec.Str("part") == "salvage" {
			return strings.TrimSuffix(rec.Str("of"), packed)
		}
	}
	return ""
}
