package bench

import (
	"context"
	"fmt"
	"runtime"

	"github.com/spf13/cobra"

	"hawse/acquire/dryrun"
)

func newPulls(shared *sharedFlags) *cobra.Command {
	o := &options{}
	var show bool
	c := command(shared, o, func(ctx context.Context, o options) (*report, error) { return measurePulls(ctx, o, show) }, func() error {
		if o.times < 1 || o.times > 1_000_000 {
			return fmt.Errorf("--pulls %d: from 1 to 1000000", o.times)
		}
		return nil
	})
	c.Use, c.Short = "pulls", "Made-up pulls with random faults: is a stop missed, late or false?"
	c.Long = `Play made-up pulls of four minutes, each from a seed, through the fold that a
live capture runs, without ports or clock: six in ten with unplugged, silent,
stuck, garbled, slow, jerked or wet instruments, changed units, a drifting vessel, a snag. A referee
who shares no code with the guard reads the boxes' bytes by itself and decides
which stops were due; a director presses what may be pressed.

missed   a stop that was due did not come within a second
late     it came later than one sample after it was due
false    a trip in a pull with no fault and under its limits
closed   the relay was closed 0.1 s after a stop was set
misnamed LOAD NOISY without a wet plug, or UNIT CHANGED without a changed unit

The first pulls that show one of these are printed; --show SEED prints a script.`
	c.Example = "  hawse bench pulls\n  hawse bench pulls --pulls 500 --seed 7000\n  hawse bench pulls --seed 42 --show"
	c.Flags().IntVar(&o.times, "pulls", 10_000, "how many pulls")
	c.Flags().Uint64Var(&o.seed, "seed", 1, "seed of the first pull; each next one takes the next")
	c.Flags().BoolVar(&show, "show", false, "print the script of the first pull and what came of it, and no more")
	return c
}

func measurePulls(ctx context.Context, o options, show bool) (*report, error) {
	if show {
		p, err := dryrun.Try(o.seed)
		if err != nil {
			return nil, err
		}
		o.progress("%s\n%s", p.Script, p.Story())
		o.times = 1
	}
	cost, err := dryrun.Measure(200_000)
	if err != nil {
		return nil, err
	}
	done := 0
	s, err := dryrun.Survey(o.seed, o.times, runtime.NumCPU(), func(r *dryrun.Result) bool {
		if done++; done%1000 == 0 {
			o.progress("%d of %d pulls", done, o.times)
		}
		if r.Bad() {
			o.progress("%s", r.Story())
		}
		return ctx.Err() == nil
	})
	if err != nil {
		return nil, err
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	r := &report{title: fmt.Sprintf("Made-up pulls: %d from seed %d, %.0f h of their own time", s.Pulls, o.seed, s.Seconds/3600),
		settings: []setting{{"pulls", o.times}, {"seed", o.seed}}}
	t := &table{key: "pulls", columns: []column{{}}}
	t.add("fault_free", "pulls with no fault", cellInt(int64(s.FaultFree)))
	t.add("records", "records", cellInt(int64(s.Records)))
	t.add("due", "stops due", cellInt(int64(s.Due)))
	t.add("missed", "stops missed", cellInt(int64(s.Missed)))
	t.add("late", "stops late", cellInt(int64(s.Late)))
	t.add("worst_s", "longest from due to stop, s", cellNumber(float64(s.Worst)/1e9, "%.3f"))
	t.add("false", "false trips in pulls with no fault", cellInt(int64(s.False)))
	t.add("misnamed", "pulls with LOAD NOISY or UNIT CHANGED and no such fault", cellInt(int64(s.Misnamed)))
	t.add("closed", "relay closed under a stop", cellInt(int64(s.Closed)))
	t.add("alarms_median", "alarms a pull, median", cellInt(int64(s.Alarms(0.5))))
	t.add("alarms_max", "alarms a pull, most", cellInt(int64(s.Alarms(1))))
	t.add("alarms_clean_median", "alarms a pull with no fault, median", cellInt(int64(s.CleanAlarms(0.5))))
	t.add("alarms_clean_max", "alarms a pull with no fault, most", cellInt(int64(s.CleanAlarms(1))))
	t.add("guard_ns", "a sample in the guard, ns", cellNumber(cost.GuardNs, "%.0f"))
	t.add("guard_allocs", "a sample in the guard, allocations", cellNumber(cost.GuardAllocs, "%.3f"))
	t.add("fold_ns", "a line in the whole fold, ns", cellNumber(cost.FoldNs, "%.0f"))
	t.add("fold_allocs", "a line in the whole fold, allocations", cellNumber(cost.FoldAllocs, "%.3f"))
	r.tables = []*table{t}
	r.fault(s.Missed > 0, "%d stops missed", s.Missed)
	r.fault(s.Late > 0, "%d stops late", s.Late)
	r.fault(s.False > 0, "%d false trips", s.False)
	r.fault(s.Closed > 0, "the relay was closed under a stop %d times", s.Closed)
	return r, nil
}
