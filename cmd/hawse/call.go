package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
)

func newCall() *cobra.Command {
	var log, who string
	var asJSON bool
	c := &cobra.Command{
		Use:   "call ACT [VALUE]",
		Short: "Speak to a running capture: stop, ready, stage, mark, ack, rearm, end",
		Long: `Hand an act to a running capture, through the Unix socket beside its log. The
file permissions of that socket decide who may. Every act becomes a record.

  stop              call stop; anyone may

Before arming, once the streams are live:

  zero              nothing hangs on the cell, or the rode lies slack: take its
                    zero (logger, director)
  weight "25.0 kg"  so much hangs on it: does it show that? (logger, director)
  correct sign      after a weight that did not fit: the sign is reversed, or
  correct unit lb   the numbers are in this unit (logger, director)
  waive zero|weight|cells "REASON"   go without it
  horn              sound horn and lamp once, where fitted (logger, director)
  accept "slow cell"           a cell under 3 Hz may guard, where the trial file
                    has slow_cell = true
  read              the limits have been read out
  ready "WORDS"     this seat is ready: --who winch, logger or director
  not-ready "WORDS" it takes that back
  carry ITEM|all    after a crash: what the unfinished log hands over still holds
  drop ITEM|all     it does not; say or do it anew (logger, director)
  arm               permit hauling for the first time

During the pull:

  stage STAGE       the stage is now: stand-by, pay-out, preset, soak, pull, hold,
                    ease, recover, stopped, done
  ack               alarms seen
  rearm STAGE       lift a trip whose cause is gone, into a stage
  depth "6.0 m"     water depth now (logger, director)
  payout "60 m"     rode out now: the zero of line hauled; not while hauling is
                    permitted (logger, director)
  pass "50 m"       this mark on the rode is at the fairlead now
  clear "NAME"      what may not pass the fairlead has been taken in
  lower LIMIT VALUE make a limit stricter: tension_warn, tension_stop, haul,
                    scope_min; nothing makes one laxer
  cell-off          the load cell comes out of the slack rode
  cell-on           it is in again; zero it
  mark "TEXT"       a mark in the record
  came-up FORM      what the anchor came up with (director, logger, winch): any part of
                    flukes=clean|part|clogged soil_at=nowhere|flukes|shank|chain|all
                    soil=none|soft-mud|stiff-clay|sand|gravel|weed|stones
                    damage=none|fluke|shank|joint|coating|other fit=yes|cleaned|no
                    angle=32.5 deg photo=12 zero=0.03 kN remark=WORDS;
                    said again, the later answer holds; taken=photo,damage takes
                    answers back
  abandon           the crew slips the rode by its own plan
  end "REASON"      end and seal the log

  status            how it stands, and what is left to do before arming

What no seat is named for is the director's, who is meant without --who.

` + cautions,
		Example: `  hawse call stop
  hawse call zero
  hawse call weight "25.0 kg" --who logger
  hawse call waive weight "none on board today"
  hawse call ready "winch ready, line clear" --who winch
  hawse call stage pull --log my-trial/logs/A1-20260412T090211Z.log
  hawse call rearm recover
  hawse call pass "50 m" --who winch
  hawse call lower tension_stop "7.0 kN"
  hawse call clear "anchor"
  hawse call came-up "flukes=part soil=sand damage=none fit=cleaned photo=12" --who logger
  hawse call status --json`,
		ValidArgs: append(slices.Clone(session.Callable), "status"),
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cli.Usage("say what to call: see 'hawse call --help'")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			call := session.Call{Act: args[0], Who: who, Name: loginName()}
			rest := strings.Join(args[1:], " ")
			switch call.Act {
			case session.ActStage, session.ActRearm:
				call.Stage = rest
				if rest == "" {
					return cli.Usage("say which stage: hawse call %s STAGE", call.Act)
				}
			default:
				call.Value = rest
				if want, ok := callValues[call.Act]; ok && rest == "" {
					return cli.Usage("%s what? hawse call %s %s", call.Act, call.Act, want)
				}
			}
			if log == "" {
				found, err := theOneRunning()
				if err != nil {
					return err
				}
				log = found
			}
			a, err := session.PlaceCall(log, call)
			if err != nil {
				return err
			}
			return printAnswer(c, call, a, asJSON)
		},
	}
	c.Flags().StringVar(&log, "log", "", "log of the capture to call (default: the one that is running)")
	c.Flags().StringVar(&who, "who", "director", "the seat that acts: director, winch, logger, watcher")
	c.Flags().BoolVar(&asJSON, "json", false, "the answer in JSON (SI units, unit in each key)")
	return c
}

// callValues are the acts that mean nothing without a value, with how it looks.
var callValues = map[string]string{
	session.ActDepth: `"6.0 m"`, session.ActPayout: `"60 m"`, session.ActPass: `"50 m"`, session.ActWeight: `"25.0 kg"`,
	session.ActCorrect: `sign, or: correct unit lb`, session.ActWaive: `zero|weight|cells "REASON"`, session.ActAccept: `"slow cell"`,
	session.ActCarry: `ITEM, or: carry all`, session.ActDrop: `ITEM, or: drop all`,
	session.ActCameUp: `"flukes=clean damage=none fit=yes"`,
	session.ActClear:  `"NAME"`, session.ActLower: `LIMIT VALUE, such as: lower tension_stop "7.0 kN"`,
}

func printAnswer(c *cobra.Command, call session.Call, a session.Answer, asJSON bool) error {
	out := c.OutOrStdout()
	switch {
	case asJSON:
		if err := json.NewEncoder(out).Encode(a); err != nil {
			return err
		}
		if !a.Done {
			return cli.Exit(cli.ExitFailed, "%s refused: %s", call.Act, a.Refused)
		}
	case !a.Done:
		return fmt.Errorf("%s refused: %s", call.Act, a.Refused)
	case a.Status != nil:
		writeStatus(out, a.Status)
	default:
		fmt.Fprintf(out, "%s: taken, record %d\n", call.Act, a.Record)
	}
	return nil
}

func loginName() string {
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return "someone"
}

// runtimeDir is where running captures leave word of themselves, after the XDG
// base directory rules. Without such a folder it is one in the temporary folder
// that only this user can read; one that somebody else has put there is refused.
func runtimeDir() (string, error) {
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("hawse-run-%d", os.Getuid()))
	if base := os.Getenv("XDG_RUNTIME_DIR"); base != "" {
		dir = filepath.Join(base, "hawse")
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", err
	}
	if !system.Private(dir) {
		return "", fmt.Errorf("%s is not this user's own private folder", dir)
	}
	return dir, nil
}

// announce leaves word of a running capture, so that a call need not name its
// log; the returned func takes it away. Failing to is no reason not to capture.
func announce(log string) (remove func()) {
	nothing := func() {}
	dir, err := runtimeDir()
	if err != nil {
		return nothing
	}
	abs, err := filepath.Abs(log)
	if err != nil {
		return nothing
	}
	path := filepath.Join(dir, fmt.Sprintf("%d.run", os.Getpid()))
	os.Remove(path) // of a dead program that had this number
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nothing
	}
	_, err = f.WriteString(abs)
	if errors.Join(err, f.Close()) != nil {
		os.Remove(path)
		return nothing
	}
	return func() { os.Remove(path) }
}

// theOneRunning finds the log of the one running capture.
func theOneRunning() (string, error) {
	dir, err := runtimeDir()
	if err != nil {
		return "", fmt.Errorf("cannot look for running captures: %w; name the log with --log", err)
	}
	files, _ := filepath.Glob(filepath.Join(dir, "*.run"))
	var logs []string
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			continue
		}
		log := string(b)
		if _, err := session.PlaceCall(log, session.Call{Act: "status"}); err != nil {
			var pid int
			if n, _ := fmt.Sscanf(filepath.Base(f), "%d.run", &pid); n == 1 && !system.Running(pid) {
				os.Remove(f)
			}
			continue
		}
		logs = append(logs, log)
	}
	switch len(logs) {
	case 1:
		return logs[0], nil
	case 0:
		return "", fmt.Errorf("no running capture found; name its log with --log")
	}
	return "", fmt.Errorf("%d captures are running; name one with --log: %s", len(logs), strings.Join(logs, ", "))
}
