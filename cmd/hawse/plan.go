package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
	"hawse/trial"
	"hawse/trial/plan"
)

// planFlags is what the command line of `hawse plan` said.
type planFlags struct {
	logs, svg, html, markdown, see, scatter, order string
	seed, blocks                                   int
	scope                                          float64
	asJSON, runs                                   bool
}

func newPlan() *cobra.Command {
	var f planFlags
	c := &cobra.Command{
		Use:   "plan TRIAL",
		Short: "Lanes, drop points, payouts, order of runs, what each will reach; run sheets for the deck",
		Long: `Draw up the runs of a trial before the day.

LANES are spokes round each station. The spokes converge, so where the pulls end
decides how far apart they must be: five widths of the flukes and never under 3 m,
unless [plan] says otherwise. A lane is spent once there is a log of it, also of a
pull that failed or was aborted; the logs are looked for beside the trial file.

PAYOUTS are for the scope wanted at the depth expected: the planned one, or the
charted one and the tide at the run's time, by the cosine rule between the high and
low waters entered (an approximation). Distances are those of a taut rode. Drop
points are bearing and distance from the roller and, where [plan] says where that
lies, a WGS-84 position.

ORDER. With a table [plan] in the trial file, or --blocks: bare rode, dead weight
and the reference anchor first; then blocks, each with every treatment, a bare rode
and a dead weight in an order drawn by the seed; the reference anchor last. Without,
the runs of the file as they stand. --runs prints them for the trial file.

EXPECTED LOADS come from a power law, HM = HR (W/WR)^b, where [plan] has its
figures, and are held against stop limit, gear, winch, the cell's range and what
recovery may pull.

SAMPLE SIZE. --see says how large a difference you want to see, as a share; the
scatter comes from the logs so far, or from --scatter.

` + cautions + "\n\n" + cli.ExitHelp,
		Example: `  hawse plan my-trial/trial.toml
  hawse plan my-trial/trial.toml --blocks 5 --seed 7 --html sheets.html --svg lanes.svg
  hawse plan my-trial/trial.toml --blocks 5 --runs >> my-trial/trial.toml
  hawse plan my-trial/trial.toml --see 20% --scatter 15%`,
		Args: cli.Exactly(1, "one trial file"),
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	s := c.Flags()
	s.StringVar(&f.logs, "logs", "", "folder with the logs so far (default: logs beside the trial file)")
	s.IntVar(&f.seed, "seed", 0, "draw the order by this number")
	s.IntVar(&f.blocks, "blocks", 0, "draw so many blocks at each station")
	s.Float64Var(&f.scope, "scope", 0, "scope wanted at the start, incl. roller height")
	s.StringVar(&f.order, "order", "", `"drawn" or "file" (default: what the trial file says)`)
	s.StringVar(&f.svg, "svg", "", "write the view from above to this new file")
	s.StringVar(&f.html, "html", "", "write the run sheets, to be printed, to this new file")
	s.StringVar(&f.markdown, "markdown", "", "write the run sheets as Markdown to this new file")
	s.StringVar(&f.see, "see", "", "how many repeats to see a difference of this share, such as 20%")
	s.StringVar(&f.scatter, "scatter", "", "scatter of like pulls as a share, in place of that of the logs")
	s.BoolVar(&f.runs, "runs", false, "print the runs as [[run]] tables alone")
	s.BoolVar(&f.asJSON, "json", false, "one object in JSON: SI, the unit in each key")
	return c
}

func (f *planFlags) run(c *cobra.Command, path string) error {
	t, err := openTrial(path)
	if err != nil {
		return err
	}
	if err := f.settings(c, t); err != nil {
		return err
	}
	see, scatter, err := f.shares()
	if err != nil {
		return err
	}
	dir, said := f.logs, f.logs != ""
	if !said {
		dir = filepath.Join(filepath.Dir(path), "logs")
	}
	spent, notes, err := spentLanes(dir, said, t)
	if err != nil {
		return err
	}
	p, err := plan.Make(t, spent)
	if err != nil {
		return cli.Exit(cli.ExitFailed, "no plan of %s:\n%w", visible(path), err)
	}
	p.Notes = append(p.Notes, notes...)
	var size *sizeDoc
	if see > 0 {
		if size, err = sampleSize(dir, see, scatter); err != nil {
			return err
		}
	}
	for _, out := range []struct {
		path string
		text func() string
	}{{f.svg, p.SVG}, {f.html, p.HTML}, {f.markdown, p.Markdown}} {
		if out.path == "" {
			continue
		}
		if err := newFile(out.path, out.text()); err != nil {
			return err
		}
	}
	switch out := c.OutOrStdout(); {
	case f.asJSON:
		return cli.WriteJSON(out, planJSON(path, p, size))
	case f.runs:
		_, err = io.WriteString(out, p.RunTables())
	default:
		_, err = io.WriteString(out, planPage(path, p, size))
	}
	return err
}

// settings puts the flags in place of what the file says.
func (f *planFlags) settings(c *cobra.Command, t *trial.Trial) error {
	if f.asJSON && f.runs {
		return cli.Usage("--json or --runs, not both")
	}
	said := c.Flags().Changed
	switch {
	case said("blocks") && (f.blocks < 1 || f.blocks > 50):
		return cli.Usage("--blocks %d: give 1 to 50", f.blocks)
	case said("seed") && f.seed < 0:
		return cli.Usage("--seed %d: give a number from 0 up", f.seed)
	case said("scope") && !(f.scope > 1 && f.scope <= 100):
		return cli.Usage("--scope %v: rode out over depth and roller height is more than 1, and 100 at most", f.scope)
	case said("order") && f.order != trial.OrderDrawn && f.order != trial.OrderFile:
		return cli.Usage("--order %q: give %q or %q", visible(f.order), trial.OrderDrawn, trial.OrderFile)
	}
	if t.Plan == nil {
		order := trial.OrderFile
		if said("blocks") || said("seed") || said("scope") {
			order = trial.OrderDrawn
		}
		t.Plan = trial.DefaultPlanning()
		t.Plan.Order = order
	}
	if said("blocks") {
		t.Plan.Blocks = f.blocks
		for i := range t.Plan.Berths {
			t.Plan.Berths[i].Blocks = 0 // the same everywhere
		}
	}
	if said("seed") {
		t.Plan.Seed = f.seed
	}
	if said("scope") {
		t.Plan.Scope = f.scope
	}
	if said("order") {
		t.Plan.Order = f.order
	}
	return nil
}

// shares reads --see and --scatter.
func (f *planFlags) shares() (see, scatter float64, err error) {
	for _, s := range []struct {
		flag, text string
		to         *float64
	}{{"--see", f.see, &see}, {"--scatter", f.scatter, &scatter}} {
		if s.text == "" {
			continue
		}
		text, hundredths := strings.CutSuffix(strings.TrimSpace(s.text), "%")
		v, bad := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if hundredths {
			v /= 100
		}
		if bad != nil || !(v > 0 && v <= 10) {
			return 0, 0, cli.Usage("%s %q: give a share, such as 20%% or 0.2", s.flag, visible(s.text))
		}
		*s.to = v
	}
	if scatter > 0 && see == 0 {
		return 0, 0, cli.Usage("--scatter goes with --see: how large a difference do you want to see?")
	}
	return see, scatter, nil
}

// spentLanes are the lanes of all logs in a folder and below it. A log whose head
// cannot be read is told: nobody knows which lane it spent.
func spentLanes(dir string, said bool, t *trial.Trial) (spent []plan.Spent, notes []string, err error) {
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) && !said {
		return nil, nil, nil
	} else if err != nil {
		return nil, nil, fmt.Errorf("cannot look for logs: %w", err)
	}
	paths, unread := logsIn([]string{dir})
	for _, u := range unread {
		if u.path != dir || said {
			notes = append(notes, u.Error())
		}
	}
	type key struct {
		station, run string
		lane         int
	}
	seen := map[key]bool{}
	for _, path := range paths {
		x, capture, err := laneOf(path)
		switch {
		case err != nil:
			notes = append(notes, fmt.Sprintf("%s: its head cannot be read, so the lane it spent is not known: %v", visible(filepath.Base(path)), err))
			continue
		case !capture || seen[key{x.Station, x.Run, x.Lane}]:
			continue
		}
		seen[key{x.Station, x.Run, x.Lane}] = true
		spent = append(spent, x)
	}
	return spent, notes, nil
}

// laneOf reads run, station and lane from a log's head. capture is false for a
// log in which nothing was pulled, such as an addendum.
func laneOf(path string) (x plan.Spent, capture bool, err error) {
	open, err := session.ReadOpening(path)
	if err != nil {
		return x, false, err
	}
	if open.Run == "" || open.Part == "addendum" {
		return x, false, nil
	}
	file, err := logfmt.Open(path)
	if err != nil {
		return x, false, err
	}
	defer file.Close()
	x = plan.Spent{Log: visible(filepath.Base(path)), Run: open.Run}
	r := logfmt.NewReader(io.LimitReader(file, 8<<20))
	for n := 0; n < 2000 && r.Next(); n++ {
		rec := r.Record()
		if rec.Kind != logfmt.Head {
			break
		}
		if rec.Str("part") != "run" {
			continue
		}
		x.Station = rec.Str("station")
		x.Lane, err = strconv.Atoi(rec.Str("lane"))
		x.Planned = true
	}
	if err == nil && !x.Planned {
		err = errors.New("no record of its run")
	}
	return x, true, err
}

// sampleSize works out the repeats, from the scatter of the logs where none is
// said.
func sampleSize(dir string, see, scatter float64) (*sizeDoc, error) {
	d := &sizeDoc{See: see, Scatter: scatter, From: "--scatter"}
	if scatter == 0 {
		all, _ := readResults([]string{dir})
		groups := map[string][]float64{}
		for _, r := range all {
			if !r.Ready || r.Head.Run.Kind != trial.KindPull {
				continue
			}
			f := r.Figures
			if r.Corrected != nil {
				f = *r.Corrected
			}
			if f.Pull.Known && f.Pull.Bound == "" {
				key := r.Head.Run.Anchor + "\x00" + r.Head.Run.Station
				groups[key] = append(groups[key], float64(f.Pull.Value))
			} else {
				d.LeftOut++
			}
		}
		var lists [][]float64
		for _, g := range groups {
			lists = append(lists, g)
		}
		d.Scatter, d.DoF = plan.Scatter(lists)
		d.From = "greatest tension of like pulls in the logs"
		if d.DoF == 0 {
			return nil, cli.Exit(cli.ExitFailed, "no scatter in %s: no anchor was pulled twice at one station to a peak that stands; say --scatter", visible(dir))
		}
	}
	var err error
	d.Repeats, err = plan.Repeats(d.Scatter, see)
	return d, err
}

type sizeDoc struct {
	See     float64 `json:"difference_share"`
	Scatter float64 `json:"scatter_share"`
	From    string  `json:"scatter_from"`
	DoF     int     `json:"scatter_degrees_of_freedom,omitempty"`
	LeftOut int     `json:"pulls_left_out,omitempty"` // lower bounds, and those without a peak
	Repeats int     `json:"repeats"`
}
