package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/deck"
)

func newDeck() *cobra.Command {
	var dir, show string
	var list, model, asJSON bool
	var seed uint64
	var score int
	c := &cobra.Command{
		Use:   "deck SCENARIO --dir DIR",
		Short: "Offer the simulated deck's three ports to any program",
		Long: `Play a scenario on a simulated deck and offer its instruments as DIR/load (load
cell), DIR/line (line encoder) and DIR/stop (stop relay) until ctrl-c. The winch
hauls only while the relay is closed, and always pays out. It runs in real time;
all its data is invented. SCENARIO is a name, or the path of a script.

To rehearse, be the winch operator: a line on its standard input orders the winch,
haul, ease (each with a speed if need be, "haul 1.2 m/min"), stop, or ahead for the
vessel to go over the anchor; script gives the lever back to the script. Hauling
that the relay has ended needs a new order.

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
  hawse deck textbook --dir my-trial/deck
  hawse deck ./my-scenario.txt --dir /tmp/deck
  hawse deck --model --seed 7 --show trial > my-trial/trial.toml
  hawse deck --model --seed 7 --dir my-trial/deck
  hawse deck --score 1000`,
		Args: func(c *cobra.Command, args []string) error {
			if list || model || c.Flags().Changed("score") {
				return exactly(0, "no scenario with --list, --model or --score")(c, args)
			}
			return exactly(1, "one scenario (see --list)")(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case list:
				return listScenarios(c)
			case c.Flags().Changed("score"):
				if model || dir != "" || show != "" {
					return usageError{fmt.Errorf("--score makes up its own pulls and opens no ports: leave out --model, --dir and --show")}
				}
				if score < 1 || score > mostScored {
					return usageError{fmt.Errorf("--score %d: from 1 to %d pulls", score, mostScored)}
				}
				return scoreDetector(c, score, seed, asJSON)
			case asJSON:
				return usageError{fmt.Errorf("--json goes with --score")}
			}
			sc, err := theScenario(args, model, seed)
			if err != nil {
				return usageError{err}
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
				return usageError{fmt.Errorf("--show %s: say script or trial", acquire.Visible([]byte(show)))}
			}
			if dir == "" {
				return usageError{fmt.Errorf("say where the ports shall be: --dir DIR")}
			}
			return offer(c, sc, dir, seed)
		},
	}
	c.Flags().StringVar(&dir, "dir", "", "folder for the three ports")
	c.Flags().BoolVar(&list, "list", false, "list the scenarios")
	c.Flags().BoolVar(&model, "model", false, "play a pull made up from the seed")
	c.Flags().StringVar(&show, "show", "", "print the scenario's script, or its trial file: script or trial")
	c.Flags().IntVar(&score, "score", 0, "score the phase detector on so many made-up pulls")
	c.Flags().BoolVar(&asJSON, "json", false, "the score as JSON")
	c.Flags().Uint64Var(&seed, "seed", 1, "seed of the noise, of the made-up pull, or, with --score, the number of the run")
	return c
}

func listScenarios(c *cobra.Command) error {
	for _, n := range deck.Names() {
		sc, err := deck.Load(n)
		if err != nil {
			return err
		}
		fmt.Fprintf(c.OutOrStdout(), "%-12s %s\n", n, sc.Title)
	}
	return nil
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

func offer(c *cobra.Command, sc *deck.Scenario, dir string, seed uint64) error {
	d, err := deck.Open(sc, deck.Options{Dir: dir, Clock: acquire.NewClock(), Seed: seed})
	if err != nil {
		return exitWith(exitStart, "%w", err)
	}
	defer d.Close()
	ctx, cancel := signal.NotifyContext(c.Context(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer cancel()
	out := c.OutOrStdout()
	fmt.Fprintf(out, "%s\n%s\nports: %s/load %s/line %s/stop; ctrl-c ends\norders to the winch, then ENTER: haul, stop, ease, \"haul 1.2 m/min\", ahead, script\n", sc.Title, sc.Caption, dir, dir, dir)
	orders := ordersFrom(c.InOrStdin())
	done := make(chan error, 1)
	go func() { done <- d.Run(ctx) }()
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	seen := 0
	for {
		select {
		case err := <-done:
			return err
		case order, more := <-orders:
			if !more { // nobody orders; the script goes on
				orders = nil
				continue
			}
			if err := d.Order(order); err != nil {
				fmt.Fprintln(out, acquire.Visible([]byte(err.Error())))
			} else {
				fmt.Fprintf(out, "%8.1f s  ordered: %s\n", float64(d.State().T)/1e9, acquire.Visible([]byte(order)))
			}
			continue
		case <-tick.C:
		}
		s := d.State()
		for ; seen < len(s.RelayLog); seen++ {
			ch := s.RelayLog[seen]
			fmt.Fprintf(out, "%8.3f s  relay %s\n", float64(ch.T)/1e9, relayWord(ch.Closed, ch.Reason))
		}
		fmt.Fprintf(out, "%8.1f s  winch %-5s  hauled %6.2f m  rode out %6.2f m  tension %5.2f kN  relay %s\n", float64(s.T)/1e9,
			s.Lever, float64(s.X), float64(s.L), float64(s.Tension)/1000, relayWord(s.RelayClosed, s.RelayReason))
	}
}

// ordersFrom reads orders, a line each, until the input ends or a line is longer
// than any order. Its goroutine waits in a read that nothing can end; it goes with
// the program.
func ordersFrom(in io.Reader) <-chan string {
	orders := make(chan string)
	signalsOfNoTerminal()
	go func() {
		defer close(orders)
		lines := bufio.NewScanner(in)
		lines.Buffer(nil, 1024)
		for lines.Scan() {
			if order := strings.ToLower(strings.Join(strings.Fields(lines.Text()), " ")); order != "" {
				orders <- order
			}
		}
	}()
	return orders
}

func relayWord(closed bool, reason string) string {
	if closed {
		return "closed"
	}
	return strings.TrimSpace("open " + reason)
}
