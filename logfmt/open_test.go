package logfmt

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/klauspost/compress/zstd"
)

func pack(t testing.TB, file []byte, o ...zstd.EOption) []byte {
	t.Helper()
	var out bytes.Buffer
	w, err := zstd.NewWriter(&out, append(o, zstd.WithEncoderConcurrency(1))...)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(file); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// A packed log is read as the log that was packed, whatever its name; what is
// no zstd is read as it is.
func TestAPackedLogIsReadAsTheLogItWas(t *testing.T) {
	file := sampleLog(3000, true)
	half := len(file) / 2
	for name, packed := range map[string][]byte{
		"plain": file, "fastest": pack(t, file, zstd.WithEncoderLevel(zstd.SpeedFastest)), "best": pack(t, file, zstd.WithEncoderLevel(zstd.SpeedBestCompression)),
		"no checksum": pack(t, file, zstd.WithEncoderCRC(false)), "two frames": append(pack(t, file[:half]), pack(t, file[half:])...),
		"a skippable frame behind": append(pack(t, file), "\x50\x2a\x4d\x18\x03\x00\x00\x00abc"...),
	} {
		src := NewSource(iotest.HalfReader(bytes.NewReader(packed)))
		got, err := io.ReadAll(src)
		if err != nil || !bytes.Equal(got, file) || src.Packed() != (name != "plain") {
			t.Errorf("%s: %d bytes of %d, packed %v, %v", name, len(got), len(file), src.Packed(), err)
		}
		if err := src.Close(); err != nil {
			t.Error(err)
		}
		rep, err := Verify(NewSource(bytes.NewReader(packed)))
		if err != nil || !rep.Whole || rep.Records != 3001 {
			t.Errorf("%s: verified %+v, %v", name, rep, err)
		}
	}
	for _, text := range []string{"", "t", "(", "\x28\xb5\x2f", "a log"} {
		if got, err := io.ReadAll(NewSource(strings.NewReader(text))); err != nil || string(got) != text {
			t.Errorf("%q is read as %q, %v", text, got, err)
		}
	}
}

// A packing cut at any byte gives records from the beginning, and the damage is
// named; it is never called whole.
func TestADamagedPackingIsNamedAndWhatCameBeforeItIsRead(t *testing.T) {
	file := sampleLog(6000, true)
	packed := pack(t, file)
	most := uint64(0)
	for cut := 4; cut < len(packed); cut += 1 + len(packed)/15 {
		rep, err := Verify(NewSource(bytes.NewReader(packed[:cut])))
		if err != nil || rep.Whole || len(rep.Damages) == 0 || rep.Damages[len(rep.Damages)-1].Kind != Cut {
			t.Fatalf("cut at byte %d of %d: %+v, %v", cut, len(packed), rep, err)
		}
		if rep.Records < most {
			t.Errorf("cut at byte %d: %d records, an earlier cut gave %d", cut, rep.Records, most)
		}
		most = rep.Records
	}
	if most == 0 {
		t.Error("no cut gave a record")
	}
	for at := 4; at < len(packed); at += 1 + len(packed)/15 {
		bad := bytes.Clone(packed)
		bad[at] ^= 0x55
		s, err := NewSalvage(func() (io.ReadCloser, error) { return NewSource(bytes.NewReader(bad)), nil })
		if err != nil {
			t.Fatalf("byte %d changed: %v", at, err)
		}
		n := uint64(0)
		for rec, err := range s.Records() {
			if n++; err != nil || rec.N != n && s.Report.Lost == 0 {
				t.Fatalf("byte %d changed: record n=%d, %v; want n=%d", at, rec.N, err, n)
			}
		}
		if n != s.Report.Records || s.Report.Whole {
			t.Errorf("byte %d changed: %d records salvaged, report %+v", at, n, s.Report)
		}
	}
	_, err := io.ReadAll(NewSource(bytes.NewReader(packed[:len(packed)/2])))
	if bad, ok := errors.AsType[*PackError](err); !ok || !strings.Contains(err.Error(), "look for another copy") || bad.Unwrap() == nil {
		t.Errorf("reading half a packing: %v, want a PackError", err)
	}
}

// A small file that unpacks to many megabytes of zeros takes no memory for them.
func TestAPackingOfZerosTakesNoMemory(t *testing.T) {
	const size = 16 << 20
	packed := pack(t, append(sampleLog(3, false), make([]byte, size)...))
	if len(packed) > 1<<16 {
		t.Fatalf("packed %d bytes", len(packed))
	}
	src := NewSource(bytes.NewReader(packed))
	r := NewReader(src)
	n := 0
	for r.Next() {
		n++
	}
	if n != 3 || len(r.lines.buf) > MaxLine || len(r.Damage()) != 1 {
		t.Errorf("%d records, a buffer of %d bytes, %v", n, len(r.lines.buf), r.Damage())
	}
}

// What stands beside a log is compared: the checksum file, also of a packed
// log, and the log that its head names.
func TestVerifyFileComparesWhatStandsBeside(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, file []byte) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), file, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	sum := func(file []byte) string {
		rep, err := Verify(bytes.NewReader(file))
		if err != nil {
			t.Fatal(err)
		}
		return rep.SHA256
	}
	first := sampleLog(10, false)
	other := sampleLog(9, false)
	chained := func(name, sha, records string) []byte {
		recs := sampleRecords(5)
		recs[1] = Record{T: recs[1].T, N: 2, Kind: Head, Fields: []Field{{"part", "chain"}, {"predecessor", name}, {"sha256", sha}, {"records", records}}}
		return encode(recs, true)
	}
	write("first.log", first)
	write("packed.log.zst", pack(t, first))
	write("alien.log", other)
	if err := os.Mkdir(filepath.Join(dir, "folder.log"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("first.log", filepath.Join(dir, "link.log")); err != nil {
		t.Skip(err)
	}
	for _, tt := range []struct {
		name, sha string
		want      Beside
	}{
		{"first.log", sum(first), BesideAgrees},
		{"packed.log", sum(first), BesideAgrees},
		{"alien.log", sum(first), BesideDiffers},
		{"first.log", "", BesideDiffers},
		{"gone.log", sum(first), BesideNone},
		{"folder.log", sum(first), BesideUnread},
		{"link.log", sum(first), BesideUnread},
		{"", sum(first), BesideUnread},
		{"..", sum(first), BesideUnread},
		{"../first.log", sum(first), BesideUnread},
		{"/etc/passwd", sum(first), BesideUnread},
		{"a\x00b", sum(first), BesideUnread},
		{"\x1b[2J.log", sum(first), BesideNone},
	} {
		file := chained(tt.name, tt.sha, "")
		write("second.log", file)
		rep, err := VerifyFile(filepath.Join(dir, "second.log"))
		if err != nil || len(rep.Links) != 1 || rep.Links[0].State != tt.want || !rep.Whole {
			t.Errorf("predecessor %q: %+v, %v; want %q", tt.name, rep, err, tt.want)
			continue
		}
		if rep.Holds() != (tt.want != BesideDiffers) {
			t.Errorf("predecessor %q: holds %v", tt.name, rep.Holds())
		}
		if text := rep.Links[0].Text + rep.Verdict(); strings.ContainsAny(text, "\x1b\x00") || text == "" {
			t.Errorf("predecessor %q: raw bytes in %q", tt.name, text)
		}
	}

	// The head says how many whole records the one before had: the count names
	// what differs.
	for _, tt := range []struct {
		name, sha, records string
		want               Beside
		says               string
	}{
		{"first.log", sum(first), "10", BesideAgrees, "is the one meant"},
		{"packed.log", sum(first), "10", BesideAgrees, "is the one meant"},
		{"first.log", sum(first), "12", BesideDiffers, `has the SHA-256 that the head says, but 10 whole records, the head says "12"`},
		{"first.log", sum(first), "ten\x1b", BesideDiffers, `10 whole records, the head says "ten\x1b"`},
		{"alien.log", sum(first), "10", BesideDiffers, `another SHA-256 than the head says: it was altered since, or is another file; it has 9 whole records, the head says "10"`},
		{"gone.log", sum(first), "10", BesideNone, "is not beside it"},
	} {
		write("second.log", chained(tt.name, tt.sha, tt.records))
		rep, err := VerifyFile(filepath.Join(dir, "second.log"))
		if err != nil || len(rep.Links) != 1 || rep.Links[0].State != tt.want || !strings.Contains(rep.Links[0].Text, tt.says) || rep.Holds() != (tt.want != BesideDiffers) {
			t.Errorf("%s records=%q: %+v, %v, holds %v; want %q, %q", tt.name, tt.records, rep.Links, err, rep.Holds(), tt.want, tt.says)
		}
	}

	whole := sampleLog(10, true)
	write("whole.log.zst", pack(t, whole))
	write("whole.log.sha256", []byte(sumLine(sum(whole), "whole.log")))
	if rep, err := VerifyFile(filepath.Join(dir, "whole.log.zst")); err != nil || !rep.Holds() || rep.Beside != BesideAgrees || !rep.Packed {
		t.Errorf("a packed log beside its checksum file: %+v, %v", rep, err)
	}
	write("whole.log.sha256", []byte(sumLine(sum(first), "whole.log")))
	if rep, err := VerifyFile(filepath.Join(dir, "whole.log.zst")); err != nil || rep.Holds() || !rep.Whole {
		t.Errorf("a packed log beside another checksum: %+v, %v", rep, err)
	}
}
