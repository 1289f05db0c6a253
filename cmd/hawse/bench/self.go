package bench

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"time"

	"hawse/acquire"
)

// runSelf runs this very program, as a process of its own whose time and memory
// are nobody else's. Memory is looked at while it runs: what the system says
// afterwards counts that of this process, too.
func runSelf(ctx context.Context, args ...string) (out []byte, u used, err error) {
	self, err := os.Executable()
	if err != nil {
		return nil, u, fmt.Errorf("cannot find this program's own file to start it again: %w", err)
	}
	c := exec.CommandContext(ctx, self, args...)
	var said, complaint bytes.Buffer
	c.Stdout, c.Stderr = &said, &complaint
	began := time.Now()
	if err := c.Start(); err != nil {
		return nil, u, err
	}
	gone := make(chan error, 1)
	go func() { gone <- c.Wait() }()
	look := time.NewTicker(20 * time.Millisecond)
	defer look.Stop()
	for peak := int64(0); ; {
		select {
		case err := <-gone:
			u = usedBy(c.ProcessState, time.Since(began))
			u.peak = peak
			if err != nil {
				err = fmt.Errorf("hawse %s: %w; it said: %s", args[0], err, acquire.Visible(complaint.Bytes()))
			}
			return said.Bytes(), u, err
		case <-look.C:
			peak = max(peak, procPeak(c.Process.Pid))
		}
	}
}
