package safety

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"hawse/trial"
)

var update = flag.Bool("update", false, "write GUARD.md anew; read the diff before keeping it")

// GUARD.md is made from the code, and is what the code says now.
func TestGuardDocument(t *testing.T) {
	const path = "GUARD.md"
	got := guardDocument(t)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (- want, + got; go test ./safety -update writes it anew):\n%s", path, diff)
	}
}

func guardDocument(t *testing.T) string {
	var b strings.Builder
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	block := func(text string) { say("```text\n%s\n```\n", strings.TrimRight(text, "\n")) }
	say(`# The guard

Made from the code by a test (` + "`go test ./safety -update`" + `); the same test fails when the two differ.

**What it is not.** The guard is an aid to watching a pull. It does not make the pull safe, and it is not a safety
function. The winch's own limiter and emergency stop come first, work without this program, and are tried before each
day. The stop output takes away haul only: paying out, brake and emergency release stay with the crew. Limits are the
crew's, from the certificates of the gear in use. Unknown tension is treated as loaded. Stopped is not slack.

**How to read it.** A *trip* latches: it goes only when its cause is gone by the limits of the stage entered, the
director has acknowledged, and the director re-arms. A *planned end* stops the winch too, but is no alarm; the
director's next stage lifts it. A *warning* stops nothing. Before the first arming nothing trips but a person's call.
Anyone may call stop, from any seat, at any time. Limits can be made stricter during a pull, never laxer.

Numbers without another source are common practice, no source. Levels of tension, WLL, line, scope, time and silence
are the trial file's; the tables show an invented rig.

1. [Causes](#1-causes)
2. [Where each is judged](#2-where-each-is-judged)
3. [What is said, by when](#3-what-is-said-by-when)
4. [The life of an alarm, of the stop, of the order](#4-the-life-of-an-alarm-of-the-stop-of-the-order)
5. [Before arming](#5-before-arming)

## 1. Causes

The word in brackets stands in the record. Rule: when it is said. A level is left 2 %% below itself.
`)
	for c := NoCause + 1; c < NumCauses; c++ {
		r := c.row()
		say("**%s** (`%s`): %s.\n- Rule: %s.\n- Means: %s.\n- Do: %s.\n", r.title, r.word, r.kind(), r.when, r.consequence, r.advice)
	}
	say(`## 2. Where each is judged

A cause is not judged in a stage where it is the rule rather than a fault (a level tension is honest in hold, line goes
both ways in recovery, nothing hauls in ease), or where nothing can be done about it by stopping the winch. It only warns
where stopping the winch would not help and the crew is easing or recovering already. Tension, WLL, load faults and a
rise without haul are judged in every stage. Suppressed by design: faults marked c, while the director has taken the
load cell out of the rode, until it is in again and zeroed; hauling in preset and pull is then not permitted.
`)
	block(suppression())
	say(`## 3. What is said, by when

An invented rig: tension warns at 6.4 kN and stops at 8.0 (recovery 4.0 and 5.0), weakest WLL 10 kN warned of at 0.7 and
stopped at 0.9 of it, 60 m of rode of EA 400 kN, preset ends at 5 m or 6.3 kN, pull at 32 m, scope 4 or 2 min, soak at
1 min, hold at scope 4. Load and line send ten lines a second, so "0.2" is two lines. The number is the seconds from
what brought it about.

STOP: a trip, latched. EASE: a trip that asks for EASE at once. end: a planned end. later: added to a stop that something
else had set before. emerg, alarm, warn, caut: an alarm alone, by its priority. told: said, no stop. w: the warning before the limit.
-: nothing. Empty: as in recover.

Once armed:
`)
	block(saidTable(sayArmed(t)))
	say("Before the first arming:\n")
	block(saidTable(sayUnarmed(t)))
	say(`## 4. The life of an alarm, of the stop, of the order

States of an alarm follow the ISA-18.2 / IEC 62682 family; shelving and out of service do not exist here. Priorities
follow IMO resolution MSC.302(87): *emergency*, danger to life, act at once; *alarm*, attention and action at once to
avoid a hazard; *warning*, not yet hazardous, may become so; *caution*, out of the ordinary. One situation gives one
alarm. An alarm nobody has seen is never made smaller. The first of those that stand is kept as such until none stands.

Orders are for the winch: STOP, no haul, brake on, tension still there; EASE, pay out slowly under power, never by
letting the brake go; ABANDON, only ever said by the director, carried out by the crew's plan. With none in force the
screen says "no stop in force".

A log that goes on from one that broke off takes over, at once and unasked, what no limit may be laxer without: a trip
that was latched, with its causes, which count as there until they are seen to have gone; line hauled in stage and lane;
the time of the stage. Stage and lane go on when they are said again; another stage ends them as always. Where the rode
out is said anew instead of counted on, what it is less than before counts as hauled too, and what it is more counts
nothing. Warnings that only a check takes away stand again. Arming is not taken over.
`)
	block(life())
	say(`## 5. Before arming

The director arms; every line must be done or, where it says so, waived with a reason that is in the record. "Read from
the state" is what nobody says: it holds or it does not, at the moment of arming. Whoever says "ready" says it again
after a run is done.
`)
	block(checklist())
	return strings.TrimRight(b.String(), "\n") + "\n"
}

// suppression is the table of causes by stages.
func suppression() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-19s", "")
	for stage := range trial.NumStages {
		fmt.Fprintf(&b, " %-8s", stage)
	}
	b.WriteString("\n")
	for c := NoCause + 1; c < NumCauses; c++ {
		r := c.row()
		mark := ""
		if r.cell {
			mark = " c"
		}
		fmt.Fprintf(&b, "%-19s", r.word+mark)
		for stage := range trial.NumStages {
			word := "judged"
			switch {
			case !r.in.has(stage):
				word = "-"
			case r.warnIn.has(stage):
				word = "warns"
			}
			fmt.Fprintf(&b, " %-8s", word)
		}
		b.WriteString("\n")
	}
	lines := strings.Split(b.String(), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n") + `
judged: as in section 1. warns: only warns. -: not judged. c: a fault of the load cell.
line-silent: only where the winch hauls or a limit needs the line. Planned ends: only where
the trial file gives the stage one.
`
}

// checklist is every line there can be before arming, with who may say it.
func checklist() string {
	c := testConfig()
	c.HasHorn, c.HasStopOut, c.SlowCell, c.LoadHz, c.LineHz = true, true, true, 2, 10
	g := New(c)
	var b strings.Builder
	fmt.Fprintf(&b, "%-19s %-38s %s\n", "line", "said by", "what")
	for _, l := range g.Checklist(nil) {
		who, text := "read from the state", l.Text
		if l.Check <= ReadyDirector {
			var may []string
			for w := Director; w <= Program; w++ {
				h := New(c)
				if h.Do(0, Act{What: DoCheck, Check: l.Check, To: CheckPassed, Who: w}, nil) == "" {
					may = append(may, w.String())
				}
			}
			who = strings.Join(may, ", ")
			h := New(c)
			if h.Do(0, Act{What: DoCheck, Check: l.Check, To: CheckWaived, Who: Director}, nil) == "" {
				who += "; waived: director"
			}
		} else {
			text = automatic[l.Check]
		}
		fmt.Fprintf(&b, "%-19s %-38s %s\n", l.Check, who, text)
	}
	fmt.Fprintf(&b, `
zero: |mean| at most 2 %% of the range or the slack level, moving by at most 1 %% of the range;
      moved by more than %.1f %% of the range against the last one is told (ZERO MOVED).
known weight: within %.0f %%; at least 1 %% of the range hangs on the cell; when it does not fit, the
      factor that is suspected is named: sign, what N, kN, kgf, t, lbf and 1000 lbf are to each other.
load cell, line encoder: live, at %.1f to %.1f of the rate in the trial file.
slow cell accepted: only for a load cell under %.0f Hz, and only if the trial file allows it.
`, 100*ZeroBand, 100*weightBand, rateLeast, rateMost, slowCell)
	return b.String()
}

// automatic says what is read from the state.
var automatic = map[Check]string{
	CheckGear:  "every piece has a WLL and its source",
	CheckClock: "the computer's clock has not stepped",
	CheckDisk:  "the record reaches the disk",
	CheckLoad:  "good lines come, at the rate of the trial file",
	CheckLine:  "good counts come, at the rate of the trial file, with what the limits need",
	CheckStop:  "the stop output is open",
}
