package export

import (
	"io"
	"reflect"
	"strconv"

	"github.com/parquet-go/parquet-go"

	"hawse/logfmt"
)

const (
	// groupRows bounds what is held in memory of a table that is being written.
	groupRows = 1 << 16
	batchRows = 512
)

type parquetSink struct {
	cols  []Column
	out   *parquet.GenericWriter[any]
	batch []parquet.Row
	store []parquet.Value // room for a batch
}

func newParquet(w io.Writer, of Of, cols []Column) *parquetSink {
	s := &parquetSink{cols: cols, batch: make([]parquet.Row, 0, batchRows), store: make([]parquet.Value, batchRows*len(cols)),
		out: parquet.NewGenericWriter[any](w, parquet.NewSchema(string(of), newSheet(cols)), parquet.Compression(&parquet.Zstd),
			parquet.MaxRowsPerRowGroup(groupRows), parquet.CreatedBy("hawse", "", ""))}
	for _, c := range cols {
		s.out.SetKeyValueMetadata("hawse.unit."+c.Name, c.Unit)
		s.out.SetKeyValueMetadata("hawse.about."+c.Name, c.About)
	}
	return s
}

func (s *parquetSink) row(row []value) error {
	k := len(s.batch) * len(row)
	into := s.store[k : k+len(row) : k+len(row)]
	for i := range row {
		into[i] = parquetValue(s.cols[i].Kind, &row[i], i)
	}
	if s.batch = append(s.batch, into); len(s.batch) < batchRows {
		return nil
	}
	return s.flush()
}

func (s *parquetSink) flush() error {
	_, err := s.out.WriteRows(s.batch)
	s.batch = s.batch[:0]
	return err
}

func (s *parquetSink) close(about func() []note) error {
	if err := s.flush(); err != nil {
		return err
	}
	for _, n := range about() {
		s.out.SetKeyValueMetadata("hawse."+n.key, n.text)
	}
	return s.out.Close()
}

func parquetValue(k Kind, v *value, column int) parquet.Value {
	if !v.set {
		return parquet.NullValue().Level(0, 0, column)
	}
	var p parquet.Value
	switch k {
	case Real:
		p = parquet.DoubleValue(v.f)
	case Seconds:
		p = parquet.DoubleValue(seconds(v.i))
	case Text:
		p = parquet.ByteArrayValue([]byte(v.s))
	case Truth:
		p = parquet.BooleanValue(v.i != 0)
	default:
		p = parquet.Int64Value(v.i)
	}
	return p.Level(0, 1, column)
}

// seconds is the 64-bit float next to so many nanoseconds: the one that the
// decimal text of them gives too.
func seconds(ns int64) float64 {
	if -1<<53 < ns && ns < 1<<53 {
		return float64(ns) / 1e9 // both exact, so rounded once
	}
	f, err := strconv.ParseFloat(logfmt.FormatNs(ns), 64)
	if err != nil {
		panic(err) // every time reads back
	}
	return f
}

// sheet is a schema whose columns keep their order.
type sheet struct {
	parquet.Group
	fields []parquet.Field
}

func newSheet(cols []Column) *sheet {
	s := &sheet{Group: parquet.Group{}}
	for _, c := range cols {
		s.Group[c.Name] = nodeOf(c)
	}
	byName := map[string]parquet.Field{}
	for _, f := range s.Group.Fields() {
		byName[f.Name()] = f
	}
	for _, c := range cols {
		s.fields = append(s.fields, byName[c.Name])
	}
	return s
}

// Fields implements [parquet.Node].
func (s *sheet) Fields() []parquet.Field { return s.fields }

// GoType implements [parquet.Node]. Rows are not read into a struct.
func (s *sheet) GoType() reflect.Type { return s.Group.GoType() }

func nodeOf(c Column) parquet.Node {
	var n parquet.Node
	switch c.Kind {
	case Int:
		n = parquet.Encoded(parquet.Int(64), &parquet.DeltaBinaryPacked)
	case Time:
		n = parquet.Encoded(parquet.Timestamp(parquet.Nanosecond), &parquet.DeltaBinaryPacked)
	case Real, Seconds:
		n = parquet.Leaf(parquet.DoubleType)
	case Truth:
		n = parquet.Leaf(parquet.BooleanType)
	default:
		n = parquet.String()
		if c.Name != "raw" { // few words, many times
			n = parquet.Encoded(n, &parquet.RLEDictionary)
		}
	}
	return parquet.Optional(n)
}
