package trial

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// templateKey is one key of the template with the place it stands.
type templateKey struct {
	line, header int    // its line, and that of the table it is in (1: the document)
	path, name   string // "limits.pull.haul", "haul"
	value        string // as written, without a comment behind it
}

// wrong is a value of a type the key never has.
func (k templateKey) wrong() string {
	if k.value == "true" || k.value == "false" {
		return "1"
	}
	return "true"
}

// middle is the tables that differ from a tested one in their figures only.
var middle = regexp.MustCompile(`^(gear\[[34]\]|anchor\[[23]\]|station\[2\]|run\[(2|[4-9])\])$`)

func templateKeys(t *testing.T) []templateKey {
	t.Helper()
	var out []templateKey
	table, header := "", 1
	count := map[string]int{}
	keyLine := regexp.MustCompile(`^([a-z_]+) = ("[^"]*"|'[^']*'|\[[^\]]*\]|[0-9.]+|true|false)\s*(#.*)?$`)
	for i, l := range strings.Split(Template(), "\n") {
		switch m := keyLine.FindStringSubmatch(l); {
		case m != nil && middle.MatchString(table):
			continue
		case m != nil:
			path := m[1]
			if table != "" {
				path = table + "." + m[1]
			}
			out = append(out, templateKey{i + 1, header, path, m[1], m[2]})
		case strings.HasPrefix(l, "[["):
			name := strings.Trim(l, "[]")
			count[name]++
			table, header = fmt.Sprintf("%s[%d]", name, count[name]), i+1
		case strings.HasPrefix(l, "["):
			table, header = strings.Trim(l, "[]"), i+1
		case l != "" && !strings.HasPrefix(l, "#"):
			t.Fatalf("template line %d is neither key nor header: %s", i+1, l)
		}
	}
	return out
}

// withLine is the template with one line replaced. The count of lines stays.
func withLine(line int, text string) string {
	lines := strings.Split(Template(), "\n")
	lines[line-1] = text
	return strings.Join(lines, "\n")
}

// Keys that may be left out of the template, each with what then holds.
var optionalKeys = regexp.MustCompile(`^(stop\.(kind|beat|window)|anchor\[\d+\]\.note|limits\..*|phases\..*|winch|vessel\.keep_out|(rode|gear)\[\d+\]\.(wll|factor|source)|rode\[\d+\]\.friction|gear\[\d+\]\.weight|load\.(step|slow_cell)|station\[\d+\]\.depth_(min|max))$`)

var (
	quantityValue = regexp.MustCompile(`^"([-0-9.]+) ([^"]+)"$`)
	numberValue   = regexp.MustCompile(`^[0-9.]+$`)
)

// Each key of the template, broken in each way, must give an error on its own
// line under its own name, and none elsewhere.
func TestTemplateBrokenKeyByKey(t *testing.T) {
	keys := templateKeys(t)
	if len(keys) < 90 {
		t.Fatalf("only %d keys found in the template", len(keys))
	}
	// some takes the first few of a list and two more in turn, so that all are
	// tried over the keys and the test stays quick.
	some := func(i, always int, list ...string) []string {
		turn := list[always:]
		return append(slices.Clone(list[:always]), turn[i%len(turn)], turn[(i+1)%len(turn)])
	}
	for i, k := range keys {
		if i%keyStep != 0 {
			continue
		}
		wants := []FileError{{Line: k.line, Key: k.path}}
		breakKey := func(how, line string, wants ...FileError) {
			t.Helper()
			text := withLine(k.line, line)
			tr, err := ParseTrial("t.toml", []byte(text))
			got, ok := errors.AsType[FileErrors](err)
			if !ok || tr != nil {
				t.Errorf("line %d, %s %s (%s): %v, %v; want a FileErrors", k.line, k.path, how, line, tr, err)
				return
			}
			for _, e := range got {
				if e.File != "t.toml" || e.Reason == "" || e.Want == "" {
					t.Errorf("%s %s: %#v lacks something", k.path, how, e)
				}
				if !slices.ContainsFunc(wants, func(w FileError) bool { return w.Line == e.Line && w.Key == e.Key }) {
					t.Errorf("line %d, %s %s (%s): an error that points elsewhere: %v", k.line, k.path, how, line, e)
				}
			}
			for _, w := range wants {
				if !slices.ContainsFunc(got, func(e *FileError) bool { return w.Line == e.Line && w.Key == e.Key }) {
					t.Errorf("line %d, %s %s (%s): no error on line %d for %s; got\n%v", k.line, k.path, how, line, w.Line, w.Key, err)
				}
			}
		}

		renamed := FileError{Line: k.line, Key: k.path + "_x"}
		missing := FileError{Line: k.header, Key: k.path}
		if optionalKeys.MatchString(k.path) {
			breakKey("renamed", k.name+"_x = "+k.value, renamed)
		} else {
			breakKey("removed", "", missing)
			breakKey("renamed", k.name+"_x = "+k.value, renamed, missing)
		}
		breakKey("twice", k.name+" = "+k.value+"\n"+k.name+" = "+k.value, FileError{Line: k.line + 1, Key: k.path})
		for _, wrong := range some(i, 2, "true", `""`, "1979-05-27", "{}", "[[1]]", "[true]", `" "`, `"\u001b[2J"`) {
			if wrong == "true" {
				wrong = k.wrong()
			}
			breakKey("of a wrong type", k.name+" = "+wrong, wants...)
		}
		switch m := quantityValue.FindStringSubmatch(k.value); {
		case m != nil && k.name != "name":
			for _, wrong := range some(i, 4,
				m[1], `"`+m[1]+` furlong"`, `"1e300 `+m[2]+`"`, `"-1e6 `+m[2]+`"`,
				`"`+m[1]+`"`, `"1 °"`, `"`+m[2]+`"`, `"nan `+m[2]+`"`, `"inf `+m[2]+`"`, `"`+m[1]+` `+m[2]+` or so"`, `"2,5 `+m[2]+`"`,
			) {
				breakKey("of a wrong unit or absurd", k.name+" = "+wrong, wants...)
			}
			if !strings.HasSuffix(k.path, "weight") && k.path != "vessel.fairlead" && k.name != "at" {
				breakKey("zero", k.name+` = "0 `+m[2]+`"`, wants...)
			}
			other := "kg"
			if k.name == "mass" || k.name == "dead_mass" || k.name == "wll" || k.name == "mbl" || k.name == "range" || k.name == "step" {
				other = "m"
			}
			breakKey("of another kind of unit", fmt.Sprintf(`%s = "%s %s"`, k.name, m[1], other), wants...)
		case numberValue.MatchString(k.value):
			for _, wrong := range []string{"nan", "inf", "-1", "0", "1e9", `"` + k.value + `"`, `"1 m"`} {
				if wrong == "0" && k.name == "friction" {
					continue // smooth ground
				}
				breakKey("of an absurd number", k.name+" = "+wrong, wants...)
			}
		default:
			breakKey("a bare number", k.name+" = 7", wants...)
		}
	}
}

// Each table of the template left out, misnamed or of the wrong make.
func TestTemplateBrokenTableByTable(t *testing.T) {
	text := Template()
	headers := regexp.MustCompile(`(?m)^\[.*\]$`).FindAllString(text, -1)
	for _, h := range slices.Compact(slices.Sorted(slices.Values(headers))) {
		name := strings.Trim(h, "[]")
		line := 1 + strings.Count(text[:strings.Index(text, "\n"+h+"\n")+1], "\n")
		for how, broken := range map[string]string{
			"renamed":            strings.Replace(text, "\n"+h+"\n", "\n"+strings.Replace(h, name, name+"_x", 1)+"\n", 1),
			"of the wrong make":  strings.Replace(text, "\n"+h+"\n", "\n"+wrongMake(h)+"\n", 1),
			"without its braces": strings.Replace(text, "\n"+h+"\n", "\n"+name+"\n", 1),
		} {
			_, err := ParseTrial("t.toml", []byte(broken))
			got, _ := errors.AsType[FileErrors](err)
			if !slices.ContainsFunc(got, func(e *FileError) bool { return e.Line == line }) {
				t.Errorf("%s %s: no error on line %d; got\n%v", h, how, line, err)
			}
		}
	}
	for _, name := range []string{"rode", "gear", "station", "run", "anchor"} {
		broken := regexp.MustCompile(`(?m)^\[\[`+name+`\]\]\n[^\[]*`).ReplaceAllString(text, "")
		_, err := ParseTrial("t.toml", []byte(broken))
		got, _ := errors.AsType[FileErrors](err)
		if len(got) == 0 || got[0].Key != name || got[0].Reason != "is missing" {
			t.Errorf("no [[%s]] at all: %v", name, err)
		}
		_, err = ParseTrial("t.toml", []byte(strings.Replace(broken, "name = ", name+" = []\nname = ", 1)))
		got, _ = errors.AsType[FileErrors](err)
		if len(got) == 0 || got[0].Key != name || got[0].Reason != "is missing" {
			t.Errorf("an empty list of %s: %v", name, err)
		}
	}
}

func wrongMake(header string) string {
	if name, ok := strings.CutPrefix(header, "[["); ok {
		return "[" + strings.TrimSuffix(name, "]")
	}
	return "[" + header + "]"
}
