//go:build unix

package bench

import (
	"context"
	"slices"
	"testing"

	"hawse/logfmt"
)

// TestStopsInLog: a stop takes from the Read that brought the line, also where
// the record was made later, to the end of the Write that took OPEN out.
func TestStopsInLog(t *testing.T) {
	path := writeLog(t,
		record(100, logfmt.Tx, "src", "stop", "raw", "OPEN 1*00\n"), // not of ours
		record(1000, logfmt.Rx, "src", "load", "raw", overLine),
		record(1400, logfmt.Tx, "src", "stop", "t0", "0.000000500", "raw", "BEAT 1 2*00\nOPEN 1*00\n"),
		record(2000, logfmt.Rx, "src", "line", "raw", overLine),
		record(2000, logfmt.Rx, "src", "load", "at", "0.000001900", "raw", overLine),
		record(2500, logfmt.Tx, "src", "stop", "at", "0.000002450", "raw", "OPEN 2*00\n"),
		record(3000, logfmt.Rx, "src", "load", "raw", overLine), // never answered
		record(4000, logfmt.Rx, "src", "load", "raw", overLine),
		record(4300, logfmt.Tx, "src", "stop", "raw", "OPEN 3*00\n"),
		record(5000, logfmt.Rx, "src", "load", "raw", overLine)) // nor this
	ns, unanswered, err := stopsInLog(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	if want := []int64{400, 550, 300}; !slices.Equal(ns, want) || unanswered != 2 {
		t.Errorf("stops took %v ns, %d unanswered; want %v, 2", ns, unanswered, want)
	}
}
