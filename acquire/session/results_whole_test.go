package session

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// partOf is a core whose head says it goes on, for a Whole.
func partOf(t *testing.T, started time.Time, scale float64) *Core {
	t.Helper()
	head := testHead(t)
	head.Started, head.Scale = started, scale
	d, err := NewDry(head)
	if err != nil {
		t.Fatal(err)
	}
	return &d.core
}

func TestWholeJoinsInTime(t *testing.T) {
	at := time.Date(2026, 4, 12, 9, 2, 11, 0, time.UTC)
	tests := []struct {
		name    string
		started time.Duration // of the second part, after the first
		scale   float64
		to      int64 // ns
		note    string
	}{
		{"a minute later", time.Minute, 1, 60e9, ""},
		{"at once", 20*time.Second + 1, 1, 20e9 + 1, ""},
		{"a simulated run, six times as fast", time.Minute, 6, 360e9, ""},
		{"the clock was set back", -time.Hour, 1, 21e9, "clock was stepped"},
		{"before the first had ended", 19 * time.Second, 1, 21e9, "clock was stepped"},
		{"set forward by a year", 365 * 24 * time.Hour, 1, 21e9, "more than a month"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var w Whole
			if j := w.Next(partOf(t, at, tt.scale)); j != (Join{}) {
				t.Errorf("the first part is joined: %+v", j)
			}
			w.Took(&logfmt.Record{T: 20e9}, false)
			j := w.Next(partOf(t, at.Add(tt.started), tt.scale))
			if j.From != 20e9 || j.To != tt.to || !strings.Contains(j.Note, tt.note) || (tt.note == "") != (j.Note == "") {
				t.Errorf("joined %+v, want from 20 s to %d, noting %q", j, tt.to, tt.note)
			}
			if got := w.Sample(JudgeInput{T: 5}).T; got != tt.to+5 {
				t.Errorf("a sample at 5 ns is at %d, want %d", got, tt.to+5)
			}
			w.Took(&logfmt.Record{T: 1e9}, false)
			if third := w.Next(partOf(t, at.Add(tt.started), tt.scale)); third.From != tt.to+1e9 || third.To <= third.From {
				t.Errorf("a third part, started at the same moment: %+v; want it later", third)
			}
		})
	}
	var w Whole
	w.Next(partOf(t, time.Time{}, 1))
	if j := w.Next(partOf(t, at, 1)); !strings.Contains(j.Note, "not known") || j.To != int64(leastBreak) {
		t.Errorf("started nobody knows when: %+v", j)
	}
}

// Where the rode out is said anew instead of carried over, line hauled goes on
// from the first part's; said once more, it begins anew as in a single log.
func TestWholeGoesOnInLine(t *testing.T) {
	was, path := crashed(t) // 60 m out, 2 m hauled
	for _, tt := range []struct {
		name string
		do   func(h *hand)
		want float64
	}{
		{"carried over", func(h *hand) { h.must(safety.Director, ActCarry, "haul") }, 2.04},
		{"said anew", func(h *hand) { h.must(safety.Director, ActPayout, "57 m") }, 3},
		{"left behind, then said anew", func(h *hand) {
			h.must(safety.Director, ActDrop, "haul")
			h.must(safety.Director, ActPayout, "57 m")
		}, 3},
		{"refused", func(h *hand) { h.refused(safety.Director, ActPayout, "900 m", "more than the whole rode") }, math.NaN()},
		{"said anew twice", func(h *hand) {
			h.must(safety.Director, ActPayout, "57 m")
			h.must(safety.Director, ActPayout, "50 m")
		}, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := after(t, path)
			h.counts = was.counts + 40
			h.run(2 * time.Second)
			tt.do(h)
			h.run(2 * time.Second)
			var w Whole
			x := math.NaN()
			for _, records := range [][]logfmt.Record{was.d.Records, h.d.Records} {
				core, step := new(Core), new(Step)
				for i := range records {
					ready := core.Ready()
					if err := core.Apply(&records[i], step); err != nil {
						t.Fatal(err)
					}
					switch {
					case !core.Ready():
					case !ready:
						w.Next(core)
					default:
						w.Took(&records[i], step.Refused != "")
						for _, in := range step.Samples {
							x = float64(w.Sample(in).X)
						}
					}
				}
			}
			if math.Abs(x-tt.want) > 1e-9 || math.IsNaN(x) != math.IsNaN(tt.want) {
				t.Errorf("line hauled %v, want %v", x, tt.want)
			}
		})
	}
}

// Until a stage is said, the one that was said last stays; it is not held once
// it is left behind.
func TestWholeKeepsTheStage(t *testing.T) {
	was, path := crashed(t)
	h := after(t, path)
	h.counts = was.counts
	h.run(2 * time.Second)
	w := Whole{core: &h.d.core, parts: 2}
	if got := w.Stage(); got != trial.Pull || w.Sample(JudgeInput{}).Stage != trial.Pull {
		t.Errorf("nobody has said a stage, and it is %s; want pull", got)
	}
	alone := Whole{core: &h.d.core, parts: 1}
	if got := alone.Stage(); got != trial.StandBy {
		t.Errorf("the part alone is in %s; want stand by, as its own log says", got)
	}
	h.must(safety.Director, ActDrop, "stage")
	if got := w.Stage(); got != trial.StandBy {
		t.Errorf("left behind, and the stage is %s", got)
	}
}

// Every time in a snapshot is moved, but those that never came and those that
// are no times of the log.
func TestSnapshotLater(t *testing.T) {
	not := map[string]bool{"JudgeLag": true, "OldestAge": true, "Bytes": true, "Counts": true, "LeftFor": true}
	var fill func(v reflect.Value, to int64)
	fill = func(v reflect.Value, to int64) {
		switch {
		case v.Kind() == reflect.Int64 && v.CanSet() && v.Type() == reflect.TypeFor[int64]():
			v.SetInt(to)
		case v.Kind() == reflect.Struct && v.Type() != reflect.TypeFor[time.Time]():
			for i := range v.NumField() {
				if v.Type().Field(i).IsExported() {
					fill(v.Field(i), to)
				}
			}
		case v.Kind() == reflect.Array:
			for i := range v.Len() {
				fill(v.Index(i), to)
			}
		}
	}
	var check func(v reflect.Value, name string, want int64)
	check = func(v reflect.Value, name string, want int64) {
		switch {
		case v.Kind() == reflect.Int64 && v.Type() == reflect.TypeFor[int64]():
			if last := name[strings.LastIndex(name, ".")+1:]; !not[last] && v.Int() != want {
				t.Errorf("%s is %d, want %d", name, v.Int(), want)
			}
		case v.Kind() == reflect.Struct && v.Type() != reflect.TypeFor[time.Time]():
			for i := range v.NumField() {
				if f := v.Type().Field(i); f.IsExported() {
					check(v.Field(i), name+"."+f.Name, want)
				}
			}
		case v.Kind() == reflect.Array:
			for i := range v.Len() {
				check(v.Index(i), fmt.Sprintf("%s[%d]", name, i), want)
			}
		}
	}
	s := Snapshot{News: []News{{T: 7}}}
	fill(reflect.ValueOf(&s).Elem(), 7)
	s.later(100)
	check(reflect.ValueOf(s), "Snapshot", 107)
	if s.News[0].T != 107 {
		t.Errorf("news at %d", s.News[0].T)
	}
	s = Snapshot{Zero: Zero{At: -1}, Load: Stream{LastAt: -1}}
	s.Guard.StageSince = -30 // goes on from the part before
	if s.later(100); s.Zero.At != -1 || s.Load.LastAt != -1 || s.Guard.StageSince != 70 {
		t.Errorf("what never came is at %d and %d, a stage that began before at %d; want -1, -1 and 70", s.Zero.At, s.Load.LastAt, s.Guard.StageSince)
	}
}
