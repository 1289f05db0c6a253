package tui

import (
	"context"
	"os"
	"testing"
	"time"

	"hawse/acquire/session"
)

// TestShow puts a scene on the terminal, for the eye:
//
//	go test -c -o show ./tui && HAWSE_SCENE=pull ./show -test.run TestShow
//
// q leaves a replay; ctrl-\ ends the others. It is skipped without HAWSE_SCENE.
func TestShow(t *testing.T) {
	name := os.Getenv("HAWSE_SCENE")
	if name == "" {
		t.Skip("HAWSE_SCENE is not set")
	}
	sc := sceneNamed(name)
	v, _ := sc.view()
	begin := time.Now()
	o := Options{
		Plain: sc.plain, Stay: true,
		Now: func() time.Time { return sceneStart.Add(sc.stale) },
		Lost: func(reason string) {
			if file := os.Getenv("HAWSE_LOST"); file != "" {
				f, err := os.OpenFile(file, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o666)
				if err == nil {
					_, _ = f.WriteString(reason + "\n")
					_ = f.Close()
				}
			}
		},
	}
	if sc.stale == 0 { // so that a question can be answered
		o.Now = func() time.Time { return sceneStart.Add(time.Since(begin)) }
		if _, replay := v.(*fakePlayer); !replay {
			v = fresh{v, o.Now}
		}
	}
	if err := Run(context.Background(), v, o); err != nil {
		t.Fatal(err)
	}
}

// fresh is a view whose snapshot is always new.
type fresh struct {
	session.View
	now func() time.Time
}

func (f fresh) Snapshot() *session.Snapshot {
	s := *f.View.Snapshot()
	s.Made = f.now()
	return &s
}
