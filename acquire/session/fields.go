package session

import (
	"strconv"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/trial"
)

// The fields of the input records, in the order in which they stand in the log.
// Each appends to dst.

func rxFields(dst []logfmt.Field, src string, cut acquire.Cut) []logfmt.Field {
	if dst == nil {
		dst = make([]logfmt.Field, 0, 6) // one more than there are, for `at`
	}
	return append(dst,
		logfmt.Field{Key: "src", Val: src},
		logfmt.Field{Key: "t0", Val: logfmt.FormatNs(cut.T0)},
		logfmt.Field{Key: "chunk", Val: strconv.FormatUint(cut.Chunk, 10)},
		logfmt.Field{Key: "cut", Val: cut.Why},
		logfmt.Field{Key: "raw", Val: string(cut.Raw)})
}

// txFields are what an instrument was asked.
func txFields(src string, raw []byte) []logfmt.Field {
	return append(make([]logfmt.Field, 0, 3), logfmt.Field{Key: "src", Val: src}, logfmt.Field{Key: "raw", Val: string(raw)})
}

func portFields(it acquire.Item) []logfmt.Field {
	fields := []logfmt.Field{{Key: "src", Val: it.Src}, {Key: "state", Val: it.State}}
	if it.Name != "" {
		fields = append(fields, logfmt.Field{Key: "name", Val: it.Name})
	}
	if it.Reason != "" {
		fields = append(fields, logfmt.Field{Key: "reason", Val: it.Reason})
	}
	if it.Gap > 0 {
		fields = append(fields, logfmt.Field{Key: "gap", Val: logfmt.FormatNs(it.Gap)})
	}
	return fields
}

func clockFields(wall time.Time) []logfmt.Field {
	return []logfmt.Field{{Key: "wall", Val: wall.Format(time.RFC3339Nano)}}
}

// actFields are a person's act; session is a number no relay has seen.
func actFields(a Act, session uint32) []logfmt.Field {
	fields := []logfmt.Field{{Key: "who", Val: whoNames[a.Who]}, {Key: "name", Val: a.Name}, {Key: "act", Val: a.What}}
	switch a.What {
	case ActArm, ActStage, ActRearm:
		if a.What != ActArm {
			fields = append(fields, logfmt.Field{Key: "stage", Val: a.Stage.String()})
		}
		fields = append(fields, logfmt.Field{Key: "session", Val: strconv.FormatUint(uint64(session), 10)})
	}
	if a.What == ActCameUp {
		if said, err := trial.ParseCameUp(a.Value); err == nil {
			for _, kv := range said.Fields() {
				fields = append(fields, logfmt.Field{Key: kv.Key, Val: kv.Val})
			}
			return fields
		} // else the words stand in the record as they are, and are refused
	}
	if a.Value != "" {
		fields = append(fields, logfmt.Field{Key: "value", Val: a.Value})
	}
	return fields
}
