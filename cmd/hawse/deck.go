package main

import (
	"fmt"
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
	var dir string
	var list bool
	var seed uint64
	c := &cobra.Command{
		Use:   "deck SCENARIO --dir DIR",
		Short: "Offer the simulated deck's three ports to any program",
		Long: `Play a scenario on a simulated deck and offer its instruments as DIR/load (load
cell), DIR/line (line encoder) and DIR/stop (stop relay) until ctrl-c. The winch
hauls only while the relay is closed, and always pays out. It runs in real time;
all its data is invented. SCENARIO is a name, or the path of a script.`,
		Example: `  hawse deck --list
  hawse deck textbook --dir my-trial/deck
  hawse deck ./my-scenario.txt --dir /tmp/deck`,
		Args: func(c *cobra.Command, args []string) error {
			if list {
				return nil
			}
			return exactly(1, "one scenario (see --list)")(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			if list {
				for _, n := range deck.Names() {
					sc, err := deck.Load(n)
					if err != nil {
						return err
					}
					fmt.Fprintf(c.OutOrStdout(), "%-12s %s\n", n, sc.Title)
				}
				return nil
			}
			if dir == "" {
				return usageError{fmt.Errorf("say where the ports shall be: --dir DIR")}
			}
			sc, err := deck.Load(args[0])
			if err != nil {
				return usageError{err}
			}
			return offer(c, sc, dir, seed)
		},
	}
	c.Flags().StringVar(&dir, "dir", "", "folder for the three ports")
	c.Flags().BoolVar(&list, "list", false, "list the scenarios")
	c.Flags().Uint64Var(&seed, "seed", 1, "seed of the noise")
	return c
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
	fmt.Fprintf(out, "%s\n%s\nports: %s/load %s/line %s/stop; ctrl-c ends\n", sc.Title, sc.Caption, dir, dir, dir)
	done := make(chan error, 1)
	go func() { done <- d.Run(ctx) }()
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	seen := 0
	for {
		select {
		case err := <-done:
			return err
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

func relayWord(closed bool, reason string) string {
	if closed {
		return "closed"
	}
	return strings.TrimSpace("open " + reason)
}
