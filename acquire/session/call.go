package session

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"hawse/safety"
	"hawse/trial"
)

// Call is one request to a running capture: an act, or "status". It travels as
// one line of JSON over a Unix socket beside the log, whose file permissions
// are its guard.
type Call struct {
	Act   string `json:"act"`
	Who   string `json:"who,omitempty"`
	Name  string `json:"name,omitempty"`
	Stage string `json:"stage,omitempty"`
	Value string `json:"value,omitempty"`
}

// Answer is what came of a call. Record is the number of the act's record.
type Answer struct {
	Done    bool    `json:"done"`
	Refused string  `json:"refused,omitempty"`
	Record  uint64  `json:"record,omitempty"`
	Status  *Status `json:"status,omitempty"`
}

// Status is the standing of a capture for programs and for the headless line:
// SI units, named in the key; what is unknown is left out.
type Status struct {
	TimeS      float64  `json:"time_s"`
	Run        string   `json:"run"`
	Stage      string   `json:"stage"`
	Order      string   `json:"order"`
	StopCause  string   `json:"stop_cause,omitempty"`
	StopTaken  string   `json:"stop_taken_over_from,omitempty"` // the log before this one, in which it was set
	Armed      bool     `json:"armed"`
	HaulOpen   bool     `json:"haul_permitted"`
	ToDo       []string `json:"before_arming,omitempty"` // what stands against arming, in words
	TensionN   *float64 `json:"tension_n,omitempty"`
	TensionAge *float64 `json:"tension_age_s,omitempty"`
	HauledM    *float64 `json:"hauled_m,omitempty"`
	HauledAge  *float64 `json:"hauled_age_s,omitempty"`
	AnswerAge  float64  `json:"answer_age_s"`
	RodeOutM   *float64 `json:"rode_out_m,omitempty"`
	RodeDoubtM *float64 `json:"rode_out_doubt_m,omitempty"` // by the marks on the rode
	Scope      *float64 `json:"scope_incl_fairlead,omitempty"`
	ZeroN      *float64 `json:"zero_n,omitempty"` // software zero of the load cell
	Correction string   `json:"load_correction,omitempty"`
	Phase      string   `json:"phase"`
	PeakN      *float64 `json:"peak_n,omitempty"`
	Log        string   `json:"log"`
	Records    uint64   `json:"records"`
	OnDisk     uint64   `json:"records_on_disk"`
	Lost       uint64   `json:"records_lost"`
	Ended      string   `json:"ended,omitempty"`
}

// StatusOf reads a snapshot as a status.
func StatusOf(s *Snapshot) *Status {
	st := &Status{TimeS: float64(s.T) / 1e9, Run: s.Run.ID, Stage: s.Guard.Stage.String(), Order: s.Guard.Order.String(),
		Armed: s.Guard.Armed, HaulOpen: s.Guard.Permit, Phase: s.Phase.String(),
		Log: s.Log.Path, Records: s.Log.Written, OnDisk: s.Log.OnDisk, Lost: s.Log.Lost}
	if s.Guard.Stop.Kind != safety.NoStop {
		st.StopCause = s.Guard.Stop.Cause.Title()
		if s.Guard.Stop.Taken {
			st.StopTaken = s.After
		}
	}
	for _, l := range s.Checklist {
		if !l.Good() {
			st.ToDo = append(st.ToDo, l.Check.String()+" ("+l.State.String()+"): "+l.Text)
		}
	}
	for _, k := range s.Carried {
		if k.State == CarryOpen {
			st.ToDo = append(st.ToDo, "taken over from "+s.After+", to be confirmed: "+k.Item+" "+k.Text)
		}
	}
	st.Correction = s.Correction
	some := func(v float64) *float64 { return &v }
	if s.Zero.Known {
		st.ZeroN = some(float64(s.Zero.Force))
	}
	if s.Tension.Known {
		st.TensionN = some(float64(s.Tension.Now))
	}
	if s.Tension.At >= 0 {
		st.TensionAge = some(float64(s.T-s.Tension.At) / 1e9)
	}
	if s.Haul.At >= 0 {
		st.HauledAge = some(float64(s.T-s.Haul.At) / 1e9)
	}
	if !s.Ended {
		st.AnswerAge = time.Since(s.Made).Seconds()
		if st.AnswerAge > 1 { // the guard itself says nothing: nothing is known
			st.TensionN, st.HaulOpen, st.Order = nil, false, "unknown: the guard does not answer"
			return st
		}
	}
	if s.Haul.Known {
		st.HauledM, st.RodeOutM = some(float64(s.Haul.X)), some(float64(s.Haul.RodeOut))
		if s.Haul.ScopeOK {
			st.Scope = some(s.Haul.Scope)
		}
		if v := float64(s.Haul.MarkDoubt); !math.IsNaN(v) {
			st.RodeDoubtM = some(v)
		}
	}
	if s.Peak.Known {
		st.PeakN = some(float64(s.Peak.Value))
	}
	if s.Ended {
		st.Ended = s.EndReason
	}
	return st
}

// SocketPath is where a capture of that log listens. A path too long for the
// system's sockets is replaced by one in the temporary folder, found from the
// log's full path.
func SocketPath(log string) string {
	if abs, err := filepath.Abs(log); err == nil {
		log = abs // the same for whoever asks, from whatever folder
	}
	p := log + ".sock"
	if len(p) < 100 {
		return p
	}
	sum := sha256.Sum256([]byte(log))
	return filepath.Join(os.TempDir(), fmt.Sprintf("hawse-%x.sock", sum[:8]))
}

// ServeCalls answers calls until ctx ends, then removes the socket. A caller
// that is slow or silent holds up nobody else. listening is called once calls
// can come in.
func ServeCalls(ctx context.Context, c *Capture, log string, listening func()) error {
	path := SocketPath(log)
	l, err := listenGuarded(path, "calls", "another capture answers there")
	if err != nil {
		return err
	}
	defer l.Close()
	listening()
	acceptAll(ctx, l, func(conn net.Conn) { answerCalls(ctx, c, conn) })
	return nil
}

// listenGuarded listens for what on a socket that only this user can open, its
// permissions the guard, and that nobody else listens on.
func listenGuarded(path, what, busy string) (net.Listener, error) {
	if conn, err := net.DialTimeout("unix", path, time.Second); err == nil {
		conn.Close()
		return nil, fmt.Errorf("%s: %s", path, busy)
	}
	os.Remove(path) // left behind by a program that died
	l, err := net.Listen("unix", path)
	if err != nil {
		return nil, fmt.Errorf("cannot listen for %s: %w", what, err)
	}
	if err := os.Chmod(path, 0o600); err != nil {
		l.Close()
		return nil, fmt.Errorf("cannot guard the socket for %s: %w", what, err)
	}
	return l, nil
}

// acceptAll serves each connection in a goroutine of its own until ctx ends or
// the listener is closed, and returns when all of them are done.
func acceptAll(ctx context.Context, l net.Listener, serve func(net.Conn)) {
	defer context.AfterFunc(ctx, func() { l.Close() })()
	var wg sync.WaitGroup
	defer wg.Wait()
	for {
		conn, err := l.Accept()
		if err != nil {
			if ctx.Err() != nil || errors.Is(err, net.ErrClosed) {
				return
			}
			select { // out of descriptors, say: it may pass
			case <-time.After(100 * time.Millisecond):
			case <-ctx.Done():
			}
			continue
		}
		wg.Go(func() {
			defer conn.Close()
			defer context.AfterFunc(ctx, func() { conn.Close() })()
			serve(conn)
		})
	}
}

func answerCalls(ctx context.Context, c *Capture, conn net.Conn) {
	lines := bufio.NewScanner(io.LimitReader(conn, 1<<20))
	enc := json.NewEncoder(conn)
	for lines.Scan() {
		conn.SetWriteDeadline(time.Now().Add(5 * time.Second))
		if enc.Encode(answer(ctx, c, lines.Bytes())) != nil {
			return
		}
	}
}

func answer(ctx context.Context, c *Capture, line []byte) Answer {
	var call Call
	if err := json.Unmarshal(line, &call); err != nil {
		return Answer{Refused: "not a call: " + err.Error()}
	}
	if call.Act == "status" {
		return Answer{Done: true, Status: StatusOf(c.Snapshot())}
	}
	a, err := call.act()
	if err != nil {
		return Answer{Refused: err.Error()}
	}
	o, err := c.DoWait(ctx, a)
	if err != nil {
		return Answer{Refused: err.Error()}
	}
	return Answer{Done: o.Refused == "", Refused: o.Refused, Record: o.N}
}

// Callable are the acts that may come over the socket.
var Callable = []string{ActStop, ActArm, ActStage, ActAck, ActRearm, ActAbandon, ActDepth, ActPayout, ActPass, ActMark, ActCameUp, ActEnd,
	ActZero, ActWeight, ActCorrect, ActHorn, ActRead, ActReady, ActNotReady, ActWaive, ActAccept,
	ActCellOff, ActCellOn, ActClear, ActLower, ActCarry, ActDrop}

func (call Call) act() (Act, error) {
	a := Act{Who: whoNamed(call.Who), Name: call.Name, What: call.Act, Value: call.Value}
	if call.Who == "" {
		a.Who = safety.Director
	}
	if a.Who == safety.Nobody || a.Who == safety.Program {
		return a, fmt.Errorf("unknown seat %q: director, winch, logger or watcher", call.Who)
	}
	if !slices.Contains(Callable, call.Act) {
		return a, fmt.Errorf("unknown call %q: %s or status", call.Act, strings.Join(Callable, ", "))
	}
	if call.Act == ActStage || call.Act == ActRearm {
		stage, err := trial.ParseStage(call.Stage)
		if err != nil {
			return a, err
		}
		a.Stage = stage
	}
	return a, nil
}

// PlaceCall sends one call to the capture of that log and returns its answer.
func PlaceCall(log string, call Call) (Answer, error) {
	path := SocketPath(log)
	conn, err := net.DialTimeout("unix", path, 2*time.Second)
	if err != nil {
		return Answer{}, fmt.Errorf("no running capture answers for %s (%s): is it running, and is this its log? %w", log, path, err)
	}
	defer conn.Close()
	conn.SetDeadline(time.Now().Add(10 * time.Second))
	if err := json.NewEncoder(conn).Encode(call); err != nil {
		return Answer{}, err
	}
	var a Answer
	if err := json.NewDecoder(bufio.NewReader(conn)).Decode(&a); err != nil {
		return Answer{}, fmt.Errorf("the capture gave no answer: %w", err)
	}
	return a, nil
}
