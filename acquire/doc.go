// Package acquire goes from the wire to a sample: it owns the serial ports,
// cuts what arrives into records, and reads tension, line counts and the stop
// relay's answers out of them.
//
// # Pure part
//
// [Framer], [Reception], [Asking], the decoders, [Cutter] and the words
// of the outputs read no clock and no port. Bytes and times go in, values come out, so
// a log replays to what was seen live. A frame that does not match is data, not
// an error: it comes back as [Garbled] with the reason, and its bytes are in the
// record already.
//
// # Bytes, cuts, frames
//
// A port gives bytes in whatever pieces the system likes. [Cutter] turns them
// into cuts, each stamped with the return of the Reads that brought its first
// and last byte, and each put in the record. A cut is only a cut: the cuts of
// one port joined give its stream exactly. [Framer] then finds the lines in the
// joined cuts, so a wrong guess of the cutter costs nothing.
//
// A port on which others are too, which is asked, or which sends no lines has a
// [Reception]: it finds binary frames by sync bytes and checksum, answers by
// what was asked, and whose a frame is by what fits.
//
// # Ports
//
// An [Owner] looks after one port: it opens the first name that opens, reads,
// writes, and when the port is lost tries until it is back, under the same or
// another name of its list. It hands everything over as [Item] values on one
// channel. A port that nobody reads, a writer that hangs or a fault in one owner
// holds up no other port and no caller. [OpenSerial] is the port itself: its
// guard lets no byte out after Close, keeps a second program out, and closes
// within a second.
//
// When a port has just been opened, what waited in the driver from before is
// thrown away, up to the start of a line: old data must not pass for fresh, nor
// the tail of a line for a whole one.
//
// # Outputs
//
// What goes to the stop relay has one of three forms, each a [StopForm]: words,
// Modbus RTU, or a pulse train on a modem line; a plain level is none of them.
// The horn has those and the level, each a [HornForm]. A form is pure; what it
// must know of an open port, the order of question and answer or the state of a
// line, is in the connection its Wrap makes. The guard of the port is the one
// place all of them go through, bytes and lines alike.
//
// # Units
//
// Newtons; encoder counts without unit; times in nanoseconds of the [Clock],
// which starts at the log's start and never falls.
package acquire
