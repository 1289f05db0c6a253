package logfmt

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// Beside says what a file beside a log says about it, or the log about the
// file.
type Beside string

// What it can say.
const (
	BesideNone    Beside = ""        // there is none
	BesideAgrees  Beside = "agrees"  // it has the name and SHA-256 that it should
	BesideDiffers Beside = "differs" // it has another name or SHA-256
	BesideUnread  Beside = "unread"  // it cannot be read, or is not what it should be
)

// A Link is what a log's head says about another log: the one it goes on from
// (part=chain), comments on (part=addendum) or was salvaged from
// (part=salvage).
type Link struct {
	Part   string `json:"part"`
	Name   string `json:"name"`   // the other's base name, as the head has it: any bytes
	SHA256 string `json:"sha256"` // of its bytes, as the head has it: any bytes
	// Records is how many whole records the other had, as the head has it: any
	// bytes. Only part=chain says it.
	Records string `json:"records,omitempty"`
	State   Beside `json:"state"` // only from VerifyFile: what the file beside is
	Text    string `json:"text"`  // the state in words; fit to be shown
}

// maxLinks bounds what a head can make a verification read.
const maxLinks = 8

// linkOf returns the link in a head record, if it is one.
func linkOf(r *Record) (Link, bool) {
	l := Link{Part: r.Str("part"), SHA256: r.Str("sha256")}
	switch l.Part {
	case "chain":
		l.Name, l.Records = r.Str("predecessor"), r.Str("records")
	case "addendum", "salvage":
		l.Name = r.Str("of")
	default:
		return Link{}, false
	}
	return l, true
}

// check compares the link with the file of that name in dir, or that file
// packed.
func (l *Link) check(dir string) {
	shown := quoteShort([]byte(l.Name))
	// A head is not believed: it can name a file beside it, nothing else.
	if l.Name == "" || l.Name != filepath.Base(l.Name) || !filepath.IsLocal(l.Name) || strings.ContainsAny(l.Name, "/\\\x00") {
		l.State, l.Text = BesideUnread, shown+" is not the name of a file beside this one"
		return
	}
	for _, name := range []string{l.Name, l.Name + packSuffix} {
		path := filepath.Join(dir, name)
		info, err := os.Lstat(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err == nil && !info.Mode().IsRegular() {
			err = errors.New("not a plain file")
		}
		sum, whole := "", ""
		if err == nil {
			sum, whole, err = sumAndCount(path)
		}
		l.State = BesideDiffers
		switch counts := fmt.Sprintf("%s whole records, the head says %s", whole, quoteShort([]byte(l.Records))); {
		case err != nil:
			l.State, l.Text = BesideUnread, fmt.Sprintf("%s cannot be read: %v", shown, err)
		case sum == l.SHA256 && (l.Records == whole || l.Records == ""):
			l.State, l.Text = BesideAgrees, shown+" stands beside it and is the one meant"
		case sum == l.SHA256:
			l.Text = fmt.Sprintf("%s beside it has the SHA-256 that the head says, but %s", shown, counts)
		default:
			l.Text = shown + " beside it has another SHA-256 than the head says: it was altered since, or is another file"
			if l.Records != "" {
				l.Text += "; it has " + counts
			}
		}
		return
	}
	l.State, l.Text = BesideNone, shown+" is not beside it"
}

// sumAndCount returns the SHA-256 of a log's own bytes and how many whole
// records it has.
func sumAndCount(path string) (sum, whole string, err error) {
	f, err := Open(path)
	if err != nil {
		return "", "", err
	}
	defer f.Close()
	r := NewReader(f)
	r.CheckSeal()
	n := uint64(0)
	for r.Next() {
		n++
	}
	return r.SHA256(), strconv.FormatUint(n, 10), r.Err()
}

// SumFile returns the SHA-256 of a log's own bytes, packed or not, in hex.
func SumFile(path string) (string, error) {
	f, err := Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return "", err
	}
	return fmt.Sprintf("%x", sum.Sum(nil)), nil
}

// readBeside compares the report with the checksum file of the log at path. A
// packed log is compared with that of the log it was.
func (rep *Report) readBeside(path string) {
	path = unpackedName(path)
	f, err := OpenFile(path + sumSuffix)
	if errors.Is(err, fs.ErrNotExist) {
		return
	}
	var text []byte
	if err == nil {
		defer f.Close()
		text, err = io.ReadAll(io.LimitReader(f, 64<<10))
	}
	name := filepath.Base(path)
	sum, _, isSum := strings.Cut(string(text), " ")
	switch {
	case err != nil:
		rep.Beside, rep.BesideText = BesideUnread, err.Error()
	case string(text) == sumLine(rep.SHA256, name):
		rep.Beside = BesideAgrees
	case !isSum || len(strings.TrimPrefix(sum, "\\")) != 64:
		rep.Beside, rep.BesideText = BesideUnread, "not a checksum file: "+quoteShort(text)
	case strings.TrimPrefix(sum, "\\") != rep.SHA256:
		rep.Beside, rep.BesideText = BesideDiffers, "another SHA-256"
	default:
		rep.Beside, rep.BesideText = BesideDiffers, "another file's name: "+quoteShort(text[len(sum):])
	}
}
