package acquire

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/trial"
)

func TestHornForms(t *testing.T) {
	text := NewHornForm(&trial.Horn{Kind: trial.StopText})
	if got, want := string(text.Signal(nil, true, false)), "SIGNAL 1 0*1F\n"; got != want {
		t.Errorf("text says %q, want %q", got, want)
	}
	mod := NewHornForm(&trial.Horn{Kind: trial.StopModbus, Unit: 3, Coil: 9, LampCoil: 4})
	if got, want := string(mod.Signal(nil, true, false)), answerFrame(3, 5, 0, 9, 0xFF, 0)+answerFrame(3, 5, 0, 4, 0, 0); got != want {
		t.Errorf("modbus says % x, want % x", got, want)
	}
	if mod.Lines() || !text.Lines() {
		t.Error("Modbus has no lines, text has")
	}
}

func TestHornOnLines(t *testing.T) {
	type say struct{ horn, lamp bool }
	tests := []struct {
		name string
		horn trial.Horn
		says []say // 50 ms apart
		want []string
	}{
		{"levels", trial.Horn{Kind: trial.StopLevel, Line: "rts"},
			[]say{{true, true}, {true, true}, {false, true}, {false, false}},
			[]string{"0s RTS up", "0s DTR up", "100ms RTS down", "150ms DTR down"}},
		{"the horn on the other line", trial.Horn{Kind: trial.StopLevel, Line: "dtr"}, []say{{true, false}, {false, true}},
			[]string{"0s DTR up", "50ms DTR down", "50ms RTS up"}},
		{"pulses", trial.Horn{Kind: trial.StopPulse, Line: "rts"}, []say{{true, false}, {true, false}, {true, true}, {false, false}},
			[]string{"0s RTS up", "40ms RTS down", "100ms RTS up", "100ms DTR up", "140ms RTS down", "140ms DTR down"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d := newFakeLines(true)
				g := newGuard("a", d)
				g.linesDown = true
				form := NewHornForm(&tt.horn)
				c, err := form.Wrap(g)
				if err != nil {
					t.Fatal(err)
				}
				if d.up != [2]bool{} {
					t.Errorf("open: lines up %v", d.up)
				}
				d.edges = nil
				for _, s := range tt.says {
					if _, err := c.Write(form.Signal(nil, s.horn, s.lamp)); err != nil {
						t.Fatal(err)
					}
					time.Sleep(50 * time.Millisecond)
				}
				if diff := cmp.Diff(tt.want, d.shown()); diff != "" {
					t.Errorf("(-want +got):\n%s", diff)
				}
				if _, err := c.Write([]byte("SIGNAL 1")); err != nil { // no word: off
					t.Fatal(err)
				}
				c.Close()
				if up, _ := d.now(); up != [2]bool{} {
					t.Errorf("closed: lines up %v", up)
				}
			})
		})
	}
}
