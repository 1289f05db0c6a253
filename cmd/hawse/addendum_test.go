package main

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/pem"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/ssh"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
	"hawse/trial"
)

// shortLog is a whole log of nothing but a head and a second.
func shortLog(t *testing.T, dir, name string, after *session.Handover, sealed bool) string {
	t.Helper()
	tr, err := trial.ParseTrial("trial.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	run, _ := tr.Run("A1")
	path := filepath.Join(dir, name)
	log, err := logfmt.Create(path, logfmt.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d, err := session.NewDry(session.Head{Tool: "hawse/test", Build: cli.Build(), Started: time.Date(2026, 4, 12, 9, 0, 0, 0, time.UTC), Mode: "simulated", Scale: 1,
		Trial: tr, File: "trial.toml", Run: run, After: after})
	if err != nil {
		t.Fatal(err)
	}
	d.Keep = true
	d.Act(1e6, session.Act{Who: 1, Name: "test", What: session.ActDepth, Value: "6 m"}, 1)
	d.Tick(2e8)
	for _, r := range d.Records {
		log.Put(r)
	}
	n := uint64(len(d.Records) + 1)
	if sealed {
		err = log.Seal(logfmt.Record{T: 2e8, N: n, Kind: logfmt.End})
	} else {
		err = log.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return path
}

func TestAddendumCommand(t *testing.T) {
	log := shortLog(t, t.TempDir(), "a.log", nil, true)
	if code, out, _ := hawse("addendum", log); code != cli.ExitDone || !strings.Contains(out, "no addendum") {
		t.Errorf("none yet: code %d, %q", code, out)
	}
	for _, args := range [][]string{
		{"--remark", "weed on the anchor"}, {"--doubt", "the rode chafed"},
		{"--weight", "25.0 kg", "--shows", "24.5 kg"}, {"--factor", "1.02", "--offset", "-3 N", "--remark", "by the weight"},
		{"--came-up", "flukes=part damage=none angle=32 deg"},
	} {
		if code, out, errOut := hawse(append([]string{"addendum", log}, args...)...); code != cli.ExitDone || !strings.Contains(out, "a-addendum-") {
			t.Errorf("%q: code %d, %q, %q", args, code, out, errOut)
		}
	}
	code, out, errOut := hawse("addendum", log)
	for _, want := range []string{"weed on the anchor", "doubt by", "-2.00 %", "1.02 times the recorded -3 N by the weight", "came-up by", "flukes partly clogged; damage none seen; fluke angle 32 deg"} {
		if !strings.Contains(out, want) {
			t.Errorf("list has no %q:\n%s%s", want, out, errOut)
		}
	}
	if code != cli.ExitDone {
		t.Errorf("list: code %d", code)
	}
	if code, out, _ := hawse("addendum", log, "--json"); code != cli.ExitDone || !strings.Contains(out, `"weight_n":245.16`) || !strings.Contains(out, `"came_up":{"damage":"none","fluke_rad":0.558`) {
		t.Errorf("list as JSON: %d, %s", code, out)
	}
	for _, tt := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"--remark", "x", "--doubt", "y"}, cli.ExitUsage, "one thing"},
		{[]string{"--shows", "2 kg"}, cli.ExitUsage, "--weight"},
		{[]string{"--weight", "25.0"}, cli.ExitUsage, "--weight"},
		{[]string{"--weight", "25.0 kg"}, cli.ExitUsage, "--shows"},
		{[]string{"--factor", "much"}, cli.ExitUsage, "--factor"},
		{[]string{"--came-up", "flukes=muddy"}, cli.ExitUsage, "clean, part, clogged"},
		{[]string{"--came-up", "flukes=clean", "--remark", "x"}, cli.ExitUsage, "one thing"},
		{[]string{"--factor", "0"}, cli.ExitUsage, "lost decimal point"},
	} {
		if code, _, errOut := hawse(append([]string{"addendum", log}, tt.args...)...); code != tt.code || !strings.Contains(errOut, tt.want) {
			t.Errorf("%q: code %d, %q; want %d and %q", tt.args, code, errOut, tt.code, tt.want)
		}
	}
	text, _ := os.ReadFile(log)
	write(t, log, string(text)+" ")
	if code, out, _ := hawse("addendum", log); code != cli.ExitRecord || !strings.Contains(out, "NOT of the file") {
		t.Errorf("a changed log: code %d, %q", code, out)
	}
}

func TestSignCommand(t *testing.T) {
	dir := t.TempDir()
	log := shortLog(t, dir, "a.log", nil, true)
	_, key, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	block, err := ssh.MarshalPrivateKey(key, "test")
	if err != nil {
		t.Fatal(err)
	}
	keyPath := write(t, filepath.Join(dir, "key"), string(pem.EncodeToMemory(block)))
	code, out, errOut := hawse("sign", log, "--key", keyPath)
	if code != cli.ExitDone || !strings.Contains(out, "a.log.sig: signed with SHA256:") {
		t.Errorf("code %d, %q, %q", code, out, errOut)
	}
	if s, err := logfmt.CheckSignature(log); err != nil || !s.Good {
		t.Errorf("signature: %v, %+v", err, s)
	}
	cut := shortLog(t, dir, "b.log", nil, false)
	if code, _, errOut := hawse("sign", cut, "--key", keyPath); code != cli.ExitRecord || !strings.Contains(errOut, "--anyway") {
		t.Errorf("a log without an end: code %d, %q", code, errOut)
	}
	if code, _, errOut := hawse("sign", cut, "--key", keyPath, "--anyway"); code != cli.ExitDone {
		t.Errorf("a log without an end, anyway: code %d, %q", code, errOut)
	}
	if code, _, errOut := hawse("sign", cut, "--key", cut, "--anyway"); code != cli.ExitFailed || !strings.Contains(errOut, "private key") {
		t.Errorf("with no key: code %d, %q", code, errOut)
	}
}

// TestReplayOfParts: a pull in two logs is one, whichever of them is named.
func TestReplayOfParts(t *testing.T) {
	dir := t.TempDir()
	one := shortLog(t, dir, "a.log", nil, false)
	tr, _ := trial.ParseTrial("trial.toml", []byte(trial.Template()))
	u, err := session.ReadUnfinished(one, tr, "")
	if err != nil {
		t.Fatal(err)
	}
	two := shortLog(t, dir, "b.log", &u.Handover, true)
	for _, args := range [][]string{{one}, {two}, {one, two}} {
		code, out, errOut := hawse(append([]string{"replay", "--check"}, args...)...)
		if code != cli.ExitDone || !strings.Contains(out, "part 2 of 2") || strings.Contains(out, "broken") {
			t.Errorf("replay of %q: code %d, %s%s", args, code, out, errOut)
		}
	}
	if code, out, _ := hawse("replay", "--check", "--part", two); code != cli.ExitDone || strings.Contains(out, "part") {
		t.Errorf("one part alone: code %d, %s", code, out)
	}
	code, out, errOut := hawse("replay", "--headless", "--speed", "1000", one)
	if code != cli.ExitDone || !strings.Contains(out, "part 2 of 2: b.log") || !strings.Contains(out, "log cut short: no seal") {
		t.Errorf("played: code %d, %s%s", code, out, errOut)
	}
	if code, out, _ := hawse("replay", "--check", two, one); code != cli.ExitDone || !strings.Contains(out, "chain is broken") {
		t.Errorf("in the wrong order: code %d, %s", code, out)
	}
}
