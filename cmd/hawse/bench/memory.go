package bench

import (
	"fmt"
	"os"
	"runtime"
	"strings"
	"time"
)

// used is what a process has cost.
type used struct {
	cpu, ran time.Duration
	peak     int64 // bytes; 0 unknown
	exit     int
}

func (u used) share() float64 { return 100 * u.cpu.Seconds() / u.ran.Seconds() }

func usedBy(s *os.ProcessState, ran time.Duration) used {
	return used{cpu: s.UserTime() + s.SystemTime(), ran: ran, exit: s.ExitCode(), peak: peakOf(s)}
}

// procPeak is the most memory a process has had resident, bytes, as Linux
// tells it; 0 where it does not.
func procPeak(pid int) int64 { return procStatus(pid, "VmHWM:") }

func procStatus(pid int, key string) int64 {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	return statusBytes(string(b), key)
}

// statusBytes finds a line such as "VmHWM:    12345 kB".
func statusBytes(status, key string) int64 {
	for line := range strings.Lines(status) {
		rest, ok := strings.CutPrefix(line, key)
		if !ok {
			continue
		}
		var n int64
		if _, err := fmt.Sscanf(rest, "%d kB", &n); err == nil {
			return n << 10
		}
	}
	return 0
}

// rusagePeak is what a system says of a process's most memory, in bytes: some
// count in them, most in units of 1024.
func rusagePeak(n int64) int64 {
	if runtime.GOOS == "darwin" || runtime.GOOS == "ios" {
		return n
	}
	return n << 10
}
