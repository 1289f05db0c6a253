package acquire

import (
	"testing"
)

func TestMailbox(t *testing.T) {
	arm, beat, beat2 := string(AppendArm(nil, 8)), string(AppendBeat(nil, 8, 1)), string(AppendBeat(nil, 8, 2))
	open, open2 := string(AppendOpen(nil, 7)), string(AppendOpen(nil, 8))
	tests := []struct {
		name     string
		post     []string
		onlyOpen bool
		want     string
	}{
		{"nothing", nil, false, ""},
		{"the newest", []string{beat, beat2}, false, beat2},
		{"a beat does not replace an OPEN", []string{open, beat, beat2}, false, open},
		{"an OPEN replaces a beat", []string{beat, open}, false, open},
		{"an OPEN replaces an ARM", []string{arm + beat, open}, false, open},
		{"an ARM follows an OPEN", []string{open, arm + beat}, false, open + arm + beat},
		{"and a beat follows that", []string{open, arm, beat}, false, open + beat},
		{"an OPEN ends it all", []string{open, arm, beat, open2}, false, open2},
		{"the last word is an OPEN", []string{open, arm}, true, open},
		{"or none", []string{arm}, true, ""},
		{"an empty message is none", []string{beat, ""}, false, beat},
	}
	for _, tt := range tests {
		var m mailbox
		bell := m.attach()
		for _, p := range tt.post {
			m.post([]byte(p))
		}
		if got := string(m.take(bell, tt.onlyOpen)); got != tt.want {
			t.Errorf("%s: after %q take = %q; want %q", tt.name, tt.post, got, tt.want)
		}
		if got := m.take(bell, false); len(got) != 0 {
			t.Errorf("%s: a second take = %q; want nothing", tt.name, got)
		}
	}
}
