package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hawse/acquire/deck"
	"hawse/cmd/hawse/bench"
	"hawse/cmd/hawse/cli"
)

func newDeck() *cobra.Command {
	var o deckOffer
	var show, boxes string
	var faults []string
	var list, model, asJSON bool
	var score int
	c := &cobra.Command{
		Use:   "deck SCENARIO",
		Short: "Offer a simulated deck's ports to any program, with faults to rehearse on",
		Long: `Play a scenario on a simulated deck and offer its instruments as DIR/load (load
cell), DIR/line (line encoder) and DIR/stop (stop relay) until ctrl-c. The winch
hauls only while the relay is closed, and always pays out. It runs in real time;
all its data is invented. SCENARIO is a name, or the path of a script.

To rehearse, be the winch operator: a line on its standard input orders the winch,
haul, ease (each with a speed if need be, "haul 1.2 m/min"), stop, or ahead for the
vessel to go over the anchor; script gives the lever back to the script. Hauling
that the relay has ended needs a new order. "cell free" takes the load cell out of
the rode, which is made fast, for a zero; "cell hook 50 kg" hangs a known weight on
it; "cell rode" puts it back, and so does line that moves. A load cell that hangs
free until the script hauls is in the rode once you do. An empty line asks how the
deck stands.

Without --dir the ports are in ./deck, and the trial file that fits them is written
to SCENARIO.toml: 'hawse pull SCENARIO.toml' in another terminal just works. With
--dir one is written where --trial says. A file the deck did not write is left alone.

--boxes has the instruments speak otherwise than by lines on a port each: on one
port, several values in a line, when asked in text, as Modbus RTU units, in binary
frames; nmea adds sounder, satellite receiver, compass and clock on DIR/depth, pin
makes the load cell a pin in the roller, outboard and inboard add another load cell
that speaks as the first does, on DIR/load2 or as a further Modbus unit: these four
go with any other.
--fault NAME@WHEN breaks something, at a time of the deck ("unplug@90s") or at a
length hauled ("stuck@x 9 m"); as often as you like. --list names all of them. What
Hawse says of each, and after how long, is in acquire/dryrun/FAULTS.md.

With --model in place of SCENARIO the pull is made up from --seed: ground, anchor,
rode and vessel are worked out, not read from a table. A script may have such a
model, too: see the scenario "model". --show prints the script or the trial
file that goes with it, and no more.

--score N plays N made-up pulls without ports or clock, on all cores, through the
fold that a live capture runs, and holds what the phase detector said against what
the model knows: its contact, travel and capacity, never the detector's own rules.
It prints precision, recall and delay for each event, the share of hauled length
with the right phase, falls of the vessel and saw-teeth taken for breakouts, the
confusion, the map from the model's truth to the phases, and the worst pulls.`,
		Example: `  hawse deck --list
  hawse deck cobble-neck --fault unplug@90s
  hawse deck cobble-neck --boxes modbus,nmea --fault late@60s --fault "double-depth@x 5 m"
  hawse deck cobble-neck --boxes pin,outboard --fault cell-drift@60s
  hawse deck cobble-neck --boxes modbus,outboard --fault cell-silent@60s
  hawse deck cobble-neck --fault "silence line 7 s@x 4 m" --trial a.toml --dir a
  hawse deck textbook --dir my-trial/deck
  hawse deck ./my-scenario.txt --dir /tmp/deck
  hawse deck --model --seed 7 --show trial > my-trial/trial.toml
  hawse deck --model --seed 7 --dir my-trial/deck
  hawse deck --score 1000`,
		Args: func(c *cobra.Command, args []string) error {
			if list || model || c.Flags().Changed("score") {
				return cli.Exactly(0, "no scenario with --list, --model or --score")(c, args)
			}
			return cli.Exactly(1, "one scenario (see --list)")(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case list:
				return listDeck(c)
			case c.Flags().Changed("score"):
				if model || o.dir != "" || show != "" || boxes != "" || faults != nil || o.trial != "" {
					return cli.Usage("--score makes up its own pulls and opens no ports: leave out --model, --dir, --show, --boxes, --fault and --trial")
				}
				return bench.ScoreDetector(c, score, o.seed, asJSON)
			case asJSON:
				return cli.Usage("--json goes with --score")
			}
			sc, err := theScenario(args, model, o.seed)
			if err == nil {
				sc, err = sc.With(boxes, faults)
			}
			if err != nil {
				return cli.Usage("%w", err)
			}
			switch show {
			case "":
			case "script":
				_, err := c.OutOrStdout().Write(sc.Text)
				return err
			case "trial":
				_, err := fmt.Fprint(c.OutOrStdout(), sc.TrialFile())
				return err
			default:
				return cli.Usage("--show %s: say script or trial", visible(show))
			}
			return o.run(c, sc)
		},
	}
	c.Flags().StringVar(&o.dir, "dir", "", "folder for the ports (default: ./deck)")
	c.Flags().StringVar(&o.trial, "trial", "", "write the trial file that fits here")
	c.Flags().StringVar(&boxes, "boxes", "", "how the instruments speak: "+boxNames())
	c.Flags().StringArrayVar(&faults, "fault", nil, "what goes wrong, and when: NAME@WHEN (see --list)")
	c.Flags().BoolVar(&list, "list", false, "list scenarios, boxes and faults")
	c.Flags().BoolVar(&model, "model", false, "play a pull made up from the seed")
	c.Flags().StringVar(&show, "show", "", "print the scenario's script, or its trial file: script or trial")
	c.Flags().IntVar(&score, "score", 0, "score the phase detector on so many made-up pulls")
	c.Flags().BoolVar(&asJSON, "json", false, "the score as JSON")
	c.Flags().Uint64Var(&o.seed, "seed", 1, "seed of the noise, of the made-up pull, or, with --score, the number of the run")
	return c
}

func boxNames() string {
	var names []string
	for _, k := range deck.BoxKinds {
		names = append(names, k.Name)
	}
	return strings.Join(names, ", ")
}

// theScenario is the one that is named, or the one made up from the seed.
func theScenario(args []string, model bool, seed uint64) (*deck.Scenario, error) {
	if !model {
		return deck.Load(args[0])
	}
	u, err := deck.MakeUp(seed)
	if err != nil {
		return nil, err
	}
	return deck.ParseScenario(fmt.Sprintf("made-up-%d.txt", seed), []byte(u.Script))
}
