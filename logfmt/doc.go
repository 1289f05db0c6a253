// Package logfmt is the raw log: the codec of its lines, the writer that brings
// them to the disk, and the reader that proves each of them.
//
// The codec, the reader and [Salvage] are pure: no clock, no file, no goroutine.
// [Log] is the one part that owns goroutines; it and [SalvageFile] see the disk
// they write to through [FS] and [File].
//
// # The file
//
// A log is a file of lines. Each line is one record and ends with one LF
// (byte 0A). There is nothing before the first line, between lines or after
// the last one; there is no CR and no byte order mark. All
// bytes are 20 to 7E, except the LF at the end of a line. A line has at most
// [MaxLine] bytes with its LF.
//
//	t=12.345678901 n=1042 k=rx src=load chunk=977 raw="+00312.4 lb\r\n" prev=1b22c004 crc=9f3a01c2
//
// A line is a row of pairs KEY=VALUE with exactly one space (20) between two
// pairs, none at the start and none at the end:
//
//	"t=" TIME " n=" NUMBER " k=" NAME { " " NAME "=" VALUE } " prev=" HEX8 " crc=" HEX8 LF
//
// Its parts:
//
//   - TIME is the time since the log's start in seconds: an optional "-", one
//     or more digits without a needless leading 0, ".", and exactly 9 digits.
//     Take away the point and it is a whole number of nanoseconds in the range
//     of a signed 64-bit integer. There is no "-0.000000000". Do not read it as
//     a floating-point number: that loses nanoseconds after some months.
//   - NUMBER is the record's number: digits without a needless leading 0, in
//     the range of an unsigned 64-bit integer. The first record has 1 (a
//     salvaged log's 0), each later one 1 more.
//   - NAME is a letter a-z, then any of a-z 0-9 and "_". After "k=" it names
//     the kind of record ([Kind]). As a key it is none of t n k prev crc; the
//     same key may come twice.
//   - VALUE is plain or quoted. Plain: one or more of A-Z a-z 0-9 and
//     "_" "." ":" "+" "-" "/". Quoted: a double quote (22), any number of
//     characters, a double quote. A value that can be plain is plain, all
//     others, the empty one too, are quoted; only the value of the key "raw" is
//     always quoted.
//   - A value is a string of any bytes. In quotes, a byte 20 to 7E stands for
//     itself, except the double quote and the backslash. Those are \" and \\.
//     CR (0D) is \r, LF (0A) is \n, TAB (09) is \t. Every other byte, 00 to 1F
//     and 7F to FF, is \x and two digits 0-9 a-f. No other escape exists and
//     none is used where it is not needed: a record has one written form.
//   - HEX8 is eight digits 0-9 a-f, a 32-bit number with its highest digit
//     first.
//   - crc is the CRC-32C of the bytes of the line from its "t" up to and
//     without the space before "crc=". CRC-32C: polynomial 1EDC6F41, input and
//     output reflected, first value and final XOR FFFFFFFF; the nine bytes
//     "123456789" give e3069283.
//   - prev is the crc of the line before it, 00000000 in the first line. As it
//     stands before crc it is covered by it.
//
// So each line proves itself, and n and prev prove that no line is missing or
// moved. A line that was damaged costs that line alone.
//
// In a value, a time or a duration in seconds has the form of TIME
// ([FormatNs]); other numbers have the shortest decimal form that gives the
// same 64-bit float back, or NaN, +Inf, -Inf ([FormatFloat]).
//
// # The seal
//
// The last line of a finished log is of the kind "end". After the fields its
// maker gave, it has three more:
//
//	count=  the number of lines before this one
//	bytes=  the number of bytes before this line
//	sha256= the SHA-256 of those bytes, 64 digits 0-9 a-f
//
// Beside the log LOG stands LOG.sha256: one line, the SHA-256 of the whole file
// (the end line with it), two spaces, the file's name without its folder, LF.
// It is what `sha256sum -c LOG.sha256` reads. A log without an end was cut
// short; its whole lines are as good as any.
//
// A number that is left out while prev fits the line before is a record that
// was never written: the disk refused longer than memory could hold.
//
// # Packed, continued, salvaged
//
// A finished log may be packed with zstd (RFC 8878) as LOG.zst: [Open] unpacks
// it by its first bytes. All that is said of a log's bytes, its SHA-256 and
// LOG.sha256 too, is of the unpacked ones.
//
// Head records name other logs by base name and SHA-256 ([Link]): part=chain
// the one this log goes on from, part=addendum the one it comments on,
// part=salvage the one it was taken from. [VerifyFile] compares them if they
// stand beside it, and with part=chain the number of its whole records too.
//
// A salvaged log ([Salvage.WriteLog]) begins with record n=0, its part=salvage,
// and keeps the numbers and times of the records; so a number left out in it is
// a record that was not whole, not one that was never written.
//
// FORMAT.md says all this on one page, for those who read logs in another
// language.
//
// # What is assumed of a disk
//
//   - A write that reports fewer bytes than it was given wrote exactly those.
//   - A successful fsync means that all bytes written before it began survive a
//     power cut. Disks with a volatile cache that ignore the flush break this,
//     and nothing here can see it.
//   - After a failed fsync the bytes written before may be lost although a
//     later fsync succeeds, since the system may have dropped them. So what was
//     written up to then is never again called "on disk" by this package.
//   - A power cut may leave the last lines torn, missing, or as NUL bytes.
//   - An fsync of the folder makes the file's name survive. Windows has no such
//     call; there the file system's own journal is trusted.
package logfmt
