package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
	"hawse/trial/rode"
)

// rodeFlags is what the command line of `hawse rode` said, as text.
type rodeFlags struct {
	run, height, depth, out, tension, span string
	table, from, to, step                  string
	pieces                                 []string
	asJSON                                 bool
}

func newRode() *cobra.Command {
	var f rodeFlags
	c := &cobra.Command{
		Use:   "rode [TRIAL]",
		Short: "Solve the line between fairlead and anchor: angle, lift, stretch, what is on the bottom",
		Long: `Statics of the rode: how it hangs between fairlead and anchor, dragged in, at a
tension at the fairlead or at a span. It prints the forces at both ends, the
angle at which the line leaves the anchor, what lies on the bottom, stretch,
stiffness and stored energy, with a side view; --json gives SI.

The rode comes from a trial file, with the payout and the depth of a run (--run,
the first if none is named; --out and --depth say otherwise), or from --piece,
one for each piece from the anchor up, with --height from anchor to fairlead:

  length=60 m     unstretched
  weight=12 N/m   in water
  ea=400 kN       axial stiffness; left out, it does not stretch
  friction=0.7    on the bottom; left out, there is no bottom under the piece
  joint=60 N      weight in water of what sits at its upper end
  mbl=70 kN       breaking load; more tension is refused

--table prints, for the director to read before the day, what scope and which
tension lift the chain: over payout (with --tension also what that tension does)
or over tension.

It is a model of a line at rest on level ground: no current, no waves, no burial.
A rode stores what the energy line says, and lets it go at once if it parts.

` + cautions + "\n\n" + cli.ExitHelp,
		Example: `  hawse rode my-trial/trial.toml --tension "3.1 kN"
  hawse rode my-trial/trial.toml --run A1 --table payout
  hawse rode --height "200 m" --tension "256 kN" \
    --piece "length=500 m, weight=800 N/m, ea=7.51e12 N, friction=0.1"
  hawse rode --height "7.5 m" --span "52 m" --json \
    --piece "length=10 m, weight=12 N/m, ea=400 kN, friction=0.7" \
    --piece "length=45 m, weight=0.3 N/m, ea=400 kN"`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return cli.Usage("%s wants one trial file, or --piece; see '%s --help'", c.CommandPath(), c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			q, err := f.ask(args)
			if err != nil {
				return err
			}
			if f.table != "" {
				return q.printTable(c.OutOrStdout(), f)
			}
			return q.print(c.OutOrStdout(), f.asJSON)
		},
	}
	s := c.Flags()
	s.StringVar(&f.run, "run", "", "run of the trial file (default: its first)")
	s.StringVar(&f.depth, "depth", "", `depth of water, "6.4 m" (default: the station's)`)
	s.StringVar(&f.out, "out", "", `rode out, "45 m" (default: the run's payout, or all pieces)`)
	s.StringVar(&f.height, "height", "", `from anchor to fairlead, "7.5 m"; for --piece`)
	s.StringArrayVar(&f.pieces, "piece", nil, "a piece of rode, from the anchor up; say it again for the next")
	s.StringVar(&f.tension, "tension", "", `at the fairlead, "3.1 kN"`)
	s.StringVar(&f.span, "span", "", `from anchor to fairlead along the bottom, "52 m"`)
	s.StringVar(&f.table, "table", "", "a table over payout or tension")
	s.StringVar(&f.from, "from", "", "first row of the table")
	s.StringVar(&f.to, "to", "", "last row of the table")
	s.StringVar(&f.step, "step", "", "from row to row")
	s.BoolVar(&f.asJSON, "json", false, "one object in JSON: SI, the unit in each key")
	return c
}

// rodeAsk is a rode ready to be solved, and what is asked of it.
type rodeAsk struct {
	rode     *rode.Rode
	pieces   []trial.Piece // for their names and breaking loads; may be cut by heavy gear in the rode
	show     trial.Show
	title    string
	notes    []string
	fairlead trial.Length // roller over the water; 0 unknown
	tension  trial.Force  // 0 not asked
	span     trial.Length
	hasSpan  bool
	top      trial.Force // a tension of interest: the stop limit, or 0
}

// ask reads the command line.
func (f *rodeFlags) ask(args []string) (*rodeAsk, error) {
	q := &rodeAsk{}
	var err error
	switch {
	case len(args) == 1 && len(f.pieces) > 0:
		return nil, cli.Usage("a trial file and --piece: give one of them")
	case len(args) == 1 && f.height != "":
		return nil, cli.Usage("--height goes with --piece; of a trial file say --depth, the roller's height is in it")
	case len(args) == 1:
		err = f.ofTrial(q, args[0])
	case len(f.pieces) == 0:
		return nil, cli.Usage("no pieces: name a trial file, or give --height and a --piece for each piece from the anchor up")
	case f.run != "" || f.depth != "":
		return nil, cli.Usage("--run and --depth go with a trial file; with --piece say --height")
	default:
		err = f.ofPieces(q)
	}
	if err != nil {
		return nil, err
	}
	switch {
	case f.tension != "" && f.span != "":
		return nil, cli.Usage("--tension and --span: give one of them, the other comes out")
	case f.table != "" && f.table != "payout" && f.table != "tension":
		return nil, cli.Usage("--table %s: a table is over payout or tension", strconv.QuoteToASCII(f.table))
	case f.table != "" && f.span != "":
		return nil, cli.Usage("--span: a table is over payout or tension; leave the span out")
	case f.table == "" && (f.from != "" || f.to != "" || f.step != ""):
		return nil, cli.Usage("--from, --to and --step go with --table")
	case f.table == "" && f.tension == "" && f.span == "":
		return nil, cli.Usage(`nothing asked: give --tension "3.1 kN", --span "52 m" or --table payout`)
	}
	if f.tension != "" {
		if q.tension, err = trial.ParseForce(f.tension); err != nil {
			return nil, cli.Usage("--tension: %w", err)
		}
		if !(q.tension > 0) {
			return nil, cli.Usage("--tension %s: give a tension above 0", f.tension)
		}
		if err := q.mayCarry(q.tension); err != nil {
			return nil, err
		}
	}
	if f.span != "" {
		if q.span, err = trial.ParseLength(f.span); err != nil {
			return nil, cli.Usage("--span: %w", err)
		}
		q.hasSpan = true
	}
	return q, nil
}

// ofTrial takes rode, height and rode out from a run of a trial file.
func (f *rodeFlags) ofTrial(q *rodeAsk, path string) error {
	t, err := openTrial(path)
	if err != nil {
		return err
	}
	if len(t.Runs) == 0 {
		return cli.Exit(cli.ExitTrial, "%s: no run in it, so no payout and no depth", visible(path))
	}
	run := t.Runs[0]
	if f.run != "" {
		found := false
		for _, r := range t.Runs {
			if r.ID == f.run {
				run, found = r, true
			}
		}
		if !found {
			return cli.Usage("--run %s: no such run in the trial file", strconv.QuoteToASCII(f.run))
		}
	}
	height, out := t.HeightOf(run), run.Payout
	if f.depth != "" {
		depth, err := trial.ParseLength(f.depth)
		if err != nil {
			return cli.Usage("--depth: %w", err)
		}
		if !(depth > 0) {
			return cli.Usage("--depth %s: give a depth above 0", f.depth)
		}
		height = depth + t.Vessel.Fairlead
	}
	if q.rode, err = t.Statics(height); err != nil {
		return cli.Exit(cli.ExitFailed, "%w", err)
	}
	q.pieces, q.show, q.fairlead = t.Rode, t.Show, t.Vessel.Fairlead
	q.top = t.Limits[trial.Pull].TensionStop
	q.title = fmt.Sprintf("%s, run %s at %s", t.Name, run.ID, run.Station)
	for _, p := range t.Rode {
		if !p.HasFriction {
			q.notes = append(q.notes, p.Name+" says no friction: taken as 0, so the anchor's share is the most it can be")
		}
	}
	return q.cut(f.out, out)
}

// ofPieces takes the rode from the command line.
func (f *rodeFlags) ofPieces(q *rodeAsk) error {
	q.show, q.title = trial.Show{Tension: kilonewton, Length: metre, Speed: metresAMinute}, "rode of the command line"
	if f.height == "" {
		return cli.Usage(`--height is missing: from anchor to fairlead, such as --height "7.5 m"`)
	}
	height, err := trial.ParseLength(f.height)
	if err != nil {
		return cli.Usage("--height: %w", err)
	}
	var parts []rode.Piece
	for i, text := range f.pieces {
		p, part, err := parsePiece(text, i+1)
		if err != nil {
			return cli.Usage("--piece %d, %s: %w", i+1, strconv.QuoteToASCII(text), err)
		}
		q.pieces, parts = append(q.pieces, p), append(parts, part)
	}
	if q.rode, err = rode.New(float64(height), parts); err != nil {
		return cli.Usage("%w", err)
	}
	return q.cut(f.out, trial.Length(q.rode.Total()))
}

var (
	kilonewton, _    = trial.ForceUnitNamed("kN")
	metre, _         = trial.LengthUnitNamed("m")
	metresAMinute, _ = trial.SpeedUnitNamed("m/min")
)

// parsePiece reads "length=500 m, weight=800 N/m, ea=7.51e12 N, friction=0.1".
func parsePiece(text string, number int) (p trial.Piece, part rode.Piece, err error) {
	p.Name = "piece " + strconv.Itoa(number)
	part.EA, part.Friction = rode.Unlimited, rode.NoBottom
	seen := map[string]bool{}
	for field := range strings.SplitSeq(text, ",") {
		key, value, ok := strings.Cut(field, "=")
		key, value = strings.ToLower(strings.TrimSpace(key)), strings.TrimSpace(value)
		if !ok || value == "" {
			return p, part, fmt.Errorf("%s is no key=value; write length=60 m, weight=12 N/m and so on, with commas between", strconv.QuoteToASCII(strings.TrimSpace(field)))
		}
		if seen[key] {
			return p, part, fmt.Errorf("%s is given twice", key)
		}
		seen[key] = true
		var force trial.Force
		switch key {
		case "length":
			p.Length, err = trial.ParseLength(value)
			part.Length = float64(p.Length)
		case "weight":
			p.Weight, err = trial.ParseLineWeight(value)
			part.Weight = float64(p.Weight)
		case "ea":
			force, err = trial.ParseForce(value)
			part.EA = float64(force)
		case "joint":
			force, err = trial.ParseForce(value)
			part.JointWeight = float64(force)
		case "mbl":
			if p.MBL, err = trial.ParseForce(value); err == nil && !(p.MBL > 0) {
				err = errors.New("a breaking load is above 0")
			}
		case "friction":
			if part.Friction, err = strconv.ParseFloat(value, 64); err != nil || math.IsNaN(part.Friction) {
				err = errors.New("a friction is a plain number such as 0.7; leave it out for no bottom")
			}
		default:
			return p, part, fmt.Errorf("%s is no key of a piece; the keys are length, weight, ea, friction, joint, mbl", strconv.QuoteToASCII(key))
		}
		if err != nil {
			return p, part, fmt.Errorf("%s: %w", key, err)
		}
	}
	for _, key := range []string{"length", "weight"} {
		if !seen[key] {
			return p, part, fmt.Errorf("%s is missing", key)
		}
	}
	return p, part, nil
}

// cut sets how much rode is out and holds it against the height.
func (q *rodeAsk) cut(text string, out trial.Length) (err error) {
	if text != "" {
		if out, err = trial.ParseLength(text); err != nil {
			return cli.Usage("--out: %w", err)
		}
	}
	if err := q.rode.SetOut(float64(out)); err != nil {
		return cli.Usage("%w", err)
	}
	if h := trial.Length(q.rode.Height()); out < h && !q.reaches() {
		return cli.Exit(cli.ExitFailed, "%s of rode out does not reach the fairlead, %s over the anchor: check depth and rode out", q.length(out), q.length(h))
	}
	return nil
}

// reaches says whether a rode that is shorter than the fairlead is high can be
// stretched up to it by a hundredth or so, which fibre takes.
func (q *rodeAsk) reaches() bool {
	_, err := q.rode.AtSpan(0)
	return err == nil && q.rode.Out() > 0.99*q.rode.Height()
}

// mayCarry refuses a tension past the least breaking load said.
func (q *rodeAsk) mayCarry(t trial.Force) error {
	tr := trial.Trial{Rode: q.pieces}
	if name, mbl := tr.LeastMBL(trial.Length(q.rode.Out())); mbl > 0 && t > mbl {
		return cli.Exit(cli.ExitFailed, "%s is above the breaking load of %s, %s: it would part; ask for less, or correct mbl", q.force(t), visible(name), q.force(mbl))
	}
	return nil
}

func (q *rodeAsk) solve() (rode.State, error) {
	var s rode.State
	var err error
	if q.hasSpan {
		if s, err = q.rode.AtSpan(float64(q.span)); err == nil {
			err = q.mayCarry(trial.Force(s.T))
		}
	} else {
		s, err = q.rode.AtTension(float64(q.tension))
	}
	return s, err
}

func (q *rodeAsk) print(out io.Writer, asJSON bool) error {
	s, err := q.solve()
	if err != nil {
		return err
	}
	if asJSON {
		return rodeJSON(out, s)
	}
	_, err = io.WriteString(out, q.page(s))
	return err
}
