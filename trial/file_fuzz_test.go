package trial

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// Whatever bytes come: no panic, a Trial or faults and never both, each fault
// on a line of the file and safe to print, and a Trial that holds together.
func FuzzParseTrial(f *testing.F) {
	f.Add([]byte(Template()))
	f.Add([]byte(strings.ReplaceAll(Template(), "\n", "\r\n")))
	for _, s := range []string{
		"", "\n", "format = 1", "format = 1\n[", "[[rode]]\n[rode]\n", "a.b.c = 1\n[a.b]\n[a]\n", "x = [[[[[[[[[[[[1]]]]]]]]]]]]",
		"limits = {pull = {haul = \"1 m\"}, pull.haul = 3}", "rode = [{}, {name = 1}, 3]", "x = \"\"\"\n\n\"\"\"\n'' = 1", "[\"\\u001b\"]\n", "x = \"\xff\"",
		"\ufeffformat = 1", "x = 1979-13-45T99:99:99", "load = [1]\n[load.calibration]\n", "run = []\nstation = {}\n", "x = '''\n\n\n", "# \x00",
	} {
		f.Add([]byte(s))
	}
	for _, fault := range faults {
		text := Template()
		for i := 0; i < len(fault.edits); i += 2 {
			text = strings.Replace(text, fault.edits[i], fault.edits[i+1], 1)
		}
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		tr, err := ParseTrial("f.toml", text)
		if err != nil {
			errs, ok := errors.AsType[FileErrors](err)
			if !ok || len(errs) == 0 || tr != nil {
				t.Fatalf("%v, %T", tr, err)
			}
			lines := 1 + strings.Count(string(text), "\n")
			last := 1
			for _, e := range errs {
				if e.Line < last || e.Line > lines || e.Reason == "" || e.Want == "" {
					t.Errorf("%#v after line %d, in a file of %d lines", e, last, lines)
				}
				last = e.Line
				if s := e.Error(); strings.ContainsFunc(s, func(c rune) bool { return !unicode.IsPrint(c) }) || !utf8.ValidString(s) {
					t.Errorf("%q is not safe to print", s)
				}
			}
			return
		}
		checkWhole(t, tr)
	})
}

// checkWhole is what the rest of the program may rely on.
func checkWhole(t interface{ Errorf(string, ...any) }, tr *Trial) {
	name, wll := tr.Weakest()
	rated := name != ""
	if rated != (wll > 0) || !rated && len(tr.Unrated()) == 0 || len(tr.Rode) == 0 || len(tr.Gear) == 0 || len(tr.Runs) == 0 {
		t.Errorf("weakest %q %v, %d pieces, %d gear, %d runs", name, wll, len(tr.Rode), len(tr.Gear), len(tr.Runs))
	}
	for s := range NumStages {
		l := tr.Limits[s]
		stop := lowest(l.TensionStop, Force(l.WLLStop)*wll)
		if s.RodeOut() && rated && !(stop > 0 && stop <= wll && stop <= tr.Load.Range) {
			t.Errorf("%v: stop at %v, weakest WLL %v, range %v", s, stop, wll, tr.Load.Range)
		}
		if !(l.SilentWarn > 0 && l.SilentWarn < l.SilentStop && l.SilentStop <= maxSilence) || !(l.LineSilentWarn > 0 && l.LineSilentWarn < l.LineSilentStop) {
			t.Errorf("%v: silence %+v", s, l)
		}
		if !(l.SoonWarn > l.SoonStop) || l.TensionEnd != 0 && (!s.endsByTension() || rated && l.TensionEnd >= stop) || (l.ComeUp > 0) != s.mayBuryIt() {
			t.Errorf("%v: soon, end by tension or come up: %+v", s, l)
		}
		if l.ScopeMin != 0 && l.ScopeMin < 1 || !s.EndsByHaul() && (l.ScopeMin != 0 || l.Haul != 0) {
			t.Errorf("%v: planned ends %+v", s, l)
		}
	}
	for _, p := range []struct{ pattern, group string }{{tr.Load.Line, "value"}, {tr.Line.Line, "counts"}} {
		if re, err := regexp.Compile(p.pattern); err != nil || !slices.Contains(re.SubexpNames(), p.group) {
			t.Errorf("pattern %q: %v", p.pattern, err)
		}
	}
	if tr.Load.ForceUnit().N == 0 || tr.Load.CalUnit.N == 0 || tr.Line.HaulSign*tr.Line.HaulSign != 1 || !(tr.Line.PerMetre > 0) {
		t.Errorf("load %+v line %+v", tr.Load, tr.Line)
	}
	for _, r := range tr.Runs {
		s, ok := tr.Station(r.Station)
		if _, have := tr.Anchor(r.Anchor); !ok || have != (r.Kind == KindPull) || strings.ContainsAny(r.ID, `/\: `) {
			t.Errorf("run %+v", r)
		}
		if _, err := Scope(r.Payout, s.Depth, tr.Vessel.Fairlead); err != nil {
			t.Errorf("run %s: %v", r.ID, err)
		}
	}
	seen := map[string]bool{}
	for _, kv := range tr.SI() {
		if seen[kv.Key] || strings.Contains(kv.Val, "N") || strings.Contains(kv.Val, "I") {
			t.Errorf("%s = %s", kv.Key, kv.Val)
		}
		seen[kv.Key] = true
	}
}

// All faults are found at once: breaking several keys gives an error on each
// of their lines.
func TestFaultsAllFoundAtOnce(t *testing.T) {
	keys := templateKeys(t)
	rapid.Check(t, func(t *rapid.T) {
		lines := strings.Split(Template(), "\n")
		broken := map[int]string{}
		for range rapid.IntRange(2, 12).Draw(t, "faults") {
			k := keys[rapid.IntRange(0, len(keys)-1).Draw(t, "key")]
			lines[k.line-1] = k.name + " = " + k.wrong()
			broken[k.line] = k.path
		}
		_, err := ParseTrial("t.toml", []byte(strings.Join(lines, "\n")))
		errs, _ := errors.AsType[FileErrors](err)
		for line, path := range broken {
			if !slices.ContainsFunc(errs, func(e *FileError) bool { return e.Line == line && e.Key == path }) {
				t.Fatalf("no error for %s on line %d; got\n%v", path, line, err)
			}
		}
		for _, e := range errs {
			if broken[e.Line] != e.Key {
				t.Fatalf("an error that points elsewhere: %v", e)
			}
		}
	})
}

// The units of the file make no difference: the template with its tensions in
// another unit gives the same trial, to the rounding of the text.
func TestUnitsOfTheFileDoNotMatter(t *testing.T) {
	want := parseTemplate(t)
	value := regexp.MustCompile(`"([0-9.]+) kN"`)
	for _, name := range []string{"N", "lbf", "kgf", "tf"} {
		d, _ := forceUnits.find(name)
		text := value.ReplaceAllStringFunc(Template(), func(s string) string {
			f, err := ParseForce(strings.Trim(s, `"`))
			if err != nil {
				t.Fatal(err)
			}
			return fmt.Sprintf(`"%.15g %s"`, float64(f)/d.f, name)
		})
		got, err := ParseTrial("t.toml", []byte(text))
		if err != nil {
			t.Fatalf("in %s:\n%v", name, err)
		}
		a, b := want.SI(), got.SI()
		for i := range a {
			x, y := mustFloat(t, a[i].Val), mustFloat(t, b[i].Val)
			if a[i].Key != b[i].Key || math.Abs(x-y) > 1e-14*math.Abs(x) {
				t.Errorf("in %s: %v, want %v", name, b[i], a[i])
			}
		}
	}
}
