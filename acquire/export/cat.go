package export

import (
	"bufio"
	"io"
	"strconv"

	"hawse/acquire/session"
	"hawse/logfmt"
)

// CatOptions say how records are printed.
type CatOptions struct {
	JSON  bool
	Flush bool // after each record, for whoever reads along
	ToEnd bool // stop at the record that ends the log, without looking for more
}

// Cat prints the records of the log in r, one a line, and behind a record what
// the fold makes of each frame of the load cell in it. The error is one of
// writing; that of a log whose frames cannot be understood is in dumb, and its
// records are printed all the same.
//
// As text a line is that of the log without prev and crc, in the same form, and
// the reading follows as further pairs. As JSON it is one object:
//
//	{"t_s":12.345678901,"n":1042,"kind":"rx","fields":{"src":"load","raw":"+00312.4 lb\\r\\n"},"samples":[{"reading":"good","tension_n":1389.6}]}
//
// where every text is printable ASCII with the log's own escapes.
func Cat(w io.Writer, r io.Reader, o CatOptions) (res *Result, dumb, err error) {
	src := logfmt.NewSource(r)
	defer src.Close()
	out := bufio.NewWriterSize(w, 64<<10)
	read := logfmt.NewReader(src)
	read.CheckSeal()
	var sampler session.Sampler
	var line []byte
	res = &Result{}
	for read.Next() {
		rec := read.Record()
		res.Records++
		res.Sealed = rec.Kind == logfmt.End
		var taken []session.Sampled
		if dumb == nil {
			taken, dumb = sampler.Apply(&rec)
		}
		if o.JSON {
			line = append(appendJSON(line[:0], &rec, taken), '\n')
		} else {
			line = append(appendText(line[:0], &rec, taken), '\n')
		}
		if _, err := out.Write(line); err != nil {
			return res, dumb, err
		}
		if o.Flush {
			if err := out.Flush(); err != nil {
				return res, dumb, err
			}
		}
		if res.Sealed && o.ToEnd {
			break
		}
	}
	res.Damage, res.Broken, res.Seal = read.Damage(), read.Err(), read.Seal()
	return res, dumb, out.Flush()
}

// catColumns are the columns of [Samples] that say more than the record itself.
var catColumns = func() (cols []column[sampleRow]) {
	said := map[string]bool{"run": true, "mode": true, "n": true, "t_ns": true, "t_s": true, "wall_utc": true, "lost_records": true}
	for _, c := range sampleColumns {
		if !said[c.Name] {
			cols = append(cols, c)
		}
	}
	return cols
}()

// proofBytes is how long " prev=XXXXXXXX crc=XXXXXXXX\n" is, the end of a line.
const proofBytes = len(" prev=") + 8 + len(" crc=") + 8 + 1

func appendText(dst []byte, r *logfmt.Record, taken []session.Sampled) []byte {
	dst, _ = logfmt.AppendRecord(dst, r, 0)
	dst = dst[:len(dst)-proofBytes]
	for i := range taken {
		row := sampleRow{place{t: taken[i].T}, &taken[i]}
		for _, c := range catColumns {
			v := c.get(&row)
			if !v.set {
				continue
			}
			dst = append(append(append(dst, ' '), c.Name...), '=')
			if c.Kind == Text {
				dst = append(append(append(dst, '"'), v.s...), '"')
			} else {
				dst = append(dst, csvText(c.Kind, &v)...)
			}
		}
	}
	return dst
}

func appendJSON(dst []byte, r *logfmt.Record, taken []session.Sampled) []byte {
	dst = append(dst, `{"t_s":`...)
	dst = append(dst, logfmt.FormatNs(r.T)...)
	dst = append(dst, `,"n":`...)
	dst = strconv.AppendUint(dst, r.N, 10)
	dst = append(dst, `,"kind":`...)
	dst = appendString(dst, string(r.Kind))
	dst = append(dst, `,"fields":{`...)
	for i, f := range r.Fields {
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = append(appendString(dst, f.Key), ':')
		dst = appendString(dst, f.Val)
	}
	dst = append(dst, '}')
	for i := range taken {
		if i == 0 {
			dst = append(dst, `,"samples":[`...)
		} else {
			dst = append(dst, ',')
		}
		dst = appendSample(dst, &taken[i])
	}
	if len(taken) > 0 {
		dst = append(dst, ']')
	}
	return append(dst, '}')
}

func appendSample(dst []byte, one *session.Sampled) []byte {
	row := sampleRow{place{t: one.T}, one}
	sep := byte('{')
	for _, c := range catColumns {
		v := c.get(&row)
		if !v.set {
			continue
		}
		dst = append(appendString(append(dst, sep), c.Name), ':')
		sep = ','
		if c.Kind == Text {
			dst = appendString(dst, v.s)
		} else {
			dst = append(dst, csvText(c.Kind, &v)...)
		}
	}
	return append(dst, '}')
}

// appendString writes a JSON string of the text with the log's own escapes, so
// that any bytes come through and none acts on a terminal.
func appendString(dst []byte, s string) []byte {
	dst = append(dst, '"')
	for _, c := range logfmt.AppendEscaped(make([]byte, 0, len(s)+8), s) {
		if c == '"' || c == '\\' {
			dst = append(dst, '\\')
		}
		dst = append(dst, c)
	}
	return append(dst, '"')
}
