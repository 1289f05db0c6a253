package export

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

const ms = int64(time.Millisecond)

// began is the day the invented campaign plays on.
var began = time.Date(2026, 4, 12, 9, 2, 11, 0, time.UTC)

// campaign is the invented campaign in the trial file that `hawse new` writes,
// without its comments, so that it is read again and again in less time.
var campaign = sync.OnceValues(func() (*trial.Trial, error) {
	var text []string
	for line := range strings.Lines(trial.Template()) {
		if !strings.HasPrefix(line, "#") {
			text = append(text, line)
		}
	}
	return trial.ParseTrial("trial.toml", []byte(strings.Join(text, "")))
})

// newDry begins a run of that campaign.
func newDry(t testing.TB) *session.Dry {
	t.Helper()
	tr, err := campaign()
	if err != nil {
		t.Fatal(err)
	}
	run, ok := tr.Run("A1")
	if !ok {
		t.Fatal("the template has no run A1")
	}
	d, err := session.NewDry(session.Head{Tool: "hawse/test", Build: "test", Started: began, Mode: "simulated",
		Caption: "invented data", Scale: 1, Trial: tr, File: "trial.toml", Run: run})
	if err != nil {
		t.Fatal(err)
	}
	d.WithJudge, d.Keep = true, true
	for _, src := range []string{session.SrcLoad, session.SrcLine, session.SrcStop} {
		d.Port(0, src, acquire.StateOpen, "")
	}
	d.Port(0, session.SrcScreen, "attached", "")
	d.Port(0, session.SrcRecord, "ok", "")
	return d
}

func director(d *session.Dry, t int64, what, value string) {
	d.Act(t, session.Act{Who: safety.Director, Name: "test", What: what, Value: value}, 7)
}

// lines writes records as a log does; the records left out by skip are not there.
func lines(records []logfmt.Record, skip func(n uint64) bool) []byte {
	var file []byte
	prev := uint32(0)
	for i := range records {
		line, crc := logfmt.AppendRecord(nil, &records[i], prev)
		prev = crc
		if skip == nil || !skip(records[i].N) {
			file = append(file, line...)
		}
	}
	return file
}

// small is a log with one of everything: a count before the rode out is said,
// readings good, over range, garbled and hostile, two frames in one record, a
// lost port.
func small(t testing.TB) []logfmt.Record {
	d := newDry(t)
	d.Clock(500*ms, began.Add(500*time.Millisecond))
	d.Rx(600*ms, session.SrcLoad, []byte("+00100.0 kgf\r\n"))
	d.Rx(650*ms, session.SrcLine, []byte("N +0012000\r\n"))
	director(d, 700*ms, session.ActDepth, "6 m")
	director(d, 710*ms, session.ActPayout, "30 m")
	d.Rx(800*ms, session.SrcLine, []byte("N +0012100\r\n"))
	d.Rx(900*ms, session.SrcLoad, []byte("+00200.0 kgf\r\n+00300.0 kgf\r\n"))
	d.Rx(1000*ms, session.SrcLoad, []byte("+0030\x1b[31m,\"kgf\"\xff\r\n"))
	d.Rx(1100*ms, session.SrcLoad, []byte("=1+1\r\n"))
	d.Rx(1200*ms, session.SrcLoad, []byte("+1234.5 kgf\r\n"))
	d.Rx(1220*ms, session.SrcLoad, []byte("OL\r\n"))
	d.Rx(1250*ms, session.SrcLoad, []byte("+00"))
	d.Port(1300*ms, session.SrcLoad, acquire.StateLost, "unplugged")
	d.Port(1400*ms, session.SrcLoad, acquire.StateOpen, "")
	d.Clock(1500*ms, began.Add(1500*time.Millisecond+12345))
	d.Rx(1600*ms, session.SrcLoad, []byte("-00001.5 kgf\r\n"))
	d.Tick(5600 * ms) // the line is old by now
	d.Rx(5700*ms, session.SrcLoad, []byte("+00400.0 kgf\r\n"))
	director(d, 5800*ms, session.ActEnd, "test")
	d.End(5900 * ms)
	return sealed(d.Records)
}

// sealed gives the end of records what it has in a log.
func sealed(records []logfmt.Record) []logfmt.Record {
	end := &records[len(records)-1]
	before := lines(records[:len(records)-1], nil)
	end.Fields = append(slices.Clone(end.Fields), logfmt.Field{Key: "count", Val: strconv.Itoa(len(records) - 1)},
		logfmt.Field{Key: "bytes", Val: strconv.Itoa(len(before))}, logfmt.Field{Key: "sha256", Val: fmt.Sprintf("%x", sha256.Sum256(before))})
	return records
}

// recorded is a log of a whole pull as the program wrote it.
func recorded(t testing.TB) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "logfmt", "testdata", "recorded.log.zst"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// make writes a table and wants no error.
func table(t testing.TB, log []byte, of Of, to Format) ([]byte, *Result) {
	t.Helper()
	var out bytes.Buffer
	res, err := Write(&out, bytes.NewReader(log), Options{Of: of, To: to, Name: "test.log", Tool: "hawse test"})
	if err != nil {
		t.Fatalf("Write %s as %s: %v", of, to, err)
	}
	return out.Bytes(), res
}

// rowsOf reads CSV back: each row by column name.
func rowsOf(t testing.TB, file []byte) []map[string]string {
	t.Helper()
	all, err := csv.NewReader(bytes.NewReader(file)).ReadAll()
	if err != nil {
		t.Fatalf("the CSV does not read back: %v\n%s", err, file)
	}
	var rows []map[string]string
	for _, fields := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = fields[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// pick shows some columns of each row, for a message.
func pick(rows []map[string]string, columns ...string) string {
	var b strings.Builder
	for _, r := range rows {
		for i, c := range columns {
			if i > 0 {
				b.WriteString(" ")
			}
			fmt.Fprintf(&b, "%s=%s", c, r[c])
		}
		b.WriteByte('\n')
	}
	return b.String()
}
