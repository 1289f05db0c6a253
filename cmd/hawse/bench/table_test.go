package bench

import (
	"bytes"
	"encoding/json"
	"errors"
	"testing"

	"hawse/cmd/hawse/cli"
)

func TestTable(t *testing.T) {
	r := &report{name: "flood", title: "Flood: a test", settings: []setting{{"rate_hz", 10}},
		machine: machine{CPU: "some processor", Cores: 2, System: "linux/amd64", Kernel: "6.1", Go: "go1.26"}}
	a := &table{key: "ports", columns: []column{{"load", "load"}, {"line", "line"}}}
	a.add("sent", "lines sent", cellInt(12345), cellInt(7))
	a.spreads("in_log", "to the log", spreadOf([]int64{1e6, 2e6}), spread{})
	b := &table{key: "capture", columns: []column{{}}}
	b.add("memory_peak_bytes", "most memory, MB", cellMB(25_000_000))
	b.add("cpu_ratio", "ratio", cellRatio(3, 2))
	r.tables = []*table{a, b}
	r.fault(false, "not this")
	if err := r.verdict(); err != nil {
		t.Errorf("verdict without a fault: %v, want nil", err)
	}
	r.fault(true, "%d lost", 3)
	if err := r.verdict(); cli.Code(err) != cli.ExitFailed || err.Error() != "3 lost" {
		t.Errorf("verdict = %v, want exit code %d and \"3 lost\"", err, cli.ExitFailed)
	}
	var text, js bytes.Buffer
	if err := errors.Join(r.writeText(&text), r.writeJSON(&js)); err != nil {
		t.Fatal(err)
	}
	const want = `Flood: a test
Machine: some processor, 2 cores, linux/amd64 6.1, go1.26

                         load  line
  lines sent           12,345     7
  to the log, p50, ms   1.000     -
  to the log, p99, ms   2.000     -
  to the log, max, ms   2.000     -

  most memory, MB  25.0
  ratio            1.50
`
	if text.String() != want {
		t.Errorf("text:\n%s\nwant:\n%s", text.String(), want)
	}
	var got struct {
		Bench   string
		Faults  []string
		Figures struct {
			Ports   map[string]map[string]float64
			Capture map[string]float64
		}
	}
	if err := json.Unmarshal(js.Bytes(), &got); err != nil {
		t.Fatalf("%v in\n%s", err, js.String())
	}
	_, measured := got.Figures.Ports["line"]["in_log_p50_s"]
	if got.Bench != "flood" || got.Figures.Ports["load"]["in_log_p99_s"] != 0.002 || measured ||
		got.Figures.Capture["memory_peak_bytes"] != 25e6 || len(got.Faults) != 1 {
		t.Errorf("JSON is\n%s", js.String())
	}
}

func TestMachineWords(t *testing.T) {
	const info = "processor\t: 0\nmodel\t\t: 1\nmodel name\t: Some  Processor 3000\nmodel name\t: another\n"
	if got := cpuModel(info); got != "Some Processor 3000" {
		t.Errorf("cpuModel(%q) = %q", info, got)
	}
	if got := cpuModel("nothing of the kind"); got != "" {
		t.Errorf("cpuModel of nothing = %q, want none", got)
	}
	if got := statusBytes("Name:\thawse\nVmHWM:\t   24832 kB\nVmRSS:\t 100 kB\n", "VmHWM:"); got != 24832<<10 {
		t.Errorf("statusBytes = %d, want %d", got, 24832<<10)
	}
}
