package safety

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"hawse/trial"
)

func TestText(t *testing.T) {
	kN := testConfig().Show
	lbf := trial.Show{Tension: trial.ForceUnit{Name: "lbf", N: 4.4482216152605}, Length: trial.LengthUnit{Name: "ft", M: 0.3048}}
	tests := []struct {
		e    Event
		show trial.Show
		want string
	}{
		{Event{What: StopSet, Kind: PlannedEnd, Cause: MinimumScope, Value: 3.996, Limit: 4}, kN, "STOP: minimum scope 4.00 reached (limit 4.0)"},
		{Event{What: StopSet, Kind: PlannedEnd, Cause: LineHauled, Value: 30.01, Limit: 30}, kN, "STOP: line hauled 30.01 m reached (limit 30.0 m)"},
		{Event{What: StopSet, Kind: PlannedEnd, Cause: LineHauled, Value: 30.48, Limit: 30.48}, lbf, "STOP: line hauled 100.0 ft reached (limit 100.0 ft)"},
		{Event{What: StopSet, Kind: PlannedEnd, Cause: StageDuration, Value: 600, Limit: 600}, kN, "STOP: stage duration 10 min reached (limit 10 min)"},
		{Event{What: StopSet, Kind: Trip, Cause: TensionLimit, Value: 8020, Limit: 8000}, kN, "STOP: tension limit 8.02 kN (limit 8.0 kN)"},
		{Event{What: StopSet, Kind: Trip, Cause: TensionLimit, Value: 9000, Limit: 8896.443230521}, lbf, "STOP: tension limit 2023 lbf (limit 2000 lbf)"},
		{Event{What: StopSet, Kind: Trip, Cause: TensionLimit, Value: 8020, Limit: 8000}, trial.Show{}, "STOP: tension limit 8020 N (limit 8000 N)"},
		{Event{What: StopSet, Kind: Trip, Cause: PersonStop, Who: WinchOperator}, kN, "STOP: called by winch operator"},
		{Event{What: StopSet, Kind: Trip, Cause: LoadOverRange, Limit: 20000}, kN, "STOP: load over range (limit 20.0 kN)"},
		{Event{What: StopSet, Kind: Trip, Cause: RelayOpened}, kN, "STOP: relay opened"},
		{Event{What: AlarmUp, Cause: WLLShare, Priority: Warning, Value: 0.704, Limit: 0.7}, kN, "WARNING: WLL SHARE 70.4 % (warning at 70.0 %)"},
		{Event{What: AlarmLess, Cause: TensionLimit}, kN, "TENSION LIMIT: back under the stop limit, still above the warning"},
		{Event{What: OrderIs, Order: OrderEase}, kN, "order: EASE"},
		{Event{What: OrderIs}, kN, "no stop in force"},
		{Event{What: PermitIs, On: true, Session: 7}, kN, "haul permitted, relay session 7"},
		{Event{What: EndReached, Cause: MinimumScope, Value: 3.9, Limit: 4}, kN, "planned end: minimum scope 3.90 reached (limit 4.0)"},
	}
	for _, tt := range tests {
		if got := tt.e.Text(tt.show); got != tt.want {
			t.Errorf("%+v.Text = %q, want %q", tt.e, got, tt.want)
		}
	}
}

// Fields are fit for the record: plain keys, floats that read back to the same
// bits; and no event, however odd, makes a text of more than one line.
func TestFieldsReadBack(t *testing.T) {
	key := regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	taken := []string{"t", "n", "k", "prev", "crc", "src", "by", "at", "text"} // used by whoever writes the record
	rapid.Check(t, func(t *rapid.T) {
		e := Event{
			What: What(rapid.IntRange(0, 20).Draw(t, "what")), Cause: Cause(rapid.IntRange(0, 30).Draw(t, "cause")),
			Priority: Priority(rapid.IntRange(0, 6).Draw(t, "priority")), Kind: StopKind(rapid.IntRange(0, 4).Draw(t, "kind")),
			Stage: trial.Stage(rapid.IntRange(0, 12).Draw(t, "stage")), Order: Order(rapid.IntRange(0, 5).Draw(t, "order")),
			On: rapid.Bool().Draw(t, "on"), Session: rapid.Uint32().Draw(t, "session"),
			Value: math.Float64frombits(rapid.Uint64().Draw(t, "value")), Limit: math.Float64frombits(rapid.Uint64().Draw(t, "limit")),
			Who: Who(rapid.IntRange(0, 8).Draw(t, "who")),
		}
		var keys []string
		for _, f := range e.Fields() {
			if !key.MatchString(f.Key) || slices.Contains(taken, f.Key) || slices.Contains(keys, f.Key) {
				t.Errorf("%+v: key %q is not free", e, f.Key)
			}
			keys = append(keys, f.Key)
			want, isFloat := e.Value, strings.HasPrefix(f.Key, "value")
			if strings.HasPrefix(f.Key, "limit") {
				want, isFloat = e.Limit, true
			}
			if !isFloat {
				continue
			}
			got, err := strconv.ParseFloat(f.Val, 64)
			same := math.Float64bits(got) == math.Float64bits(want) || math.IsNaN(got) && math.IsNaN(want)
			if err != nil || !same {
				t.Errorf("%s=%s reads back as %v, %v; want %v", f.Key, f.Val, got, err, want)
			}
		}
		if text := e.Text(testConfig().Show); strings.ContainsAny(text, "\n\r\t") || text == "" {
			t.Errorf("%+v: text %q is not one line", e, text)
		}
	})
}

func TestWords(t *testing.T) {
	words := map[string]string{}
	unique := func(kind, w string) {
		if w == "" || strings.Contains(w, "(") && !strings.Contains(w, ",") {
			t.Errorf("%s %q has no word of its own", kind, w)
		}
		if words[kind+w] != "" {
			t.Errorf("%s %q stands twice", kind, w)
		}
		words[kind+w] = w
	}
	for c := range NumCauses {
		unique("cause", c.String())
		unique("title", c.Title())
		if c.Consequence() == "" || c.Advice() == "" {
			t.Errorf("%v: consequence %q, advice %q; both are needed", c, c.Consequence(), c.Advice())
		}
		if c != NoCause && !c.Planned() && c.row().priority == NoPriority {
			t.Errorf("%v has no priority", c)
		}
	}
	for w := range NumWhats {
		unique("event", w.String())
	}
	for a := range NumActs {
		unique("act", a.String())
	}
	for s := range NumSources {
		unique("source", s.String())
	}
	for o := NoOrder; o <= OrderAbandon; o++ {
		unique("order", o.String())
	}
	for w := Nobody; w <= Program; w++ {
		unique("seat", w.String())
	}
	for p := NoPriority; p <= Emergency; p++ {
		unique("priority", p.String())
	}
	for a := Normal; a <= Returned; a++ {
		unique("state", a.String())
	}
	for k := NoStop; k <= Trip; k++ {
		unique("stop", k.String())
	}
	// Nothing here says that a deck is safe.
	for _, w := range words {
		for _, no := range []string{"safe", "ok", "good"} {
			if strings.EqualFold(w, no) {
				t.Errorf("the word %q says more than the guard knows", w)
			}
		}
	}
	if got := Order(9).String(); got != "order(9)" {
		t.Errorf("an unknown order is %q, want order(9)", got)
	}
	if got := Cause(99).Title(); got != "NO CAUSE" {
		t.Errorf("an unknown cause is %q, want NO CAUSE", got)
	}
}
