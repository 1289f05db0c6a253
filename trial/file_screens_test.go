package trial

import (
	"strings"
	"testing"
)

func TestScreens(t *testing.T) {
	for _, tt := range []struct {
		name   string
		edits  []string
		keys   bool
		notify string
		si     string // of screens_watch_keys
	}{
		{"unsaid", nil, false, "", ""},
		{"said, and not allowed", []string{"# [screens]", "[screens]"}, false, "", "0"},
		{"allowed", []string{"# [screens]", "[screens]", "# watch_keys = false", "watch_keys = true", `# notify = "off"`, `notify = "osc777"`}, true, NotifyOSC777, "1"},
		{"off", []string{"# [screens]", "[screens]", `# notify = "off"`, `notify = "off"`}, false, "", "0"},
	} {
		tr, err := ParseTrial("trial.toml", []byte(strings.NewReplacer(tt.edits...).Replace(Template())))
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		si := ""
		for _, kv := range tr.SI() {
			if kv.Key == "screens_watch_keys" {
				si = kv.Val
			}
		}
		if tr.WatchKeys() != tt.keys || tr.Notify() != tt.notify || si != tt.si {
			t.Errorf("%s: keys %v, notify %q, in the head %q; want %v, %q, %q", tt.name, tr.WatchKeys(), tr.Notify(), si, tt.keys, tt.notify, tt.si)
		}
	}
}
