package main

import (
	"crypto"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/rsa"
	"errors"
	"io/fs"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"golang.org/x/crypto/ssh"
	"golang.org/x/crypto/ssh/agent"

	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
)

// serveAgent answers as an SSH agent at SSH_AUTH_SOCK until the test ends.
func serveAgent(t *testing.T, keys agent.Agent) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("agents have no Unix socket here")
	}
	dir, err := os.MkdirTemp("", "agent") // a socket's path must be short
	if err != nil {
		t.Fatal(err)
	}
	sock := filepath.Join(dir, "s")
	l, err := net.Listen("unix", sock)
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	wg.Go(func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			wg.Go(func() { agent.ServeAgent(keys, conn); conn.Close() })
		}
	})
	t.Cleanup(func() { l.Close(); wg.Wait(); os.RemoveAll(dir) })
	t.Setenv("SSH_AUTH_SOCK", sock)
}

// heldKey puts a new key into an agent and returns its public half in a file.
func heldKey(t *testing.T, keys agent.Agent, path string, key crypto.Signer) string {
	t.Helper()
	if err := keys.Add(agent.AddedKey{PrivateKey: key, Comment: "logger\x1b[31m"}); err != nil {
		t.Fatal(err)
	}
	return pubFile(t, path, key)
}

func pubFile(t *testing.T, path string, key crypto.Signer) string {
	t.Helper()
	pub, err := ssh.NewPublicKey(key.Public())
	if err != nil {
		t.Fatal(err)
	}
	return write(t, path, string(ssh.MarshalAuthorizedKey(pub)))
}

func newEd25519(t *testing.T) ed25519.PrivateKey {
	t.Helper()
	_, key, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

// TestSignWithAnAgent: the key never leaves the agent, and the signature is one
// that ssh-keygen takes.
func TestSignWithAnAgent(t *testing.T) {
	dir := t.TempDir()
	keys := agent.NewKeyring()
	serveAgent(t, keys)
	rsaKey, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	only := heldKey(t, keys, filepath.Join(dir, "ed.pub"), newEd25519(t))
	log := func(name string) string { return writeLog(t, filepath.Join(dir, name), 9) }
	check := func(log, pub string) {
		t.Helper()
		if s, err := logfmt.CheckSignature(log); err != nil || !s.Good {
			t.Errorf("%s: %v, %+v", log, err, s)
		}
		keygen, err := exec.LookPath("ssh-keygen")
		if err != nil {
			return
		}
		signers := write(t, filepath.Join(dir, "allowed_signers"), "logger "+readText(t, pub))
		in, err := os.Open(log)
		if err != nil {
			t.Fatal(err)
		}
		defer in.Close()
		c := exec.Command(keygen, "-Y", "verify", "-f", signers, "-I", "logger", "-n", "file", "-s", log+".sig")
		c.Stdin = in
		if out, err := c.CombinedOutput(); err != nil {
			t.Errorf("ssh-keygen -Y verify %s: %v: %s", log, err, out)
		}
	}
	one, two := log("a.log"), log("b.log")
	if code, out, errOut := hawse("sign", one, two, "--key", "agent"); code != cli.ExitDone || strings.Count(out, "signed with SHA256:") != 2 {
		t.Fatalf("the one key: code %d, %q, %q", code, out, errOut)
	}
	check(one, only)
	check(two, only)

	second := heldKey(t, keys, filepath.Join(dir, "rsa.pub"), rsaKey)
	three, four := log("c.log"), log("d.log")
	for log, pub := range map[string]string{three: only, four: second} {
		if code, _, errOut := hawse("sign", log, "--key", pub); code != cli.ExitDone {
			t.Fatalf("%s: code %d, %q", pub, code, errOut)
		}
		check(log, pub)
	}
}

// TestSignWithNoKeyOfTheAgent: what is missing is told, and nothing is written.
func TestSignWithNoKeyOfTheAgent(t *testing.T) {
	dir := t.TempDir()
	log := writeLog(t, filepath.Join(dir, "a.log"), 9)
	stranger := pubFile(t, filepath.Join(dir, "stranger.pub"), newEd25519(t))
	binary := write(t, filepath.Join(dir, "binary.pub"), "\x00\x01\x1b[31m")
	refused := func(key string, says ...string) {
		t.Helper()
		code, out, errOut := hawse("sign", log, "--key", key)
		for _, s := range says {
			if code != cli.ExitFailed || !strings.Contains(errOut, s) || strings.ContainsAny(out+errOut, "\x1b\x00") {
				t.Errorf("--key %s: code %d, %q; want %d and %q", filepath.Base(key), code, errOut, cli.ExitFailed, s)
			}
		}
		if _, err := os.Lstat(log + ".sig"); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("--key %s left a signature: %v", filepath.Base(key), err)
		}
	}
	t.Setenv("SSH_AUTH_SOCK", "")
	refused("agent", "SSH_AUTH_SOCK is not set", "private key")
	refused(stranger, "SSH_AUTH_SOCK is not set")
	t.Setenv("SSH_AUTH_SOCK", filepath.Join(dir, "none"))
	refused("agent", "does not answer")

	keys := agent.NewKeyring()
	serveAgent(t, keys)
	refused("agent", "holds no key", "ssh-add")
	heldKey(t, keys, filepath.Join(dir, "a.pub"), newEd25519(t))
	heldKey(t, keys, filepath.Join(dir, "b.pub"), newEd25519(t))
	refused("agent", "holds 2 keys", "SHA256:", ".pub file")
	refused(stranger, "does not hold the key", "stranger.pub")
	refused(binary, "no public key")
	refused(filepath.Join(dir, "gone.pub"), "gone.pub", "public key")
	if err := keys.Lock([]byte("deep water")); err != nil {
		t.Fatal(err)
	}
	refused("agent", "or is locked")
}
