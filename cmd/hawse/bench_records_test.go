package main

import (
	"encoding/json"
	"testing"

	"hawse/cmd/hawse/cli"
)

// The figures of the record are measured, whatever they are on this machine.
func TestBenchRecords(t *testing.T) {
	dir := t.TempDir()
	code, out, errOut := hawse("bench", "records", "--mb", "1", "--rounds", "1", "--json", "--dir", dir)
	if code != cli.ExitDone {
		t.Fatalf("exit code %d\n%s%s", code, out, errOut)
	}
	var got struct {
		Figures struct {
			Writer map[string]float64
			Read   struct {
				MBPerS map[string]float64 `json:"mb_per_s"`
			}
			Verify map[string]float64
			Size   struct {
				Bytes map[string]float64 `json:"bytes_per_frame"`
			}
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	f := got.Figures
	if f.Writer["records_per_s"] <= 0 || f.Read.MBPerS["reader"] <= 0 || f.Read.MBPerS["packed"] <= 0 || f.Verify["speedup"] <= 0 {
		t.Errorf("figures %+v", f)
	}
	// A frame of the textbook deck takes about 125 bytes, packed less than half of that.
	if b := f.Size.Bytes; b["log"] < 80 || b["log"] > 200 || b["zstd"] >= b["log"]/2 || b["zstd_best"] > b["zstd"] {
		t.Errorf("bytes a frame %v", b)
	}
	for _, args := range [][]string{{"--mb", "0"}, {"--rounds", "0"}} {
		if code, _, _ := hawse(append([]string{"bench", "records"}, args...)...); code != cli.ExitUsage {
			t.Errorf("bench records %v: exit code %d, want %d", args, code, cli.ExitUsage)
		}
	}
}
