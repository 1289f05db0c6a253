package logfmt

import (
	"errors"
	"fmt"
	"io"
	"time"
)

// write is the writer's goroutine: it ends when the log is closed and all is
// written, or given up.
func (l *Log) write() {
	defer close(l.done)
	for {
		batch, closing := l.take()
		if len(batch) == 0 {
			if closing {
				break
			}
			<-l.wake
			continue
		}
		if !l.writeBatch(batch) {
			break
		}
	}
	l.result = l.finish()
}

// take makes all that is queued the batch in flight.
func (l *Log) take() (batch []Record, closing bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.queue) > 0 {
		l.flight, l.queue, l.spare = l.queue, l.spare, nil
		l.flightDone = 0
	}
	return l.flight, l.closing
}

// writeBatch writes records in as few writes as their size allows, which is one
// unless the disk was behind. It returns false if the log was given up.
func (l *Log) writeBatch(batch []Record) bool {
	for i := 0; i < len(batch); {
		l.buf, l.marks = l.buf[:0], l.marks[:0]
		tooLong := 0
		for i < len(batch) && len(l.buf) < chunkBytes {
			from := len(l.buf)
			line, crc := AppendRecord(l.buf, &batch[i], l.prev)
			if len(line)-from > MaxLine {
				l.buf = line[:from]
				tooLong++
			} else {
				l.buf, l.prev = line, crc
				l.marks = append(l.marks, mark{end: len(l.buf), n: batch[i].N, index: i})
			}
			i++
		}
		if !l.pour() {
			return false
		}
		l.passed(i, tooLong)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	clear(batch)
	l.flight, l.flightDone = nil, 0
	if cap(batch) <= 1<<16 { // after a long refusal, give the memory back
		l.spare = batch[:0]
	}
	return true
}

// passed says that the batch is done up to index, also where its records were
// too long for a line.
func (l *Log) passed(index, tooLong int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.dropped += uint64(tooLong)
	for ; l.flightDone < index; l.flightDone++ {
		l.queueBytes -= memory(&l.flight[l.flightDone])
	}
}

// pour writes the buffer, again and again from the byte where it stopped, and
// returns false if the log was given up.
func (l *Log) pour() bool {
	rest, marks, done := l.buf, l.marks, 0
	for len(rest) > 0 {
		n, err := l.file.Write(rest)
		n = min(max(n, 0), len(rest))
		if n < len(rest) && err == nil {
			err = io.ErrShortWrite
		}
		l.sum.Write(rest[:n])
		rest = rest[n:]
		done += n
		whole := 0
		for whole < len(marks) && marks[whole].end <= done {
			whole++
		}
		l.lines += whole
		l.wrote(n, marks[:whole], err)
		marks = marks[whole:]
		if err != nil && n == 0 && !l.pause() {
			return false
		}
	}
	return true
}

// wrote notes that n more bytes are written, which made those records whole.
func (l *Log) wrote(n int, whole []mark, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.bytes += int64(n)
	l.setRefused("write", err)
	if len(whole) > 0 {
		last := whole[len(whole)-1]
		l.writtenN = last.n
		if !l.writtenT.set && len(l.flight) > 0 {
			l.writtenT = opt64{l.flight[whole[0].index].T, true}
		}
		for ; l.flightDone <= last.index && l.flightDone < len(l.flight); l.flightDone++ {
			l.queueBytes -= memory(&l.flight[l.flightDone])
		}
	}
	if n > 0 {
		signal(l.dirty)
	}
}

// setRefused keeps the moment when a fault began, also if its reason changes.
func (l *Log) setRefused(op string, err error) {
	if err == nil {
		l.refused, l.since = nil, 0
		return
	}
	if l.refused == nil {
		l.since = l.opt.Clock()
	}
	l.refused = &Fault{Path: l.path, Op: op, At: l.bytes, Err: err,
		Do: "records are kept in memory and the write is tried again; make room or mend the disk"}
}

// pause waits before a refused call is tried again; false if the log was given
// up.
func (l *Log) pause() bool {
	timer := time.NewTimer(l.opt.RetryEvery)
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-l.abandon:
		return false
	}
}

// syncLoop is the syncer's goroutine. The first write after a quiet time is
// synced at once, the next ones SyncEvery after the start of the sync before:
// so nothing waits longer than SyncEvery and the sync that is running.
func (l *Log) syncLoop() {
	defer close(l.synced)
	for {
		select {
		case <-l.dirty:
		case <-l.noSync:
			return
		}
		timer := time.NewTimer(l.opt.SyncEvery)
		l.sync()
		select {
		case <-timer.C:
		case <-l.noSync:
			timer.Stop()
			return
		}
	}
}

// sync brings what is written to the disk, if anything is not there.
func (l *Log) sync() {
	l.mu.Lock()
	n, bytes := l.writtenN, l.bytes
	if bytes == l.diskBytes {
		l.mu.Unlock()
		return
	}
	l.syncingT, l.writtenT = l.writtenT, opt64{}
	l.mu.Unlock()

	err := l.file.Sync()

	l.mu.Lock()
	defer l.mu.Unlock()
	if err != nil && l.unsure == nil {
		l.unsureSince = l.opt.Clock()
		l.unsure = &Fault{Path: l.path, Op: "fsync", At: l.bytes, Err: err,
			Do: fmt.Sprintf("bytes %d to %d may be lost in a power cut even if later ones are not; end the log soon, verify it, copy it to another disk", l.diskBytes, l.bytes)}
		switch { // a failed sync may have covered but the start of a line
		case l.syncingT.set:
			l.doubtT = l.syncingT
		case l.writtenT.set:
			l.doubtT = l.writtenT
		case l.flightDone < len(l.flight):
			l.doubtT = opt64{l.flight[l.flightDone].T, true}
		}
	}
	if l.unsure == nil {
		l.diskN, l.diskBytes = n, bytes
	}
	l.syncingT = opt64{}
}

// finish ends the file: seal, last sync, close, checksum file.
func (l *Log) finish() error {
	l.mu.Lock()
	end := l.end
	l.mu.Unlock()
	sealed := end != nil && !l.givenUp() && l.writeEnd(end)

	close(l.noSync)
	<-l.synced
	l.sync()
	closeErr := l.file.Close()

	l.mu.Lock()
	unsure, refused := l.unsure, l.refused
	at := l.bytes
	lost := len(l.flight) - l.flightDone + len(l.queue)
	l.mu.Unlock()
	if closeErr != nil {
		closeErr = &Fault{Path: l.path, Op: "close", At: at, Err: closeErr,
			Do: "its last bytes may be lost; verify the log"}
	}
	err := errors.Join(unsure, closeErr)
	switch {
	case sealed:
		return errors.Join(err, l.writeSum())
	case lost > 0 || end != nil:
		return errors.Join(fmt.Errorf("logfmt: %s: given up: %d records in memory were not written, the log has no seal", l.path, lost), refused, err)
	}
	return err
}

func (l *Log) givenUp() bool {
	select {
	case <-l.abandon:
		return true
	default:
		return false
	}
}
