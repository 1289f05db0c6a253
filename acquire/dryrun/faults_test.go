package dryrun

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
)

// saying is something said, and when.
type saying struct {
	at   float64 // s
	stop bool    // it is a stop that was set
	text string
}

// naming are the words that may name a fault: alarms, refusals, and what is told of
// boxes that are asked and of the vessel's instruments.
var naming = map[string]bool{"alarm-up": true, "asked": true, "satellite-time": true, "depth": true, "position": true, "cells": true, "weight": true, "refused": true, "stop-set": true}

// sayings plays a scenario with its crew, to its end or for as long as a fault may
// take, and returns what may name one. The winch operator calls out the rode's
// marks, every two metres, as they truly pass.
func sayings(t *testing.T, s *deck.Scenario, marks bool) (out []saying) {
	t.Helper()
	r, _, err := newRig(s, 1)
	if err != nil {
		t.Fatal(err)
	}
	r.onSay(func(say logfmt.Record) {
		if what := say.Str("what"); naming[what] {
			out = append(out, saying{saidAt(say), what == "stop-set", say.Str("text")})
		}
	})
	const longest = 330 * second
	people, mark := crew.New(s.Crew), 58.0
	for now := int64(0); now < longest && r.dry.Ending() == ""; now += second / 10 {
		r.advance(now)
		if st := r.sim.State(); marks && float64(st.L) <= mark {
			r.act(session.Act{Who: safety.WinchOperator, Name: "operator", What: session.ActPass, Value: fmt.Sprintf("%.0f m", mark)})
			mark -= 2
		}
		for !people.Over() {
			a, ok := people.Next(now, r.dry.Snapshot())
			if !ok {
				break
			}
			people.Answer(r.act(a))
		}
	}
	return out
}

// names is by what a fault must be named, wherever it can happen: the beginning of
// what is said first of it, without its priority. One whose first word is another
// for some boxes is listed for them. Nothing: it does no harm, and the table says
// why.
var names = map[string]string{
	"unplug": "LOAD SILENT", "gone": "LOAD SILENT", "rename": "LOAD SILENT", "hub-reset": "STOP OUTPUT LOST", "half-open": "LOAD SILENT",
	"silence": "LOAD SILENT", "half-line": "LOAD SILENT", "burst": "LOAD SILENT",
	"baud": "LOAD GARBLED", "swapped": "LOAD GARBLED", "garbage": "LOAD GARBLED", "bit-errors": "LOAD GARBLED", "wet": "LOAD NOISY",
	"stuck": "LOAD UNCHANGED", "over-range": "LOAD OVER RANGE", "nan": "LOAD GARBLED", "nan one-line": "LOAD NOT A NUMBER",
	"nan modbus": "LOAD NOT A NUMBER", "nan frames": "LOAD NOT A NUMBER", "peak-hold": "LOAD NEVER FALLS", "sign": "LOAD REVERSED",
	"unit": "LOAD GARBLED", "unit modbus": "UNIT CHANGED", "unit frames": "UNIT CHANGED", // the number stands without its unit
	"zero-moved": "ZERO MOVED", "slow": "LOAD SLOW", "reset": "LINE COUNT BEGAN ANEW", "wrap": "LINE COUNT BEGAN ANEW",
	"reverse": "LINE RUNS OUT", "one-way": "HAULS WITHOUT PERMIT", "slip": "COUNT AGAINST MARKS",
	"late": "load: it answers too late", "drop": "LOAD SILENT", "drop modbus": "LOAD SLOW", "refuse": "load: the unit refuses: it is busy", "echo": "",
	"turn-round": "LOAD GARBLED", "one-address": "LOAD GARBLED",
	"depth-silent": "the sounder tells no depth", "no-bottom": "the sounder tells no depth", "double-depth": "depth 11.40 m of the sounder refused",
	"no-fix": "the satellite receiver tells no position", "time-step": "the computer's clock is 1h0m0s behind satellite time",
	"cell-gone": "load2 tells no tension", "cell-silent": "load2 tells no tension", "cell-over": "load2 tells no tension",
	"cell-stuck": "load cells disagree", "cell-drift": "load cells disagree",
	"wake": "MAY NOT COME UP AGAIN", "wake modbus": "SNAG", "surge": "SNAG", // a jerk passes two limits at once
	"snag": "SNAG", "weld": "RELAY STAYS CLOSED",
}

// harmless is why nothing is said of a fault.
var harmless = map[string]string{
	"echo": "passed over; nothing is lost",
}

// telling is what is said of a fault besides its name, and when.
type telling struct{ text, when string }

// apart are the faults that begin like others, in the order of the table: by what a
// crew tells them apart, in the news of every screen and in the record. N stands for
// a number. Nothing else of this kind is said of them.
var apart = []struct {
	fault string
	tells []telling
}{
	{"unplug", []telling{{"load lost: unplugged", atOnce}, {"load: its port is away: ", withAlarm}, {"load open on ./deck/load, gap Ns", back}}},
	{"gone", []telling{{"load lost: unplugged", atOnce}, {"load: its port is away: ", withAlarm}, {"load open on ./deck/load, gap NmNs", back}}},
	{"rename", []telling{{"load lost: unplugged", atOnce}, {"load: its port is away: ", withAlarm}, {"load open on ./deck/load-2, another name than before: ./deck/load, gap Ns", back}}},
	{"hub-reset", []telling{{"stop lost: unplugged", atOnce}, {"stop open on ./deck/stop, gap Ns", back}}},
	{"half-open", []telling{{"load: its port is open and gives nothing", withAlarm}, {"load lost: it has given nothing for Ns and is opened again", "after 10 s"}, {"load open on ./deck/load", "then, and lines come"}}},
	{"silence", []telling{{"load: its port is open and gives nothing", withAlarm}}},
	{"half-line", []telling{{"load: its port is open; the beginning of a line came, then nothing", withAlarm + "; asked or modbus: as silence"}}},
	{"burst", []telling{{"load: its port is open and gives nothing", withAlarm}, {"load: N lines came late and at once", "when they have come"}}},
	{"cell-gone", []telling{{"load2 lost: unplugged", atOnce}, {"load2 open on ./deck/load2, gap Ns", back}}},
	{"cell-silent", nil},
}

const atOnce, withAlarm, back = "at once", "with the alarm", "when it is back"

// titleOf is the beginning of what is said, without priority and numbers.
func titleOf(text string) string {
	for _, p := range []string{"EMERGENCY: ", "ALARM: ", "WARNING: ", "CAUTION: "} {
		text = strings.TrimPrefix(text, p)
	}
	if text == strings.ToUpper(text[:1])+text[1:] { // an alarm: words in capitals, then numbers
		words := strings.Fields(text)
		i := slices.IndexFunc(words, func(w string) bool { return strings.ToUpper(w) != w || strings.ContainsAny(w[:1], "0123456789-(") })
		if i > 0 {
			words = words[:i]
		}
		return strings.Join(words, " ")
	}
	if strings.HasPrefix(text, "load cells disagree") {
		text, _, _ = strings.Cut(text, ":")
	}
	text, _, _ = strings.Cut(text, ", as the sentence came")
	return text
}

// TestFaultsAreNamed plays every fault on every kind of box, a minute into the
// same pull, against that pull without it: what is said first that was not said
// there must name it. FAULTS.md tells by what, and after how long.
func TestFaultsAreNamed(t *testing.T) {
	if testing.Short() || fewer > 1 {
		t.Skip("some hundred pulls of one goroutine each")
	}
	base, err := deck.Load("cobble-neck")
	if err != nil {
		t.Fatal(err)
	}
	kinds := []string{"lines", "shared", "one-line", "asked", "modbus", "frames"}
	const at = 60.0 // s
	type cell struct{ said, after string }
	table := map[string]map[string]cell{}
	for _, kind := range append(slices.Clone(kinds), "nmea", "outboard") {
		without, err := base.With(kind, nil)
		if err != nil {
			t.Fatal(err)
		}
		quiet := map[bool][]saying{}
		for _, marks := range []bool{false, true} {
			quiet[marks] = sayings(t, without, marks)
			for _, y := range quiet[marks] {
				if !strings.Contains(y.text, "satellite time") {
					t.Errorf("%s with no fault: %.1f s: %s", kind, y.at, y.text)
				}
			}
		}
		for _, f := range deck.FaultKinds {
			if (kind == "nmea") != (f.On == "nmea") || (kind == "outboard") != (f.On == ofCells) {
				continue
			}
			s, err := base.With(kind, []string{f.Name + "@60 s"})
			if err != nil {
				continue // cannot happen to these boxes: TestFaultsFit knows which
			}
			want, ok := names[f.Name+" "+kind]
			if !ok {
				if want, ok = names[f.Name]; !ok {
					t.Errorf("%s: the table of names does not have it", f.Name)
				}
			}
			marks := f.Name == "slip"
			said, first, stop := "", 0.0, ""
			for _, y := range sayings(t, s, marks) {
				switch {
				case slices.ContainsFunc(quiet[marks], func(q saying) bool { return q.text == y.text }) || y.at < at:
				case y.stop && stop == "":
					stop = fmt.Sprintf(", stop %.1f", y.at-at)
				case said == "" && !y.stop:
					said, first = titleOf(y.text), y.at-at
				}
			}
			switch {
			case want == "" && (said != "" || stop != ""):
				t.Errorf("%s, %s: %q is said, want nothing", kind, f.Name, said)
			case !strings.HasPrefix(said, want):
				t.Errorf("%s, %s: %q is said first, want %q", kind, f.Name, said, want)
			}
			c := cell{said, fmt.Sprintf("%.1f%s", first, stop)}
			if want == "" {
				why := harmless[f.Name+" "+kind]
				if why == "" {
					why = harmless[f.Name]
				}
				c = cell{"", why}
			}
			if table[f.Name] == nil {
				table[f.Name] = map[string]cell{}
			}
			table[f.Name][kind] = c
		}
	}

	var b strings.Builder
	b.WriteString(faultsHead)
	for _, f := range deck.FaultKinds {
		row := table[f.Name]
		if row == nil {
			t.Errorf("%s happens to no box", f.Name)
		}
		if row == nil || f.On == "nmea" || f.On == ofCells {
			continue
		}
		main := ""
		for _, kind := range kinds {
			if c, ok := row[kind]; ok && (main == "" || c.said == names[f.Name]) {
				main = c.said
			}
		}
		fmt.Fprintf(&b, "| %s | %s | %s |", f.Name, f.Does, main)
		for _, kind := range kinds {
			switch c, ok := row[kind]; {
			case !ok:
				b.WriteString(" |")
			case c.said != main && c.said != "":
				fmt.Fprintf(&b, " %s %s |", c.said, c.after)
			default:
				fmt.Fprintf(&b, " %s |", c.after)
			}
		}
		b.WriteByte('\n')
	}
	b.WriteString(faultsAids)
	for _, f := range deck.FaultKinds {
		if c, ok := table[f.Name]["nmea"]; ok {
			fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", f.Name, f.Does, c.said, c.after)
		}
	}
	b.WriteString(faultsCells)
	for _, f := range deck.FaultKinds {
		if c, ok := table[f.Name]["outboard"]; ok {
			fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", f.Name, f.Does, c.said, c.after)
		}
	}
	b.WriteString(faultsApart)
	for _, a := range apart {
		texts, whens := []string{}, []string{}
		for _, y := range a.tells {
			texts, whens = append(texts, y.text), append(whens, y.when)
		}
		if len(texts) == 0 {
			texts = []string{"nothing more: its port stays open"}
		}
		fmt.Fprintf(&b, "| %s | %s | %s |\n", a.fault, strings.Join(texts, "<br>"), strings.Join(whens, "<br>"))
	}
	const path = "FAULTS.md"
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), b.String()); diff != "" {
		t.Errorf("FAULTS.md (- as it is, + as it is said; -update writes it anew):\n%s", diff)
	}
}

// TestWrongUnitOfAnyBox: of a number without its unit a wrong one is seen by the
// known weight alone, whatever the box speaks; sign and unit are named, and the
// logger's corrections make it right.
func TestWrongUnitOfAnyBox(t *testing.T) {
	base, err := deck.Load("wrong-unit")
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{"shared", "one-line", "asked", "modbus", "frames"} {
		s, err := base.With(kind, nil)
		if err != nil {
			t.Fatal(err)
		}
		p, err := Play(s, 1)
		if err != nil {
			t.Fatal(err)
		}
		if p.Fault != "" || !strings.Contains(p.Story, "sign") || !strings.Contains(p.Story, "lb") {
			t.Errorf("%s: %s\n%s", kind, p.Fault, p.Story)
		}
	}
}

const faultsHead = `# What is said of each fault, and after how long

Made by ` + "`go test ./acquire/dryrun -run FaultsAreNamed -update`" + `, from pulls on the simulated deck, in its own time:
the same on every machine. Invented data: the pull of scenario cobble-neck, 10 lines a second of each instrument, the
fault 60 s into it. Held against the same pull without the fault, the word in the third column is the first that is
new. A unit changed where the number stands without one is told from its leap, once armed; before, the known weight
names it. Some faults show only later: a zero that has moved at the next zero check, a slipping wheel at the
next rode mark, a count that only rises when line is paid out, a welded relay when it is to open. Times are seconds from the fault's beginning to that word, and to the stop if there is one; an empty cell: these
boxes cannot have it. The template's silence times are in force: warn after 1 s, stop after 2 s.

| fault | what it is | said first | lines | shared | one-line | asked | modbus | frames |
|---|---|---|---|---|---|---|---|---|
`

// ofCells are the boxes with another load cell.
const ofCells = "outboard inboard"

const faultsCells = `
Another load cell, here outboard, which does not guard and stops nothing. Where the trial file says guards = "larger",
one over range is LOAD OVER RANGE at once, and a stop:

| fault | what it is | said first | after |
|---|---|---|---|
`

const faultsApart = `
Some begin alike. By this they are told apart, in the news on every screen and in the record (the states of a port, and
what is told of a silent one); N is a number. That it is so over real pseudo-terminals, as are the words above, is held by
TestAloneEveryFault:

| fault | said besides | when |
|---|---|---|
`

const faultsAids = `
The instruments of the vessel, which stop nothing by themselves:

| fault | what it is | said first | after |
|---|---|---|---|
`
