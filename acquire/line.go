package acquire

import "hawse/trial"

// LineReading is one line of the encoder's box: Good or Garbled.
type LineReading struct {
	Kind   ReadingKind
	Counts int64
	Why    string // empty for a good reading; text from outside in it is made visible
}

// LineDecoder reads the frames of a line encoder's box.
type LineDecoder struct {
	line *pattern // of text
	bin  *packed  // nil for text
}

// plainCounts is the pattern of a box that sends the count and nothing else.
const plainCounts = `[ \t]*(?P<counts>[-+]?[ \t]*[0-9]+)[ \t]*`

// NewLineDecoder checks the line pattern: it must match a whole line and have
// the group counts, a whole number; status is optional. Without a pattern a line
// is the number alone. Errors begin with the key at fault.
func NewLineDecoder(c trial.Encoder) (*LineDecoder, error) {
	if bin := newPacked(c.Wire); bin != nil {
		return &LineDecoder{bin: bin}, nil
	}
	text := c.Line
	if text == "" {
		text = plainCounts
	}
	line, err := newPattern(text, "counts", "status", "value", "unit", "depth")
	if err != nil {
		return nil, err
	}
	return &LineDecoder{line: line}, nil
}

// Decode reads one frame from a [Framer].
func (d *LineDecoder) Decode(frame []byte) LineReading {
	if d.bin != nil {
		n, why := d.bin.counts(frame)
		if why != "" {
			return LineReading{Why: why}
		}
		return LineReading{Kind: Good, Counts: n}
	}
	m := d.line.match(frame)
	if m == nil {
		return LineReading{Why: "does not match the line pattern"}
	}
	text := d.line.part(frame, m, "counts")
	n, err := parseCounts(text)
	if err != nil {
		return LineReading{Why: quoted(string(text)) + ": " + err.Error()}
	}
	return LineReading{Kind: Good, Counts: n}
}

// Fits is as of [LoadDecoder.Fits].
func (d *LineDecoder) Fits(frame []byte) bool { return d.bin != nil || d.line.match(frame) != nil }
