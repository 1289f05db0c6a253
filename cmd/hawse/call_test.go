package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// template is a dry run of the template's first pull, hauling in the stage
// pull, on boxes that send what it is told to.
type template struct {
	t    *testing.T
	d    *session.Dry
	at   int64
	kgf  float64
	m    float64 // line hauled
	acts uint32
}

func onTemplate(t *testing.T) *template {
	t.Helper()
	tr, err := trial.ParseTrial("trial.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	run, _ := tr.Run("A1")
	d, err := session.NewDry(session.Head{Tool: "hawse/test", Build: "test", Mode: "simulated", Caption: "invented data", Scale: 1,
		Started: time.Date(2026, 4, 12, 9, 2, 11, 0, time.UTC), Trial: tr, File: "trial.toml", Run: run})
	if err != nil {
		t.Fatal(err)
	}
	for _, port := range []string{session.SrcLoad, session.SrcLine, session.SrcStop} {
		d.Port(0, port, "open", "")
	}
	s := &template{t: t, d: d}
	s.run(2)
	return s
}

// run lets seconds pass, each box sending ten lines a second.
func (s *template) run(seconds int) {
	for range seconds * 10 {
		s.at += 50e6
		s.d.Rx(s.at, session.SrcLoad, fmt.Appendf(nil, "%+07.1f kgf\r\n", s.kgf))
		s.at += 50e6
		s.d.Rx(s.at, session.SrcLine, fmt.Appendf(nil, "N %+08.0f\r\n", 1000*s.m))
	}
}

func (s *template) do(who safety.Who, what, value string) (refused string) {
	s.acts++
	a := session.Act{Who: who, Name: "test", What: what, Value: value}
	if what == session.ActStage || what == session.ActRearm {
		a.Stage, _ = trial.ParseStage(value)
		a.Value = ""
	}
	return s.d.Act(s.at, a, s.acts).Refused
}

func (s *template) must(who safety.Who, what, value string) {
	s.t.Helper()
	if refused := s.do(who, what, value); refused != "" {
		s.t.Fatalf("%s %s: %s", what, value, refused)
	}
}

func (s *template) armed() {
	s.t.Helper()
	s.must(safety.Director, session.ActDepth, "6 m")
	s.must(safety.Director, session.ActPayout, "60 m")
	s.must(safety.Logger, session.ActZero, "")
	s.must(safety.Director, session.ActWaive, "weight none on board today")
	s.must(safety.Director, session.ActRead, "")
	for _, who := range []safety.Who{safety.WinchOperator, safety.Logger, safety.Director} {
		s.must(who, session.ActReady, "all live")
	}
	s.run(1)
	s.must(safety.Director, session.ActArm, "")
}

// TestExamplesHoldOnTheTemplate: what the help has people type is taken on the
// trial file that "hawse new" writes, at the time it is meant for.
func TestExamplesHoldOnTheTemplate(t *testing.T) {
	before := map[string]func(*template){
		session.ActStop:   func(*template) {},
		session.ActCameUp: func(*template) {},
		session.ActZero:   func(*template) {},
		session.ActWaive:  func(*template) {},
		session.ActReady:  func(*template) {},
		session.ActWeight: func(s *template) { s.must(safety.Logger, session.ActZero, ""); s.kgf = 25; s.run(2) },
		session.ActStage:  (*template).armed,
		session.ActLower:  (*template).armed,
		session.ActPass:   (*template).armed,
		session.ActRearm: func(s *template) {
			s.armed()
			s.must(safety.Director, session.ActStage, "pull")
			s.must(safety.Director, session.ActStop, "")
			s.must(safety.Director, session.ActAck, "")
		},
		session.ActClear: func(s *template) {
			s.armed()
			s.must(safety.Director, session.ActStage, "recover")
			for s.m < 59.2 {
				s.m += 0.1
				s.run(1)
			}
		},
	}
	seats := map[string]safety.Who{"director": safety.Director, "logger": safety.Logger, "winch": safety.WinchOperator}
	for line := range strings.Lines(newCall().Example) {
		call := strings.TrimPrefix(strings.TrimSpace(line), "hawse call ")
		call, flags, _ := strings.Cut(call, " --")
		who := safety.Director
		if seat, ok := strings.CutPrefix(flags, "who "); ok {
			who = seats[seat]
		}
		what, value, _ := strings.Cut(call, " ")
		if what == "status" {
			continue
		}
		ready, ok := before[what]
		if !ok {
			t.Errorf("%s: say here what must be so before it", strings.TrimSpace(line))
			continue
		}
		t.Run(what, func(t *testing.T) {
			s := onTemplate(t)
			ready(s)
			if refused := s.do(who, what, strings.ReplaceAll(value, `"`, "")); refused != "" {
				t.Errorf("%s: refused: %s", strings.TrimSpace(line), refused)
			}
		})
	}
}

// The lists of the form stand in the help as they are.
func TestCallHelpHasTheForm(t *testing.T) {
	help := newCall().Long
	for _, l := range trial.CameUpLists {
		var words []string
		for _, w := range l.Words {
			words = append(words, w.Word)
		}
		if want := l.Key + "=" + strings.Join(words, "|"); !strings.Contains(help, want) {
			t.Errorf("the help of call has no %q", want)
		}
	}
}
