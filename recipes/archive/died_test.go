package archive

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	sqlite3 "modernc.org/sqlite/lib"
)

// A bench is made, filled, closed and opened again on a disk that writes down every
// deed. Then for each deed the folder is laid out as it was when the program, or the
// machine, died there.

// state is all that a bench holds, in one line.
func state(t testing.TB, b *Bench) string {
	t.Helper()
	head, err := headAt(ctx(t), pool(b), newestLink)
	require.NoError(t, err)
	return checksum(t, b) + " " + string(head)
}

// more is done at a bench that fill filled; each is stored whole or not at all.
func more(b *Bench) []func() error {
	return []func() error{
		func() error { return tintPail(b) },
		func() error { return importTrio(b, "one") },
		func() error {
			r, err := b.Recipe(ctx(nil), "R1")
			return errors.Join(err, drawShot(b, r, "one"))
		},
		func() error {
			_, err := b.PutClient(ctx(nil), Client{Name: "Tern Lighting", Note: "changed"}, Replace)
			return err
		},
		func() error {
			r, err := b.Recipe(ctx(nil), "R1")
			if err == nil {
				_, err = b.Approve(ctx(nil), Approval{Recipe: r.Ref, Colors: []Lab{lab(61, 39, 21)}})
			}
			return err
		},
	}
}

// life is a bench's whole life on a disk: what was done to its files, and its states,
// of which the n-th is acknowledged where the deeds say it for the n-th time.
func life(t testing.TB) (deeds []deed, states []string) {
	t.Helper()
	folder := t.TempDir()
	d, path := watch(t, folder), filepath.Join(folder, "shop.db")
	b, err := Create(ctx(t), path, options())
	require.NoError(t, err)
	acknowledge := func([]LogLine) {
		d.say("stored")
		states = append(states, state(t, b))
	}
	acknowledge(nil)
	b.options.Stored = acknowledge
	fill(t, b)
	checkpoint := func() {
		_, err := pool(b).Exec(`PRAGMA wal_checkpoint(PASSIVE)`) // the log is then written over from its beginning
		require.NoError(t, err)
	}
	checkpoint()
	for _, do := range more(b) {
		require.NoError(t, do())
	}
	require.NoError(t, b.Close())
	b, err = Open(ctx(t), path, options())
	require.NoError(t, err)
	b.options.Stored = acknowledge
	require.NoError(t, importTrio(b, "two"))
	checkpoint()
	require.NoError(t, importTrio(b, "three"))
	require.NoError(t, b.Close())
	return d.done, states
}

// A file as it lies on a disk, and what was done to it since it was last synced.
type lain struct {
	there   bool
	whole   []byte
	pending []deed
}

func (f *lain) write(at int64, data []byte) {
	if end := int(at) + len(data); end > len(f.whole) {
		f.whole = append(f.whole, make([]byte, end-len(f.whole))...)
	}
	copy(f.whole[at:], data)
}

func (f *lain) do(k deed) {
	switch k.what {
	case "open":
		f.there, f.whole = true, nil
	case "write":
		f.write(k.at, k.data)
	case "truncate":
		f.whole = f.whole[:min(k.at, int64(len(f.whole)))]
	case "delete":
		f.there, f.whole = false, nil
	}
}

// settle is what is done to be there.
func (f *lain) settle() {
	for _, k := range f.pending {
		f.do(k)
	}
	f.pending = nil
}

// settleName is what is done to the file's name to be there: what the folder knows.
func (f *lain) settleName() {
	for i, k := range slices.Backward(f.pending) {
		if k.what == "open" || k.what == "delete" {
			f.do(k)
			f.pending = f.pending[i+1:]
			return
		}
	}
}

// lose is what becomes of it when the machine dies: each deed that was not synced
// happened or did not, and of a write each block of 512 bytes.
func (f *lain) lose(r *rand.Rand) {
	for _, k := range f.pending {
		if k.what != "write" {
			if r.IntN(2) == 0 {
				f.do(k)
			} else if k.what == "open" {
				break // the rest was done to a file without a name
			}
			continue
		}
		for at := 0; at < len(k.data); at += 512 {
			if r.IntN(2) == 0 {
				f.write(k.at+int64(at), k.data[at:min(at+512, len(k.data))])
			}
		}
	}
	f.pending = nil
}

// lie takes deeds to the files. A sync settles a file. The first sync of a log or a
// journal that was made syncs the folder too (os_unix.c, UNIXFILE_DIRSYNC), and so
// settles the names of all files.
func lie(deeds []deed) map[string]*lain {
	files := map[string]*lain{}
	for _, k := range deeds {
		if k.what == "said" {
			continue
		}
		f := files[k.file]
		if f == nil {
			f = &lain{}
			files[k.file] = f
		}
		made := func(k deed) bool { return k.what == "open" }
		if k.what == "sync" && k.file != "shop.db" && slices.ContainsFunc(f.pending, made) {
			for _, other := range files {
				other.settleName()
			}
		}
		if k.what == "sync" {
			f.settle()
			continue
		}
		f.pending = append(f.pending, k)
		if k.folder {
			f.settleName()
		}
	}
	return files
}

// dead lays out a folder as it is when the program dies after some deeds, or, with a
// random source, the machine.
func dead(t testing.TB, folder string, deeds []deed, machine *rand.Rand) {
	t.Helper()
	files := lie(deeds)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		f := files[name]
		if machine != nil {
			f.lose(machine)
		} else {
			f.settle()
		}
		if f.there {
			require.NoError(t, os.WriteFile(filepath.Join(folder, name), f.whole, 0o600))
		}
	}
}

// However far a bench's files came when the program or the machine died, the bench
// opens with everything acknowledged and nothing in part.
func TestDiedAtEveryDeed(t *testing.T) {
	if underRace {
		t.Skip("nothing runs at once here")
	}
	deeds, states := life(t)
	r := rand.New(rand.NewPCG(31, 32))
	var killed, died, landed, unmade int
	look := func(k int, machine *rand.Rand) {
		folder := filepath.Join(t.TempDir(), "dead")
		require.NoError(t, os.Mkdir(folder, 0o700))
		watch(t, folder) // which syncs nothing, and so takes less time
		dead(t, folder, deeds[:k], machine)
		acknowledged := 0
		for _, d := range deeds[:k] {
			if d.what == "said" {
				acknowledged++
			}
		}
		path := filepath.Join(folder, "shop.db")
		b, err := Open(ctx(t), path, options())
		if err != nil && acknowledged == 0 {
			unmade++
			b, err = Create(ctx(t), path, options())
		}
		require.NoError(t, err, "deed %d", k)
		verified(t, b)
		held := slices.Index(states, state(t, b)) + 1
		require.GreaterOrEqual(t, held, acknowledged, "deed %d: what was acknowledged is lost", k)
		require.LessOrEqual(t, held, acknowledged+1, "deed %d", k)
		require.Positive(t, held, "deed %d: it is there in part", k)
		if held > acknowledged {
			landed++
		}
		require.NoError(t, b.Close())
		require.NoError(t, os.RemoveAll(folder))
	}
	for k, d := range deeds {
		// Between two syncs the files differ by whole pages of one change.
		if faults == 1 && d.what == "write" && r.IntN(40) > 0 {
			continue
		}
		if faults > 1 || k%2 == 0 {
			look(k, nil)
			killed++
		}
		for range min(faults, 5) {
			look(k, r)
			died++
		}
	}
	t.Logf("%d deeds, %d changes: the program killed at %d of them, the machine dead %d times; %d changes under way were there whole, %d benches not made yet",
		len(deeds), len(states), killed, died, landed, unmade)
}

// A disk that fails at any deed, once or from then on, or is full from then on: what
// was acknowledged is there, what was refused is not, in one line, and the bench goes
// on when the disk is well again. Only where the last sync of a change failed is it
// open whether it is there, and said.
func TestDiskFailsAtEveryDeed(t *testing.T) {
	if underRace {
		t.Skip("nothing runs at once here")
	}
	master := filepath.Join(t.TempDir(), "shop.db")
	require.NoError(t, backup(t, fullBench(t), master))
	whole, err := os.ReadFile(master)
	require.NoError(t, err)
	d := watch(t, filepath.Dir(master))
	b, err := Open(ctx(t), master, options())
	require.NoError(t, err)
	then, last := map[string]string{}, state(t, b) // what comes of a state, whenever it is done
	for _, do := range more(b) {
		require.NoError(t, do())
		then[last] = state(t, b)
		last = then[last]
	}
	require.NoError(t, b.Close())
	deeds := d.done
	for _, c := range []struct {
		name string
		with int32
		many int
	}{
		{"once", sqlite3.SQLITE_IOERR, 1},
		{"for good", sqlite3.SQLITE_IOERR, 1 << 30},
		{"full", sqlite3.SQLITE_FULL, 1 << 30},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(33, 34))
			var tried, refused, unsure, there, unopened int
			for k, well := range deeds {
				if faults == 1 && well.what == "write" && r.IntN(12) > 0 {
					continue
				}
				folder := filepath.Join(t.TempDir(), "failing")
				require.NoError(t, os.Mkdir(folder, 0o700))
				path := filepath.Join(folder, "shop.db")
				require.NoError(t, os.WriteFile(path, whole, 0o600))
				d := watch(t, folder)
				d.failAt(k, c.many, c.with)
				open, now := false, ""
				said := func(err error) {
					require.NotContains(t, err.Error(), "\n")
					refused++
					if errors.Is(err, ErrUnsure) {
						open = true
						unsure++
						require.NotContains(t, err.Error(), "nothing was changed")
					}
				}
				b, err := Open(ctx(t), path, options())
				if err == nil {
					now = state(t, b)
					for _, do := range more(b) {
						if err := do(); err != nil {
							said(err)
						} else {
							now, open = state(t, b), false
						}
					}
					b.Close()
				} else {
					require.NotContains(t, err.Error(), "\n")
					unopened++
				}
				if d.well() > 0 {
					tried++
				}
				b, err = Open(ctx(t), path, options())
				require.NoError(t, err)
				verified(t, b)
				held := state(t, b)
				if open && held != now {
					require.Equal(t, then[now], held, "deed %d", k)
					there++
				} else if now != "" {
					require.Equal(t, now, held, "deed %d", k)
				}
				require.NoError(t, importTrio(b, "after"))
				verified(t, b)
				require.NoError(t, b.Close())
				require.NoError(t, os.RemoveAll(folder))
			}
			assert.Greater(t, tried, 10)
			t.Logf("%d failing deeds, %d benches not opened, %d changes refused; of %d that might be there or not %d were", tried, unopened, refused, unsure, there)
		})
	}
}

// A disk that fails once amid a change too large for SQLite's memory, whose pages it
// writes before the end: SQLite then undoes the change by itself. Nothing of it is
// there, by whatever went on after the failure; the error is one line, and the same
// bench takes the change when it is asked again.
func TestDiskFailsOnceAmidALargeChange(t *testing.T) {
	if underRace {
		t.Skip("nothing runs at once here")
	}
	large := func(t testing.TB) (*Bench, *disk) { // small memory makes a large change of a small one
		path := filepath.Join(t.TempDir(), "shop.db")
		d := watch(t, filepath.Dir(path))
		require.NoError(t, os.WriteFile(path, fullBytes(t), 0o600))
		b, err := Open(ctx(t), path, options())
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, b.Close()) })
		pool(b).SetMaxOpenConns(1)
		_, err = pool(b).Exec(`PRAGMA cache_size = 10`)
		require.NoError(t, err)
		return b, d
	}
	bundle := manyClients(t, 3*mostWaiting)
	chips := manyChips(150)
	for name, do := range map[string]func(*Bench) error{
		"chips": func(b *Bench) error { _, err := b.ImportChips(ctx(t), "CLR", chips, Refuse); return err },
		"a bundle": func(b *Bench) error {
			_, err := b.Import(ctx(t), bytes.NewReader(bundle), KeepMine)
			return err
		},
		"verbs that go on": func(b *Bench) error {
			return b.Together(ctx(t), func(b *Bench) error {
				var errs []error
				for i := range 60 {
					_, err := b.PutClient(ctx(t), Client{Name: fmt.Sprint("client ", i), Note: strings.Repeat("x", 4000)}, Refuse)
					errs = append(errs, err)
				}
				return errors.Join(errs[0])
			})
		},
	} {
		t.Run(name, func(t *testing.T) {
			b, d := large(t)
			d.failAt(-1, 0, 0)
			require.NoError(t, do(b))
			early := len(d.done) * 2 / 3
			require.Greater(t, early, 60, "pages are written before the end")
			for _, code := range []int32{sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL} {
				for k := 5; k < early; k += early / min(40, 2*faults) {
					b, d := large(t)
					before := state(t, b)
					d.failAt(k, 1, code)
					err := do(b)
					require.Equal(t, 1, d.well())
					require.Error(t, err, "deed %d", k)
					assert.NotContains(t, err.Error(), "\n")
					assert.Regexp(t, "the disk (cannot be read or written|is full)", err.Error())
					require.Equal(t, before, state(t, b), "deed %d", k)
					verified(t, b)
					require.NoError(t, do(b))
					verified(t, b)
				}
			}
		})
	}
}
