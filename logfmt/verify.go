package logfmt

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
)

// A Report says what is left of a log and what is wrong with it.
type Report struct {
	Bytes  int64  // of the file
	SHA256 string // of the whole file, 64 digits 0-9 a-f

	Records       uint64 // whole records, each counted once
	FirstN, LastN uint64 // the least and the greatest number among them
	FirstT, LastT int64  // the T of those two
	Sealed        bool   // it has an end; without one it was cut short
	Reason        string // the end's reason=, as it stands in the file
	SealGood      bool   // the end's count, bytes and sha256 are the file's
	SealFault     string // why not
	Whole         bool   // sealed, seal good, no damage
	Lost          uint64 // records known to be lost, the sum over Damages
	Damages       []Damage
	Packed        bool      // read from a zstd file: Bytes and SHA256 are those of the log in it
	Beside        Beside    // only from VerifyFile: what the checksum file beside it says
	BesideText    string    // what is wrong with that file
	Signature     Signature // only from VerifyFile: of the SSH signature beside it
	Links         []Link    // other logs that the head names, with their state only from VerifyFile
}

// Holds tells whether the log is whole and no file beside it says otherwise:
// neither its checksum file, nor its signature, nor a log that its head names.
func (rep *Report) Holds() bool {
	return rep.Whole && (rep.Signature.Good || !rep.Signature.There) && rep.Beside != BesideDiffers && rep.linkAgainst() == nil
}

func (rep *Report) linkAgainst() *Link {
	for i := range rep.Links {
		if rep.Links[i].State == BesideDiffers {
			return &rep.Links[i]
		}
	}
	return nil
}

// Verify reads a log to its end and judges it. The error is that of reading;
// the report then says what was found before it. Damage is no error.
//
// A packing that is damaged ([PackError]) is damage too.
func Verify(src io.Reader) (Report, error) {
	return verify(NewReader(src))
}

func verify(r *Reader) (Report, error) {
	var rep Report
	r.CheckSeal()
	for r.Next() {
		n, t := r.p.n, r.p.t
		if rep.Records == 0 || n < rep.FirstN {
			rep.FirstN, rep.FirstT = n, t
		}
		if rep.Records == 0 || n > rep.LastN {
			rep.LastN, rep.LastT = n, t
		}
		if r.p.kind == Head && len(rep.Links) < maxLinks {
			rec := r.Record()
			if l, ok := linkOf(&rec); ok {
				rep.Links = append(rep.Links, l)
			}
		}
		rep.Records++
	}
	seal := r.Seal()
	rep.Sealed, rep.Reason, rep.SealGood, rep.SealFault = seal.There, seal.Reason, seal.Good, seal.Fault
	rep.Bytes = r.lines.off
	rep.SHA256 = r.SHA256()
	rep.Damages = r.Damage()
	err := r.Err()
	if bad, ok := errors.AsType[*PackError](err); ok {
		rep.Damages = append(rep.Damages, Damage{Kind: Cut, Line: r.line + 1, Byte: rep.Bytes,
			Text: "the zstd packing is damaged from here on: " + quoteShort([]byte(bad.Err.Error())), Cost: "all that followed"})
		err = nil
	}
	for _, d := range rep.Damages {
		rep.Lost += d.Lost
	}
	rep.Whole = err == nil && rep.SealGood && len(rep.Damages) == 0
	return rep, err
}

// A Seal is what a log's end says of the log.
type Seal struct {
	There  bool   // the log has an end; without one it was cut short
	Good   bool   // its count, bytes and sha256 are those of what stands before it
	Fault  string // why not; fit to be shown
	Reason string // the end's reason=, as it stands in the file
}

// sealOf compares what the end says with what stands before it.
func sealOf(end *Record, records uint64, bytes int64, sum string) Seal {
	var wrong []string
	compare := func(key, is string) {
		if says, ok := end.Get(key); !ok {
			wrong = append(wrong, key+"= is not in the end")
		} else if says != is {
			wrong = append(wrong, fmt.Sprintf("%s= says %s, the file has %s", key, quoteShort([]byte(says)), is))
		}
	}
	compare("count", strconv.FormatUint(records, 10))
	compare("bytes", strconv.FormatInt(bytes, 10))
	switch says, ok := end.Get("sha256"); {
	case !ok:
		wrong = append(wrong, "sha256= is not in the end")
	case says != sum:
		wrong = append(wrong, "sha256= is not that of the bytes before it")
	}
	return Seal{There: true, Good: len(wrong) == 0, Fault: strings.Join(wrong, "; "), Reason: end.Str("reason")}
}

// Verdict is the report in one line.
func (rep *Report) Verdict() string {
	span := fmt.Sprintf("%s, n=%d to %d, t=%s to %s s", recordsText(rep.Records), rep.FirstN, rep.LastN, FormatNs(rep.FirstT), FormatNs(rep.LastT))
	switch {
	case rep.Bytes == 0 && len(rep.Damages) == 0:
		return "empty: not one record was written"
	case rep.Records == 0 && len(rep.Damages) > 0 && rep.Damages[0].Kind != Foreign:
		return "damaged: not one record is whole; " + rep.Damages[0].Text
	case rep.Records == 0 && len(rep.Damages) > 0:
		return "not a log of this program: not one line is a record; " + rep.Damages[0].Text
	case rep.Whole && rep.Beside == BesideDiffers:
		return "whole in itself, but the checksum file beside it says otherwise: " + rep.BesideText
	case rep.Whole && rep.Signature.There && !rep.Signature.Good:
		return "whole in itself, but " + rep.Signature.Text()
	case rep.Whole && rep.linkAgainst() != nil:
		return "whole in itself, but the log it names is not as it says: " + rep.linkAgainst().Text
	case rep.Whole:
		return "whole: sealed, " + span
	}
	text := span
	if len(rep.Damages) > 0 {
		places := "1 place"
		if len(rep.Damages) > 1 {
			places = fmt.Sprintf("%d places", len(rep.Damages))
		}
		text = fmt.Sprintf("damaged in %s, first at line %d (%s): %s whole", places, rep.Damages[0].Line, rep.Damages[0].Kind, span)
	}
	switch {
	case !rep.Sealed && len(rep.Damages) > 0:
		return text + "; no end"
	case !rep.Sealed:
		return "cut short: no end, so what came after is not known; whole up to there: " + text
	case !rep.SealGood && len(rep.Damages) > 0:
		return text + "; the seal does not fit: " + rep.SealFault
	case !rep.SealGood:
		return "not as it was sealed: " + rep.SealFault + "; " + text
	}
	return text
}

// VerifyFile verifies the log at path, packed with zstd or not, and compares it
// with what stands beside it: its checksum file, its signature, and the logs that
// its head names. The error is that of opening or reading the log.
func VerifyFile(path string) (Report, error) {
	f, err := Open(path)
	if err != nil {
		return Report{}, err
	}
	defer f.Close()
	rep, err := Verify(f)
	rep.Packed = f.Packed()
	if err != nil {
		return rep, fmt.Errorf("%s: %w", path, err)
	}
	rep.readBeside(path)
	for i := range rep.Links {
		rep.Links[i].check(filepath.Dir(path))
	}
	rep.Signature, err = CheckSignature(path)
	return rep, err
}
