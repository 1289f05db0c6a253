package bench

import (
	"fmt"
	"os"
	"runtime"
	"strings"

	"hawse/acquire"
)

// machine is what a figure was taken on. What a system does not tell is
// empty.
type machine struct {
	CPU    string `json:"cpu,omitempty"`
	Cores  int    `json:"cores"`
	System string `json:"system"`
	Kernel string `json:"kernel,omitempty"`
	Go     string `json:"go"`
	// Load is the system's load average of the last minute before the figure.
	Load string `json:"load_average_before,omitempty"`
}

func thisMachine() machine {
	read := func(path string) string {
		b, err := os.ReadFile(path)
		if err != nil {
			return ""
		}
		return string(b)
	}
	word := func(s string) string { return acquire.Visible([]byte(strings.TrimSpace(s))) }
	load, _, _ := strings.Cut(read("/proc/loadavg"), " ")
	return machine{
		CPU: word(cpuModel(read("/proc/cpuinfo"))), Cores: runtime.NumCPU(), System: runtime.GOOS + "/" + runtime.GOARCH,
		Kernel: word(read("/proc/sys/kernel/osrelease")), Go: runtime.Version(), Load: word(load),
	}
}

// cpuModel finds the name of the processor in what Linux tells of it.
func cpuModel(cpuinfo string) string {
	for line := range strings.Lines(cpuinfo) {
		key, val, ok := strings.Cut(line, ":")
		switch strings.TrimSpace(key) {
		case "model name", "cpu model", "Model", "uarch":
			if ok {
				return strings.Join(strings.Fields(val), " ")
			}
		}
	}
	return ""
}

// String is the machine in words.
func (m machine) String() string {
	cpu := m.CPU
	if cpu == "" {
		cpu = "processor unknown"
	}
	s := fmt.Sprintf("Machine: %s, %d cores, %s", cpu, m.Cores, m.System)
	if m.Kernel != "" {
		s += " " + m.Kernel
	}
	s += ", " + m.Go
	if m.Load != "" {
		s += "; load average before: " + m.Load
	}
	return s
}
