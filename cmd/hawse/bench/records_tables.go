package bench

import (
	"runtime"
	"time"
)

func writerTable(w written) *table {
	t := &table{key: "writer", columns: []column{{}}}
	t.add("records", "records written", cellInt(w.records))
	t.add("records_per_s", "records/s to the disk, one core, fsyncs and seal included", cellInt(int64(w.perSecond())))
	t.add("encode_records_per_s", "records/s encoded, no file", cellInt(int64(float64(w.records)/w.encode.Seconds())))
	return t
}

func readerTable(times [readWays]best, w written) *table {
	t := &table{key: "read", columns: []column{{"mb_per_s", "MB/s"}, {"to_sha256sum", "to sha256sum"}}}
	for i, name := range [readWays]struct{ key, label string }{
		readSum:     {"sha256sum", "sha256sum"},
		readRecords: {"reader", "reader, each crc proved, each record made"},
		readProved:  {"verify", "verify, SHA-256 too, no record made"},
		readPacked:  {"packed", "reader out of zstd, in unpacked MB"},
	} {
		speed := func(b best) float64 { // 0 if it was not measured
			if b.best == 0 {
				return 0
			}
			return float64(w.bytes) / 1e6 / b.best.Seconds()
		}
		if times[i].best == 0 {
			continue
		}
		t.add(name.key, name.label, cellNumber(speed(times[i]), "%.0f"), cellRatio(speed(times[i]), speed(times[readSum])))
	}
	return t
}

func scaleTable(one, all time.Duration, logs int, w written) *table {
	speed := func(d time.Duration) float64 { return float64(logs) * float64(w.bytes) / 1e6 / d.Seconds() }
	t := &table{key: "verify", columns: []column{{}}}
	t.add("logs", "logs verified", cellInt(logs))
	t.add("one_core_mb_per_s", "one at a time, MB/s", cellNumber(speed(one), "%.0f"))
	t.add("all_cores_mb_per_s", "one on each core, MB/s", cellNumber(speed(all), "%.0f"))
	t.add("cores", "cores", cellInt(runtime.NumCPU()))
	t.add("speedup", "times as fast", cellRatio(one.Seconds(), all.Seconds()))
	return t
}

func sizeTable(w written, p packedSize) *table {
	each := func(n int64) cell { return cellNumber(float64(n)/float64(w.records), "%.1f") }
	t := &table{key: "size", columns: []column{{"bytes_per_frame", "bytes a frame"}, {"of_log", "of the log"}}}
	t.add("log", "log", each(w.bytes), cellRatio(1, 1))
	t.add("zstd", "packed, zstd's usual level", each(p.usual), cellRatio(float64(p.usual), float64(w.bytes)))
	t.add("zstd_best", "packed, zstd's best level", each(p.best), cellRatio(float64(p.best), float64(w.bytes)))
	return t
}
