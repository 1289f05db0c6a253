//go:build unix

package bench

import (
	"fmt"
	"strings"
	"testing"
)

// TestLostOf: what is missing from a log is counted, what was under way when the
// port was opened or closed is not.
func TestLostOf(t *testing.T) {
	var sent []sentMessage
	var all strings.Builder
	for i := range 100 {
		m := sentMessage{float64(i) / 10, fmt.Sprintf("+%04d kgf\r\n", i/3)} // each said three times
		sent = append(sent, m)
		all.WriteString(m.raw)
	}
	line := len(sent[0].raw)
	raw := all.String()
	for _, tt := range []struct {
		name    string
		raw     string
		n, lost int
	}{
		{"all", raw, 100, 0},
		{"opened within a line, closed within one", raw[line/2 : len(raw)-3], 98, 0},
		{"five missing", raw[:20*line] + raw[25*line:], 95, 5},
		{"opened two seconds late", raw[20*line:], 80, 20},
		{"nothing", "", 0, 100},
	} {
		if n, lost := lostOf(sent, []byte(tt.raw)); n != tt.n || lost != tt.lost {
			t.Errorf("%s: %d there and %d lost, want %d and %d", tt.name, n, lost, tt.n, tt.lost)
		}
	}
	l := &sentList{of: map[string][]sentMessage{}}
	for _, part := range []string{"1.5 load \"+0", "3\\r\\n\"\n2.25 line \"N 1\\r\\n\"\n"} {
		if _, err := l.Write([]byte(part)); err != nil {
			t.Fatal(err)
		}
	}
	if got := fmt.Sprint(l.of); got != "map[line:[{2.25 N 1\r\n}] load:[{1.5 +03\r\n}]]" {
		t.Errorf("%q", got)
	}
}
