package export

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/logfmt"
)

// A Job is one log and the file to be made of it.
type Job struct {
	Log string // path
	Out string // slash-separated, inside the folder
}

// FileError says that a file of ours cannot be made.
type FileError struct {
	Name string
	Do   string // what to do
	Err  error
}

func (e *FileError) Error() string {
	return fmt.Sprintf("%s: %v; %s", acquire.Visible([]byte(e.Name)), e.Err, e.Do)
}

// Unwrap returns the system's error.
func (e *FileError) Unwrap() error { return e.Err }

// OutName is the name of the file made of a log: that of the log without .log or
// .log.zst, the table, the format.
func OutName(log string, o Options) string {
	name := strings.TrimSuffix(strings.TrimSuffix(log, ".zst"), ".log")
	return name + "." + string(o.Of) + "." + string(o.To)
}

// Collide returns an error if two jobs would make the same file, also where a
// file system takes upper and lower case for the same.
func Collide(jobs []Job) error {
	by := make(map[string]string, len(jobs))
	for _, j := range jobs {
		key := strings.ToLower(j.Out)
		if other, ok := by[key]; ok {
			return fmt.Errorf("%s and %s would both become %s; export them into two folders",
				acquire.Visible([]byte(other)), acquire.Visible([]byte(j.Log)), acquire.Visible([]byte(j.Out)))
		}
		by[key] = j.Log
	}
	return nil
}

// Folder is where files are made. Nothing outside it can be, whatever the names.
type Folder struct {
	root  *os.Root
	force bool
}

// OpenFolder opens a folder, making it if it is not there. force has files
// replaced that exist.
func OpenFolder(dir string, force bool) (*Folder, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, &FileError{dir, "give a folder that can be made", err}
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, &FileError{dir, "give a folder that can be written to", err}
	}
	return &Folder{root, force}, nil
}

// Close closes the folder.
func (f *Folder) Close() error { return f.root.Close() }

// isRecord says whether a name is one that the record itself may have.
func isRecord(name string) bool {
	for _, end := range []string{".log", ".log.zst", ".sha256", ".sig"} {
		if strings.HasSuffix(strings.ToLower(name), end) {
			return true
		}
	}
	return false
}

// Write makes one file: whole under its name, or not at all. A log is never
// replaced. It returns a [*FileError], or what write returned.
func (f *Folder) Write(name string, write func(io.Writer) error) error {
	name = filepath.FromSlash(name)
	fail := func(do string, err error) error { return &FileError{filepath.Join(f.root.Name(), name), do, err} }
	if isRecord(name) {
		return fail("give the file another ending", errors.New("a table is not put where the record may lie"))
	}
	if info, err := f.root.Stat(name); err == nil && !info.IsDir() && !info.Mode().IsRegular() {
		return f.stream(name, write)
	}
	if _, err := f.root.Lstat(name); err == nil {
		switch {
		case !f.force:
			return fail("choose another name, or --force to replace it", fs.ErrExist)
		case f.holdsLog(name):
			return fail("a log is never replaced; choose another name", errors.New("it is a log"))
		}
	}
	if dir := filepath.Dir(name); dir != "." {
		if err := f.root.MkdirAll(dir, 0o777); err != nil {
			return fail("give a folder that can be written to", err)
		}
	}
	tmp, part, err := f.temp(name)
	if err != nil {
		return fail("give a folder that can be written to", err)
	}
	err = write(tmp)
	if cerr := tmp.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		if err = f.settle(part, name); err != nil {
			err = fail("choose another name, or --force to replace it", err)
		}
	}
	if err != nil {
		f.root.Remove(part)
	}
	return err
}

// settle gives a finished file its name.
func (f *Folder) settle(part, name string) error {
	if !f.force {
		err := f.root.Link(part, name) // unlike a rename it replaces nothing
		if err == nil {
			return f.root.Remove(part)
		}
		if errors.Is(err, fs.ErrExist) {
			return err
		}
		// There are no links here: look, and rename.
		if _, err := f.root.Lstat(name); err == nil {
			return fs.ErrExist
		}
	}
	return f.root.Rename(part, name)
}

// stream writes to what is no file: a device, a pipe.
func (f *Folder) stream(name string, write func(io.Writer) error) error {
	out, err := f.root.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return &FileError{filepath.Join(f.root.Name(), name), "choose another name", err}
	}
	err = write(out)
	if cerr := out.Close(); err == nil {
		err = cerr
	}
	return err
}

func (f *Folder) temp(name string) (out *os.File, part string, err error) {
	for range 100 {
		part = filepath.Join(filepath.Dir(name), fmt.Sprintf(".export-%08x.part", rand.Uint32()))
		out, err = f.root.OpenFile(part, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o666)
		if !errors.Is(err, fs.ErrExist) {
			break
		}
	}
	return out, part, err
}

// holdsLog says whether a file holds a record of ours, whatever its name.
func (f *Folder) holdsLog(name string) bool {
	in, err := f.root.Open(name)
	if err != nil {
		return false // what cannot be read is replaced or not by the system's leave
	}
	defer in.Close()
	src := logfmt.NewSource(in)
	defer src.Close()
	return logfmt.NewReader(io.LimitReader(src, logfmt.MaxLine)).Next()
}

// Done is a job that is over.
type Done struct {
	Job
	Res *Result // nil if the log could not be opened
	Err error
}

// All does jobs, so many at once, and gives each in the order of the jobs as
// soon as that order allows. It returns when all are given; once ctx ends the
// rest fail with its error.
func All(ctx context.Context, to *Folder, jobs []Job, o Options, workers int, give func(Done)) {
	results := make([]chan Done, len(jobs))
	for i := range results {
		results[i] = make(chan Done, 1)
	}
	next := make(chan int)
	var wg sync.WaitGroup
	for range max(min(workers, len(jobs)), 1) {
		wg.Go(func() {
			for i := range next {
				results[i] <- to.do(ctx, jobs[i], o)
			}
		})
	}
	wg.Go(func() {
		defer close(next)
		for i := range jobs {
			next <- i
		}
	})
	for i := range results {
		give(<-results[i])
	}
	wg.Wait()
}

func (f *Folder) do(ctx context.Context, j Job, o Options) Done {
	d := Done{Job: j}
	if d.Err = ctx.Err(); d.Err != nil {
		return d
	}
	d.Err = f.Write(j.Out, func(w io.Writer) (err error) {
		d.Res, err = File(ctx, w, j.Log, o)
		return err
	})
	return d
}

// File is [Write] for the log at a path.
func File(ctx context.Context, w io.Writer, log string, o Options) (*Result, error) {
	in, err := logfmt.Open(log)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	o.Name = path.Base(filepath.ToSlash(log))
	res, err := Write(w, &untilDone{ctx, in}, o)
	if ctx.Err() != nil {
		return res, ctx.Err()
	}
	if err != nil {
		return res, fmt.Errorf("%s: %w", acquire.Visible([]byte(log)), err)
	}
	return res, nil
}

// IsAddendum says whether a log only comments on another one.
func IsAddendum(log string) bool {
	o, err := session.ReadOpening(log)
	return err == nil && o.Part == "addendum"
}

// untilDone is a reader that ends when ctx does.
type untilDone struct {
	ctx context.Context
	r   io.Reader
}

func (u *untilDone) Read(p []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	return u.r.Read(p)
}
