package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
	"hawse/tui"
)

// What the bare command says depends on what lies in the folder.
func TestFirstSteps(t *testing.T) {
	t.Setenv("XDG_RUNTIME_DIR", t.TempDir()) // nothing runs
	dir := t.TempDir()
	say := func() string {
		var b bytes.Buffer
		firstSteps(&b, dir)
		return b.String()
	}
	if got := say(); !strings.Contains(got, "hawse demo") || !strings.Contains(got, "hawse new my-trial") || !strings.Contains(got, "CAUTION") {
		t.Errorf("in an empty folder:\n%s", got)
	}
	if err := os.WriteFile(filepath.Join(dir, "trial.toml"), []byte("nonsense = \"\x1b[2J\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if got := say(); !strings.Contains(got, "not ready yet") || !strings.Contains(got, "hawse limits trial.toml") {
		t.Errorf("beside a trial file that is not ready:\n%s", got)
	}
	if err := os.MkdirAll(filepath.Join(dir, "logs"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "logs", "A1\x1b[2J.log"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	got := say()
	if !strings.Contains(got, "hawse replay logs/A1") || strings.ContainsRune(got, 0x1b) {
		t.Errorf("beside a log with a hostile name:\n%q", got)
	}
}

func TestScreenLook(t *testing.T) {
	t.Setenv("NO_COLOR", "")
	t.Setenv("COLORFGBG", "0;15")
	t.Setenv("LC_ALL", "C")
	c := newWatch()
	if err := c.ParseFlags([]string{"--view", "Logger", "--light", "night"}); err != nil {
		t.Fatal(err)
	}
	if v := c.Flag("view").Value.String(); v != "logger" {
		t.Errorf("--view is %q, want logger", v)
	}
	for flag, bad := range map[string]string{"view": "cook", "light": "dusk"} {
		if err := newWatch().ParseFlags([]string{"--" + flag, bad}); err == nil || !strings.Contains(err.Error(), "night") && !strings.Contains(err.Error(), "operator") {
			t.Errorf("--%s %s: %v; want an error that lists what there is", flag, bad, err)
		}
	}
	if o := (screenLook{}).onto(tui.Options{}, nil); o.Light != tui.LightDay || !o.ASCII || o.Plain {
		t.Errorf("on a light terminal without UTF-8: %+v", o)
	}
	if o := (screenLook{light: tui.LightOwn, lit: true}).onto(tui.Options{}, nil); o.Light != tui.LightOwn {
		t.Errorf("--light own gave %v", o.Light)
	}
	t.Setenv("NO_COLOR", "1")
	if o := (screenLook{light: tui.LightDay, lit: true}).onto(tui.Options{}, nil); !o.Plain {
		t.Error("NO_COLOR was not heeded")
	}
}

// A notice on the desktop: the flag says, else the trial file, else none.
func TestNotifyFlag(t *testing.T) {
	allows, err := trial.ParseTrial("trial.toml", []byte(strings.NewReplacer("# [screens]", "[screens]", `# notify = "off"`, `notify = "osc9"`).Replace(trial.Template())))
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		flag  string
		trial *trial.Trial
		want  string
	}{
		{"", nil, ""}, {"", allows, "osc9"}, {"off", allows, ""}, {"OSC777", nil, "osc777"}, {"osc777", allows, "osc777"},
	} {
		var l screenLook
		c := &cobra.Command{}
		l.flags(c)
		if tt.flag != "" {
			if err := c.ParseFlags([]string{"--notify", tt.flag}); err != nil {
				t.Fatal(err)
			}
		}
		if got := l.onto(tui.Options{}, tt.trial).Notify; got != tt.want {
			t.Errorf("--notify %q, trial %v: %q, want %q", tt.flag, tt.trial != nil, got, tt.want)
		}
	}
	if err := newWatch().ParseFlags([]string{"--notify", "\x1b]0;x"}); err == nil || strings.ContainsRune(err.Error(), 0x1b) || !strings.Contains(err.Error(), "osc777") {
		t.Errorf("a way nobody knows: %v", err)
	}
}

// The flag takes the keys of watching screens away, and gives them to none that
// the trial file does not allow.
func TestWatchKeysNeedTheTrialFile(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "trial.toml"), trial.Template())
	code, _, errOut := hawse("pull", path, "--run", "A1", "--watch-keys")
	if code != cli.ExitUsage || !strings.Contains(errOut, "watch_keys = true under [screens]") {
		t.Errorf("code %d, %q; want a usage error that says what to write", code, errOut)
	}
}
