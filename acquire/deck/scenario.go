package deck

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"hawse/trial"
)

// Scenario is a parsed script: what the deck is, what the tension does, what
// goes wrong, and what the winch operator and the director do.
type Scenario struct {
	Name, Title string
	Caption     string // to be shown with the data: it says they are invented

	Depth, Fairlead trial.Length
	Payout          trial.Length // rode out with nothing hauled
	Start           trial.Length // line hauled when the deck begins
	Speed           trial.Speed  // of the winch, both ways, unless a step says otherwise
	LoadHz, LineHz  float64      // lines a second

	Ramp      time.Duration // to come to speed, and to stop
	RunOn     time.Duration // until a winch told to stop begins to
	Answer    time.Duration // until the scripted operator hauls after the relay has closed again
	Window    time.Duration // of the relay
	Relay     string        // what it speaks: "modbus", otherwise text
	Stiffness trial.Force   // EA of the whole rode
	Slack     trial.Force   // tension of a slack rode
	Noise     trial.Force   // standard deviation of a reading
	Relax     float64       // share of the tension lost when the winch stops
	RelaxIn   time.Duration // in which most of it goes
	Count     int64         // of the line box at the beginning

	Swell      trial.Force   // amplitude of the tension in the swell; 0: none
	SwellEvery time.Duration // its period

	Run   string    // id of the run in the trial file that is played
	Trial []Setting // where the trial file differs from the template, see [Scenario.TrialFile]

	Winch []Step
	Crew  []Step
	Text  []byte // the script as read

	model          *Model // in place of the two tables; nil without one
	box            loadBox
	wiring         wiring
	pull, recovery curve
	faults         []fault
}

// fault is something that goes wrong, once.
type fault struct {
	line  int
	text  string // as it stands in the script
	when  string // "time", "x" or "step"
	at    float64
	step  string
	kind  string // "unplug", "silence", ...
	port  int
	value float64 // its first quantity, where that is not how long it lasts
	word  string  // its unit, of a fault that names one
	lasts time.Duration
}

// The ports, in the order of the deck's tables.
const (
	portLoad = iota
	portLine
	portStop
	portDepth // sounder, receiver, compass and clock
	portLoad2 // further load cells
	portLoad3
	numPorts
)

// The instruments: those with a port of their name, and the others of portDepth.
const (
	insPosition = numPorts + iota
	insHeading
	insClock
	numInstruments
)

var portNames = [numPorts]string{"load", "line", "stop", "depth", "load2", "load3"}

var insNames = [numInstruments]string{"load", "line", "stop", "depth", "load2", "load3", "position", "heading", "clock"}

// Tension is what the pull's table says at x metres hauled, before noise.
func (s *Scenario) Tension(x trial.Length) trial.Force { return s.pull.at(x) }

//go:embed scenarios/*.txt
var embedded embed.FS

// Names lists the scenarios the deck brings along, in order.
func Names() []string {
	entries, err := embedded.ReadDir("scenarios")
	if err != nil {
		return nil
	}
	names := make([]string, len(entries))
	for i, e := range entries {
		names[i] = strings.TrimSuffix(e.Name(), ".txt")
	}
	return names
}

const maxScript = 1 << 20

// Load reads a scenario: one of [Names], or a file when the name has a path
// separator in it or ends in .txt.
func Load(name string) (*Scenario, error) {
	if strings.HasSuffix(name, ".txt") || strings.ContainsAny(name, `/`+string(filepath.Separator)) {
		f, err := os.Open(name)
		if err != nil {
			return nil, fmt.Errorf("scenario: %w", err)
		}
		defer f.Close()
		text, err := io.ReadAll(io.LimitReader(f, maxScript+1))
		if err != nil {
			return nil, fmt.Errorf("scenario: %w", err)
		}
		return ParseScenario(name, text)
	}
	for _, known := range Names() {
		if name == known {
			text, err := embedded.ReadFile("scenarios/" + name + ".txt")
			if err != nil {
				return nil, fmt.Errorf("scenario %s: %w", name, err)
			}
			return ParseScenario(name+".txt", text)
		}
	}
	return nil, fmt.Errorf("scenario %s is not known; choose one of %s, or give the path of a .txt file",
		quoted(name), strings.Join(Names(), ", "))
}

// ScriptError is one fault in a script.
type ScriptError struct {
	File string
	Line int
	What string // what is wrong
	Do   string // what to write instead
}

// Error is "file:line: what is wrong; what to do".
func (e *ScriptError) Error() string {
	return fmt.Sprintf("%s:%d: %s; %s", e.File, e.Line, e.What, e.Do)
}

// joined makes one error of all, so that a director mends a script in one go.
func joined(errs []*ScriptError) error {
	if len(errs) == 0 {
		return nil
	}
	all := make([]error, len(errs))
	for i, e := range errs {
		all[i] = e
	}
	return errors.Join(all...)
}
