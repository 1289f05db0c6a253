package bench

import (
	"encoding/json"
	"testing"

	"hawse/cmd/hawse/cli"
)

// The figures of the record are measured, whatever they are on this machine.
func TestRecords(t *testing.T) {
	out, err := run("records", "--mb", "1", "--rounds", "1", "--json", "--dir", t.TempDir())
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
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
		if _, err := run(append([]string{"records"}, args...)...); cli.Code(err) != cli.ExitUsage {
			t.Errorf("bench records %v: %v; want it refused as a wrong command line", args, err)
		}
	}
}
