package tui

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// Whatever the pace of samples and frames, no sample stays above every number
// that was shown from its coming on until half a second later, the number changes
// four times a second at most, and it is always one that was measured.
func TestBigNumberLosesNoPeak(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const ms = int64(time.Millisecond)
		every := int64(rapid.IntRange(5, 200).Draw(t, "ms between samples")) * ms
		frame := int64(rapid.IntRange(16, 120).Draw(t, "ms between frames")) * ms
		var samples []trial.Force
		for range 60 {
			samples = append(samples, trial.Force(rapid.IntRange(0, 9000).Draw(t, "N")))
		}
		largest := func(now int64) (big trial.Force) { // as a snapshot has it: of the last quarter second
			for i, v := range samples {
				if at := int64(i) * every; at <= now && (now-at < 250*ms || at+every > now) {
					big = max(big, v)
				}
			}
			return big
		}
		var b bigNumber
		var was *session.Snapshot
		type shown struct {
			at int64
			v  trial.Force
		}
		var all []shown
		end := int64(len(samples)) * every
		for now := int64(0); now < end+500*ms; now += frame {
			s := &session.Snapshot{T: now, Tension: session.Tension{Known: true, Big: largest(now)}}
			next := b.next(time.Unix(100, now), was, s)
			if len(all) == 0 || next.at != b.at {
				all = append(all, shown{now, next.shown})
			}
			b, was = next, s
		}
		for i, v := range all {
			if i > 0 && v.at-all[i-1].at < int64(redraw) {
				t.Fatalf("the number changed after %v, want %v at least", time.Duration(v.at-all[i-1].at), redraw)
			}
		}
		for i, v := range samples {
			at, seen := int64(i)*every, false
			for k, n := range all {
				until := int64(1) << 62
				if k+1 < len(all) {
					until = all[k+1].at
				}
				seen = seen || n.v >= v && until > at && n.at <= at+500*ms
			}
			if !seen {
				t.Fatalf("sample %d, %v at %v, was over every number shown: %v", i, v, time.Duration(at), all)
			}
		}
	})
}

// An order, and a tension that is not known, do not wait for the number's turn.
func TestBigNumberDoesNotWaitForAnOrder(t *testing.T) {
	at := time.Unix(100, 0)
	one := &session.Snapshot{T: 1, Tension: session.Tension{Known: true, Big: 100}}
	b := bigNumber{}.next(at, nil, one)
	two := *one
	two.T, two.Tension.Big = 2, 8100
	if got := b.next(at.Add(time.Millisecond), one, &two); got.shown != 100 {
		t.Errorf("a millisecond later the number is %v, want 100 still", got.shown)
	}
	two.Guard.Order = safety.OrderStop
	if got := b.next(at.Add(time.Millisecond), one, &two); got.shown != 8100 {
		t.Errorf("with a STOP the number is %v, want 8100 at once", got.shown)
	}
	two.Tension.Known = false
	gone := b.next(at.Add(time.Millisecond), one, &two)
	back := *one
	if got := gone.next(at.Add(2*time.Millisecond), &two, &back); got.shown != 100 {
		t.Errorf("known again the number is %v, want 100 at once", got.shown)
	}
}
