package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/safety"
	"hawse/trial"
	"hawse/tui"
)

// earlierOf is what a screen looks for of earlier pulls: what lies in the folders
// of these logs, started before the first of them.
func earlierOf(t *trial.Trial, run trial.Run, parts []session.Part) session.EarlierWanted {
	want := session.EarlierWanted{Run: run, Planned: plannedBlocks(t), Whole: parts}
	for _, p := range parts {
		if dir := filepath.Dir(p.Path); !slices.Contains(want.Dirs, dir) {
			want.Dirs = append(want.Dirs, dir)
		}
		want.Own = append(want.Own, p.Path)
	}
	if o, err := session.ReadOpening(parts[0].Path); err == nil {
		want.Before = o.Started
	}
	return want
}

// earlierLive is what the screen of a capture looks for: earlier pulls where its
// log is, and beside the trial file. The reading rests most of the time.
func earlierLive(h session.Head, log, beside string) session.EarlierWanted {
	want := session.EarlierWanted{Dirs: []string{filepath.Dir(log)}, Run: h.Run, Own: []string{log}, Planned: plannedBlocks(h.Trial), Gentle: true}
	if filepath.Clean(beside) != filepath.Dir(log) {
		want.Dirs = append(want.Dirs, beside)
	}
	return want
}

// plannedBlocks are the blocks of a trial's runs, where a plan inside its file says
// them.
func plannedBlocks(t *trial.Trial) map[string]int {
	out := map[string]int{}
	for id, p := range plannedRuns(t) {
		if p.Block > 0 {
			out[id] = p.Block
		}
	}
	return out
}

// twoPulls says whether two logs are two pulls: neither goes on from the other.
func twoPulls(paths []string) (a, b []session.Part, two bool) {
	parts, err := session.ChainOf(paths)
	if err != nil || goesOn(parts[0], parts[1]) || goesOn(parts[1], parts[0]) {
		return nil, nil, false
	}
	a, errA := partsOf(paths[:1], false)
	b, errB := partsOf(paths[1:], false)
	same := slices.ContainsFunc(a, func(p session.Part) bool {
		one, err1 := os.Stat(p.Path)
		other, err2 := os.Stat(paths[1])
		return err1 == nil && err2 == nil && os.SameFile(one, other)
	})
	return a, b, errA == nil && errB == nil && !same
}

func goesOn(p, from session.Part) bool {
	return p.Predecessor != "" && p.Predecessor == filepath.Base(from.Path)
}

// sideBySide shows two pulls together.
func sideBySide(c *cobra.Command, a, b []session.Part, speed float64, look screenLook) error {
	if ok, why := hasScreen(); !ok {
		return cli.Exit(cli.ExitStart, "two pulls are laid side by side on a screen: %s; 'hawse results A B' tells what each came to", why)
	}
	courses := [2]*session.Course{}
	for i, parts := range [][]session.Part{a, b} {
		k, err := session.ReadCourse(parts, nil)
		if err != nil {
			return pairFault(parts, [2]string{a[0].Path, b[0].Path}, err)
		}
		if k.Pull.Empty() {
			return fmt.Errorf("%s: nothing was hauled in stage pull: nothing to lay beside another; 'hawse replay %s' plays it alone", shownPath(parts[0].Path), shownPath(parts[0].Path))
		}
		courses[i] = k
	}
	ctx, cancel := cli.Interruptible(c)
	defer cancel()
	err := tui.RunPair(ctx, courses[0], courses[1], speed, look.onto(tui.Options{In: os.Stdin, Out: os.Stdout, Seat: safety.Watcher}, nil))
	if ctx.Err() != nil {
		return nil
	}
	return err
}

// pairFault says which pull cannot be laid beside another, why, and what to do.
func pairFault(parts []session.Part, both [2]string, err error) error {
	path := parts[len(parts)-1].Path // the one that has no end
	for _, p := range parts {
		if strings.HasPrefix(err.Error(), filepath.Base(p.Path)+":") {
			path = p.Path
		}
	}
	do := fmt.Sprintf("'hawse replay %s' plays it alone, 'hawse results %s %s' tells what there is of both", shownPath(parts[0].Path), shownPath(both[0]), shownPath(both[1]))
	if un := (*session.UnfinishedError)(nil); errors.As(err, &un) {
		why := fmt.Errorf("it has no end: it was cut short")
		if owned(path) {
			why, do = fmt.Errorf("it has no end: a capture still writes it"), "end that first, or "+do
		}
		return cli.Exit(cli.ExitRecord, "two pulls side by side have to be finished and whole, and %s is not: %w; %s", shownPath(path), why, do)
	}
	return cli.Exit(cli.ExitRecord, "two pulls side by side have to be finished and whole, and one is not: %w; %s", err, do)
}

// beingWritten says why a log cannot be commented on now.
func beingWritten(log string) error {
	if owned(log) {
		return fmt.Errorf("%s is being written; end the capture first", log)
	}
	return nil
}

// saidAndKept waits until what was said in a replay is written, and prints what
// could not be: nothing a person wrote is lost in silence.
func saidAndKept(errOut io.Writer, r *session.Replay) error {
	left := r.EndComments()
	for _, u := range left {
		u.Whole, u.Matches = true, true // it never was a file
		tell(errOut, fmt.Sprintf("hawse: NOT kept: %s\n  why: %s\n", visible(addendumText(u.Addendum)), visible(u.Err.Error())))
	}
	if len(left) > 0 {
		return fmt.Errorf("%d said of the log not kept; say it again with 'hawse addendum', of a copy where the folder cannot be written to", len(left))
	}
	return nil
}
