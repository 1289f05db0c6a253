//go:build unix

package bench

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"hawse/cmd/hawse/cli"
)

// The two who capture the same lines.
const (
	byHawse = iota
	byPair
	contenders
)

// versusRun is what one of them did in one round.
type versusRun struct {
	scores [instruments]score
	delays []int64
	late   int
	used   used
	bytes  int64
	stop   string
}

// versusLook is how often the growing files are looked at.
const versusLook = 500 * time.Microsecond

// measureVersus runs both in turn and compares them.
func measureVersus(ctx context.Context, o options) (*report, error) {
	for _, need := range []struct{ program, from string }{{"ts", "moreutils"}, {"bash", "bash"}, {"cat", "coreutils"}} {
		if _, err := exec.LookPath(need.program); err != nil {
			return nil, fmt.Errorf("%s is not installed, and the comparison needs it; install the package %s (Debian: apt-get install %[2]s)", need.program, need.from)
		}
	}
	return inFolder(o, func(dir string) (*report, error) {
		var runs [contenders][]versusRun
		for round := range o.rounds {
			order := [contenders]int{byHawse, byPair}
			if round%2 == 1 {
				order = [contenders]int{byPair, byHawse}
			}
			for _, who := range order {
				o.progress("round %d of %d: %s, %v", round+1, o.rounds, versusNames[who], o.lasts)
				sub := filepath.Join(dir, fmt.Sprintf("%s-%d", versusKeys[who], round+1))
				run, err := versusRound(ctx, o, sub, who)
				if err != nil {
					return nil, fmt.Errorf("round %d, %s: %w", round+1, versusNames[who], err)
				}
				runs[who] = append(runs[who], run)
			}
		}
		return versusReport(o, runs), nil
	})
}

var (
	versusNames = [contenders]string{"hawse", "cat | ts"}
	versusKeys  = [contenders]string{"hawse", "cat_ts"}
)

func versusRound(ctx context.Context, o options, dir string, who int) (versusRun, error) {
	if err := os.Mkdir(dir, 0o755); err != nil {
		return versusRun{}, err
	}
	n := int(float64(o.rate) * o.lasts.Seconds())
	rig, err := openRig(ctx, dir, min(o.rate, uncountedRate), newBoxes(o.rate, floodSpan, o.lasts))
	if err != nil {
		return versusRun{}, err
	}
	defer rig.close()
	var run versusRun
	if who == byHawse {
		run, err = versusHawse(ctx, o, rig, n)
	} else {
		run, err = versusPair(ctx, o, rig, n)
	}
	if err == nil && o.keep {
		err = rig.writeSent(filepath.Join(dir, "sent.txt"))
	}
	return run, err
}

func versusHawse(ctx context.Context, o options, rig *deckRig, n int) (versusRun, error) {
	h, err := runHawse(ctx, rig, hawseRun{screen: screenNone, rate: o.rate, lines: n, lasts: o.lasts, look: versusLook})
	return versusRun{scores: h.scores, delays: append(h.delays[loadCell], h.delays[encoder]...),
		late: h.late[loadCell] + h.late[encoder], used: h.used, bytes: h.logBytes, stop: h.stop}, err
}

// versusPair runs one `cat | ts` a port.
func versusPair(ctx context.Context, o options, rig *deckRig, n int) (run versusRun, err error) {
	var files []string
	var shells []*pairShell
	defer func() {
		for _, s := range shells {
			s.kill()
		}
	}()
	for i := range rig.send {
		file := filepath.Join(rig.dir, sources[i]+".txt")
		s, err := startPair(rig.ports[i].name, file)
		if err != nil {
			return run, err
		}
		files, shells = append(files, file), append(shells, s)
		rig.watch(s.gone)
	}
	rig.talk(ctx, min(o.rate, uncountedRate))
	tail := newTailer(n, files...)
	stopTail := startTailer(ctx, tail, rig, versusLook)
	defer stopTail()
	if err := tail.started(ctx, 10*time.Second); err != nil {
		return run, firstError(shells[0].died(), shells[1].died(), err)
	}
	// As long as a capture takes to be brought into its pull.
	if !pauseFor(ctx, 300*time.Millisecond) {
		return run, ctx.Err()
	}
	if err := rig.flood(ctx, o.rate, n); err != nil {
		return run, firstError(shells[0].died(), shells[1].died(), err)
	}
	if err := tail.settled(ctx, n); err != nil {
		return run, err
	}
	rig.close() // cat sees its port hang up
	for _, s := range shells {
		u, err := s.wait(5 * time.Second)
		if err != nil {
			return run, err
		}
		run.used.cpu += u.cpu
		run.used.ran = max(run.used.ran, u.ran)
	}
	if err := stopTail(); err != nil {
		return run, err
	}
	run.bytes = tail.bytes.Load()
	for i, s := range rig.send {
		score := newScorer(s.box, n)
		if err := scoreStamped(files[i], score); err != nil {
			return run, err
		}
		run.scores[i] = score.result()
		ns, late := tail.delays(i, s.sent, lateAfter)
		run.delays, run.late = append(run.delays, ns...), run.late+late
	}
	return run, nil
}

// pairShell is a shell with one `cat | ts` in it.
type pairShell struct {
	cmd   *exec.Cmd
	said  lastBytes
	began time.Time
	ran   time.Duration
	gone  chan struct{}
}

func startPair(port, file string) (*pairShell, error) {
	s := &pairShell{cmd: exec.Command("bash", "-c", `cat "$1" | ts '%.s' >> "$2"`, "bash", port, file), began: time.Now(), gone: make(chan struct{})}
	s.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	s.cmd.Stderr = &s.said
	if err := s.cmd.Start(); err != nil {
		return nil, fmt.Errorf("cannot start bash: %w", err)
	}
	go func() {
		defer close(s.gone)
		_ = s.cmd.Wait() // cat ends with the fault that its port has gone
		s.ran = time.Since(s.began)
	}()
	return s, nil
}

// wait is until it has ended by itself. What its programs used is in it: the
// shell has waited for them.
func (s *pairShell) wait(within time.Duration) (used, error) {
	t := time.NewTimer(within)
	defer t.Stop()
	select {
	case <-s.gone:
		return usedBy(s.cmd.ProcessState, s.ran), nil
	case <-t.C:
		return used{}, errors.New("cat | ts did not end when its port was gone: " + s.said.text())
	}
}

// died is nil while it runs.
func (s *pairShell) died() error {
	select {
	case <-s.gone:
		return fmt.Errorf("cat | ts has ended by itself (%v); it said: %s", s.cmd.ProcessState, s.said.text())
	default:
		return nil
	}
}

// kill ends the shell and all that it started.
func (s *pairShell) kill() {
	select {
	case <-s.gone: // its number may be another process's by now
		return
	default:
	}
	_ = syscall.Kill(-s.cmd.Process.Pid, syscall.SIGKILL)
	<-s.gone
}

func versusReport(o options, runs [contenders][]versusRun) *report {
	r := &report{title: fmt.Sprintf("Versus: two ports, %s lines/s each, %d rounds of %v; hawse headless in a pull, against cat PORT | ts '%%.s' >> FILE a port",
		cli.Grouped(o.rate), o.rounds, o.lasts),
		settings: []setting{{"rate_per_port_hz", o.rate}, {"for_s", o.lasts.Seconds()}, {"rounds", o.rounds}, {"look_every_s", versusLook.Seconds()}}}
	var all [contenders]versusRun
	var sum [contenders]score
	var spreads [contenders]spread
	for who, rounds := range runs {
		for _, run := range rounds {
			a := &all[who]
			a.delays, a.late, a.bytes = append(a.delays, run.delays...), a.late+run.late, a.bytes+run.bytes
			a.used.cpu, a.used.ran = a.used.cpu+run.used.cpu, a.used.ran+run.used.ran
			for _, s := range run.scores {
				sum[who].add(s)
			}
			r.noteStop(run.stop)
		}
		spreads[who] = spreadOf(all[who].delays)
		bad := sum[who].bad()
		r.fault(bad != "", "%s: %s", versusNames[who], bad)
	}
	h, p := all[byHawse], all[byPair]
	hs, ps := spreads[byHawse], spreads[byPair]
	t := &table{key: "all_rounds", columns: []column{{"hawse", "hawse"}, {"cat_ts", "cat | ts"}, {"ratio", "ratio"}}}
	t.scores(sum[byHawse], sum[byPair])
	t.spreads("in_log", "sent to in the log", hs, ps)
	for i, ratio := range []cell{cellRatio(hs.p50.Seconds(), ps.p50.Seconds()), cellRatio(hs.p99.Seconds(), ps.p99.Seconds()),
		cellRatio(hs.max.Seconds(), ps.max.Seconds())} {
		row := &t.rows[len(t.rows)-3+i]
		row.cells = append(row.cells, ratio)
	}
	t.add("late", "later than 100 ms", cellInt(h.late), cellInt(p.late))
	t.add("cpu_s", "CPU, s", cellSeconds(h.used.cpu), cellSeconds(p.used.cpu), cellRatio(h.used.cpu.Seconds(), p.used.cpu.Seconds()))
	t.add("cpu_percent_of_core", "CPU, % of one core", cellNumber(h.used.share(), "%.1f"), cellNumber(p.used.share(), "%.1f"))
	t.add("bytes", "written, MB", cellMB(h.bytes), cellMB(p.bytes), cellRatio(float64(h.bytes), float64(p.bytes)))
	r.tables = append(r.tables, t, versusRounds(runs))
	return r
}

// versusRounds is each round by itself, so that one odd one is seen.
func versusRounds(runs [contenders][]versusRun) *table {
	t := &table{key: "each_round", columns: []column{{"hawse", "hawse"}, {"cat_ts", "cat | ts"}, {"ratio", "ratio"}}}
	for i := range runs[byHawse] {
		h, p := runs[byHawse][i], runs[byPair][i]
		hs, ps := spreadOf(h.delays), spreadOf(p.delays)
		key, label := fmt.Sprintf("round_%d_", i+1), fmt.Sprintf("round %d: ", i+1)
		t.add(key+"p99_s", label+"p99, ms", cellTime(hs.p99), cellTime(ps.p99), cellRatio(hs.p99.Seconds(), ps.p99.Seconds()))
		t.add(key+"cpu_s", strings.Repeat(" ", len(label))+"CPU, s", cellSeconds(h.used.cpu), cellSeconds(p.used.cpu),
			cellRatio(h.used.cpu.Seconds(), p.used.cpu.Seconds()))
	}
	return t
}
