package logfmt_test

import (
	"fmt"
	"os"
	"path/filepath"

	"hawse/logfmt"
)

// A log is written, sealed, verified and read back. The station is invented.
func Example() {
	dir, err := os.MkdirTemp("", "log")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "pull-03.log")

	log, err := logfmt.Create(path, logfmt.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	log.Put(logfmt.Record{T: 0, N: 1, Kind: logfmt.Head, Fields: []logfmt.Field{
		{Key: "format", Val: "1"}, {Key: "station", Val: "Alder Flat"}}})
	log.Put(logfmt.Record{T: 12_345_678_901, N: 2, Kind: logfmt.Rx, Fields: []logfmt.Field{
		{Key: "src", Val: "load"}, {Key: "t0", Val: logfmt.FormatNs(12_331_002_113)}, {Key: "cut", Val: "end"}, {Key: "raw", Val: "+00312.4 lb\r\n"}}})
	if err := log.Seal(logfmt.Record{T: 13_000_000_000, N: 3, Fields: []logfmt.Field{{Key: "reason", Val: "done"}}}); err != nil {
		fmt.Println(err)
		return
	}
	text, _ := os.ReadFile(path)
	fmt.Print(string(text))

	report, err := logfmt.VerifyFile(path)
	fmt.Println(report.Verdict(), err)

	file, err := os.Open(path)
	if err != nil {
		fmt.Println(err)
		return
	}
	defer file.Close()
	reader := logfmt.NewReader(file)
	for reader.Next() {
		rec := reader.Record()
		if t0, ok := rec.Ns("t0"); ok {
			fmt.Printf("%s: first byte %d ns, %q\n", rec.Kind, t0, rec.Str("raw"))
		}
	}
	fmt.Println(reader.Err(), reader.Damage())
	// Output:
	// t=0.000000000 n=1 k=head format=1 station="Alder Flat" prev=00000000 crc=73c131de
	// t=12.345678901 n=2 k=rx src=load t0=12.331002113 cut=end raw="+00312.4 lb\r\n" prev=73c131de crc=cfaa9976
	// t=13.000000000 n=3 k=end reason=done count=2 bytes=188 sha256=0a0191bdd388342a566fab3f410e3054309a2e0103235f04dc5eeb27dfed0738 prev=cfaa9976 crc=5b651a7e
	// whole: sealed, 3 records, n=1 to 3, t=0.000000000 to 13.000000000 s <nil>
	// rx: first byte 12331002113 ns, "+00312.4 lb\r\n"
	// <nil> []
}
