package acquire

import (
	"slices"
	"sync"
)

// mailbox holds what the writer should send next: the newest message, and
// before it an OPEN that has not gone out yet.
type mailbox struct {
	class  func(msg []byte) Class // nil: that of the words
	mu     sync.Mutex
	open   []byte
	newest []byte
	bell   chan struct{} // of the writer of the present connection; nil without one
}

// post never blocks. A heartbeat does not replace an OPEN, nor follow it: only
// an ARM ends what OPEN says, and then both go out, in order.
func (m *mailbox) post(msg []byte) {
	if len(msg) == 0 {
		return
	}
	class := textClass
	if m.class != nil {
		class = m.class
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	switch c := class(msg); {
	case c == ClassOpen:
		m.open, m.newest = slices.Clone(msg), nil
	case c == ClassBeat && m.open != nil && m.newest == nil:
		return
	default:
		m.newest = slices.Clone(msg)
	}
	m.ring()
}

func (m *mailbox) ring() {
	if m.bell == nil {
		return
	}
	select {
	case m.bell <- struct{}{}:
	default: // already rung
	}
}

// take empties the box. Only the holder of the present bell gets anything: a
// writer left over from an old connection must not steal what is for the new.
func (m *mailbox) take(bell chan struct{}, onlyOpen bool) []byte {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.bell != bell {
		return nil
	}
	msg := m.open
	if !onlyOpen {
		msg = append(msg, m.newest...)
	}
	m.open, m.newest = nil, nil
	return msg
}

// attach gives the box to a new connection. What was posted before it is stale
// and dropped, all but an OPEN: an ARM from minutes ago must not permit hauling.
func (m *mailbox) attach() (bell chan struct{}) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.newest = nil
	m.bell = make(chan struct{}, 1)
	if m.open != nil {
		m.ring()
	}
	return m.bell
}

func (m *mailbox) detach() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.bell = nil
}
