package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// mayImport is the table of the house: which of our own packages each may
// import. The core stays pure because it cannot reach a port or a screen.
var mayImport = map[string][]string{
	"hawse/trial/rode":      {},
	"hawse/trial":           {"hawse/trial/geo", "hawse/trial/rode"},
	"hawse/trial/calibrate": {},
	"hawse/trial/compare":   {},
	"hawse/trial/geo":       {},
	"hawse/trial/plan":      {"hawse/trial", "hawse/trial/geo", "hawse/trial/rode"},
	"hawse/trial/report":    {"hawse/trial", "hawse/trial/compare"},
	"hawse/logfmt":          {},
	"hawse/safety":          {"hawse/trial", "hawse/trial/rode"},
	"hawse/acquire":         {"hawse/trial", "hawse/logfmt"},
	"hawse/acquire/listen":  {"hawse/acquire", "hawse/trial"},
	"hawse/acquire/deck":    {"hawse/trial", "hawse/trial/rode"},
	"hawse/acquire/session": {"hawse/acquire", "hawse/safety", "hawse/trial", "hawse/trial/geo", "hawse/trial/plan", "hawse/trial/rode", "hawse/logfmt"},
	"hawse/acquire/crew":    {"hawse/acquire/deck", "hawse/acquire/session", "hawse/safety", "hawse/trial"},
	"hawse/acquire/export":  {"hawse/acquire", "hawse/acquire/session", "hawse/logfmt", "hawse/safety", "hawse/trial"},
	"hawse/acquire/dryrun":  {"hawse/acquire", "hawse/acquire/crew", "hawse/acquire/deck", "hawse/acquire/session", "hawse/logfmt", "hawse/safety", "hawse/trial"},
	"hawse/tui":             {"hawse/acquire/session", "hawse/safety", "hawse/trial", "hawse/tui/..."},

	"hawse/cmd/hawse":        {"hawse/..."},
	"hawse/cmd/hawse/bench":  {"hawse/acquire/...", "hawse/acquire", "hawse/cmd/hawse/cli", "hawse/cmd/hawse/system", "hawse/logfmt", "hawse/safety", "hawse/trial"},
	"hawse/cmd/hawse/cli":    {},
	"hawse/cmd/hawse/system": {"hawse/logfmt"},
}

// impure are packages that a pure package may not import, with the reason.
var impure = map[string]string{
	"os":                    "a file or the environment",
	"net":                   "a socket",
	"os/signal":             "a signal",
	"go.bug.st/serial":      "a port",
	"github.com/creack/pty": "a pseudo-terminal",
}

type listed struct {
	ImportPath string
	Doc        string
	Imports    []string
	GoFiles    []string
	Dir        string
}

func listPackages(t *testing.T) []listed {
	t.Helper()
	out, err := exec.Command("go", "list", "-json", "hawse/...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []listed
	for dec := json.NewDecoder(strings.NewReader(string(out))); dec.More(); {
		var p listed
		if err := dec.Decode(&p); err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	if len(all) < len(mayImport) {
		t.Fatalf("go list found %d packages, want at least %d", len(all), len(mayImport))
	}
	return all
}

func allowed(from, to string) bool {
	rules, known := mayImport[from]
	if !known && strings.HasPrefix(from, "hawse/tui/") {
		rules, known = mayImport["hawse/tui"], true
	}
	if !known {
		return false
	}
	for _, r := range rules {
		if r == to || strings.HasSuffix(r, "/...") && strings.HasPrefix(to, strings.TrimSuffix(r, "...")) {
			return true
		}
	}
	return false
}

func TestImportsFollowTheTable(t *testing.T) {
	for _, p := range listPackages(t) {
		if _, ok := mayImport[p.ImportPath]; !ok && !strings.HasPrefix(p.ImportPath, "hawse/tui/") {
			t.Errorf("package %s is not in the table: say what it may import, or put its code where the table has a place", p.ImportPath)
		}
		for _, imp := range p.Imports {
			if strings.HasPrefix(imp, "hawse/") && !allowed(p.ImportPath, imp) {
				t.Errorf("%s imports %s: against the table", p.ImportPath, imp)
			}
		}
	}
}

func TestPurePackagesReachNothing(t *testing.T) {
	for _, p := range listPackages(t) {
		if p.ImportPath != "hawse/trial" && !strings.HasPrefix(p.ImportPath, "hawse/trial/") && p.ImportPath != "hawse/safety" {
			continue
		}
		for _, imp := range p.Imports {
			if why, bad := impure[imp]; bad {
				t.Errorf("%s imports %s, which reaches %s: it is a pure package", p.ImportPath, imp, why)
			}
		}
		for _, f := range p.GoFiles {
			b, err := os.ReadFile(filepath.Join(p.Dir, f))
			if err != nil {
				t.Fatal(err)
			}
			for _, word := range []string{"time.Now(", "time.Since(", "time.Sleep(", "\tgo func"} {
				if strings.Contains(string(b), word) {
					t.Errorf("%s/%s has %q: a pure package has no clock and no goroutine", p.ImportPath, f, strings.TrimSpace(word))
				}
			}
		}
	}
}

func TestEveryPackageSaysWhatItIs(t *testing.T) {
	for _, p := range listPackages(t) {
		if p.Doc == "" {
			t.Errorf("%s has no package comment", p.ImportPath)
		}
	}
}

func TestNoOtherTopLevelFolderOfCode(t *testing.T) {
	known := map[string]bool{"cmd": true, "tui": true, "acquire": true, "safety": true, "logfmt": true, "trial": true, "testdata": true}
	entries, err := os.ReadDir("../..")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.IsDir() && !strings.HasPrefix(e.Name(), ".") && !known[e.Name()] {
			t.Errorf("top-level folder %s is not one of the house's", e.Name())
		}
	}
}
