package logfmt

import (
	"bytes"
	_ "crypto/sha512" // the hash that signatures are made with
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"github.com/hiddeco/sshsig"
	"golang.org/x/crypto/ssh"
)

// sigSuffix makes the name of a log's signature file, as ssh-keygen does.
const sigSuffix = ".sig"

// sigNamespace is what `ssh-keygen -Y sign` says for a file: OpenSSH,
// PROTOCOL.sshsig.
const sigNamespace = "file"

// ReadKey reads a private key in the format of OpenSSH, to sign with. ask is
// called for the passphrase if the key has one; nil refuses such a key.
func ReadKey(path string, ask func() ([]byte, error)) (ssh.Signer, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("logfmt: %w; give the path of a private key", err)
	}
	key, err := ssh.ParseRawPrivateKey(text)
	if _, locked := errors.AsType[*ssh.PassphraseMissingError](err); locked {
		if ask == nil {
			return nil, fmt.Errorf("logfmt: the key %s has a passphrase, and there is nobody to ask", path)
		}
		phrase, askErr := ask()
		if askErr != nil {
			return nil, askErr
		}
		key, err = ssh.ParseRawPrivateKeyWithPassphrase(text, phrase)
	}
	if err != nil {
		return nil, fmt.Errorf("logfmt: %s: %w; give a private key as ssh-keygen makes it, such as ~/.ssh/id_ed25519", path, err)
	}
	signer, err := ssh.NewSignerFromKey(key)
	if err != nil {
		return nil, fmt.Errorf("logfmt: the key %s cannot sign for SSH: %w", path, err)
	}
	return signer, nil
}

// SignFile signs a file with an SSH key and writes path.sig beside it, which
// must not exist. Anyone who has the public key checks it without this program:
//
//	ssh-keygen -Y verify -f allowed_signers -I WHO -n file -s LOG.sig < LOG
//
// It returns the fingerprint of the key. A log without an end may be signed as
// it lies; whether that makes sense is the caller's to say. A key may lie
// elsewhere, as in an agent: what it gives is held against the file before it is
// written.
func SignFile(path string, key ssh.Signer, f FS) (fingerprint string, err error) {
	if f == nil {
		f = OS
	}
	in, err := OpenFile(path)
	if err != nil {
		return "", fmt.Errorf("logfmt: %w; give the path of a log", err)
	}
	defer in.Close()
	sig, err := sshsig.Sign(in, key, sshsig.HashSHA512, sigNamespace)
	if err == nil {
		_, err = in.Seek(0, io.SeekStart)
	}
	if err == nil {
		err = sshsig.Verify(in, sig, key.PublicKey(), sshsig.HashSHA512, sigNamespace)
	}
	if err != nil {
		return "", fmt.Errorf("logfmt: signing %s: %w; nothing was written", path, err)
	}
	if err := writeSig(f, path+sigSuffix, sshsig.Armor(sig)); err != nil {
		return "", err
	}
	return ssh.FingerprintSHA256(key.PublicKey()), nil
}

// writeSig writes a small file that must not exist, down to the disk.
func writeSig(f FS, name string, text []byte) error {
	fault := func(op string, err error, do string) error { return &Fault{Path: name, Op: op, Err: err, Do: do} }
	file, err := f.Create(name)
	if errors.Is(err, fs.ErrExist) {
		return fault("create", err, "a signature is never overwritten; move it away first")
	}
	if err != nil {
		return fault("create", err, "choose a folder that can be written to")
	}
	n, err := file.Write(text)
	if err == nil && n < len(text) {
		err = io.ErrShortWrite
	}
	if err == nil {
		err = file.Sync()
	}
	if err = errors.Join(err, file.Close()); err != nil {
		return fault("write", err, "remove what there is of it, make room and sign again")
	}
	return nil
}

// Signature is what the signature file beside a log says about it. It proves
// that who has the key signed these bytes; whose key it is, the reader knows.
type Signature struct {
	There       bool   // there is one
	Good        bool   // it is one of these bytes, for the namespace "file"
	Key         string // public key as a line of authorized_keys, without a name
	Fingerprint string // SHA256:...
	Fault       string // why it is not good
}

// Text is the signature in one line; "" if there is none.
func (s Signature) Text() string {
	switch {
	case !s.There:
		return ""
	case s.Good:
		return "signed with the key " + s.Fingerprint + " (is it the logger's? `ssh-keygen -Y verify` asks a list of keys)"
	}
	return "its signature is not good: " + s.Fault
}

// Word is the signature in one word for programs: "good", "bad", "" for none.
func (s Signature) Word() string {
	switch {
	case !s.There:
		return ""
	case s.Good:
		return "good"
	}
	return "bad"
}

const mostSig = 64 << 10

// CheckSignature reads the signature beside the file at path, if there is one,
// and holds it against the file. Beside a packed log that of the log it was
// counts too. The error is that of reading the file.
func CheckSignature(path string) (Signature, error) {
	var s Signature
	open := func() (io.ReadCloser, error) { return OpenFile(path) }
	f, err := OpenFile(path + sigSuffix)
	if plain := unpackedName(path); errors.Is(err, fs.ErrNotExist) && plain != path {
		open = func() (io.ReadCloser, error) { return Open(path) }
		f, err = OpenFile(plain + sigSuffix)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return s, nil
	}
	s.There = true
	var text []byte
	if err == nil {
		text, err = io.ReadAll(io.LimitReader(f, mostSig))
		f.Close()
	}
	if err != nil {
		s.Fault = err.Error()
		return s, nil
	}
	sig, err := sshsig.Unarmor(text)
	if err != nil {
		s.Fault = "not a signature in the format of OpenSSH: " + quoteShort([]byte(err.Error()))
		return s, nil
	}
	s.Key = string(bytes.TrimSpace(ssh.MarshalAuthorizedKey(sig.PublicKey)))
	s.Fingerprint = ssh.FingerprintSHA256(sig.PublicKey)
	in, err := open()
	if err != nil {
		return s, fmt.Errorf("logfmt: %w; give the path of a log", err)
	}
	defer in.Close()
	read := &faultKeeper{src: in}
	err = sshsig.Verify(read, sig, sig.PublicKey, sig.HashAlgorithm, sigNamespace)
	switch {
	case read.err != nil:
		return s, fmt.Errorf("logfmt: %w", read.err)
	case errors.Is(err, sshsig.ErrNamespaceMismatch):
		s.Fault = "it was made for " + quoteShort([]byte(sig.Namespace)) + ", not for a file"
	case err != nil:
		s.Fault = "it is not one of these bytes (" + quoteShort([]byte(err.Error())) + ")"
	default:
		s.Good = true
	}
	return s, nil
}

// faultKeeper keeps what went wrong in reading.
type faultKeeper struct {
	src io.Reader
	err error
}

func (r *faultKeeper) Read(p []byte) (int, error) {
	n, err := r.src.Read(p)
	if err != nil && err != io.EOF {
		r.err = err
	}
	return n, err
}
