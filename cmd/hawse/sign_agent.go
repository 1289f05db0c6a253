package main

import (
	"bytes"
	"errors"
	"fmt"
	"net"
	"os"
	"strings"

	"golang.org/x/crypto/ssh"
	"golang.org/x/crypto/ssh/agent"
)

// agentWord is what --key says for the one key that the agent holds.
const agentWord = "agent"

// inAgent tells whether --key means a key that an SSH agent holds.
func inAgent(key string) bool { return key == agentWord || strings.HasSuffix(key, ".pub") }

// agentKey returns the key that --key means from the agent at SSH_AUTH_SOCK: the
// private half of a .pub file, or the only one there is. The agent signs, and
// never gives the key away; it is spoken to until done is called.
func agentKey(key string) (signer ssh.Signer, done func(), err error) {
	const instead = "or give the file of a private key"
	var want ssh.PublicKey
	if key != agentWord {
		text, err := os.ReadFile(key)
		if err != nil {
			return nil, nil, fmt.Errorf("%w; give the path of a public key, %s", err, instead)
		}
		if want, _, _, _, err = ssh.ParseAuthorizedKey(text); err != nil {
			return nil, nil, fmt.Errorf("%s is no public key as ssh-keygen makes it (%w); %s", key, err, instead)
		}
	}
	sock := os.Getenv("SSH_AUTH_SOCK")
	if sock == "" {
		return nil, nil, fmt.Errorf("no SSH agent here: SSH_AUTH_SOCK is not set; start one and ssh-add the key, %s", instead)
	}
	conn, err := net.Dial("unix", sock)
	if err != nil {
		return nil, nil, fmt.Errorf("the SSH agent of SSH_AUTH_SOCK does not answer: %w; start one and ssh-add the key, %s", err, instead)
	}
	defer func() {
		if err != nil {
			conn.Close()
		}
	}()
	held, err := agent.NewClient(conn).Signers()
	if err != nil {
		return nil, nil, fmt.Errorf("the SSH agent of SSH_AUTH_SOCK does not tell its keys: %w; %s", err, instead)
	}
	var can []ssh.Signer
	var named []string
	for _, s := range held {
		pub := s.PublicKey()
		if strings.Contains(pub.Type(), "-cert-") || want != nil && !bytes.Equal(pub.Marshal(), want.Marshal()) {
			continue // beside a certificate stands the key itself
		}
		can = append(can, s)
		named = append(named, ssh.FingerprintSHA256(pub)+" "+visible(pub.Type()))
	}
	switch {
	case len(can) == 1:
		return can[0], func() { conn.Close() }, nil
	case want != nil:
		return nil, nil, fmt.Errorf("the SSH agent does not hold the key of %s, %s; ssh-add it, %s", key, ssh.FingerprintSHA256(want), instead)
	case len(can) == 0:
		return nil, nil, errors.New("the SSH agent holds no key, or is locked; ssh-add one, " + instead)
	}
	return nil, nil, fmt.Errorf("the SSH agent holds %d keys: %s; say which with the .pub file of one", len(can), strings.Join(named, ", "))
}
