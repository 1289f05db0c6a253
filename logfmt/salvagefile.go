package logfmt

import (
	"bufio"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"path/filepath"
	"strconv"
)

// ErrNothingWhole says that a log has not one whole record, so that there is
// nothing to make a new log of.
var ErrNothingWhole = errors.New("not one whole record in it")

// SalvageFile salvages the log at path, packed or not, into a new log at to and
// writes its checksum file beside it; see [Salvage.WriteLog] for what stands in
// it. It returns what was found, and the SHA-256 of the new log. on is the file
// system written to, nil for [OS].
//
// The log at path is only read. If to, or to with .sha256, exists, nothing is
// touched and the error is fs.ErrExist. If there is no whole record nothing is
// written and the error is [ErrNothingWhole].
func SalvageFile(path, to string, on FS) (*Salvage, string, error) {
	if on == nil {
		on = OS
	}
	s, err := NewSalvage(func() (io.ReadCloser, error) { return Open(path) })
	if err != nil {
		return nil, "", fmt.Errorf("%s: %w", path, err)
	}
	if s.Report.Records == 0 {
		return s, "", fmt.Errorf("%s: %w", path, ErrNothingWhole)
	}
	for _, name := range []string{to, to + sumSuffix} {
		exists, err := on.Exists(name)
		if err == nil && exists {
			err = fs.ErrExist
		}
		if err != nil {
			return s, "", &Fault{Path: name, Op: "create", Err: err, Do: "nothing is ever overwritten; choose another name for the new log"}
		}
	}
	sum := ""
	err = writeNew(on, to, func(w io.Writer) error {
		sum, err = s.WriteLog(w, unpackedName(filepath.Base(path)))
		return err
	})
	if err != nil {
		return s, "", err
	}
	err = writeNew(on, to+sumSuffix, func(w io.Writer) error {
		_, err := io.WriteString(w, sumLine(sum, filepath.Base(to)))
		return err
	})
	return s, sum, err
}

// writeNew makes a file that must not exist and brings it and its name to the
// disk.
func writeNew(on FS, path string, write func(io.Writer) error) error {
	fault := func(op string, err error, do string) error {
		return &Fault{Path: path, Op: op, Err: err, Do: do}
	}
	const again = "the file is not complete: remove it, mend the disk or choose another, and try again"
	file, err := on.Create(path)
	if err != nil {
		return fault("create", err, "choose another name, in a folder that can be written to")
	}
	buf := bufio.NewWriterSize(file, chunkBytes)
	err = write(buf)
	if err == nil {
		err = buf.Flush()
	}
	if err != nil {
		return errors.Join(fault("write", err, again), file.Close())
	}
	if err := file.Sync(); err != nil {
		return errors.Join(fault("fsync", err, again), file.Close())
	}
	if err := file.Close(); err != nil {
		return fault("close", err, again)
	}
	if err := on.SyncDir(filepath.Dir(path)); err != nil {
		return fault("fsync", err, "the file's name may not survive a power cut")
	}
	return nil
}

// WriteLog writes a new log of the whole records and returns its SHA-256. of
// is the base name of the log they are from. First comes a record n=0 of the
// kind head:
//
//	part=salvage of=NAME sha256=HEX whole=N missing=N
//
// with the SHA-256 of the log they are from, and how many records are whole and
// how many numbers are missing. Then the records follow: number, time and
// fields as they were, prev and crc anew.
//
// If the last of them is an end, it seals the new log: its count, bytes and
// sha256 become was_count, was_bytes and was_sha256, and those of the new log
// take their place. Without one the new log is cut short as the old one was.
func (s *Salvage) WriteLog(w io.Writer, of string) (sum string, err error) {
	for _, err := range s.Records() { // to count
		if err != nil {
			return "", err
		}
	}
	whole, missing := s.Whole, s.Missing
	out := salvageWriter{w: w, sum: sha256.New()}
	err = out.put(&Record{T: s.Report.FirstT, Kind: Head, Fields: []Field{{"part", "salvage"}, {"of", of}, {"sha256", s.Report.SHA256},
		{"whole", strconv.FormatUint(whole, 10)}, {"missing", strconv.FormatUint(missing, 10)}}})
	for rec, fault := range s.Records() {
		if err == nil {
			err = fault
		}
		if err != nil {
			return "", err
		}
		if rec.Kind == End && s.Whole == whole {
			rec.Fields = out.seal(rec.Fields)
		}
		err = out.put(&rec)
	}
	return fmt.Sprintf("%x", out.sum.Sum(nil)), err
}

// A salvageWriter writes the lines of a new log.
type salvageWriter struct {
	w     io.Writer
	sum   hash.Hash
	line  []byte
	prev  uint32
	lines int
	bytes int64
}

func (o *salvageWriter) put(r *Record) error {
	o.line, o.prev = AppendRecord(o.line[:0], r, o.prev)
	if len(o.line) > MaxLine {
		return fmt.Errorf("logfmt: record n=%d would take %d bytes, a line has at most %d", r.N, len(o.line), MaxLine)
	}
	o.sum.Write(o.line)
	o.lines++
	o.bytes += int64(len(o.line))
	_, err := o.w.Write(o.line)
	return err
}

// seal returns the fields of an end for what was written up to now.
func (o *salvageWriter) seal(was []Field) []Field {
	fields := make([]Field, 0, len(was)+3)
	for _, f := range was {
		switch f.Key {
		case "count", "bytes", "sha256":
			f.Key = "was_" + f.Key
		case "was_count", "was_bytes", "was_sha256":
			continue // of a log salvaged before: that log has them
		}
		fields = append(fields, f)
	}
	return append(fields,
		Field{"count", strconv.Itoa(o.lines)},
		Field{"bytes", strconv.FormatInt(o.bytes, 10)},
		Field{"sha256", fmt.Sprintf("%x", o.sum.Sum(nil))})
}
