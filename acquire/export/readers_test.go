//go:build readers

package export

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// These tests read the tables with programs that share no code with this one.
// They need sqlite3, and for Parquet node with npm, which fetches the reader that
// testdata/readers/package-lock.json names.

func program(t *testing.T, dir, name string, args ...string) []byte {
	t.Helper()
	c := exec.Command(name, args...)
	c.Dir = dir
	var said bytes.Buffer
	c.Stderr = &said
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%s %q: %v\n%s", name, args, err, said.Bytes())
	}
	return out
}

// TestReadersSQLite imports both tables into SQLite and has every field back to
// the letter, and every number as the same 64-bit float.
func TestReadersSQLite(t *testing.T) {
	for _, of := range []Of{Samples, Frames} {
		for name, log := range map[string][]byte{"small": lines(small(t), nil), "recorded": recorded(t)} {
			file, _ := table(t, log, of, CSV)
			dir := t.TempDir()
			put(t, filepath.Join(dir, "t.csv"), string(file))
			out := program(t, dir, "sqlite3", ":memory:", "-cmd", ".mode csv", "-cmd", ".import t.csv t", "-cmd", ".mode json", "select * from t")
			var got []map[string]string
			if err := json.Unmarshal(out, &got); err != nil {
				t.Fatalf("%s of %s: %v\n%.300s", of, name, err, out)
			}
			want := rowsOf(t, file)
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("%s of %s: SQLite has other fields (-want +got):\n%s", of, name, diff)
			}
			asReals(t, dir, of, want)
		}
	}
}

// asReals has SQLite read the numbers as its own floats.
func asReals(t *testing.T, dir string, of Of, rows []map[string]string) {
	cols, err := Columns(of)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cols {
		if c.Kind != Real {
			continue
		}
		// 17 digits tell every 64-bit float from the next.
		out := program(t, dir, "sqlite3", ":memory:", "-cmd", ".mode csv", "-cmd", ".import t.csv t",
			fmt.Sprintf(`select printf('%%!.17g', cast("%[1]s" as real)) from t where "%[1]s" <> ''`, c.Name))
		got := strings.Fields(string(out))
		for _, r := range rows {
			if r[c.Name] == "" {
				continue
			}
			want := math.Float64frombits(bitsOf(t, r[c.Name]))
			if len(got) == 0 {
				t.Fatalf("%s: SQLite has too few numbers", c.Name)
			}
			f, err := strconv.ParseFloat(strings.Trim(got[0], `"`), 64)
			if err != nil || math.Abs(f-want) > 1e-15*math.Abs(want) { // SQLite's own reading of decimals is not always rounded right
				t.Fatalf("%s: SQLite has %s, want %v", c.Name, got[0], want)
			}
			got = got[1:]
		}
	}
}

// TestReadersParquet reads both tables with a Parquet reader written in another
// language: floats agree to the bit, times to the nanosecond, and what is missing
// is null.
func TestReadersParquet(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"package.json", "package-lock.json", "parquet.mjs"} {
		b, err := os.ReadFile(filepath.Join("testdata", "readers", name))
		if err != nil {
			t.Fatal(err)
		}
		put(t, filepath.Join(dir, name), string(b))
	}
	program(t, dir, "npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund")
	for _, of := range []Of{Samples, Frames} {
		for name, log := range map[string][]byte{"small": lines(small(t), nil), "recorded": recorded(t)} {
			inCSV, _ := table(t, log, of, CSV)
			file, res := table(t, log, of, Parquet)
			put(t, filepath.Join(dir, "t.parquet"), string(file))
			foreign(t, fmt.Sprintf("%s of %s", of, name), of, program(t, dir, "node", "parquet.mjs", "t.parquet"), rowsOf(t, inCSV), res)
		}
	}
}

func foreign(t *testing.T, what string, of Of, out []byte, rows []map[string]string, res *Result) {
	t.Helper()
	in := bufio.NewScanner(bytes.NewReader(out))
	in.Buffer(nil, 1<<24)
	var head struct {
		Columns []struct{ Name, Type, Logical string }
		Notes   map[string]string
		Rows    int
	}
	if !in.Scan() {
		t.Fatalf("%s: nothing read", what)
	}
	if err := json.Unmarshal(in.Bytes(), &head); err != nil {
		t.Fatal(err)
	}
	cols, err := Columns(of)
	if err != nil {
		t.Fatal(err)
	}
	if head.Rows != len(rows) || len(head.Columns) != len(cols) {
		t.Fatalf("%s: %d rows of %d columns, want %d of %d", what, head.Rows, len(head.Columns), len(rows), len(cols))
	}
	for i, c := range cols {
		if head.Columns[i].Name != c.Name || head.Notes["hawse.unit."+c.Name] != c.Unit || head.Notes["hawse.about."+c.Name] != c.About {
			t.Errorf("%s: column %d is %v with unit %q, want %s, %q", what, i, head.Columns[i], head.Notes["hawse.unit."+c.Name], c.Name, c.Unit)
		}
	}
	for key, want := range map[string]string{"table": string(of), "log": "test.log", "log_sha256": res.SHA256, "run": "A1", "whole": "true", "seal": "its seal holds", "damage": "", "caption": res.Caption} {
		if got := head.Notes["hawse."+key]; got != want {
			t.Errorf("%s: metadata hawse.%s is %q, want %q", what, key, got, want)
		}
	}
	if !strings.Contains(head.Notes["hawse.trial"], "[load]") || !strings.Contains(head.Notes["hawse.head"], `"part":"run"`) {
		t.Errorf("%s: the metadata lacks the trial file or the head", what)
	}
	for at, want := range rows {
		var got []any
		if !in.Scan() || json.Unmarshal(in.Bytes(), &got) != nil {
			t.Fatalf("%s: row %d is not there: %s", what, at, in.Bytes())
		}
		for i, c := range cols {
			if shown := foreignText(t, c.Kind, want[c.Name]); got[i] != shown {
				t.Fatalf("%s: row %d, column %s: read as %v, want %v (%s)", what, at, c.Name, got[i], shown, want[c.Name])
			}
		}
	}
}

// foreignText is a field of the CSV as the foreign reader prints it.
func foreignText(t *testing.T, k Kind, field string) any {
	switch {
	case field == "":
		return nil
	case k == Real || k == Seconds:
		return fmt.Sprintf("%016x", bitsOf(t, field))
	case k == Truth:
		return field == "true"
	case k == Time:
		return strconv.FormatInt(wallOf(t, field), 10)
	}
	return field
}

// wallOf reads the field wall_utc back.
func wallOf(t testing.TB, field string) int64 {
	t.Helper()
	w, err := time.Parse(time.RFC3339Nano, field)
	if err != nil {
		t.Fatal(err)
	}
	return w.UnixNano()
}
