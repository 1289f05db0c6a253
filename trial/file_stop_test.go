package trial

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// withStop is the template with other lines under [stop] and, after it, others.
func withStop(stop, after string) string {
	text := Template()
	from := strings.Index(text, "[stop]")
	upTo := from + strings.Index(text[from:], "# Horn and lamp")
	return text[:from] + "[stop]\n" + stop + "\n" + after + "\n" + text[upTo:]
}

func TestStopKinds(t *testing.T) {
	const data = "port = \"./deck/stop\"\nbaud = 19200\nframe = \"8E1\"\n"
	port := Port{Names: []string{"./deck/stop"}, Baud: 19200, Frame: "8E1", LinesDown: true}
	lines := Port{Names: []string{"./deck/stop"}, Baud: 9600, Frame: "8N1", LinesDown: true}
	const beat, window = 50 * time.Millisecond, 300 * time.Millisecond
	tests := []struct {
		name, stop string
		want       StopOutput
		answers    bool
	}{
		{"no kind said", data, StopOutput{Port: port, Kind: StopText, Beat: beat, Window: window}, true},
		{"text", data + `kind = "text"`, StopOutput{Port: port, Kind: StopText, Beat: beat, Window: window}, true},
		{"modbus as it comes", data + `kind = "modbus"`, StopOutput{Port: port, Kind: StopModbus, Beat: beat, Window: window, Modbus: DefaultModbus}, true},
		{"modbus elsewhere", data + "kind = \"modbus\"\nunit = 17\ncoil = 172\nsession_register = 40\nbeat_register = 42",
			StopOutput{Port: port, Kind: StopModbus, Beat: beat, Window: window, Modbus: Modbus{17, 172, 40, 42}}, true},
		{"pulse", "port = \"./deck/stop\"\nkind = \"pulse\"\nline = \"rts\"", StopOutput{Port: lines, Kind: StopPulse, Beat: beat, Window: window, Line: LineRTS}, false},
		{"pulse in capitals, with a mode", data + "kind = \"pulse\"\nline = \"DTR\"\nbeat = \"20 ms\"\nwindow = \"150 ms\"",
			StopOutput{Port: lines, Kind: StopPulse, Beat: 20 * time.Millisecond, Window: 150 * time.Millisecond, Line: LineDTR}, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tr, err := ParseTrial("t.toml", []byte(withStop(tt.stop, "")))
			if err != nil {
				t.Fatalf("%s\ndoes not read: %v", tt.stop, err)
			}
			if diff := cmp.Diff(tt.want, tr.Stop); diff != "" {
				t.Errorf("[stop] of\n%s\n(-want +got):\n%s", tt.stop, diff)
			}
			if got := tr.Stop.Answers(); got != tt.answers {
				t.Errorf("Answers() = %v, want %v", got, tt.answers)
			}
			if tr.Horn != nil {
				t.Errorf("a horn that nobody named: %+v", tr.Horn)
			}
		})
	}
}

func TestHornKinds(t *testing.T) {
	const stop = "port = \"./deck/stop\"\nbaud = 9600\nframe = \"8N1\"\n"
	const data = "[horn]\nport = \"./deck/horn\"\nbaud = 9600\nframe = \"8N1\"\n"
	port := Port{Names: []string{"./deck/horn"}, Baud: 9600, Frame: "8N1", LinesDown: true}
	tests := []struct {
		name, horn string
		want       Horn
	}{
		{"text", data, Horn{Port: port, Kind: StopText}},
		{"modbus as it comes", data + `kind = "modbus"`, Horn{Port: port, Kind: StopModbus, Unit: 1, Coil: 0, LampCoil: 1}},
		{"modbus elsewhere", data + "kind = \"modbus\"\nunit = 3\ncoil = 9\nlamp_coil = 4", Horn{Port: port, Kind: StopModbus, Unit: 3, Coil: 9, LampCoil: 4}},
		{"a level, which the horn may be", "[horn]\nport = \"./deck/horn\"\nkind = \"level\"\nline = \"dtr\"", Horn{Port: port, Kind: StopLevel, Line: LineDTR}},
		{"pulses", "[horn]\nport = \"./deck/horn\"\nkind = \"pulse\"\nline = \"rts\"", Horn{Port: port, Kind: StopPulse, Line: LineRTS}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tr, err := ParseTrial("t.toml", []byte(withStop(stop, tt.horn)))
			if err != nil {
				t.Fatalf("%s\ndoes not read: %v", tt.horn, err)
			}
			if diff := cmp.Diff(&tt.want, tr.Horn); diff != "" {
				t.Errorf("%s\n(-want +got):\n%s", tt.horn, diff)
			}
		})
	}
}

func TestModbusTurnFitsTheUsualSettings(t *testing.T) {
	// 28 characters of 11 bits and 5 ms, computed by hand.
	for baud, want := range map[int]time.Duration{9600: 37083 * time.Microsecond, 19200: 21041 * time.Microsecond, 4800: 69166 * time.Microsecond} {
		if got := ModbusTurn(baud).Truncate(time.Microsecond); got != want {
			t.Errorf("ModbusTurn(%d) = %v, want %v", baud, got, want)
		}
	}
	if got := ModbusTurn(0); got <= 0 {
		t.Errorf("ModbusTurn(0) = %v, want a positive time", got)
	}
}
