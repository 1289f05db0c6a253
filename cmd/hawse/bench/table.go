package bench

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"hawse/cmd/hawse/cli"
)

// report is what a bench found: tables for people, JSON for programs.
type report struct {
	name     string // of the sub-command
	title    string // what was measured, one line
	machine  machine
	settings []setting
	tables   []*table
	notes    []string
	faults   []string // what must not be; any makes the exit code 1
}

// setting is a named value outside a table.
type setting struct {
	key string
	val any
}

// table is one table: a line for each figure, a column for each thing
// measured.
type table struct {
	key     string
	columns []column // one without a key: the figures stand alone
	rows    []figure
}

type column struct{ key, heading string }

// figure is one figure. Its key carries the unit of its values, SI; the
// label carries that of its texts.
type figure struct {
	key, label string
	cells      []cell
}

// cell is one value: as it is for programs, as text for people. A nil
// value is not measured.
type cell struct {
	val  any
	text string
}

func (t *table) add(key, label string, cells ...cell) {
	t.rows = append(t.rows, figure{key, label, cells})
}

func cellInt[T int | int64 | uint64](n T) cell { return cell{n, cli.Grouped(n)} }

func cellNumber(v float64, format string) cell { return cell{v, fmt.Sprintf(format, v)} }

// cellTime is a duration: seconds for programs, milliseconds for people.
func cellTime(d time.Duration) cell {
	return cell{d.Seconds(), fmt.Sprintf("%.3f", d.Seconds()*1e3)}
}

func cellSeconds(d time.Duration) cell {
	return cell{d.Seconds(), fmt.Sprintf("%.2f", d.Seconds())}
}

func cellMB(bytes int64) cell {
	if bytes <= 0 {
		return cell{nil, "unknown"}
	}
	return cell{bytes, fmt.Sprintf("%.1f", float64(bytes)/1e6)}
}

// cellRatio is how many times as much a is as b.
func cellRatio(a, b float64) cell {
	if !(b > 0) {
		return cell{nil, "-"}
	}
	return cell{a / b, fmt.Sprintf("%.2f", a/b)}
}

// fault notes what must not be, if it is.
func (r *report) fault(is bool, format string, args ...any) {
	if is {
		r.faults = append(r.faults, fmt.Sprintf(format, args...))
	}
}

func (r *report) note(format string, args ...any) {
	r.notes = append(r.notes, fmt.Sprintf(format, args...))
}

func (r *report) verdict() error {
	if len(r.faults) == 0 {
		return nil
	}
	return cli.Exit(cli.ExitFailed, "%s", strings.Join(r.faults, "; "))
}

// writeText prints the report for people.
func (r *report) writeText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%s\n", r.title, r.machine)
	for _, t := range r.tables {
		b.WriteByte('\n')
		t.write(&b)
	}
	if len(r.notes) > 0 {
		b.WriteByte('\n')
	}
	for _, n := range r.notes {
		fmt.Fprintf(&b, "%s\n", n)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (t *table) write(b *strings.Builder) {
	head := figure{}
	named := false
	for _, c := range t.columns {
		head.cells = append(head.cells, cell{text: c.heading})
		named = named || c.heading != ""
	}
	lines := t.rows
	if named {
		lines = append([]figure{head}, t.rows...)
	}
	first := 0
	widths := make([]int, len(t.columns))
	for _, r := range lines {
		first = max(first, utf8.RuneCountInString(r.label))
		for i, c := range r.cells {
			widths[i] = max(widths[i], utf8.RuneCountInString(c.text))
		}
	}
	for _, r := range lines {
		line := fmt.Sprintf("  %-*s", first, r.label)
		for i, c := range r.cells {
			line += fmt.Sprintf("  %*s", widths[i], c.text)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

// writeJSON prints the report for programs: figures, then table, column and
// figure by key.
func (r *report) writeJSON(w io.Writer) error {
	settings := map[string]any{}
	for _, s := range r.settings {
		settings[s.key] = s.val
	}
	figures := map[string]any{}
	for _, t := range r.tables {
		columns := map[string]any{}
		for i, c := range t.columns {
			values := map[string]any{}
			for _, row := range t.rows {
				if i < len(row.cells) && row.cells[i].val != nil {
					values[row.key] = row.cells[i].val
				}
			}
			if c.key == "" {
				columns = values
				break
			}
			columns[c.key] = values
		}
		figures[t.key] = columns
	}
	return cli.WriteJSON(w, struct {
		Bench    string         `json:"bench"`
		Machine  machine        `json:"machine"`
		Settings map[string]any `json:"settings"`
		Figures  map[string]any `json:"figures"`
		Notes    []string       `json:"notes,omitempty"`
		Faults   []string       `json:"faults,omitempty"`
	}{r.name, r.machine, settings, figures, r.notes, r.faults})
}
