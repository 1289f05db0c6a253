//go:build unix

package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// bridge is an invented set of instruments of a vessel on one port, ten times a
// second: depth, position, heading and time.
func bridge(t *testing.T, depth float64, quality int, ahead time.Duration) (tables string) {
	t.Helper()
	port := strangeBox(t, "", func(i int) string {
		switch i % 5 {
		case 0:
			return sentence("SDDPT,%.2f,0.60,", depth+0.02*float64(i%3))
		case 1:
			return sentence("GPGGA,101530.00,5045.07%02d,N,00118.2640,W,%d,09,0.9,3.0,M,47.0,M,,", i%7, quality)
		case 2:
			return sentence("HEHDT,%.1f,T", 182+0.1*float64(i%4))
		case 3:
			return sentence("GPZDA,%s,00,00", time.Now().UTC().Add(ahead).Format("150405.00,02,01,2006"))
		}
		return ""
	})
	return fmt.Sprintf("\n[depth]\nport = %q\nbaud = 4800\nframe = \"8N1\"\nkind = \"nmea\"\ntransducer = \"0.4 m\"\n[position]\non = \"depth\"\n[heading]\non = \"depth\"\n[clock]\non = \"depth\"\n", port)
}

func withTables(t *testing.T, file, tables string) string {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return write(t, file, strings.Replace(string(text), "\n[stop]\n", tables+"\n[stop]\n", 1))
}

func TestCheckHearsTheVessel(t *testing.T) {
	rest := strings.Replace(quietDeck, "FAULT\n", "", 1)
	plan := "[plan]\n[[plan.berth]]\nstation = \"Alder Flat\"\nposition = \"50 45.072 N 1 18.264 W\"\n"
	file := withTables(t, deckFor(t, rest), bridge(t, 5.4, 1, 0)+plan)
	_, items, _ := checked(t, file, "--depth", "6.2 m")
	for _, what := range []string{"depth heard", "position heard", "heading heard", "clock heard", "depth value", "position fix", "position rests", "position, berth", "heading value", "clock is right"} {
		if items[what].Result != checkSeen {
			t.Errorf("%s: %+v, want it seen", what, items[what])
		}
	}
	if v := items["position fix"].Value; !strings.Contains(v, ", 50.751") {
		t.Errorf("position fix %q: want degrees in plain characters", v)
	}
	if v := items["depth value"].Value; !strings.Contains(v, "6.2 m by hand") || !strings.HasPrefix(v, "6.0") {
		t.Errorf("depth value %q", v)
	}

	file = withTables(t, deckFor(t, rest), bridge(t, 11.8, 6, -time.Hour))
	code, items, _ := checked(t, file, "--depth", "6.2 m")
	for what, want := range map[string]string{"depth value": "double echo", "position fix": "view of the sky", "clock is right": "set the computer's clock"} {
		if i := items[what]; i.Result != checkLook || !strings.Contains(i.Do, want) {
			t.Errorf("%s: %+v, want a look that says %q", what, i, want)
		}
	}
	if code != cli.ExitDone {
		t.Errorf("code %d: no instrument of the vessel alone keeps a pull back", code)
	}

	file = withTables(t, deckFor(t, rest), strings.ReplaceAll(bridge(t, 6, 1, 0), `"/dev/`, `"/nowhere/`))
	_, items, _ = checked(t, file)
	if i := items["depth heard"]; i.Result != checkLook || !strings.Contains(i.Do, "port=") {
		t.Errorf("%+v", i)
	}
	if i := items["heading heard"]; i.Result != checkLook || !strings.Contains(i.Do, "[depth]") {
		t.Errorf("%+v", i)
	}
}

// TestCheckMarks: what the counter says of line from mark to mark, by the trial
// file's scale of 1000 counts a metre.
func TestCheckMarks(t *testing.T) {
	tr, err := trial.ParseTrial("t.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name       string
		spans      []markSpan
		why        string
		way, scale string
		do         string // of the scale, or of the way where there is none
	}{
		{"as said", []markSpan{{10, 20, 10.05}, {20, 30, 9.93}}, "", checkSeen, checkSeen, ""},
		{"a little off", []markSpan{{10, 20, 10.3}}, "", checkSeen, checkLook, `scale = "1030 /m"`},
		{"far off", []markSpan{{10, 20, 7.5}}, "", checkSeen, checkCannot, `scale = "750 /m"`},
		{"one of two far off", []markSpan{{10, 20, 10}, {20, 30, 9}}, "", checkSeen, checkCannot, "scale ="},
		{"the other way", []markSpan{{10, 20, -10}}, "", checkCannot, checkSeen, `haul = "counts fall"`},
		{"a wheel that does not turn", []markSpan{{10, 20, 0.01}}, "", checkCannot, "", "wheel"},
		{"broken off", []markSpan{{10, 20, 10}}, "nobody said when", checkSeen, checkLook, "nobody"},
		{"not begun", nil, "nobody said when", checkLook, checkLook, "two of the marks"},
		{"not asked for", nil, "", checkLook, checkLook, "--marks"},
	} {
		k := &checks{t: tr, seen: &heardAll{last: &session.Snapshot{Line: session.Stream{Good: 9}}}, marks: &markTry{spans: tt.spans, why: tt.why}}
		if tt.spans != nil || tt.why != "" {
			k.marks.marks = []trial.Length{10, 20}
		}
		k.byMarks()
		var way, scale checkItem
		for _, i := range k.items {
			if i.What == "count direction" {
				way = i
			} else {
				scale = i
			}
		}
		if way.Result != tt.way || scale.Result != tt.scale || !strings.Contains(way.Do+scale.Do, tt.do) {
			t.Errorf("%s: %+v, want %s, %s, %q", tt.name, k.items, tt.way, tt.scale, tt.do)
		}
	}
}

// nods says that a mark is at the roller when the line has run out so far.
type nods struct {
	at func() float64 // rode out, m
	up []float64
}

func (n *nods) Read(p []byte) (int, error) {
	if len(n.up) == 0 {
		return 0, io.EOF
	}
	for end := time.Now().Add(20 * time.Second); n.at() < n.up[0] && time.Now().Before(end); {
		time.Sleep(5 * time.Millisecond)
	}
	n.up = n.up[1:]
	return copy(p, "\n"), nil
}

// TestCheckPaysOut: the count from one mark to the next is what the deck pays out
// while a person goes by the marks, and the third mark nobody confirms.
func TestCheckPaysOut(t *testing.T) {
	file := deckFor(t, strings.Replace(strings.Replace(quietDeck, "FAULT\n", "", 1), "wait 100 s", "ease at 30 m/min\nwait 100 s", 1))
	tr, err := openTrial(file)
	if err != nil {
		t.Fatal(err)
	}
	c, err := session.Start(context.Background(), session.Config{Head: session.Head{Trial: tr, Run: tr.Runs[0], Started: time.Now(), Mode: "live", Scale: 1},
		LogPath: filepath.Join(t.TempDir(), "c.log"), Clock: acquire.NewClock(), Dial: acquire.OpenSerial, Dir: filepath.Dir(file), Log: logfmt.Options{}})
	if err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(10 * time.Second); c.Snapshot().Line.Good < 3 && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond)
	}
	rode := func() float64 {
		if h := c.Snapshot().Haul; h.Known {
			return float64(h.RodeOut)
		}
		return math.Inf(-1)
	}
	var out strings.Builder
	m := &markTry{marks: []trial.Length{10, 12, 14}, in: &nods{at: rode, up: []float64{math.Inf(-1), 12}}, out: &out, show: tr.Show}
	err = m.run(context.Background(), c)
	_, _ = c.DoWait(context.Background(), session.Act{Who: safety.Director, What: session.ActEnd, Value: "done"})
	<-c.Done()
	if err != nil || len(m.spans) != 1 || m.spans[0].counted < 2 || m.spans[0].counted > 3.5 || !strings.Contains(m.why, "14 m") || strings.Count(out.String(), "pay out until") != 3 {
		t.Errorf("%v, %+v\n%s", err, m, out.String())
	}
}

// TestCheckMarksLeftOut: where every mark was left out it is not told to ask for
// marks, which was done.
func TestCheckMarksLeftOut(t *testing.T) {
	tr, err := trial.ParseTrial("t.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	m := &markTry{marks: []trial.Length{10, 20, 30}, in: strings.NewReader("s\ns\ns\n"), out: io.Discard, show: tr.Show}
	if err := m.run(context.Background(), nil); err != nil || m.left != 3 {
		t.Fatalf("%v, %d left out", err, m.left)
	}
	for left, want := range map[int]string{3: "every mark was left out", 2: "all marks but one were left out"} {
		m.left = left
		k := &checks{t: tr, seen: &heardAll{last: &session.Snapshot{Line: session.Stream{Good: 9}}}, marks: m}
		k.byMarks()
		for _, i := range k.items {
			if i.Result != checkLook || !strings.Contains(i.Value, want) || strings.Contains(i.Do, "--marks") || !strings.Contains(i.Do, "two of the marks") {
				t.Errorf("%d left out: %+v", left, i)
			}
		}
	}
}
