package main

import (
	"bufio"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"hawse/cmd/hawse/cli"
	"hawse/trial/report"
)

// reportList is the file that says what a report has written into its folder, as
// sha256sum writes and checks it.
const reportList = "report.sha256"

// mostListed bounds what is read of a list: far past any report.
const mostListed = 16 << 20

// reportFiles gathers the files of a report as they are written.
type reportFiles struct {
	mu   sync.Mutex
	sums map[string][sha256.Size]byte // by name
}

// to writes the files of a report into a folder, each whole or not at all.
func (w *reportFiles) to(dir string) report.Put {
	return func(name string, write func(io.Writer) error) error {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return cli.Exit(cli.ExitStart, "cannot make the report's folder: %w", err)
		}
		tmp := path + ".part"
		f, err := os.Create(tmp)
		sum := sha256.New()
		if err == nil {
			err = errors.Join(write(io.MultiWriter(f, sum)), f.Close())
		}
		if err != nil {
			os.Remove(tmp)
			return fmt.Errorf("cannot write the report: %w; make room or say another folder with --out", err)
		}
		if err := os.Rename(tmp, path); err != nil {
			return fmt.Errorf("cannot write the report: %w", err)
		}
		w.mu.Lock()
		defer w.mu.Unlock()
		w.sums[name] = [sha256.Size]byte(sum.Sum(nil))
		return nil
	}
}

// list writes the list, and puts it in the place of the one before.
func (w *reportFiles) list(dir string) error {
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(w.sums)) {
		fmt.Fprintf(&b, "%x  %s\n", w.sums[name], name)
	}
	tmp := filepath.Join(dir, reportList+".part")
	if err := os.WriteFile(tmp, []byte(b.String()), 0o644); err != nil {
		return err
	}
	return os.Rename(tmp, filepath.Join(dir, reportList))
}

// leftBehind removes what an earlier report has written there and this one has
// not: a file that stands in its list, below the folder, and is as it was written.
// What was changed since is somebody's, and is told.
func (w *reportFiles) leftBehind(dir string, before map[string]string) (kept []string, err error) {
	root, err := os.OpenRoot(dir) // no name and no link leads out of it
	if err != nil {
		return nil, err
	}
	defer root.Close()
	for name, sum := range before {
		if _, again := w.sums[name]; again {
			continue
		}
		info, err := root.Lstat(name)
		if err != nil || !info.Mode().IsRegular() {
			continue // gone, or put in its place by somebody
		}
		is, err := sumIn(root, name)
		if err != nil || is != sum {
			kept = append(kept, name)
			continue
		}
		if err := root.Remove(name); err != nil {
			kept = append(kept, name)
		}
	}
	slices.Sort(kept)
	return kept, nil
}

func sumIn(root *os.Root, name string) (string, error) {
	f, err := root.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	_, err = io.Copy(sum, f)
	return fmt.Sprintf("%x", sum.Sum(nil)), err
}

// reportListed is what the list of an earlier report has, names to sums; nothing where
// there is none. A line that is none of ours, or names what no report writes, is
// passed over.
func reportListed(dir string) map[string]string {
	f, err := os.Open(filepath.Join(dir, reportList))
	if err != nil {
		return nil
	}
	defer f.Close()
	out := map[string]string{}
	for s := bufio.NewScanner(io.LimitReader(f, mostListed)); s.Scan(); {
		sum, name, ok := strings.Cut(s.Text(), "  ")
		in, base := path.Split(name)
		ours := in == "plots/" || in == "tables/" || in == "" && (base == "report.html" || base == "report.md")
		if ok && ours && len(sum) == 2*sha256.Size && filepath.IsLocal(filepath.FromSlash(name)) && base != "" {
			out[name] = sum
		}
	}
	return out
}
