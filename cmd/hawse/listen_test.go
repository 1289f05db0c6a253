package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
)

// strangeBox is an invented box on a pseudo-terminal. It speaks every 20 ms, or,
// where asked says what, each time it is asked.
func strangeBox(t *testing.T, asked string, line func(i int) string) (port string) {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Skip("no pseudo-terminals here: ", err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		buf := make([]byte, 256)
		for i := 0; ; i++ {
			if asked != "" {
				n, err := master.Read(buf)
				if err != nil {
					return
				}
				if !bytes.Contains(buf[:n], []byte(asked)) {
					continue
				}
			}
			if _, err := master.Write([]byte(line(i))); err != nil {
				return
			}
			if asked == "" {
				time.Sleep(20 * time.Millisecond)
			}
		}
	}()
	t.Cleanup(func() {
		slave.Close()
		master.Close()
		<-done
	})
	return slave.Name()
}

func TestListen(t *testing.T) {
	port := strangeBox(t, "", func(i int) string { return fmt.Sprintf("\x02ST,NT,%+08.1f,lb\x03\r", float64(i%17)*2.5) })
	code, out, errOut := hawse("listen", port, "--for", "1500ms", "--json")
	var d listenDoc
	if err := json.Unmarshal([]byte(out), &d); err != nil || code != exitDone {
		t.Fatal(code, err, errOut)
	}
	if d.Kind != "load" || d.Unit != "lb" || d.Baud != 9600 || d.Fits < d.Of || d.Step != 2.5 || !strings.Contains(d.Block, "[load]") || !strings.Contains(d.Pattern, "(?P<unit>lb)") {
		t.Errorf("%+v", d)
	}
	code, page, errOut := hawse("listen", port, "--for", "1s", "--baud", "4800", "--frame", "7E1")
	if code != exitDone || !strings.Contains(page, `\x02ST,NT`) || !strings.Contains(page, "4800 7E1") || !strings.Contains(page, "a load in lb") || strings.ContainsAny(page, "\x02\x03\r") {
		t.Errorf("%d, %s\n%s", code, errOut, page)
	}
}

func TestListenAsks(t *testing.T) {
	port := strangeBox(t, "R", func(i int) string { return fmt.Sprintf("%6.2f kN\r\n", float64(i%9)/4) })
	code, page, errOut := hawse("listen", port, "--for", "1500ms", "--baud", "9600", "--ask", `R\r`)
	if code != exitDone || !strings.Contains(page, "a load in kN") {
		t.Errorf("%d, %s\n%s", code, errOut, page)
	}
}

func TestListenBadInput(t *testing.T) {
	silent := strangeBox(t, "never", func(int) string { return "" })
	noise := strangeBox(t, "", func(i int) string { return "\x93\xa1\x00\xfe\x0b\x81\r" })
	for _, tt := range []struct {
		name string
		args []string
		code int
		want string
	}{
		{"no port said", nil, exitUsage, "one port"},
		{"no such port", []string{"/dev/ttyNowhere9"}, exitFailed, "no such port"},
		{"too short", []string{silent, "--for", "1ms"}, exitUsage, "from 500ms"},
		{"as a boat", []string{silent, "--as", "boat"}, exitUsage, "load or line"},
		{"a frame alone", []string{silent, "--frame", "8N1"}, exitUsage, "--baud"},
		{"a bad frame", []string{silent, "--baud", "9600", "--frame", "9X9"}, exitFailed, "8N1"},
		{"a bad question", []string{silent, "--ask", `\q`}, exitUsage, "after a backslash"},
		{"half a byte", []string{silent, "--ask", `\x4`}, exitUsage, "after a backslash"},
		{"a silent box", []string{silent, "--for", "500ms", "--baud", "9600"}, exitFailed, "not a byte came"},
		{"noise", []string{noise, "--for", "1s", "--baud", "9600"}, exitFailed, "are text: the speed is wrong"},
	} {
		code, out, errOut := hawse(append([]string{"listen"}, tt.args...)...)
		if code != tt.code || !strings.Contains(errOut, tt.want) || out != "" || strings.ContainsAny(errOut, "\x1b\x00") {
			t.Errorf("%s: code %d, want %d; %q and %q, want %q", tt.name, code, tt.code, out, errOut, tt.want)
		}
	}
}
