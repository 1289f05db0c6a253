package listen

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hawse/acquire"
	"hawse/trial"
)

// Sentence is one kind of NMEA 0183 sentence that was heard.
type Sentence struct {
	Name  string // talker and type, as after the $
	Count int
	Bad   int     // of them, whose fields do not read
	Rate  float64 // a second; 0 not known
	Last  string  // what the last good one says, in words; "" nothing
	Use   string  // tables of a trial file it may feed; "" none
}

// Vessel is what boxes of a vessel send: NMEA 0183.
type Vessel struct {
	Sentences []Sentence // the commonest first
	Others    int        // lines that are none
	Notes     []string
	feeds     map[string]string // table: the first talker that feeds it
}

// mostSentences bounds how many kinds are told apart.
const mostSentences = 64

// FindNMEA says what sentences the lines are; false where most are none, or none
// is of a kind a trial file can use: then a box has a dialect of its own.
func FindNMEA(lines []Line) (*Vessel, bool) {
	v := &Vessel{feeds: map[string]string{}}
	type seen struct {
		Sentence
		first, last int64
	}
	all := map[string]*seen{}
	good := 0
	talkers := map[string][]string{} // table: who feeds it
	for _, l := range lines {
		s, err := acquire.ParseSentence(l.Text)
		if err != nil {
			v.Others++
			continue
		}
		name := s.Talker + s.Type
		k := all[name]
		if k == nil {
			if len(all) == mostSentences {
				v.Others++
				continue
			}
			k = &seen{first: l.T}
			k.Name = name
			all[name] = k
		}
		k.Count++
		k.last = l.T
		last, use, bad := meaning(s)
		if bad {
			k.Bad++
			continue
		}
		if use != "" {
			good++
		}
		k.Last, k.Use = last, use
		for table := range strings.FieldsSeq(use) {
			if !slices.Contains(talkers[table], s.Talker) {
				talkers[table] = append(talkers[table], s.Talker)
			}
		}
	}
	if good < 2 || v.Others > len(lines)/2 {
		return nil, false
	}
	for _, k := range all {
		if k.Count > 1 && k.last > k.first {
			k.Rate = float64(k.Count-1) / (float64(k.last-k.first) / 1e9)
		}
		v.Sentences = append(v.Sentences, k.Sentence)
	}
	slices.SortFunc(v.Sentences, func(a, b Sentence) int {
		if a.Count != b.Count {
			return b.Count - a.Count
		}
		return strings.Compare(a.Name, b.Name)
	})
	for _, table := range tables {
		if who := talkers[table]; len(who) > 0 {
			v.feeds[table] = who[0]
			if len(who) > 1 {
				v.Notes = append(v.Notes, fmt.Sprintf("%s send what [%s] may take: talker = says which one is believed", strings.Join(who, " and "), table))
			}
		}
	}
	for _, s := range v.Sentences {
		if s.Bad > 0 {
			v.Notes = append(v.Notes, fmt.Sprintf("%d of %d %s do not read: a checksum or a field is wrong", s.Bad, s.Count, s.Name))
		}
	}
	return v, true
}

// tables are those a sentence may feed, in the order of a trial file.
var tables = []string{trial.TableDepth, trial.TablePosition, trial.TableHeading, trial.TableClock}

// meaning is what a sentence says, and for which tables it will do.
func meaning(s acquire.Sentence) (last, use string, bad bool) {
	num := func(format string, v float64) string {
		if math.IsNaN(v) {
			return "unknown"
		}
		return fmt.Sprintf(format, v)
	}
	var err error
	switch s.Type {
	case "DPT":
		var d acquire.DPT
		d, err = s.DPT()
		last, use = num("%.2f m under the transducer", d.Below), trial.TableDepth
		if d.Offset > 0 {
			last += num(", the water line %.2f m over it", d.Offset)
		}
	case "DBT":
		var d acquire.DBT
		d, err = s.DBT()
		last, use = num("%.2f m under the transducer", d.InMetres()), trial.TableDepth
	case "GGA":
		var g acquire.GGA
		g, err = s.GGA()
		last, use = num("%.5f north, ", g.Lat)+num("%.5f east", g.Lon)+fmt.Sprintf(", quality %d, %d satellites", max(g.Quality, 0), max(g.Sats, 0)), trial.TablePosition
	case "RMC":
		var m acquire.RMC
		m, err = s.RMC()
		last, use = num("%.5f north, ", m.Lat)+num("%.5f east", m.Lon), trial.TablePosition+" "+trial.TableClock
		if !m.Valid {
			last += ", not valid"
		}
	case "HDT":
		var h acquire.HDT
		h, err = s.HDT()
		last, use = num("%.1f deg true", h.Heading), trial.TableHeading
	case "ZDA":
		var z acquire.ZDA
		z, err = s.ZDA()
		last, use = "unknown", trial.TableClock
		if !z.At.IsZero() {
			last = z.At.Format(time.RFC3339)
		}
	case "VTG":
		var g acquire.VTG
		g, err = s.VTG()
		last = num("%.2f knots over ground", g.Knots)
	}
	return last, use, err != nil
}

// Block is the tables of a trial file that take these sentences: the first has the
// port, the others are on it.
func (v *Vessel) Block(port string, baud int, frame string) string {
	var b strings.Builder
	host := ""
	for _, table := range tables {
		if v.feeds[table] == "" {
			continue
		}
		fmt.Fprintf(&b, "[%s]\n", table)
		if host == "" {
			host = table
			fmt.Fprintf(&b, "port = %q\nbaud = %d\nframe = %q\n", port, baud, frame)
		} else {
			fmt.Fprintf(&b, "on = %q\n", host)
		}
		fmt.Fprintf(&b, "kind = \"nmea\"\n")
		switch table {
		case trial.TableDepth:
			b.WriteString("transducer = \"\"   # how deep it is under the water line\n")
		case trial.TablePosition:
			b.WriteString("antenna_aft = \"\"  # of the roller; or antenna_ahead, _port, _starboard\n")
		}
	}
	return b.String()
}
