package logfmt

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// salvageBytes salvages a file in memory.
func salvageBytes(file []byte) (*Salvage, []Record, []byte, error) {
	s, err := NewSalvage(func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(file)), nil })
	if err != nil {
		return nil, nil, nil, err
	}
	var recs []Record
	for rec, err := range s.Records() {
		if err != nil {
			return s, recs, nil, err
		}
		recs = append(recs, rec)
	}
	var out bytes.Buffer
	_, err = s.WriteLog(&out, "pull.log")
	return s, recs, out.Bytes(), err
}

// Damage on the left, the records that survive it on the right.
func TestDamageAndTheRecordsThatSurvive(t *testing.T) {
	whole := sampleLog(10, true) // 11 lines, the last the end
	lines := splitLines(whole)
	join := func(parts ...[]byte) []byte { return bytes.Join(parts, nil) }
	part := func(from, to int) []byte { return join(lines[from-1 : to]...) }
	all := uniqueNumbers(1, 11)
	without := func(gone ...uint64) []uint64 {
		return slices.DeleteFunc(slices.Clone(all), func(n uint64) bool { return slices.Contains(gone, n) })
	}
	flipped := func(line, at int) []byte {
		f := bytes.Clone(lines[line-1])
		f[at] ^= 1
		return f
	}
	tests := []struct {
		name    string
		file    []byte
		survive []uint64
		gaps    []Gap // by numbers only
		sealed  bool  // the new log has an end
	}{
		{"none", whole, all, nil, true},
		{"none, never sealed", part(1, 10), uniqueNumbers(1, 10), nil, false},
		{"head: a bit of it", join(flipped(1, 20), part(2, 11)), without(1), []Gap{{From: 1, To: 1}}, true},
		{"head: its start cut off", whole[30:], without(1), []Gap{{From: 1, To: 1}}, true},
		{"head: three lines gone", part(4, 11), without(1, 2, 3), []Gap{{From: 1, To: 3}}, true},
		{"head: NUL over it", join(make([]byte, len(lines[0])-1), []byte("\n"), part(2, 11)), without(1), []Gap{{From: 1, To: 1}}, true},
		{"cut in the middle of a line", whole[:len(part(1, 6))+20], uniqueNumbers(1, 6), nil, false},
		{"cut between two lines", part(1, 6), uniqueNumbers(1, 6), nil, false},
		{"cut before the last LF", whole[:len(whole)-1], all, nil, true},
		{"holes: two lines and one", join(part(1, 3), part(6, 7), part(9, 11)), without(4, 5, 8), []Gap{{From: 4, To: 5}, {From: 8, To: 8}}, true},
		{"holes: NUL in two lines", join(part(1, 3), make([]byte, len(part(4, 5))), part(6, 11)), without(4, 5), []Gap{{From: 4, To: 5}}, true},
		{"a bit in each of three lines", join(part(1, 2), flipped(3, 5), part(4, 5), flipped(6, 30), flipped(7, 9), part(8, 11)), without(3, 6, 7), []Gap{{From: 3, To: 3}, {From: 6, To: 7}}, true},
		{"reordered: one moved on", join(part(1, 3), part(5, 8), part(4, 4), part(9, 11)), all, nil, true},
		{"reordered: the halves swapped", join(part(6, 11), part(1, 5)), all, nil, true},
		{"reordered: backwards", join(part(11, 11), part(10, 10), part(9, 9), part(8, 8), part(7, 7), part(6, 6), part(5, 5), part(4, 4), part(3, 3), part(2, 2), part(1, 1)), all, nil, true},
		{"reordered and a hole", join(part(1, 2), part(8, 9), part(3, 5), part(10, 11)), without(6, 7), []Gap{{From: 6, To: 7}}, true},
		{"duplicated: one line", join(part(1, 5), part(5, 11)), all, nil, true},
		{"duplicated: a block, later", join(part(1, 8), part(3, 5), part(9, 11)), all, nil, true},
		{"duplicated: the file twice", join(whole, whole), all, nil, true},
		{"garbage: text behind", join(whole, []byte("checked, fine\n")), all, nil, true},
		{"garbage: noise behind", join(part(1, 10), noise(5000)), uniqueNumbers(1, 10), nil, false},
		{"garbage: noise before", join(noise(100), []byte("\n"), whole), all, nil, true},
		{"garbage: another log behind", join(part(1, 10), sampleOther()), uniqueNumbers(1, 10), nil, false},
		{"garbage: text inside", join(part(1, 4), []byte("\n# here it jerked\n"), part(5, 11)), all, nil, true},
		{"NULs behind, as a power cut leaves them", join(part(1, 10), make([]byte, 4096)), uniqueNumbers(1, 10), nil, false},
		{"NULs behind, more than a line's length", join(part(1, 10), make([]byte, 3*MaxLine)), uniqueNumbers(1, 10), nil, false},
		{"CR LF for each LF", bytes.ReplaceAll(whole, []byte("\n"), []byte("\r\n")), all, nil, true},
		{"byte order mark and CR LF", join([]byte(byteOrderMark), bytes.ReplaceAll(whole, []byte("\n"), []byte("\r\n"))), all, nil, true},
		{"one LF deleted", bytes.Replace(whole, []byte("\n"), nil, 1), all, nil, true},
		{"all LF deleted", bytes.ReplaceAll(whole, []byte("\n"), nil), all, nil, true},
		{"UTF-16", utf16le(whole), nil, nil, false},
		{"no log at all", []byte("time,tension\n0.1,312\n"), nil, nil, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			before := sha256.Sum256(tt.file)
			s, recs, out, err := salvageBytes(tt.file)
			if err != nil {
				t.Fatal(err)
			}
			if sha256.Sum256(tt.file) != before {
				t.Error("the damaged log was touched")
			}
			if !slices.Equal(numbers(recs), tt.survive) {
				t.Errorf("survive %v, want %v", numbers(recs), tt.survive)
			}
			var gaps []Gap
			missing := uint64(0)
			for _, g := range s.Gaps {
				gaps = append(gaps, Gap{From: g.From, To: g.To})
				missing += g.Records()
			}
			if diff := cmp.Diff(tt.gaps, gaps); diff != "" || s.Missing != missing || s.Whole != uint64(len(recs)) {
				t.Errorf("gaps (-want +got):\n%s, %d missing, %d whole", diff, s.Missing, s.Whole)
			}
			if len(tt.survive) > 0 {
				checkSalvaged(t, s, recs, out, tt.sealed)
			}
		})
	}
}

// checkSalvaged proves a new log: it has the records given and says where they
// are from, and the only damage is what was missing.
func checkSalvaged(t *testing.T, s *Salvage, want []Record, out []byte, sealed bool) {
	t.Helper()
	recs, damage, rep := readAll(out)
	head := Record{T: s.Report.FirstT, Kind: Head, Fields: []Field{{"part", "salvage"}, {"of", "pull.log"}, {"sha256", s.Report.SHA256},
		{"whole", fmt.Sprint(len(want))}, {"missing", fmt.Sprint(s.Missing)}}}
	want = slices.Concat([]Record{head}, want)
	if sealed {
		last := &want[len(want)-1]
		sums := last.Fields
		last.Fields = []Field{{"reason", "done"}}
		for _, f := range sums[1:] {
			last.Fields = append(last.Fields, Field{"was_" + f.Key, f.Val})
		}
		if len(recs) > 0 && len(recs[len(recs)-1].Fields) == 7 {
			last.Fields = append(last.Fields, recs[len(recs)-1].Fields[4:]...) // its own seal is proved by the report
		}
	}
	if diff := cmp.Diff(want, recs); diff != "" {
		t.Errorf("records of the new log (-want +got):\n%s", diff)
	}
	if rep.Sealed != sealed || rep.SealGood != sealed || rep.Whole != (sealed && s.Missing == 0) || rep.Lost != s.Missing {
		t.Errorf("the new log: %+v; want sealed %v, %d lost", rep, sealed, s.Missing)
	}
	for _, d := range damage {
		if d.Kind != Missing || !strings.Contains(d.Text, "could not be salvaged") {
			t.Errorf("damage in the new log: %v", d)
		}
	}
	wantLink := []Link{{Part: "salvage", Name: "pull.log", SHA256: s.Report.SHA256}}
	if diff := cmp.Diff(wantLink, rep.Links); diff != "" {
		t.Errorf("links of the new log (-want +got):\n%s", diff)
	}
}

// A salvaged log can be salvaged again and loses nothing.
func TestSalvageOfASalvagedLogLosesNothing(t *testing.T) {
	lines := splitLines(sampleLog(10, true))
	_, first, once, err := salvageBytes(bytes.Join(slices.Delete(lines, 3, 5), nil))
	if err != nil {
		t.Fatal(err)
	}
	s, second, twice, err := salvageBytes(once)
	if err != nil || len(second) != len(first)+1 || s.Missing != 2 {
		t.Fatalf("%d records, then %d, %d missing, %v", len(first), len(second), s.Missing, err)
	}
	_, damage, rep := readAll(twice)
	if len(damage) != 1 || damage[0].Kind != Missing || rep.Lost != 2 || !rep.SealGood || rep.Records != uint64(len(first))+2 {
		t.Errorf("salvaged twice: %+v", rep)
	}
}

// Whatever is done to the lines, the new log has each record that the reader
// proves, once, in the order of the numbers, and names each number it has not.
func TestSalvageGivesAllTheReaderProvesInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := splitLines(sampleLog(rapid.IntRange(1, 30).Draw(t, "records"), rapid.Bool().Draw(t, "sealed")))
		for range rapid.IntRange(0, 8).Draw(t, "damages") {
			if len(lines) == 0 {
				break
			}
			i := rapid.IntRange(0, len(lines)-1).Draw(t, "line")
			j := rapid.IntRange(0, len(lines)-1).Draw(t, "other")
			switch rapid.IntRange(0, 4).Draw(t, "damage") {
			case 0:
				lines[i] = bytes.Clone(lines[i])
				lines[i][rapid.IntRange(0, len(lines[i])-1).Draw(t, "byte")] ^= byte(rapid.IntRange(1, 255).Draw(t, "bits"))
			case 1:
				lines = slices.Delete(lines, i, i+1)
			case 2:
				lines = slices.Insert(lines, j, lines[i])
			case 3:
				lines[i], lines[j] = lines[j], lines[i]
			case 4:
				lines = slices.Insert(lines, i, []byte(rapid.StringMatching(`[ -~]{0,20}\n`).Draw(t, "text")))
			}
		}
		file := bytes.Join(lines, nil)
		proved, _, _ := readAll(file)
		s, recs, out, err := salvageBytes(file)
		if err != nil {
			t.Fatal(err)
		}
		slices.SortFunc(proved, func(a, b Record) int { return int(a.N) - int(b.N) })
		if diff := cmp.Diff(proved, recs); diff != "" {
			t.Fatalf("records (-proved by the reader +salvaged):\n%s", diff)
		}
		missing := uint64(0)
		if len(recs) > 0 {
			missing = recs[len(recs)-1].N - uint64(len(recs))
		}
		again, damage, rep := readAll(out)
		if s.Missing != missing || rep.Lost != missing || len(again) != len(recs)+1 {
			t.Fatalf("%d missing, the new log says %d, want %d; it has %d records of %d: %v", s.Missing, rep.Lost, missing, len(again)-1, len(recs), damage)
		}
	})
}

func TestSalvageFileNeverOverwritesAndNeverTouchesTheOriginal(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	damaged := append(sampleLog(10, false), "torn"...)
	for name, text := range map[string]string{"pull.log": string(damaged), "there.log": "mine", "two.log.sha256": "mine", "empty.log": ""} {
		if err := os.WriteFile(at(name), []byte(text), 0o444); err != nil {
			t.Fatal(err)
		}
	}
	for _, tt := range []struct {
		from, to string
		want     error
	}{
		{"pull.log", "pull.log", fs.ErrExist},
		{"pull.log", "there.log", fs.ErrExist},
		{"pull.log", "two.log", fs.ErrExist},
		{"pull.log", "none/new.log", fs.ErrNotExist},
		{"none.log", "new.log", fs.ErrNotExist},
		{"empty.log", "new.log", ErrNothingWhole},
	} {
		if _, _, err := SalvageFile(at(tt.from), at(tt.to), nil); !errors.Is(err, tt.want) || !strings.Contains(err.Error(), dir) {
			t.Errorf("SalvageFile(%s, %s): %v, want %v and the path", tt.from, tt.to, err, tt.want)
		}
	}
	s, sum, err := SalvageFile(at("pull.log"), at("new.log"), nil)
	if err != nil || s.Whole != 10 {
		t.Fatalf("SalvageFile: %+v, %v", s, err)
	}
	rep, err := VerifyFile(at("new.log"))
	if err != nil || rep.Beside != BesideAgrees || rep.SHA256 != sum || len(rep.Damages) > 0 || rep.Links[0].State != BesideAgrees {
		t.Errorf("the new log: %+v, %v", rep, err)
	}
	for name, want := range map[string]string{"pull.log": string(damaged), "there.log": "mine", "two.log.sha256": "mine"} {
		if got, err := os.ReadFile(at(name)); string(got) != want {
			t.Errorf("%s was touched: %q, %v", name, got, err)
		}
	}
	names, err := filepath.Glob(at("*"))
	if err != nil || len(names) != 6 {
		t.Errorf("files %v, want four old ones and two new", names)
	}
}

// Whichever call fails: an error is told, or the new log is whole and safe.
func TestSalvageOnAFaultyDiskTellsOrIsSafe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pull.log")
	if err := os.WriteFile(path, sampleLog(10, true), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, kind := range []trouble{{err: syscall.EIO}, {err: syscall.ENOSPC, takes: 7}, {short: 5}} {
		for failAt, met := 0, true; met; failAt++ {
			met = false
			f := newFaultFS(func(o op) trouble {
				if o.index == failAt {
					met = true
					return kind
				}
				return trouble{}
			})
			_, _, err := SalvageFile(path, "dir/new.log", f)
			safe, _, rep := readAll(f.afterPowerCut("dir/new.log"))
			if err == nil && (len(safe) != 12 || !rep.Whole || f.afterPowerCut("dir/new.log.sha256") == nil) {
				t.Errorf("call %d, %+v: no error, but %d records survive a power cut, want 12", failAt, kind, len(safe))
			}
			if err == nil && met && kind.err != nil {
				t.Errorf("call %d, %+v: no error", failAt, kind)
			}
		}
	}
}

func TestSalvageOfALogThatIsBeingWrittenIsRefused(t *testing.T) {
	file, opened := sampleLog(10, true), 0
	s, err := NewSalvage(func() (io.ReadCloser, error) {
		opened++
		return io.NopCloser(bytes.NewReader(file[:len(file)-1000+opened*300])), nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.WriteLog(io.Discard, "pull.log"); !errors.Is(err, errChanged) {
		t.Errorf("WriteLog: %v, want %v", err, errChanged)
	}
}
