package tui

import "testing"

// TestPartsDoNotOverlap: at every size, with and without order and caption, no
// part of the screen stands on another, and the parts that must always be there
// have room.
func TestPartsDoNotOverlap(t *testing.T) {
	for w := minW; w <= 250; w++ {
		for h := minH; h <= 80; h++ {
			for _, n := range []need{
				{slots: "8.88", unit: "kN", limits: 5, streams: 3},
				{slots: "8888", unit: "lbf", order: "STOP", caption: true, limits: 9, streams: 4, alarms: true},
			} {
				l := layoutFor(w, h, n)
				parts := map[string]rect{"head": l.head, "caption": l.caption, "number": l.number, "gauge": l.gauge, "unit": l.unit,
					"under": l.under, "notice": l.notice, "limits": l.limits, "figures": l.figures, "trace": l.trace,
					"alarms": l.alarms, "news": l.news, "status": l.status, "keys": l.keys}
				for a, p := range parts {
					if p.w < 0 || p.h < 0 || p.x < 0 || p.y < 0 || p.w > 0 && p.h > 0 && (p.x+p.w > w || p.y+p.h > h) {
						t.Fatalf("%dx%d, order %q: %s is %+v, outside the screen", w, h, n.order, a, p)
					}
					for b, q := range parts {
						if a < b && overlap(p, q) {
							t.Fatalf("%dx%d, order %q: %s %+v and %s %+v overlap", w, h, n.order, a, p, b, q)
						}
					}
				}
				for name, min := range map[string]int{"number": 5, "limits": 1, "figures": 1, "alarms": 1, "status": 1, "keys": 1} {
					if parts[name].h < min {
						t.Fatalf("%dx%d, order %q: %s has %d rows, want %d at least", w, h, n.order, name, parts[name].h, min)
					}
				}
			}
		}
	}
}

func overlap(p, q rect) bool {
	return p.w > 0 && p.h > 0 && q.w > 0 && q.h > 0 &&
		p.x < q.x+q.w && q.x < p.x+p.w && p.y < q.y+q.h && q.y < p.y+p.h
}
