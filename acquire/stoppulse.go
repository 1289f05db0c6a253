package acquire

import (
	"bytes"
	"errors"
	"sync"
	"sync/atomic"
	"time"
)

var errNoLines = errors.New("the port has none")

// pulseForm is a pulse train on a modem line, for a relay that is triggered
// again by each rising edge and falls when none comes within its window. Every
// other beat is one pulse, so beats every 50 ms make 10 Hz.
//
// The line is never a level. Only a beat raises it, and it falls at the latest
// four fifths of a beat later, also when no beat follows. If the whole program
// is stopped while it is up it does stay up, and makes no edge: the relay must
// be of the kind that counts edges. Opening a port can raise the line for a
// moment before any program can lower it. That is one edge, to which such a
// relay answers with one window, at the most, before the first arming.
//
// Such a relay cannot know a session number. The near end keeps the rule for
// it: the train of a session that was opened never begins again.
//
// The messages are words as on a data line, so that the record can be read:
// BEAT for half a period of the train, OPEN for its end.
type pulseForm struct {
	line Line
	high time.Duration // the longest the line may be up
}

func (pulseForm) Class(msg []byte) Class           { return textClass(msg) }
func (pulseForm) Lines() bool                      { return true }
func (pulseForm) Again() time.Duration             { return 0 }
func (pulseForm) Count(sent []byte) int            { return bytes.Count(sent, []byte{'\n'}) }
func (pulseForm) Open(dst []byte, s uint32) []byte { return AppendOpen(dst, s) }

func (pulseForm) Beat(dst []byte, session uint32, count uint64, _ bool) []byte {
	return AppendBeat(dst, session, count)
}

func (f pulseForm) Wrap(c Conn) (Conn, error) {
	lc, err := takeLines(c)
	if err != nil {
		return nil, err
	}
	p := &pulseConn{LineConn: lc, form: f, over: map[uint32]struct{}{}}
	p.fall = time.AfterFunc(time.Hour, p.lower)
	p.fall.Stop()
	return p, nil
}

// pulseConn is a port whose Write makes edges.
type pulseConn struct {
	LineConn
	form pulseForm
	fall *time.Timer
	shut atomic.Bool // the device refuses by itself; this is for beats that ask nothing of it

	mu      sync.Mutex
	up      bool
	low     bool   // the next beat belongs to the low half
	session uint32 // of the train
	over    map[uint32]struct{}
}

// Write takes whole words and makes of each what it means on the line.
func (p *pulseConn) Write(words []byte) (n int, err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for n < len(words) {
		if p.shut.Load() {
			return n, ErrClosed
		}
		end := bytes.IndexByte(words[n:], '\n') + 1
		if end == 0 {
			end = len(words) - n
		}
		if err := p.word(words[n : n+end]); err != nil {
			return n, err
		}
		n += end
	}
	return n, nil
}

func (p *pulseConn) word(w []byte) error {
	if rest, ok := bytes.CutPrefix(w, []byte(beatWord)); ok {
		number, _, _ := bytes.Cut(rest, []byte{' '})
		if session, ok := parseSession(number); ok {
			return p.beat(session)
		}
	}
	// Whatever else it is, no beat: the line goes down and stays there.
	if p.session != 0 {
		p.over[p.session] = struct{}{}
		p.session = 0
	}
	p.low = false
	return p.set(false)
}

func (p *pulseConn) beat(session uint32) error {
	if _, over := p.over[session]; over || session == 0 {
		return nil
	}
	if session != p.session {
		if p.session != 0 {
			p.over[p.session] = struct{}{}
		}
		p.session, p.low = session, false
	}
	if p.low {
		p.low = false
		return p.set(false)
	}
	p.low = true
	p.fall.Reset(p.form.high)
	return p.set(true)
}

// lower ends a pulse in time whatever the beats do.
func (p *pulseConn) lower() {
	p.mu.Lock()
	defer p.mu.Unlock()
	_ = p.set(false) // the next beat tells of a port that is gone
}

func (p *pulseConn) set(up bool) error {
	if up == p.up {
		return nil
	}
	err := p.SetLine(p.form.line, up)
	if err == nil {
		p.up = up
	}
	return err
}

// Close implements [Conn]. The port lowers its lines as it closes.
func (p *pulseConn) Close() error {
	p.shut.Store(true)
	p.fall.Stop()
	return p.LineConn.Close()
}
