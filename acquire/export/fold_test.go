package export

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"
	"pgregory.net/rapid"

	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
)

// bitsOf reads a CSV field as the bits of a float; missing is NaN's.
func bitsOf(t testing.TB, s string) uint64 {
	t.Helper()
	if s == "" {
		return math.Float64bits(math.NaN())
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatalf("field %q is no number: %v", s, err)
	}
	return math.Float64bits(f)
}

func bits(f float64) uint64 {
	if math.IsNaN(f) {
		f = math.NaN() // one NaN for all
	}
	return math.Float64bits(f)
}

// unless is f, or NaN where it is not known.
func unless[F ~float64](known bool, f F) float64 {
	if !known {
		return math.NaN()
	}
	return float64(f)
}

type fataler interface {
	Fatalf(string, ...any)
	Helper()
}

// againstFold compares a table with what the fold that plays a log in the screen
// shows after the same record, bit for bit.
func againstFold(t testing.TB, f fataler, log []byte, inParquet bool) {
	f.Helper()
	file, _ := table(t, log, Samples, CSV)
	byN := map[string][]map[string]string{}
	rows := rowsOf(t, file)
	for _, r := range rows {
		byN[r["n"]] = append(byN[r["n"]], r)
	}
	fold := session.NewFold("test")
	src := logfmt.NewSource(bytes.NewReader(log))
	defer src.Close()
	read := logfmt.NewReader(src)
	frames := uint64(0)
	for read.Next() {
		rec := read.Record()
		if err := fold.Apply(rec); err != nil {
			f.Fatalf("fold: %v", err)
		}
		s := fold.Snapshot()
		of := byN[strconv.FormatUint(rec.N, 10)]
		if rec.Kind != logfmt.Rx {
			continue
		}
		if got := s.Load.Good + s.Load.Bad - frames; got != uint64(len(of)) {
			f.Fatalf("record %d: %d frames in the fold, %d rows", rec.N, got, len(of))
		}
		frames = s.Load.Good + s.Load.Bad
		if len(of) == 0 {
			continue
		}
		r := of[len(of)-1]
		good := r["reading"] == "good"
		want := map[string]float64{
			"tension_n":            unless(good && s.Guard.Cell == safety.CellOn, s.Tension.Now),
			"zero_n":               unless(s.Zero.Known, s.Zero.Force),
			"hauled_m":             unless(s.Haul.Known, s.Haul.X),
			"hauled_in_stage_m":    unless(s.Haul.Known && s.Guard.HasStageX, s.Haul.InStage),
			"rode_out_m":           unless(s.Haul.Known, s.Haul.RodeOut),
			"speed_m_per_s":        unless(s.Haul.Known, s.Haul.Speed),
			"depth_m":              unless(s.Haul.DepthOK, s.Haul.Depth),
			"scope_ratio":          unless(s.Haul.ScopeOK, s.Haul.Scope),
			"scope_by_depth_ratio": unless(s.Haul.Known && s.Haul.DepthOK, s.Haul.Scope2),
		}
		if r["reading"] == "good" || r["reading"] == "over-range" {
			want["indicated_n"] = float64(s.Tension.Indicated)
		}
		for name, v := range want {
			if bitsOf(t, r[name]) != bits(v) {
				f.Fatalf("record %d: column %s is %q, the fold has %v", rec.N, name, r[name], v)
			}
		}
		if r["stage"] != s.Guard.Stage.String() || r["winch_order"] != s.Guard.Order.String() || r["phase"] != "" && r["phase"] != s.Phase.String() {
			f.Fatalf("record %d: stage %q, order %q, phase %q; the fold has %v, %v, %v", rec.N, r["stage"], r["winch_order"], r["phase"],
				s.Guard.Stage, s.Guard.Order, s.Phase)
		}
	}
	if inParquet {
		sameInParquet(t, f, log, rows)
	}
}

// sameInParquet compares every field of the Parquet table with the CSV's.
func sameInParquet(t testing.TB, f fataler, log []byte, rows []map[string]string) {
	f.Helper()
	file, _ := table(t, log, Samples, Parquet)
	p, err := parquet.OpenFile(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		f.Fatalf("the Parquet does not open: %v", err)
	}
	cols, err := Columns(Samples)
	if err != nil {
		f.Fatalf("%v", err)
	}
	at := 0
	for _, group := range p.RowGroups() {
		in := group.Rows()
		buf := make([]parquet.Row, 100)
		for {
			n, err := in.ReadRows(buf)
			for _, row := range buf[:n] {
				for i, v := range row {
					if got, want := asCSV(cols[i].Kind, v), rows[at][cols[i].Name]; got != want && !sameSeconds(t, cols[i].Kind, v, want) {
						f.Fatalf("row %d: column %s is %q in Parquet, %q in CSV", at, cols[i].Name, got, want)
					}
				}
				at++
			}
			if err == io.EOF {
				break
			}
			if err != nil {
				f.Fatalf("row %d of the Parquet: %v", at, err)
			}
		}
		in.Close()
	}
	if at != len(rows) {
		f.Fatalf("%d rows in Parquet, %d in CSV", at, len(rows))
	}
}

// sameSeconds says whether a float is the one that a decimal text gives.
func sameSeconds(t testing.TB, k Kind, v parquet.Value, text string) bool {
	return k == Seconds && !v.IsNull() && text != "" && math.Float64bits(v.Double()) == bitsOf(t, text)
}

func asCSV(k Kind, v parquet.Value) string {
	switch {
	case v.IsNull():
		return ""
	case k == Real || k == Seconds:
		return logfmt.FormatFloat(v.Double())
	case k == Time:
		return time.Unix(0, v.Int64()).UTC().Format(wallForm)
	case k == Truth:
		return strconv.FormatBool(v.Boolean())
	case k == Int:
		return strconv.FormatInt(v.Int64(), 10)
	}
	return string(v.ByteArray())
}

func TestTableIsTheFold(t *testing.T) {
	againstFold(t, t, lines(small(t), nil), true)
	againstFold(t, t, recorded(t), true)
}

// TestTableIsTheFoldOfAnything: whatever instruments send and people do, and
// whatever is gone of the log, the table is what the fold has.
func TestTableIsTheFoldOfAnything(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := newDry(t)
		now, counts := int64(0), 12000
		acts := []struct{ what, value string }{{session.ActDepth, "6 m"}, {session.ActPayout, "30 m"}, {session.ActZero, ""}, {session.ActStop, ""},
			{session.ActCellOff, ""}, {session.ActCellOn, ""}, {session.ActPass, "20 m"}, {session.ActMark, "thruster change"}}
		for range rapid.IntRange(1, 40).Draw(rt, "inputs") {
			now += rapid.Int64Range(0, 400).Draw(rt, "ms") * ms
			switch rapid.IntRange(0, 9).Draw(rt, "what") {
			case 0:
				d.Clock(now, began.Add(time.Duration(now)))
			case 1:
				a := rapid.SampledFrom(acts).Draw(rt, "act")
				director(d, now, a.what, a.value)
			case 2:
				d.Port(now, session.SrcLoad, rapid.SampledFrom([]string{"open", "lost"}).Draw(rt, "state"), "")
			case 3, 4:
				counts += rapid.IntRange(-200, 200).Draw(rt, "counts")
				d.Rx(now, session.SrcLine, fmt.Appendf(nil, "N +%07d\r\n", counts))
			case 5:
				d.Rx(now, session.SrcLoad, rapid.SliceOfN(rapid.Byte(), 0, 20).Draw(rt, "bytes"))
			default:
				var raw []byte
				for range rapid.IntRange(1, 3).Draw(rt, "frames") {
					raw = fmt.Appendf(raw, "%+07.1f kgf\r\n", rapid.Float64Range(-1200, 1200).Draw(rt, "kgf"))
				}
				d.Rx(now, session.SrcLoad, raw)
			}
		}
		last := d.Records[len(d.Records)-1].N
		head := uint64(0) // without it nothing can be understood
		for _, r := range d.Records {
			if r.Kind == logfmt.Head {
				head = r.N
			}
		}
		gone := rapid.Uint64Range(head+1, 2*last).Draw(rt, "gone")
		againstFold(t, rt, lines(d.Records, func(n uint64) bool { return n == gone }), rapid.IntRange(0, 4).Draw(rt, "parquet") == 0)
	})
}

// TestSecondsRoundOnce: the float of a time is the one that its decimal text
// gives.
func TestSecondsRoundOnce(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		ns := rapid.Int64().Draw(rt, "ns")
		want, err := strconv.ParseFloat(logfmt.FormatNs(ns), 64)
		if err != nil || seconds(ns) != want {
			rt.Fatalf("seconds(%d) = %v, want %v, %v", ns, seconds(ns), want, err)
		}
	})
}

// TestEscapeIsTheLogs: bytes from outside stand in a table as in the log.
func TestEscapeIsTheLogs(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := string(rapid.SliceOf(rapid.Byte()).Draw(rt, "bytes"))
		line, _ := logfmt.AppendRecord(nil, &logfmt.Record{N: 1, Kind: logfmt.Rx, Fields: []logfmt.Field{{Key: "raw", Val: s}}}, 0)
		if want := `raw="` + string(logfmt.AppendEscaped(nil, s)) + `" prev=`; !bytes.Contains(line, []byte(want)) {
			rt.Fatalf("escape(%q): want %s in %s", s, want, line)
		}
		if got := unescape(t, cell(s)); got != s {
			rt.Fatalf("cell(%q) reads back as %q", s, got)
		}
	})
}
