package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// TestFormatNamesEveryWord: whoever reads a log with the page beside it finds every
// source and every word there. The words are those in the code, found by its text.
func TestFormatNamesEveryWord(t *testing.T) {
	page, err := os.ReadFile("../../logfmt/FORMAT.md")
	if err != nil {
		t.Fatal(err)
	}
	named := func(word string) bool { return strings.Contains(string(page), "`"+word+"`") }
	words := map[string]string{}
	for w := safety.What(1); !strings.HasPrefix(w.String(), "event"); w++ {
		words[w.String()] = "safety"
	}
	said := regexp.MustCompile(`(?:text\("what", |Key: "what", Val: )"([a-z-]+)"`)
	files, err := filepath.Glob("../../acquire/session/*.go")
	if err != nil || len(files) < 20 {
		t.Fatalf("files of the fold: %d, %v", len(files), err)
	}
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range said.FindAllStringSubmatch(string(text), -1) {
			words[m[1]] = f
		}
	}
	if len(words) < 40 {
		t.Errorf("%d words found in the code; there are more, so they are not looked for rightly", len(words))
	}
	sources := []string{session.SrcLoad, session.SrcLine, session.SrcStop, session.SrcHorn, session.SrcRecord, session.SrcScreen, session.SrcJudge, session.SrcQueue,
		session.SrcCopy, session.SrcComputer, trial.TableDepth, trial.TablePosition, trial.TableHeading, trial.TableClock}
	for _, src := range append(sources, trial.OtherTables()...) {
		words[src] = "a source"
	}
	for word, from := range words {
		if !named(word) {
			t.Errorf("FORMAT.md does not name `%s` (%s)", word, from)
		}
	}
}
