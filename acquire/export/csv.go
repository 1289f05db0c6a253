package export

import (
	"bufio"
	"encoding/csv"
	"io"
	"strconv"
	"time"

	"hawse/logfmt"
)

// sink writes rows in one format.
type sink interface {
	row(row []value) error
	// close ends the table. about gives what is known of the log by then.
	close(about func() []note) error
}

// note is something that a format may say of the whole table.
type note struct{ key, text string }

type csvSink struct {
	cols   []Column
	buf    *bufio.Writer
	out    *csv.Writer
	fields []string
}

func newCSV(w io.Writer, cols []Column) (*csvSink, error) {
	buf := bufio.NewWriterSize(w, 64<<10)
	s := &csvSink{cols: cols, buf: buf, out: csv.NewWriter(buf), fields: make([]string, len(cols))}
	s.out.UseCRLF = true
	for i, c := range cols {
		s.fields[i] = c.Name
	}
	return s, s.out.Write(s.fields)
}

func (s *csvSink) row(row []value) error {
	for i := range row {
		s.fields[i] = csvText(s.cols[i].Kind, &row[i])
	}
	return s.out.Write(s.fields)
}

func (s *csvSink) close(func() []note) error {
	s.out.Flush()
	if err := s.out.Error(); err != nil {
		return err
	}
	return s.buf.Flush()
}

const wallForm = "2006-01-02T15:04:05.000000000Z"

// csvText is a field as text, "" if it is missing.
func csvText(k Kind, v *value) string {
	if !v.set {
		return ""
	}
	switch k {
	case Int:
		return strconv.FormatInt(v.i, 10)
	case Real:
		return logfmt.FormatFloat(v.f)
	case Seconds:
		return logfmt.FormatNs(v.i)
	case Time:
		return time.Unix(0, v.i).UTC().Format(wallForm)
	case Truth:
		return strconv.FormatBool(v.i != 0)
	}
	return v.s
}
