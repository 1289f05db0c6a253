package logfmt

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
)

// sumSuffix makes the name of a log's checksum file.
const sumSuffix = ".sha256"

// writeEnd writes the sealing line; false if the log was given up.
func (l *Log) writeEnd(end *Record) bool {
	fields := make([]Field, 0, len(end.Fields)+3)
	for _, f := range end.Fields {
		switch f.Key {
		case "count", "bytes", "sha256": // ours to say
		default:
			fields = append(fields, f)
		}
	}
	l.mu.Lock()
	bytes := l.bytes
	l.mu.Unlock()
	fields = append(fields,
		Field{"count", strconv.Itoa(l.lines)},
		Field{"bytes", strconv.FormatInt(bytes, 10)},
		Field{"sha256", fmt.Sprintf("%x", l.sum.Sum(nil))})
	batch := []Record{{T: end.T, N: end.N, Kind: End, Fields: fields}}
	l.mu.Lock()
	l.flight, l.flightDone = batch, 0
	l.queueBytes += memory(&batch[0])
	l.mu.Unlock()
	return l.writeBatch(batch)
}

// writeSum writes the checksum file beside the sealed log.
func (l *Log) writeSum() error {
	name := l.path + sumSuffix
	rest := []byte(sumLine(fmt.Sprintf("%x", l.sum.Sum(nil)), filepath.Base(l.path)))
	fault := func(op string, err error) error {
		return &Fault{Path: name, Op: op, Err: err,
			Do: "the log itself is sealed and closed; make this file with sha256sum once the disk is well"}
	}
	file, err := l.fs.Create(name)
	for err != nil {
		if errors.Is(err, fs.ErrExist) {
			return fault("create", err)
		}
		l.standing(name, "create", err)
		if !l.pause() {
			return fault("create", err)
		}
		file, err = l.fs.Create(name)
	}
	for len(rest) > 0 {
		n, err := file.Write(rest)
		n = min(max(n, 0), len(rest))
		if n < len(rest) && err == nil {
			err = io.ErrShortWrite
		}
		rest = rest[n:]
		l.standing(name, "write", err)
		if err != nil && n == 0 && !l.pause() {
			return errors.Join(fault("write", err), file.Close())
		}
	}
	l.standing(name, "", nil)
	if err := file.Sync(); err != nil {
		return errors.Join(fault("fsync", err), file.Close())
	}
	if err := file.Close(); err != nil {
		return fault("close", err)
	}
	if err := l.fs.SyncDir(filepath.Dir(name)); err != nil {
		return fault("fsync", err)
	}
	return nil
}

// standing shows a fault of the checksum file in Status.
func (l *Log) standing(name, op string, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.setRefused(op, err)
	if f, ok := l.refused.(*Fault); ok {
		f.Path, f.At = name, 0
		f.Do = "the log itself is sealed; this is tried again; make room or mend the disk"
	}
}

// sumLine is the line of a checksum file as sha256sum writes and reads it: a
// name with a backslash, CR or LF has these escaped and a backslash before the
// line.
func sumLine(sum, name string) string {
	if escaped := sumEscape.Replace(name); escaped != name {
		return "\\" + sum + "  " + escaped + "\n"
	}
	return sum + "  " + name + "\n"
}

var sumEscape = strings.NewReplacer("\\", `\\`, "\n", `\n`, "\r", `\r`)
