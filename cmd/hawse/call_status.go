package main

import (
	"fmt"
	"io"

	"hawse/acquire"
	"hawse/acquire/session"
)

// writeStatus is how a capture stands, for a person. What is not known says so:
// a load that is not known is treated as loaded. Programs take --json.
func writeStatus(w io.Writer, s *session.Status) {
	line := func(label, format string, values ...any) {
		fmt.Fprintf(w, "%-8s  %s\n", label, acquire.Visible(fmt.Appendf(nil, format, values...)))
	}
	old := func(age *float64) string {
		if age == nil {
			return ""
		}
		return fmt.Sprintf(", %.1f s old", *age)
	}
	line("run", "%s, stage %s, phase %s, at %s", s.Run, s.Stage, s.Phase, clock(int64(s.TimeS*1e9)))
	haul := "haul not permitted"
	if s.HaulOpen {
		haul = "haul permitted"
	}
	line("order", "%s; %s", s.Order, haul)
	if s.StopCause != "" {
		line("stop", "%s", s.StopCause)
	}
	if s.StopTaken != "" {
		line("", "taken over from %s", s.StopTaken)
	}
	if s.TensionN != nil {
		line("tension", "%.2f kN%s", *s.TensionN/1000, old(s.TensionAge))
	} else {
		line("tension", "unknown: treat the line as loaded%s", old(s.TensionAge))
	}
	if s.PeakN != nil {
		line("peak", "%.2f kN", *s.PeakN/1000)
	}
	if s.HauledM != nil {
		line("hauled", "%.1f m%s", *s.HauledM, old(s.HauledAge))
	} else {
		line("hauled", "unknown%s", old(s.HauledAge))
	}
	if s.RodeOutM != nil {
		doubt := ""
		if s.RodeDoubtM != nil {
			doubt = fmt.Sprintf(", in doubt by %.1f m by the marks on the rode", *s.RodeDoubtM)
		}
		line("out", "%.1f m%s", *s.RodeOutM, doubt)
	}
	if s.Scope != nil {
		line("scope", "%.2f:1 with the fairlead's height", *s.Scope)
	}
	if s.Correction != "" {
		line("load", "%s", s.Correction)
	}
	line("record", "%d of %d records on disk, %d lost: %s", s.OnDisk, s.Records, s.Lost, s.Log)
	for i, t := range s.ToDo {
		label := ""
		if i == 0 {
			label = "to do"
		}
		line(label, "%s", t)
	}
	if s.Ended != "" {
		line("ended", "%s", s.Ended)
	}
}
