package early

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// TestWorn looks at TERM in this program as it was started: another one with a
// known TERM, since what it wears was decided before main.
func TestWorn(t *testing.T) {
	if os.Getenv("HAWSE_EARLY_CHILD") != "" {
		before, set := os.LookupEnv(name)
		Restore()
		after, _ := os.LookupEnv(name)
		Restore()
		again, _ := os.LookupEnv(name)
		_, _ = os.Stdout.WriteString(strings.Join([]string{"worn", before, after, again}, "|") + "\n")
		if !set {
			_, _ = os.Stdout.WriteString("unset\n")
		}
		return
	}
	for _, tt := range []struct{ env, want string }{
		{"TERM=xterm-256color", "worn|tmux-xterm-256color|xterm-256color|xterm-256color\n"},
		{"TERM=dumb", "worn|tmux-dumb|dumb|dumb\n"},
		{"NOTERM=1", "worn|||\nunset\n"},
	} {
		cmd := exec.Command(os.Args[0], "-test.run", "^TestWorn$")
		for _, kv := range os.Environ() {
			if !strings.HasPrefix(kv, "TERM=") {
				cmd.Env = append(cmd.Env, kv)
			}
		}
		cmd.Env = append(cmd.Env, "HAWSE_EARLY_CHILD=1", tt.env)
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("%s: %v", tt.env, err)
		}
		if !strings.HasPrefix(string(out), tt.want) {
			t.Errorf("%s: got %q, want %q", tt.env, out, tt.want)
		}
	}
}
