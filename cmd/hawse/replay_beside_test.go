package main

import (
	"bytes"
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
	"hawse/logfmt"
	"hawse/trial"
)

// Two logs that do not go on from each other are two pulls; parts of one are not.
func TestTwoPullsAreTold(t *testing.T) {
	dir := t.TempDir()
	one := shortLog(t, dir, "a.log", nil, false)
	tr, _ := trial.ParseTrial("trial.toml", []byte(trial.Template()))
	u, err := session.ReadUnfinished(one, tr, "")
	if err != nil {
		t.Fatal(err)
	}
	two := shortLog(t, dir, "b.log", &u.Handover, true)
	other := shortLog(t, dir, "c.log", nil, true)
	for _, tt := range []struct {
		args  []string
		want  bool
		parts int // of the first
	}{
		{[]string{one, two}, false, 0},
		{[]string{two, one}, false, 0},
		{[]string{other, other}, false, 0},
		{[]string{other, filepath.Join(dir, "none.log")}, false, 0},
		{[]string{one, other}, true, 2},
		{[]string{other, two}, true, 1},
	} {
		if a, _, got := twoPulls(tt.args); got != tt.want || got && len(a) != tt.parts {
			t.Errorf("%q: two pulls %v, the first in %d parts; want %v, %d", tt.args, got, len(a), tt.want, tt.parts)
		}
	}
	if code, _, errOut := hawse("replay", other, two); code != cli.ExitStart || !strings.Contains(errOut, "side by side on a screen") || !strings.Contains(errOut, "hawse results A B") {
		t.Errorf("two pulls without a screen: code %d, %q", code, errOut)
	}
	if code, _, errOut := hawse("replay", other, "--who", "ghost"); code != cli.ExitUsage || !strings.Contains(errOut, "no seat") {
		t.Errorf("a seat that is none: code %d, %q", code, errOut)
	}
	if _, help, _ := hawse("replay", "--help"); !strings.Contains(help, "REMARKS.") || !strings.Contains(help, "TWO PULLS.") || !strings.Contains(help, "EARLIER PULLS.") {
		t.Errorf("the help says nothing of it:\n%s", help)
	}
	parts, err := session.Chain(one)
	if err != nil {
		t.Fatal(err)
	}
	want := earlierOf(tr, tr.Runs[0], parts)
	if !slices.Equal(want.Dirs, []string{dir}) || !slices.Equal(want.Own, []string{one, two}) || want.Before.IsZero() || want.Gentle {
		t.Errorf("a replay looks for %+v", want)
	}
	live := earlierLive(session.Head{Trial: tr, Run: tr.Runs[0]}, one, filepath.Join(dir, "logs"))
	if !live.Gentle || len(live.Dirs) != 2 || !live.Before.IsZero() {
		t.Errorf("a capture looks for %+v", live)
	}
}

// What was said in a replay and cannot be kept is printed, whatever it holds.
func TestSaidAndNotKeptIsPrinted(t *testing.T) {
	log := shortLog(t, t.TempDir(), "a.log", nil, true)
	r, err := session.OpenReplay(log, cli.Build(), 1)
	if err != nil {
		t.Fatal(err)
	}
	r.CommentAs(session.Author{Who: "logger", Name: "ann", Now: func() time.Time { return time.Unix(0, 0) }, Refuse: func(string) error { return errors.New("read-only \x1b[2Jfolder") }})
	r.Comment(r.Here(), session.Addendum{Kind: session.AddendumRemark, Text: "foul \x1b[31mof weed"})
	var out bytes.Buffer
	err = saidAndKept(&out, r)
	if err == nil || !strings.Contains(err.Error(), "hawse addendum") || !strings.Contains(out.String(), "of weed") || !strings.Contains(out.String(), "read-only") {
		t.Errorf("%v, %q", err, out.String())
	}
	if strings.ContainsRune(out.String(), 0x1b) || strings.Contains(out.String(), "NOT whole") {
		t.Errorf("printed %q", out.String())
	}
}

// Results, report and addendum tell the moment that was commented on.
func TestMomentOfAnAddendumIsTold(t *testing.T) {
	dir := t.TempDir()
	log := shortLog(t, dir, "a.log", nil, true)
	a := session.Addendum{Kind: session.AddendumRemark, Text: "foul of weed", Name: "ann", Who: "logger", Written: time.Date(2026, 4, 12, 18, 0, 0, 0, time.UTC),
		About: session.Place{N: 12, T: 150e6, X: 3.25, HasX: true}}
	if _, err := session.WriteAddendum(log, a, logfmt.Options{}); err != nil {
		t.Fatal(err)
	}
	const place = "of record 12 at 0.1 s, 3.25 m hauled"
	for _, args := range [][]string{{"addendum", log}, {"results", log}} {
		if _, out, errOut := hawse(args...); !strings.Contains(strings.Join(strings.Fields(out), " "), place) && !strings.Contains(out, "of record 12 at 0.2 s") {
			t.Errorf("hawse %q says nothing of the moment:\n%s%s", args, out, errOut)
		}
	}
	for _, args := range [][]string{{"addendum", log, "--json"}, {"results", log, "--json"}} {
		if _, out, _ := hawse(args...); !strings.Contains(out, `"about_record":12,"about_s":0.15,"about_hauled_m":3.25`) {
			t.Errorf("hawse %q:\n%s", args, out)
		}
	}
	if code, out, errOut := hawse("verify", dir); code != cli.ExitDone {
		t.Errorf("verify: code %d\n%s%s", code, out, errOut)
	}
}

// Of a pull that cannot be laid beside another it is said which, why, and what to do.
func TestPairThatCannotBe(t *testing.T) {
	dir := t.TempDir()
	good, cut, bad := shortLog(t, dir, "a.log", nil, true), shortLog(t, dir, "cut.log", nil, false), shortLog(t, dir, "bad.log", nil, true)
	change(t, bad, func(b []byte) []byte { b[len(b)/2] ^= 0x20; return b })
	run := shortLog(t, dir, "run.log", nil, false)
	defer system.Lock(run)()
	for path, want := range map[string][]string{
		cut: {"finished and whole", cut, "no end: it was cut short", "hawse replay " + cut, "hawse results " + good + " " + cut},
		run: {"finished and whole", run, "a capture still writes it", "end that first"},
		bad: {"finished and whole", "bad.log: damaged", "hawse replay " + bad},
	} {
		parts, err := session.Chain(path)
		if err != nil {
			t.Fatal(err)
		}
		_, err = session.ReadCourse(parts, nil)
		if err == nil {
			t.Fatalf("%s was read as a finished pull", path)
		}
		err = pairFault(parts, [2]string{good, path}, err)
		for _, w := range want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %v; want %q in it", path, err, w)
			}
		}
		if code := cli.Code(err); code != cli.ExitRecord {
			t.Errorf("%s: exit code %d, want %d: a fault of the record", path, code, cli.ExitRecord)
		}
	}
}
