package export

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"hawse/logfmt"
)

func catAll(t testing.TB, log []byte, o CatOptions) (string, *Result) {
	t.Helper()
	var out bytes.Buffer
	res, dumb, err := Cat(&out, bytes.NewReader(log), o)
	if err != nil || dumb != nil {
		t.Fatalf("Cat: %v, %v", dumb, err)
	}
	return out.String(), res
}

// TestCatText: a line a record, in the log's own form, with the reading behind.
func TestCatText(t *testing.T) {
	records := small(t)
	log := lines(records, nil)
	got, res := catAll(t, log, CatOptions{})
	if !res.Whole() || strings.Count(got, "\n") != len(records) {
		t.Errorf("%d lines of %d records, whole %v", strings.Count(got, "\n"), len(records), res.Whole())
	}
	for i, line := range strings.Split(strings.TrimSuffix(got, "\n"), "\n") {
		full := strings.Split(string(log), "\n")[i]
		if want := full[:strings.LastIndex(full, " prev=")]; !strings.HasPrefix(line, want) {
			t.Fatalf("line %d is\n%s\nwant it to begin\n%s", i+1, line, want)
		}
	}
	for _, want := range []string{
		`raw="+00100.0 kgf\r\n" reading="good" cell="in the rode" tension_n=980.665 guarded_n=980.665 indicated_n=980.665 stage="stand by"`,
		`raw="+0030\x1b[31m,\"kgf\"\xff\r\n" reading="garbled"`,
		`reading="over-range"`, `state=lost reason=unplugged reading="break"`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no %s in\n%s", want, got[strings.Index(got, "k=rx"):])
		}
	}
	// Two frames of one record stand one behind the other.
	if !strings.Contains(got, "tension_n=1961.33 ") || strings.Count(got[strings.Index(got, "+00200.0"):][:900], `reading="good"`) != 2 {
		t.Errorf("a record of two frames does not show both")
	}
	for _, c := range got {
		if c != '\n' && (c < 0x20 || c > 0x7e) {
			t.Fatalf("character %q is printed", c)
		}
	}
}

// TestCatJSON: each line is an object, exact and lossless.
func TestCatJSON(t *testing.T) {
	records := small(t)
	got, _ := catAll(t, lines(records, nil), CatOptions{JSON: true})
	samples := 0
	for i, line := range strings.Split(strings.TrimSuffix(got, "\n"), "\n") {
		var v struct {
			T       json.Number       `json:"t_s"`
			N       uint64            `json:"n"`
			Kind    string            `json:"kind"`
			Fields  map[string]string `json:"fields"`
			Samples []map[string]any  `json:"samples"`
		}
		if err := json.Unmarshal([]byte(line), &v); err != nil {
			t.Fatalf("line %d: %v\n%s", i+1, err, line)
		}
		r := records[i]
		if v.T.String() != logfmt.FormatNs(r.T) || v.N != r.N || v.Kind != string(r.Kind) || len(v.Fields) != len(r.Fields) {
			t.Fatalf("line %d: %s\nwant %+v", i+1, line, r)
		}
		for _, f := range r.Fields {
			if got := unescape(t, v.Fields[f.Key]); got != f.Val {
				t.Fatalf("record %d: %s is %q, want %q", r.N, f.Key, got, f.Val)
			}
		}
		samples += len(v.Samples)
	}
	file, _ := table(t, lines(records, nil), Samples, CSV)
	if want := len(rowsOf(t, file)); samples != want {
		t.Errorf("%d samples, the table has %d", samples, want)
	}
}

// TestCatWithoutAHead: records are printed even if nobody understands them.
func TestCatWithoutAHead(t *testing.T) {
	log := lines(small(t), func(n uint64) bool { return n < 100 })
	var out bytes.Buffer
	res, dumb, err := Cat(&out, bytes.NewReader(log), CatOptions{})
	if err != nil || dumb == nil || res.Records != uint64(bytes.Count(log, []byte("\n"))) || res.Whole() {
		t.Errorf("%d records, dumb %v, error %v, whole %v; want all records, and that frames are not understood", res.Records, dumb, err, res.Whole())
	}
}

// lineWriter gives each Write to whoever waits.
type lineWriter chan string

func (w lineWriter) Write(p []byte) (int, error) { w <- string(p); return len(p), nil }

// TestFollow: records come out as they are written, a torn line once it is
// whole; the end ends it, however long it takes.
func TestFollow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		records := small(t)
		log := lines(records, nil)
		path := filepath.Join(t.TempDir(), "A1.log")
		file, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		in, err := Follow(t.Context(), path, 100*time.Millisecond)
		if err != nil {
			t.Fatal(err)
		}
		defer in.Close()
		out := make(lineWriter, len(records)+1)
		done := make(chan *Result)
		go func() {
			res, _, err := Cat(out, in, CatOptions{Flush: true, ToEnd: true})
			if err != nil {
				t.Error(err)
			}
			done <- res
		}()
		wrote, came := 0, 0
		for i, cut := range []int{0, 10, 500, len(log) / 2, len(log) - 20, len(log)} {
			if _, err := file.Write(log[wrote:cut]); err != nil {
				t.Fatal(err)
			}
			wrote = cut
			if i == 3 { // the file is taken away and goes on being written
				if err := os.Rename(path, path+".away"); err != nil {
					t.Fatal(err)
				}
			}
			time.Sleep(150 * time.Millisecond)
			synctest.Wait()
			for len(out) > 0 {
				if line := <-out; strings.Count(line, "\n") != 1 {
					t.Fatalf("written at once: %q, want one line", line)
				}
				came++
			}
			if want := bytes.Count(log[:cut], []byte("\n")); came != want {
				t.Fatalf("after %d bytes %d records came, want %d", cut, came, want)
			}
		}
		if res := <-done; !res.Whole() || res.Records != uint64(len(records)) {
			t.Errorf("followed to the end: %+v", res)
		}
	})
}

// TestFollowEnds: by its context, and when the file is cut or replaced.
func TestFollowEnds(t *testing.T) {
	log := lines(small(t), nil)
	half := log[:len(log)/2]
	tests := []struct {
		name string
		do   func(path string) error
		anew bool
	}{
		{"ctrl-c", nil, false},
		{"cut", func(path string) error { return os.Truncate(path, 10) }, true},
		{"replaced", func(path string) error {
			return errors.Join(os.Rename(path, path+".away"), os.WriteFile(path, half, 0o644))
		}, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				path := put(t, filepath.Join(t.TempDir(), "A1.log"), string(half))
				ctx, cancel := context.WithCancel(t.Context())
				defer cancel()
				in, err := Follow(ctx, path, 100*time.Millisecond)
				if err != nil {
					t.Fatal(err)
				}
				defer in.Close()
				done := make(chan *Result)
				go func() {
					var out bytes.Buffer
					res, _, _ := Cat(&out, in, CatOptions{Flush: true, ToEnd: true})
					done <- res
				}()
				time.Sleep(250 * time.Millisecond)
				if tt.do == nil {
					cancel()
				} else if err := tt.do(path); err != nil {
					t.Fatal(err)
				}
				if res := <-done; errors.Is(res.Broken, ErrAnew) != tt.anew || res.Records == 0 {
					t.Errorf("%d records, ended by %v; want anew %v", res.Records, res.Broken, tt.anew)
				}
			})
		})
	}
	if _, err := Follow(t.Context(), filepath.Join(t.TempDir(), "none.log"), time.Second); err == nil {
		t.Error("Follow of nothing: no error")
	}
}

// TestFollowEndsWithItsWriter: what is seen of the writer, and what comes, say
// whether more can come.
func TestFollowEndsWithItsWriter(t *testing.T) {
	log := lines(small(t), nil)
	half, torn := len(log)/2, len(log)/2+len(log)/4
	type second struct {
		is  Writer
		add int // bytes of the log that are there by then
	}
	tests := []struct {
		name    string
		seconds []second // what is so from 0.5 s, 1.5 s, ... on; the last stays
		ends    time.Duration
		hidden  int // how often it was said that nothing can be known
		bytes   int
	}{
		{"gone before, nothing hidden", []second{{WriterNone, half}}, 3100 * time.Millisecond, 0, half},
		{"never seen, and the disk stalls at first", []second{{WriterNone, half}, {WriterNone, half}, {WriterNone, half + 50}, {WriterNone, half + 50}}, 0, 1, half + 50},
		{"dies while it is followed", []second{{WriterSeen, half}, {WriterSeen, torn}, {WriterNone, torn}}, 4 * time.Second, 0, torn},
		{"dies on a share, but was seen", []second{{WriterSeen, half}, {WriterHidden, half}}, 4 * time.Second, 0, half},
		{"seen but quiet for long", []second{{WriterSeen, half}, {WriterSeen, half}, {WriterSeen, half}, {WriterSeen, half}}, 0, 0, half},
		{"on a share, never seen", []second{{WriterHidden, half}, {WriterHidden, half}, {WriterHidden, half}}, 0, 1, half},
		{"never seen, but bytes come", []second{{WriterNone, half}, {WriterNone, half + 50}, {WriterNone, half + 90}, {WriterNone, half + 90}}, 0, 1, half + 90},
		{"seen late", []second{{WriterNone, half}, {WriterSeen, half + 50}, {WriterNone, half + 50}}, 4 * time.Second, 0, half + 50},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				path := put(t, filepath.Join(t.TempDir(), "A1.log"), string(log[:tt.seconds[0].add]))
				ctx, cancel := context.WithCancel(t.Context())
				defer cancel()
				in, err := Follow(ctx, path, 100*time.Millisecond)
				if err != nil {
					t.Fatal(err)
				}
				defer in.Close()
				now, hidden := tt.seconds[0].is, 0
				var mu sync.Mutex
				in.Watch(func(f *os.File) Writer {
					mu.Lock()
					defer mu.Unlock()
					return now
				}, func() { hidden++ })
				var ended time.Duration
				began := time.Now()
				done := make(chan error)
				var got []byte
				go func() {
					var err error
					got, err = io.ReadAll(in)
					ended = time.Since(began)
					done <- err
				}()
				time.Sleep(500 * time.Millisecond)
				file, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
				if err != nil {
					t.Fatal(err)
				}
				defer file.Close()
				at := tt.seconds[0].add
				for _, s := range tt.seconds[1:] {
					mu.Lock()
					now = s.is
					mu.Unlock()
					if _, err := file.Write(log[at:s.add]); err != nil {
						t.Fatal(err)
					}
					at = s.add
					time.Sleep(time.Second)
				}
				time.Sleep(5 * time.Second)
				cancel()
				err = <-done
				switch {
				case tt.ends > 0 && (!errors.Is(err, ErrNoWriter) || ended > tt.ends):
					t.Errorf("ended after %v with %v; want within %v that the writer is gone", ended, err, tt.ends)
				case tt.ends == 0 && err != nil:
					t.Errorf("ended after %v with %v; want it followed", ended, err)
				}
				if hidden != tt.hidden || len(got) != tt.bytes {
					t.Errorf("%d bytes, told %d times that nothing can be known; want %d, %d", len(got), hidden, tt.bytes, tt.hidden)
				}
			})
		})
	}
}

// TestFollowReadsWhatTheDyingWriterLeft: what was written between the last look
// and the death is read, the end too.
func TestFollowReadsWhatTheDyingWriterLeft(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		log := lines(small(t), nil)
		path := put(t, filepath.Join(t.TempDir(), "A1.log"), string(log[:len(log)/2]))
		in, err := Follow(t.Context(), path, 100*time.Millisecond)
		if err != nil {
			t.Fatal(err)
		}
		defer in.Close()
		looks := 0
		in.Watch(func(*os.File) Writer {
			if looks++; looks == 1 {
				return WriterSeen
			}
			put(t, path, string(log)) // at the very moment it goes
			return WriterNone
		}, nil)
		var out bytes.Buffer
		res, _, err := Cat(&out, in, CatOptions{Flush: true, ToEnd: true})
		if err != nil || !res.Whole() || looks != 2 {
			t.Errorf("%+v, %v after %d looks; want it whole, to its end", res, err, looks)
		}
	})
}
