package session

import (
	"slices"
	"testing"
	"time"
)

// handed is what a watcher hands over, in that order.
func handed(w *Watching) (list []string) {
	for {
		ask, _ := w.next()
		if ask.Act == nil {
			return list
		}
		list = append(list, ask.Act.What)
	}
}

// A STOP goes before what waits, nothing that was done before it works against it,
// and no number of other acts pushes it out.
func TestWatchedStopGoesFirst(t *testing.T) {
	flood := func(w *Watching) {
		for range 3 * actsWait {
			w.Do(Act{What: ActMark})
		}
	}
	tests := []struct {
		name string
		do   func(*Watching)
		want []string
	}{
		{"before an acknowledgement and a re-arm", func(w *Watching) {
			w.Do(Act{What: ActAck})
			w.Do(Act{What: ActMark})
			w.Do(Act{What: ActRearm})
			w.Do(Act{What: ActStop})
			w.Do(Act{What: ActAck})
		}, []string{ActStop, ActMark, ActAck}},
		{"called twice", func(w *Watching) { w.Do(Act{What: ActStop}); w.Do(Act{What: ActStop}) }, []string{ActStop}},
		{"an act that was not handed over comes back", func(w *Watching) {
			w.Do(Act{What: ActRearm})
			_, did := w.next()
			w.Do(Act{What: ActStop})
			w.again(did)
		}, []string{ActStop}},
		{"a mark that was not handed over comes back", func(w *Watching) {
			w.Do(Act{What: ActMark})
			_, did := w.next()
			w.Do(Act{What: ActStop})
			w.again(did)
		}, []string{ActStop, ActMark}},
		{"a STOP that was not handed over comes back", func(w *Watching) {
			w.Do(Act{What: ActStop})
			_, did := w.next()
			w.Do(Act{What: ActAck})
			w.again(did)
		}, []string{ActStop, ActAck}},
		{"an act that comes back is as old as it was", func(w *Watching) {
			w.again(lateAct{Act{What: ActRearm}, time.Now().Add(-2 * actStands)})
		}, nil},
	}
	for _, tt := range tests {
		w := &Watching{wake: make(chan struct{}, 1)}
		tt.do(w)
		if got := handed(w); !slices.Equal(got, tt.want) {
			t.Errorf("%s: handed over %v, want %v", tt.name, got, tt.want)
		}
	}
	w := &Watching{wake: make(chan struct{}, 1)}
	w.Do(Act{What: ActStop})
	flood(w)
	if got := handed(w); len(got) != actsWait || got[0] != ActStop {
		t.Errorf("behind %d marks: %d handed over, the first %v; want the STOP", 3*actsWait, len(got), got[0])
	}
}
