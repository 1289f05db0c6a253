package cli

import (
	"errors"
	"fmt"
	"testing"
)

func TestGrouped(t *testing.T) {
	for n, want := range map[int64]string{0: "0", 999: "999", -999: "-999", 1000: "1,000", -1234567: "-1,234,567", 123456: "123,456"} {
		if got := Grouped(n); got != want {
			t.Errorf("Grouped(%d) = %q, want %q", n, got, want)
		}
	}
}

// TestCode: the outermost code counts, and an error without one has failed.
func TestCode(t *testing.T) {
	usage := Usage("--rate %d: too many", 7)
	for _, tt := range []struct {
		err  error
		want int
	}{
		{nil, ExitDone},
		{errors.New("no code"), ExitFailed},
		{usage, ExitUsage},
		{fmt.Errorf("in a sentence: %w", usage), ExitUsage},
		{Exit(ExitTrial, "the trial file: %w", usage), ExitTrial},
		{errors.Join(errors.New("no code"), usage), ExitUsage},
	} {
		if got := Code(tt.err); got != tt.want {
			t.Errorf("Code(%v) = %d, want %d", tt.err, got, tt.want)
		}
	}
	if usage.Error() != "--rate 7: too many" {
		t.Errorf("the message is %q", usage)
	}
}
