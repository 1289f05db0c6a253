//go:build unix

package bench

import (
	"strings"
	"testing"
	"time"
)

// TestKillAccount: what is left of a stream, in whatever places, and what is
// not, is counted to the byte.
func TestKillAccount(t *testing.T) {
	b := &killBox{box: newBoxes(100, 20, time.Minute)[loadCell]}
	for i := 1; i <= 10; i++ {
		b.sent = b.box.append(b.sent, i, i)
		b.ends, b.at = append(b.ends, len(b.sent)), append(b.at, int64(i)*1e7)
	}
	n := len(b.sent) / 10
	at := func(from, to int) []byte { return b.sent[from*n : to*n] }
	const killed1 = int64(105e6) // 5 ms after the last line
	for _, tt := range []struct {
		name              string
		unread, log, kept []byte
		want              killed
		oldest            int64
		fault             string
	}{
		{"all in the log", nil, at(2, 10), nil, killed{sent: 10 * n, passed: 2 * n, log: 8 * n}, -1, ""},
		{"some not read", at(8, 10), at(0, 8), nil, killed{sent: 10 * n, unread: 2 * n, log: 8 * n}, -1, ""},
		{"one kept", at(9, 10), at(1, 8), at(8, 9), killed{sent: 10 * n, unread: n, passed: n, log: 7 * n, kept: n}, 15e6, ""},
		{"half a line kept", nil, at(0, 9), b.sent[9*n:], killed{sent: 10 * n, log: 9 * n, kept: n}, 5e6, ""},
		{"one lost", nil, at(0, 9), nil, killed{sent: 10 * n, log: 9 * n, lost: n, oldest: 5e6}, 5e6, ""},
		{"old ones lost", nil, at(0, 4), nil, killed{sent: 10 * n, log: 4 * n, lost: 6 * n, oldest: 55e6, late: n}, 55e6, ""},
		{"a hole in the log", nil, append(append([]byte{}, at(0, 3)...), at(4, 10)...), nil, killed{sent: 10 * n, log: 9 * n}, -1, "does not hold what was sent"},
		{"nothing in the log", nil, nil, nil, killed{sent: 10 * n}, -1, "does not hold what was sent"},
		{"in the log and in the terminal", at(8, 10), at(0, 9), nil, killed{sent: 10 * n, unread: 2 * n, log: 9 * n}, -1, "still in the terminal"},
		{"kept is something else", nil, at(0, 8), at(0, 1), killed{sent: 10 * n, log: 8 * n}, -1, "is not what the log lacks"},
		{"unread is something else", []byte("x"), at(0, 8), nil, killed{sent: 10 * n, unread: 1, log: 8 * n}, -1, "not the end of what was sent"},
	} {
		got, oldest, fault := b.account(killed1, tt.unread, tt.log, tt.kept)
		if got != tt.want || oldest != tt.oldest || (tt.fault == "") != (fault == "") || !strings.Contains(fault, tt.fault) {
			t.Errorf("%s:\n got %+v, oldest %d, %q\nwant %+v, oldest %d, %q", tt.name, got, oldest, fault, tt.want, tt.oldest, tt.fault)
		}
	}
}
