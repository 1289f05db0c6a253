package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/charmbracelet/x/term"
	"github.com/spf13/cobra"
	"golang.org/x/crypto/ssh"

	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
)

func newSign() *cobra.Command {
	var key string
	var anyway bool
	c := &cobra.Command{
		Use:   "sign LOG...",
		Short: "Sign a sealed log with the logger's own SSH key",
		Long: `Write LOG.sig beside each log: a signature of its bytes in the format of OpenSSH.
Whoever has the public key checks it with what comes with every system, and needs
nothing of this program:

  echo "logger $(cat logger.pub)" > allowed_signers
  ssh-keygen -Y verify -f allowed_signers -I logger -n file -s LOG.sig < LOG

A log is signed once it is whole; --anyway signs one that is cut short or damaged
as it lies. A key with a passphrase asks for it at the terminal.

The key may lie in an SSH agent (SSH_AUTH_SOCK): --key names its public half, a
file that ends in .pub, or is the word agent where the agent holds one key only.`,
		Example: "  hawse sign logs/A1-20260412T090211Z.log\n  hawse sign logs/*.log --key ~/.ssh/id_ed25519\n  hawse sign logs/*.log --key ~/.ssh/id_ed25519.pub   # the private half in the agent",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cli.Usage("say which log to sign")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			if key == "" {
				home, err := os.UserHomeDir()
				if err != nil {
					return cli.Usage("say which key signs: --key")
				}
				key = filepath.Join(home, ".ssh", "id_ed25519")
			}
			for _, log := range args {
				rep, err := logfmt.VerifyFile(log)
				switch {
				case err != nil:
					return err
				case owned(log):
					return fmt.Errorf("%s is being written; end the capture first", log)
				case !rep.Whole && !anyway:
					return cli.Exit(cli.ExitRecord, "not signed: %s: %s; --anyway signs it as it lies", log, rep.Verdict())
				}
			}
			signer, done, err := keyOf(c.ErrOrStderr(), key)
			if err != nil {
				return err
			}
			defer done()
			for _, log := range args {
				print, err := logfmt.SignFile(log, signer, nil)
				if err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "%s.sig: signed with %s\n", visible(log), print)
			}
			return nil
		},
	}
	c.Flags().StringVar(&key, "key", "", "private SSH key, or a .pub or the word agent: the key that an SSH agent holds (default: ~/.ssh/id_ed25519)")
	c.Flags().BoolVar(&anyway, "anyway", false, "sign a log that is not whole, as it lies")
	return c
}

// keyOf finds the key that --key means. done ends what it took to reach it.
func keyOf(errOut io.Writer, key string) (signer ssh.Signer, done func(), err error) {
	if inAgent(key) {
		return agentKey(key)
	}
	signer, err = logfmt.ReadKey(key, askPhrase(errOut, key))
	return signer, func() {}, err
}

// askPhrase asks at the terminal; nil where there is none.
func askPhrase(errOut io.Writer, key string) func() ([]byte, error) {
	if !term.IsTerminal(os.Stdin.Fd()) {
		return nil
	}
	return func() ([]byte, error) {
		fmt.Fprintf(errOut, "passphrase of %s: ", visible(key))
		phrase, err := term.ReadPassword(os.Stdin.Fd())
		fmt.Fprintln(errOut)
		if err != nil {
			return nil, errors.Join(errors.New("no passphrase"), err)
		}
		return phrase, nil
	}
}
