package logfmt

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io/fs"
	"path/filepath"
	"sync"
	"time"
)

// Options of a [Log]. The zero value is ready to use.
type Options struct {
	FS            FS            // nil: OS
	SyncEvery     time.Duration // least time between the starts of two fsyncs; 0: 100 ms
	RetryEvery    time.Duration // how long to wait after a refused write; 0: 250 ms
	CloseWait     time.Duration // how long Seal and Close wait for a disk that makes no progress; 0: 10 s
	MaxQueueBytes int64         // memory for records the disk has not taken; 0: 64 MiB

	// Clock gives the present moment on the scale of the records' T, for
	// Status.Since. nil: the time since Create.
	Clock func() int64
}

// A Log writes records to a file of its own. It owns two goroutines: the writer
// hands records to the system as they come, all that wait in one write; the
// syncer calls fsync beside it. No method but Seal and Close ever waits for the
// disk.
//
// If the disk refuses (full, faulty), the records wait in memory and the write
// is tried again from the byte where it stopped, so that nothing is doubled or
// lost. When the memory allowed is full, new records are dropped and counted;
// the hole shows in their numbers.
type Log struct {
	path string
	file File
	fs   FS
	opt  Options

	wake    chan struct{} // one slot: something is queued, or the log ends
	dirty   chan struct{} // one slot: something is written and not synced
	noSync  chan struct{} // closed: the syncer has to end
	synced  chan struct{} // closed: the syncer has ended
	abandon chan struct{} // closed: stop trying
	done    chan struct{} // closed: the writer has ended, result is set

	// Only the writer's.
	sum   hash.Hash // of the bytes written
	lines int       // written
	prev  uint32    // crc of the line encoded last
	buf   []byte
	marks []mark

	mu         sync.Mutex // never held over I/O or encoding
	queue      []Record   // not yet taken by the writer
	spare      []Record   // the writer's last batch, empty, for reuse
	flight     []Record   // the batch the writer is at
	flightDone int        // so many of it are written
	queueBytes int64      // what queue and flight hold in memory

	queuedN, writtenN, diskN uint64
	bytes, diskBytes         int64
	dropped                  uint64
	refused                  error // the write fault that stands
	unsure                   error // the first failed fsync; stands for ever
	since, unsureSince       int64

	// The oldest T of what is written and not on disk, in three groups from old
	// to new.
	doubtT, syncingT, writtenT opt64

	closing, abandoned bool
	end                *Record // the seal, if the log gets one
	result             error
}

// opt64 is a number or none.
type opt64 struct {
	val int64
	set bool
}

// A mark says what is done when the bytes up to end are written.
type mark struct {
	end   int    // in the buffer
	n     uint64 // of the record that ends there
	index int    // of that record in the batch
}

const (
	chunkBytes  = 1 << 20 // a write has about so many bytes at most
	recordBytes = 64      // memory of a Record without its fields
	fieldBytes  = 32      // memory of a Field without its text
)

// Create makes a new log and starts its goroutines. It returns an error if the
// file, or the .sha256 of a log of that name, exists: a log is never
// overwritten. The caller ends it with Seal or Close.
func Create(path string, o Options) (*Log, error) {
	if o.FS == nil {
		o.FS = OS
	}
	setDefault(&o.SyncEvery, 100*time.Millisecond)
	setDefault(&o.RetryEvery, 250*time.Millisecond)
	setDefault(&o.CloseWait, 10*time.Second)
	if o.MaxQueueBytes <= 0 {
		o.MaxQueueBytes = 64 << 20
	}
	if o.Clock == nil {
		start := time.Now()
		o.Clock = func() int64 { return int64(time.Since(start)) }
	}

	dir := filepath.Dir(path)
	fault := func(op string, err error, do string) error {
		return &Fault{Path: path, Op: op, Err: err, Do: do}
	}
	// Before the file exists, so that a folder which cannot keep a name leaves
	// no empty log behind.
	if err := o.FS.SyncDir(dir); err != nil {
		return nil, fault("create", err, "its folder must exist, be readable and on a disk that works; make it or choose another")
	}
	switch exists, err := o.FS.Exists(path + sumSuffix); {
	case err != nil:
		return nil, fault("create", err, "choose another folder")
	case exists:
		return nil, fault("create", fs.ErrExist, "the checksum file of an older log of this name is there; choose another name or move it away")
	}
	file, err := o.FS.Create(path)
	switch {
	case errors.Is(err, fs.ErrExist):
		return nil, fault("create", err, "a log is never overwritten; choose another name")
	case err != nil:
		return nil, fault("create", err, "choose a folder that can be written to")
	}
	if err := o.FS.SyncDir(dir); err != nil {
		err = fault("create", err, "the file's name may not survive a power cut; choose another disk")
		return nil, errors.Join(err, file.Close())
	}

	l := &Log{
		path: path, file: file, fs: o.FS, opt: o,
		wake:    make(chan struct{}, 1),
		dirty:   make(chan struct{}, 1),
		noSync:  make(chan struct{}),
		synced:  make(chan struct{}),
		abandon: make(chan struct{}),
		done:    make(chan struct{}),
		sum:     sha256.New(),
	}
	go l.write()
	go l.syncLoop()
	return l, nil
}

func setDefault(d *time.Duration, to time.Duration) {
	if *d <= 0 {
		*d = to
	}
}

// Put hands a record to the log, which from then on owns its Fields. It does
// not wait for the disk. It may be called from any goroutine; the order of the
// calls is the order in the file, so usually one goroutine does. After Seal or
// Close it does nothing.
func (l *Log) Put(r Record) {
	cost := memory(&r)
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closing {
		return
	}
	if l.queueBytes > 0 && l.queueBytes+cost > l.opt.MaxQueueBytes {
		l.dropped++
		return
	}
	l.queueBytes += cost
	l.queuedN = r.N
	l.queue = append(l.queue, r)
	if len(l.queue) == 1 {
		signal(l.wake)
	}
}

// memory is about what a record holds while it waits.
func memory(r *Record) int64 {
	cost := recordBytes + fieldBytes*len(r.Fields)
	for i := range r.Fields {
		cost += len(r.Fields[i].Key) + len(r.Fields[i].Val)
	}
	return int64(cost)
}

func signal(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// Status is the state of a log at one moment.
type Status struct {
	Path string

	// The n of the last record that was put, that the system has whole, and
	// that survives a power cut with all before it. 0: none.
	Queued, Written, OnDisk uint64

	Bytes, BytesOnDisk int64 // written; surviving a power cut

	// OldestNotOnDisk is the T of the oldest record that a power cut now would
	// lose, -1 if there is none. Its age is the measure of a disk's health: a
	// write that hangs gives no Err.
	OldestNotOnDisk int64

	// Dropped counts records that were not kept: the disk refused until the
	// memory allowed was full, or the record was longer than a line may be.
	Dropped uint64

	// Err is the fault that stands, a [*Fault], nil if there is none. A refused
	// write stands until one succeeds; a failed fsync stands for ever, since
	// what was written before it may be lost and nothing can tell. Since is the
	// time by Options.Clock when it began, 0 if Err is nil.
	Err   error
	Since int64
}

// Status is cheap and never waits for the disk.
func (l *Log) Status() Status {
	l.mu.Lock()
	defer l.mu.Unlock()
	s := Status{
		Path:   l.path,
		Queued: l.queuedN, Written: l.writtenN, OnDisk: l.diskN,
		Bytes: l.bytes, BytesOnDisk: l.diskBytes,
		OldestNotOnDisk: -1,
		Dropped:         l.dropped,
	}
	switch {
	case l.doubtT.set:
		s.OldestNotOnDisk = l.doubtT.val
	case l.syncingT.set:
		s.OldestNotOnDisk = l.syncingT.val
	case l.writtenT.set:
		s.OldestNotOnDisk = l.writtenT.val
	case l.flightDone < len(l.flight):
		s.OldestNotOnDisk = l.flight[l.flightDone].T
	case len(l.queue) > 0:
		s.OldestNotOnDisk = l.queue[0].T
	}
	switch {
	case l.refused != nil:
		s.Err, s.Since = l.refused, l.since
	case l.unsure != nil:
		s.Err, s.Since = l.unsure, l.unsureSince
	}
	return s
}

// Seal ends the log with r, a record of the kind [End]: it adds count=, bytes=
// and sha256= to its fields, brings everything to the disk, closes the file and
// writes its checksum file beside it (path + ".sha256").
//
// It waits as long as the disk makes progress. If there is none for
// Options.CloseWait, the error is [ErrNotSealed] and the log goes on trying;
// a later Seal, whose r is not used, waits on. Any other error says what
// remains in doubt in a log that has ended.
func (l *Log) Seal(r Record) error {
	r.Kind = End
	l.mu.Lock()
	if l.closing && l.end == nil || l.abandoned {
		l.mu.Unlock()
		return fmt.Errorf("logfmt: %s: %w without a seal", l.path, ErrClosed)
	}
	if !l.closing {
		l.closing, l.end = true, &r
		l.queuedN = r.N
		signal(l.wake)
	}
	l.mu.Unlock()
	if l.wait() {
		return l.result
	}
	s := l.Status()
	if s.Err == nil {
		s.Err = errors.New("the disk does not answer")
	}
	return fmt.Errorf("%w yet: %w", ErrNotSealed, s.Err)
}

// Close ends the log without a seal if it has none: it brings everything to the
// disk and closes the file. If the disk makes no progress for
// Options.CloseWait, Close gives up what is not written and says how much. When
// it returns, the goroutines have ended, unless a call into the system hangs:
// then the error says so, and they end when that call returns.
//
// After a Seal that succeeded it does nothing.
func (l *Log) Close() error {
	l.mu.Lock()
	if !l.closing {
		l.closing = true
		signal(l.wake)
	}
	l.mu.Unlock()
	if l.wait() {
		return l.result
	}
	l.mu.Lock()
	if !l.abandoned {
		l.abandoned = true
		close(l.abandon)
	}
	l.mu.Unlock()
	if l.wait() {
		return l.result
	}
	s := l.Status()
	return fmt.Errorf("logfmt: %s: the disk does not answer; %d bytes are written, %d on disk, records after n=%d may be lost",
		l.path, s.Bytes, s.BytesOnDisk, s.OnDisk)
}

// wait returns true when the writer has ended, false when nothing moved for
// CloseWait.
func (l *Log) wait() bool {
	moved := l.progress()
	for {
		timer := time.NewTimer(l.opt.CloseWait)
		select {
		case <-l.done:
			timer.Stop()
			return true
		case <-timer.C:
		}
		now := l.progress()
		if now == moved {
			return false
		}
		moved = now
	}
}

// progress changes as long as the disk takes something.
func (l *Log) progress() [2]int64 {
	l.mu.Lock()
	defer l.mu.Unlock()
	return [2]int64{l.bytes, l.diskBytes}
}
