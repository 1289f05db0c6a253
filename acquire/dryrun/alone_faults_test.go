//go:build alone && unix

// Every fault over real pseudo-terminals, through the serial code, the owners, the
// sequencer and the fold of a live capture. It takes real time:
//
//	go test -tags alone -count=1 -parallel 6 -run Alone -v ./acquire/dryrun
package dryrun

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// meeting is a fault and the boxes it happens to.
type meeting struct {
	deck.FaultKind
	boxes  string // as [deck.Scenario.With] takes them
	column string // of FAULTS.md, and of the table of names
	pace
}

// pace is how much faster than real time a pull is played, and when its fault
// begins, s. A silence of a second is a tenth of one for the machine then.
type pace struct{ at, speed float64 }

// A box that is asked has 100 ms for its answer, which is also the time that the
// machine has for two ways through the system.
var usual, asked = pace{60, 10}, pace{60, 2.5}

// unlike are the faults that are not played as the others are.
var unlike = map[string]pace{
	// A port that gives nothing is opened anew after ten seconds of the machine's
	// own time, which must pass before the fault is over.
	"half-open": {60, 4},
	// Half a line is handed over when the port is next looked at, every 50 ms of the
	// machine's own time; the guard must know it for old.
	"half-line": {60, 4},
	// What is looked for is how late answers are, and how many: the machine must not
	// add to it.
	"late": {25, 1}, "drop": {25, 1},
	// The computer's clock is held against the satellites' only at the speed of both.
	"time-step": {10, 1},
}

// slow are the faults that take a minute and more to show: not for boxes that are
// played slowly.
var slow = map[string]bool{"peak-hold": true, "zero-moved": true, "one-way": true, "slip": true, "weld": true}

// besides is what goes with the boxes where a fault is not theirs, in turn.
var besides = map[string][]string{"nmea": {",nmea", ",pin,nmea"}, ofCells: {",outboard", ",pin,outboard", ",inboard"}}

// meetings pairs each fault with one kind of box that can have it, so that all
// kinds meet as many: those few can have come first, then whoever has met fewest.
func meetings(t *testing.T, base *deck.Scenario) []meeting {
	t.Helper()
	kinds := []string{"lines", "shared", "one-line", "asked", "modbus", "frames"}
	fits := func(m meeting) bool { _, err := base.With(m.boxes, []string{m.fault()}); return err == nil }
	var all [][]meeting
	turn := map[string]int{}
	for _, f := range deck.FaultKinds {
		beside, column := "", ""
		if list := besides[f.On]; list != nil {
			beside, column = list[turn[f.On]%len(list)], strings.Fields(f.On)[0]
			turn[f.On]++
		}
		var can []meeting
		for _, kind := range kinds {
			m := meeting{FaultKind: f, boxes: kind + beside, column: cmp.Or(column, kind), pace: usual}
			if kind == "asked" || kind == "modbus" {
				m.pace = asked
				if slow[f.Name] {
					continue
				}
			}
			if p, ok := unlike[f.Name]; ok {
				m.pace = p
			}
			if fits(m) {
				can = append(can, m)
			}
		}
		if len(can) == 0 {
			t.Fatalf("%s happens to no box", f.Name)
		}
		all = append(all, can)
	}
	slices.SortStableFunc(all, func(a, b []meeting) int { return len(a) - len(b) })
	met := map[string]int{}
	kind := func(m meeting) string { k, _, _ := strings.Cut(m.boxes, ","); return k }
	var out []meeting
	for _, can := range all {
		m := slices.MinFunc(can, func(a, b meeting) int { return met[kind(a)] - met[kind(b)] })
		met[kind(m)]++
		out = append(out, m)
	}
	for _, k := range kinds {
		if met[k] < 6 {
			t.Errorf("boxes %s meet %d faults, want six at least", k, met[k])
		}
	}
	t.Log("faults met: ", met)
	slices.SortStableFunc(out, func(a, b meeting) int { return cmp.Compare(b.takes(), a.takes()) }) // the long ones first
	return out
}

func (m meeting) fault() string { return fmt.Sprintf("%s@%g s", m.Name, m.at) }

// lasting is how long a fault takes, at the end of its words.
var lasting = regexp.MustCompile(`(\d+) (s|min)$`)

// lasts is how long a fault takes before it is over, s; 0: it stays, or nothing is
// lost by it.
func (m meeting) lasts() float64 {
	f := lasting.FindStringSubmatch(m.Says)
	if f == nil || m.Name == "peak-hold" || m.Name == "time-step" {
		return 0
	}
	n, _ := strconv.ParseFloat(f[1], 64)
	return n * map[string]float64{"s": 1, "min": 60}[f[2]]
}

// takes is about how long it is played, s of real time.
func (m meeting) takes() float64 {
	shows := 10.0
	if slow[m.Name] {
		shows = 120
	}
	return (m.at + m.lasts() + shows) / m.speed
}

// want is by what FAULTS.md names the fault.
func (m meeting) want() string {
	if w, ok := names[m.Name+" "+m.column]; ok {
		return w
	}
	return names[m.Name]
}

// together are words that fall due within a few lines of each other: which of them
// is the first over a port depends on the moment at which a line was measured.
var together = map[string][]string{"wake": {"SNAG", "MAY NOT COME UP AGAIN", "TENSION LIMIT"}, "drop": {"LOAD SILENT", "LOAD SLOW"}}

func (m meeting) named(text string) bool {
	return slices.ContainsFunc(append(together[m.Name], m.want()), func(w string) bool { return w != "" && strings.HasPrefix(titleOf(text), w) })
}

// tableStops are the cells of FAULTS.md that tell of a stop, as "fault column".
func tableStops(t *testing.T) map[string]bool {
	t.Helper()
	text, err := os.ReadFile("FAULTS.md")
	if err != nil {
		t.Fatal(err)
	}
	stops, head := map[string]bool{}, []string(nil)
	for l := range strings.Lines(string(text)) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(l), "|"), "|")
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		switch {
		case cells[0] == "fault":
			head = cells
		case len(cells) == len(head):
			for i, c := range cells {
				stops[cells[0]+" "+head[i]] = strings.Contains(c, ", stop ")
			}
		}
	}
	return stops
}

// TestAloneEveryFault: every fault that 'hawse deck --list' names, over real
// pseudo-terminals and by a capture as it runs live: the word of FAULTS.md is what
// is said first, a stop comes where the table has one and opens the relay, every
// instrument is read again, what tells it from others that begin alike is in the news,
// the log is whole and its replay says the same.
//
// It judges by words and their order. A machine that is held up says things of its
// own: a pull in which that came before the fault, or in which another word came
// first, is played again, and then slower. Each try is told.
func TestAloneEveryFault(t *testing.T) {
	base, err := deck.Load("cobble-neck")
	if err != nil {
		t.Fatal(err)
	}
	stops := tableStops(t)
	for _, m := range meetings(t, base) {
		t.Run(m.Name+" "+strings.ReplaceAll(m.boxes, ",", " "), func(t *testing.T) {
			t.Parallel()
			for try := 1; ; try++ {
				began := time.Now()
				said, err := m.play(t, base, stops[m.Name+" "+m.column])
				if err == nil {
					t.Logf("%s (%g times real time, %.1f s)", said, m.speed, time.Since(began).Seconds())
					return
				}
				if try == 4 {
					t.Fatal(err)
				}
				t.Logf("try %d, %g times real time: %v", try, m.speed, err)
				if try > 1 {
					m.speed = max(m.speed/2, 1)
				}
			}
		})
	}
}

// played is a capture of a deck that plays a fault, while it runs.
type played struct {
	meeting
	deck    *deck.Deck
	cap     *session.Capture
	clock   acquire.Clock
	began   int64
	stops   bool
	seq     uint64   // of the news seen last
	news    []string // since the fault began
	said    bool
	before  map[string]uint64 // good frames when the fault was over
	mark    float64           // the next mark on the rode that the winch operator calls out, m
	reopens bool              // a port has been opened anew
}

// play plays a meeting once. said is what was said first of the fault.
func (m meeting) play(t *testing.T, base *deck.Scenario, stops bool) (said string, err error) {
	s, err := base.With(m.boxes, []string{m.fault()})
	if err != nil {
		return "", err
	}
	tr, err := trial.ParseTrial("trial.toml", []byte(s.TrialFile()))
	if err != nil {
		return "", err
	}
	run, _ := tr.Run(s.Run)
	dir := t.TempDir()
	var clock interface {
		deck.Clock
		acquire.Clock
	} = acquire.NewClock()
	if m.speed != 1 {
		clock = acquire.NewScaledClock(m.speed)
	}
	s.Window = time.Duration(float64(s.Window) * m.speed) // the relay's patience is real time
	d, err := deck.Open(s, deck.Options{Dir: filepath.Join(dir, "deck"), Clock: clock, Seed: 1, Epoch: time.Now().UTC().Add(-time.Duration(clock.Now()))})
	if err != nil {
		return "", err
	}
	ctx, cancel := context.WithCancel(t.Context())
	ran := make(chan error, 1)
	p := &played{meeting: m, deck: d, clock: clock, stops: stops, mark: 58, began: clock.Now()}
	go func() { ran <- d.Run(ctx) }()
	defer func() {
		cancel()
		err = errors.Join(err, <-ran, d.Close())
	}()
	log := filepath.Join(dir, "a.log")
	p.cap, err = session.Start(ctx, session.Config{Clock: clock, Dir: dir, LogPath: log, Head: session.Head{Tool: "fault test", Build: "fault test",
		Started: time.Now(), Mode: "simulated", Caption: s.Caption, Scale: m.speed, Trial: tr, File: "trial.toml", Run: run}})
	if err != nil {
		return "", err
	}
	p.cap.ScreenState(true, "")
	people, acted := crew.NewPlayer(s.Crew, clock, false), make(chan struct{})
	go func() { defer close(acted); people.Run(ctx, p.cap) }()
	left := p.follow(ctx, people)
	for range 2 { // the rode may be loaded
		_, _ = p.cap.DoWait(ctx, session.Act{Who: safety.Director, Name: "test", What: session.ActEnd, Value: "test over"})
	}
	<-p.cap.Done()
	<-acted
	said, err = p.judged(log)
	if err == nil && left != "" {
		err = fmt.Errorf("%q was said, but not: %s", said, left)
	}
	if f := people.Fault(); f != "" {
		err = errors.Join(err, fmt.Errorf("the crew was stopped: %s", f))
	}
	return said, errors.Join(err, p.cap.Err())
}

// follow watches the capture until all has come that must come, and returns what
// has not after as long as it may take to show.
func (p *played) follow(ctx context.Context, people *crew.Player) (left string) {
	shows := 60.0 // s, of all but the slow ones
	if slow[p.Name] {
		shows = 260
	}
	most := p.began + int64((p.at+p.lasts()+shows)*1e9)
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for p.clock.Now() < most {
		select {
		case <-tick.C:
		case <-p.cap.Done():
			return left
		}
		if p.Name == "slip" {
			p.passMarks(ctx)
		}
		if left = p.left(); left == "" {
			return ""
		}
		if s := p.cap.Snapshot(); s.Guard.Stop.Kind != safety.NoStop && float64(p.clock.Now()-p.began)/1e9 < p.at || people.Fault() != "" {
			return left // by the machine, before the fault, or so that the crew cannot go on
		}
	}
	return left
}

// passMarks has the winch operator call out the rode's marks as they truly pass.
func (p *played) passMarks(ctx context.Context) {
	if st := p.deck.State(); float64(st.L) <= p.mark {
		_, _ = p.cap.DoWait(ctx, session.Act{Who: safety.WinchOperator, Name: "operator", What: session.ActPass, Value: fmt.Sprintf("%.0f m", p.mark)})
		p.mark -= 2
	}
}

// left is what has still to come; "" nothing.
func (p *played) left() string {
	s, at := p.cap.Snapshot(), float64(p.clock.Now()-p.began)/1e9
	for _, n := range slices.Backward(s.News) { // newest first
		if n.Seq > p.seq {
			p.seq = n.Seq
			if at > p.at {
				p.news = append(p.news, n.Text)
				p.said = p.said || p.named(n.Text)
				p.reopens = p.reopens || strings.HasPrefix(n.Text, "load open")
			}
		}
	}
	relay := p.deck.State()
	switch {
	case p.want() != "" && !p.said:
		return "the fault by its name"
	case p.stops && s.Guard.Stop.Kind == safety.NoStop:
		return "a stop"
	case p.stops && relay.RelayClosed && p.Name != "weld":
		return "the relay open"
	case p.Name == "half-open" && !p.reopens:
		return "the port opened anew"
	case at < p.at+p.lasts():
		return "the end of the fault"
	}
	if now := good(s); p.before == nil {
		p.before = now
	}
	for _, src := range slices.Sorted(maps.Keys(p.before)) {
		if good(s)[src] < p.before[src]+3 {
			return "three good frames of " + src
		}
	}
	if s.Stop.State != acquire.StateOpen {
		return "the stop output open"
	}
	if err := p.toldApart(); err != nil {
		return err.Error()
	}
	return ""
}

// good is how many good frames each instrument has sent.
func good(s *session.Snapshot) map[string]uint64 {
	out := map[string]uint64{}
	a := &s.Aids
	list := []session.Stream{s.Load, s.Line, a.Depth, a.Position, a.Heading, a.Clock}
	for _, c := range s.Cells {
		list = append(list, c.Stream)
	}
	for _, st := range list {
		if st.Src != "" {
			out[st.Src] = st.Good
		}
	}
	return out
}

// judged reads the log: whole, replayed without a difference, and the fault named
// in it as FAULTS.md names it. said is what was said of it first.
func (p *played) judged(path string) (said string, err error) {
	if rep, err := logfmt.VerifyFile(path); err != nil || !rep.Whole {
		return "", fmt.Errorf("the log is not whole: %v, %+v", err, rep)
	}
	f, err := logfmt.Open(path)
	if err != nil {
		return "", err
	}
	fold, damage, err := session.Refold(f, "fault test")
	if err = errors.Join(err, f.Close()); err != nil || len(damage) > 0 || len(fold.Diffs) > 0 || fold.Unsaid > 0 {
		return "", fmt.Errorf("replay: %v, damage %v, differences %v, %d unsaid", err, damage, fold.Diffs, fold.Unsaid)
	}
	if f, err = logfmt.Open(path); err != nil {
		return "", err
	}
	defer f.Close()
	stop, others, armed := "", []string(nil), false
	for read := logfmt.NewReader(f); read.Next(); {
		r := read.Record()
		at, text := saidAt(r)-float64(p.began)/1e9, r.Str("text")
		switch what := r.Str("what"); {
		case what == "armed":
			armed = true
		case what == "pin" && at > p.at:
			others = append(others, text)
		case !armed: // a port that has just been opened, on a machine that is held up
		case r.Kind != logfmt.Say || !naming[what] || what == "satellite-time" && at < p.at || strings.HasPrefix(text, "not ended: "):
		case what == "asked" && (at < p.at || !strings.HasPrefix(text, p.want())): // an answer that the machine has held up
		case at < p.at:
			return "", fmt.Errorf("said %.1f s before the fault: %s", p.at-at, text)
		case r.Str("what") == "stop-set":
			stop = cmp.Or(stop, text)
		default:
			if said == "" {
				said = text
			}
			others = append(others, text)
		}
	}
	switch {
	case p.want() == "" && (said != "" || stop != ""):
		return "", fmt.Errorf("said: %q, %q; want nothing: %s", others, stop, harmless[p.Name])
	case said == "" && p.want() != "":
		return "", fmt.Errorf("%q is not said; %q", p.want(), others)
	case p.want() != "" && !p.named(said):
		return "", fmt.Errorf("said first: %q, want %q; then %q", said, p.want(), others)
	case p.stops != (stop != ""):
		return "", fmt.Errorf("stop %q; FAULTS.md has one: %v; said %q", stop, p.stops, others)
	}
	return strings.TrimSuffix(cmp.Or(said, harmless[p.Name])+"; "+stop, "; "), p.toldApart()
}

// toldApart looks in the news for what tells the fault from those that begin alike,
// in its order, and for nothing that tells of another.
func (p *played) toldApart() error {
	i := slices.IndexFunc(apart, func(a struct {
		fault string
		tells []telling
	}) bool {
		return a.fault == p.Name
	})
	if i < 0 {
		return nil
	}
	news, lost := p.news, false
	for _, y := range apart[i].tells {
		lost = lost || strings.Contains(y.text, " lost: ")
		pattern := regexp.MustCompile("^" + strings.ReplaceAll(regexp.QuoteMeta(y.text), "N", `[\d.]+`))
		at := slices.IndexFunc(news, pattern.MatchString)
		if at < 0 {
			return fmt.Errorf("in the news there is no %q, in its place; there is %q", y.text, p.news)
		}
		news = news[at+1:]
	}
	if other := slices.IndexFunc(p.news, func(n string) bool { return strings.Contains(n, " lost: ") }); !lost && other >= 0 {
		return fmt.Errorf("said of a port that stays: %s", p.news[other])
	}
	return nil
}
