package logfmt

import (
	"bytes"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// One thing is done to a sealed log. Every line that it left as it was comes
// back, and Verify names the place.
func TestOneDamage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(3, 40).Draw(t, "records")
		file := sampleLog(count, true)
		lines := splitLines(file)
		i := rapid.IntRange(0, len(lines)-1).Draw(t, "line")
		want := uniqueNumbers(1, len(lines))
		var kinds []DamageKind // one of these is named
		var at []int           // at one of these lines
		op := rapid.SampledFrom([]string{"flip", "delete", "duplicate", "move", "cut", "insert"}).Draw(t, "damage")
		switch op {
		case "flip":
			lines[i] = bytes.Clone(lines[i])
			b := rapid.IntRange(0, len(lines[i])-1).Draw(t, "byte")
			lines[i][b] ^= byte(rapid.IntRange(1, 255).Draw(t, "bits"))
			if b < len(lines[i])-1 || lines[i][b] != '\r' { // a CR for the LF leaves the record's own bytes alone
				want = slices.Delete(want, i, i+1)
			}
			kinds, at = []DamageKind{Altered, Cut}, []int{i + 1}
			if b < len(lines[i])-1 && lines[i][b] == '\n' {
				at = append(at, i+2) // the first of two pieces may be too short to be known
			}
		case "delete":
			lines = slices.Delete(lines, i, i+1)
			want = slices.Delete(want, i, i+1)
			kinds, at = []DamageKind{Missing}, []int{i + 1}
		case "duplicate":
			to := rapid.IntRange(i+1, len(lines)).Draw(t, "to")
			lines = slices.Insert(lines, to, lines[i])
			kinds, at = []DamageKind{Repeated}, []int{to + 1}
		case "move":
			to := rapid.IntRange(0, len(lines)-1).Filter(func(to int) bool { return to != i }).Draw(t, "to")
			l := lines[i]
			lines = slices.Insert(slices.Delete(lines, i, i+1), to, l)
			kinds = []DamageKind{Moved}
			// Of two neighbours that changed places, either is the moved one.
			at = []int{to + 1, i + 1, min(i, to) + 1, min(i, to) + 2}
		case "cut":
			b := rapid.IntRange(1, len(lines[i])-1).Draw(t, "byte")
			whole := i
			if b == len(lines[i])-1 {
				whole++
			}
			lines = append(lines[:i:i], lines[i][:b])
			want = want[:whole]
			kinds, at = []DamageKind{Cut}, []int{i + 1}
			if whole == 0 {
				kinds = append(kinds, Foreign) // too little is left to tell
			}
		case "insert":
			text := rapid.SampledFrom([]string{"\n", "a note\n", "\x00\n", "k=v crc=00000000\n"}).Draw(t, "text")
			lines = slices.Insert(lines, i, []byte(text))
			kinds, at = []DamageKind{Foreign, Altered}, []int{i + 1}
		}
		file = bytes.Join(lines, nil)
		recs, damage, rep := readAll(file)
		got := numbers(recs)
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Fatalf("%s of line %d: records %v come back, want %v\n%v", op, i+1, got, want, damage)
		}
		if rep.Whole {
			t.Fatalf("%s of line %d: called whole", op, i+1)
		}
		lastGone := op == "delete" && i == count
		named := slices.ContainsFunc(damage, func(d Damage) bool {
			return slices.Contains(kinds, d.Kind) && slices.Contains(at, d.Line)
		})
		if !named && !(lastGone && !rep.Sealed) {
			t.Fatalf("%s of line %d: damage %v, want one of %v at line %v", op, i+1, damage, kinds, at)
		}
		if len(damage) > 1 && op != "flip" && op != "move" {
			t.Fatalf("%s of line %d: one damage is told as several: %v", op, i+1, damage)
		}
		// A flip that makes an LF in the last line leaves two pieces, and no
		// number after them tells that they were one.
		inside := i < count
		if lost := uint64(count+1) - uint64(len(want)); (op == "flip" && inside || op == "delete" && !lastGone) && rep.Lost != lost {
			t.Fatalf("%s of line %d: %d records lost, want %d: %v", op, i+1, rep.Lost, lost, damage)
		}
	})
}

// Whatever is done to the lines of a log, every line that is still whole comes
// back once, whichever it is.
func TestMuchIsDone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := splitLines(sampleLog(rapid.IntRange(1, 30).Draw(t, "records"), rapid.Bool().Draw(t, "sealed")))
		original := map[string]bool{}
		for _, l := range lines {
			original[string(l)] = true
		}
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
		want := map[uint64]bool{}
		for _, l := range lines {
			if original[string(l)] {
				rec, _, _, err := ParseLine(l)
				if err != nil {
					t.Fatal(err)
				}
				want[rec.N] = true
			}
		}
		recs, damage, _ := readAll(bytes.Join(lines, nil))
		seen := map[uint64]bool{}
		for _, rec := range recs {
			if seen[rec.N] {
				t.Fatalf("record n=%d comes back twice: %v, %v", rec.N, numbers(recs), damage)
			}
			seen[rec.N] = true
		}
		for n := range want {
			if !seen[n] {
				t.Fatalf("whole record n=%d does not come back: %v, %v", n, numbers(recs), damage)
			}
		}
	})
}

// The number set is right whatever the order, by a map as its dumb twin.
func TestNumberSet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var set numberSet
		twin := map[uint64]bool{}
		for _, n := range rapid.SliceOf(rapid.Uint64Range(0, 40)).Draw(t, "numbers") {
			set.add(n)
			twin[n] = true
		}
		for n := range uint64(42) {
			if set.has(n) != twin[n] {
				t.Fatalf("has(%d) = %v, want %v in %v", n, set.has(n), twin[n], set.spans)
			}
		}
		for i := 1; i < len(set.spans); i++ {
			if set.spans[i].lo <= set.spans[i-1].hi+1 {
				t.Fatalf("spans touch: %v", set.spans)
			}
		}
	})
}

func uniqueNumbers(from, to int) []uint64 {
	var ns []uint64
	for n := from; n <= to; n++ {
		ns = append(ns, uint64(n))
	}
	return ns
}

// Times and floats have one text each and come back to the bit.
func TestNumbersComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ns := rapid.Int64().Draw(t, "ns")
		if back, err := ParseNs(FormatNs(ns)); err != nil || back != ns {
			t.Fatalf("ParseNs(%q) = %d, %v; want %d", FormatNs(ns), back, err, ns)
		}
		f := rapid.Float64().Draw(t, "f")
		rec := Record{Fields: []Field{{"f", FormatFloat(f)}}}
		if back, ok := rec.Float("f"); !ok || fmt.Sprintf("%x", back) != fmt.Sprintf("%x", f) {
			t.Fatalf("Float of %q = %v, %v; want %v", FormatFloat(f), back, ok, f)
		}
	})
}
