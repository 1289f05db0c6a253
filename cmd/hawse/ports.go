package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/cmd/hawse/cli"
)

func newPorts() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:     "ports",
		Short:   "List the serial ports of this machine",
		Long:    "List the serial ports of this machine, by the name a trial file takes. None is opened.",
		Example: "  hawse ports\n  hawse ports --json",
		Args:    cli.Exactly(0, "nothing else"),
		RunE: func(c *cobra.Command, args []string) error {
			ports, err := acquire.ListPorts()
			if err != nil {
				return fmt.Errorf("cannot list ports: %w", err)
			}
			out := c.OutOrStdout()
			if asJSON {
				if ports == nil {
					ports = []acquire.PortInfo{}
				}
				return json.NewEncoder(out).Encode(ports)
			}
			if len(ports) == 0 {
				fmt.Fprintln(c.ErrOrStderr(), "no serial ports found; plug the adapter in and look again")
			}
			for _, p := range ports {
				fmt.Fprintln(out, p)
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "a list in JSON")
	return c
}
