package archive

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/sqlite"
)

// The faults suite spoils files and kills programs, and counts what nobody was
// told of: with the tag study some thousand times, else enough to notice.

// answers are what a reader gets of a bench, by question; a question that fails
// has no answer.
func answers(b *Bench) map[string]string {
	all := map[string]string{}
	put := func(question string, v any, err error) {
		if err == nil {
			text, _ := json.Marshal(v)
			all[question] = string(text)
		}
	}
	for _, code := range []string{"WH", "RD", "YE"} {
		v, err := b.Pigment(ctx(nil), code)
		put("pigment "+code, v, err)
	}
	resin, err := b.Resin(ctx(nil), "CLR")
	put("resin", resin, err)
	chips, err := b.Chips(ctx(nil), "CLR")
	put("chips", chips, err)
	calibration, err := b.Calibration(ctx(nil), "CLR", 0)
	put("calibration", calibration, err)
	target, err := b.Target(ctx(nil), "Tern Lighting", "Harbour lamp / housing")
	put("target", target, err)
	recipe, err := b.Recipe(ctx(nil), "R1")
	put("recipe", recipe, err)
	batch, err := b.Batch(ctx(nil), "B1")
	put("batch", batch, err)
	pour, err := b.Pour(ctx(nil), "P1")
	put("pour", pour, err)
	if err == nil { // else there is nothing to ask for
		reading, err := b.PourReadings(ctx(nil), pour.Ref)
		put("reading", reading, err)
	}
	level, err := b.StockLevel(ctx(nil), "pail 1")
	put("stock", level, err)
	approval, err := b.Approval(ctx(nil), "Tern Lighting", "Harbour lamp / housing", 1)
	put("approval", approval, err)
	p, err := b.Provenance(ctx(nil), approval)
	p.Head = "" // a link is proved by verify, not by whoever reads it
	put("provenance", p, err)
	strengths, err := b.LotStrengths(ctx(nil))
	put("strengths", strengths, err)
	opened, err := b.OpenedLots(ctx(nil))
	put("opened", opened, err)
	near, err := b.Nearest(ctx(nil), NearestQuery{Lab: lab(61, 39, 21)})
	put("near", near, err)
	found, err := b.Find(ctx(nil), FindQuery{Words: "harbour"})
	put("found", found, err)
	return all
}

// A told is what became of a spoiled bench.
type told struct{ refused, verified, questions, silent, hidden int }

// look opens a spoiled bench and counts. An answer that differs is silent if it
// was not refused, and hidden at that if verify does not tell either.
func (n *told) look(t testing.TB, path string, right map[string]string, sum string) {
	t.Helper()
	b, err := Open(ctx(t), path, options())
	got := map[string]string{}
	if err == nil {
		got = answers(b)
		require.NoError(t, b.Close())
	} else {
		n.refused++
	}
	o := options()
	o.Damaged = true
	if b, err = Open(ctx(t), path, o); err != nil { // not even to be verified
		return
	}
	defer b.Close()
	v, err := b.Verify(ctx(t))
	known := err != nil || len(v.Problems) > 0
	if known {
		n.verified++
	} else {
		now, err := b.Checksum(ctx(t))
		require.NoError(t, err)
		require.Equal(t, sum, now, "verify found nothing wrong with other records")
	}
	differs := false
	for question, answer := range got {
		if answer != right[question] {
			differs = true
			t.Logf("%s: %.300s, not %.300s", question, answer, right[question])
		}
	}
	if len(got) < len(right) {
		n.questions++
	}
	if differs {
		n.silent++
		if !known {
			n.hidden++
		}
	}
}

// A byte of the file is another: nothing that is read differs, but for what
// verify names.
func TestFlippedBytes(t *testing.T) {
	if underRace {
		t.Skip("nothing runs at once here")
	}
	master := fullBench(t)
	right, sum := answers(master), checksum(t, master)
	require.Len(t, right, 18)
	path := filepath.Join(t.TempDir(), "shop.db")
	require.NoError(t, backup(t, master, path))
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	var full []int // bytes that hold something
	for i, x := range whole {
		if x != 0 {
			full = append(full, i)
		}
	}
	r := rand.New(rand.NewPCG(21, 22))
	n, count := trials(70), told{}
	for range n {
		hurt := slices.Clone(whole)
		at := full[r.IntN(len(full))]
		if r.IntN(8) == 0 {
			at = r.IntN(len(whole)) // or nothing yet
		}
		hurt[at] ^= byte(1 + r.IntN(255))
		require.NoError(t, os.WriteFile(path, hurt, 0o600))
		count.look(t, path, right, sum)
		sqlite.Remove(path)
	}
	t.Logf("%d flips: %d not opened, %d named by verify, %d with questions refused, %d with another answer, %d of them found by nothing",
		n, count.refused, count.verified, count.questions, count.silent, count.hidden)
	assert.Zero(t, count.hidden)
	assert.Zero(t, count.silent)
}

// The file ends early, as when a copy was cut off.
func TestTruncatedFiles(t *testing.T) {
	master := fullBench(t)
	right, sum := answers(master), checksum(t, master)
	path := filepath.Join(t.TempDir(), "shop.db")
	require.NoError(t, backup(t, master, path))
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(23, 24))
	n, count := trials(15), told{}
	for range n {
		require.NoError(t, os.WriteFile(path, whole[:r.IntN(len(whole))], 0o600))
		count.look(t, path, right, sum)
		sqlite.Remove(path)
	}
	t.Logf("%d cuts: %d not opened, %d named by verify, %d with another answer", n, count.refused, count.verified, count.silent)
	assert.Zero(t, count.hidden)
	assert.Zero(t, count.silent)
}

// A restoring program is killed: the bench is the old one or the backup, or is
// refused until it is restored again; and the old one is kept, whole.
func TestKilledWhileRestoring(t *testing.T) {
	r := rand.New(rand.NewPCG(25, 26))
	shop, copied := crashed(t, 3)
	files := map[string][]byte{}
	for _, tail := range []string{"", "-wal"} {
		var err error
		files[tail], err = os.ReadFile(shop + tail)
		require.NoError(t, err)
	}
	lay := func() string {
		folder := t.TempDir()
		path := filepath.Join(folder, "shop.db")
		for tail, whole := range files {
			require.NoError(t, os.WriteFile(path+tail, whole, 0o600))
		}
		return path
	}
	t.Setenv("MASSTONE_BACKUP", copied)
	within := pace(t, "restore", lay())
	n, reached := trials(15), map[string]int{}
	for range n {
		path := lay()
		ended := killed(t, r, "restore", path, within)
		b, err := Open(ctx(t), path, options())
		if err != nil {
			require.ErrorIs(t, err, ErrDamaged)
			require.False(t, ended)
			_, err := Restore(ctx(t), path, copied, options())
			require.NoError(t, err)
			reached["refused"]++
			continue
		}
		require.NoError(t, b.Close())
		note := noteOf(t, path)
		reached[note]++
		if ended {
			require.Equal(t, "Łódź, käme", note)
		}
		kept, err := filepath.Glob(filepath.Join(filepath.Dir(path), "shop.replaced.*.db"))
		require.NoError(t, err)
		for _, k := range kept[:min(1, len(kept))] {
			require.Equal(t, "after the backup 2", noteOf(t, k))
		}
	}
	t.Logf("%d kills within %v: %v", n, within, reached)
}

// A machine dies before its disk has the whole log: whatever of it is there, the
// bench is as after some change, whole.
func TestLogCutAnywhere(t *testing.T) {
	live := fullBench(t)
	_, err := pool(live).Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
	require.NoError(t, err)
	right := map[string]bool{"Łódź, käme": true}
	for n := range 12 {
		note := fmt.Sprint("change ", n)
		right[note] = true
		_, err := live.PutClient(ctx(t), Client{Name: "Tern Lighting", Note: note}, Replace)
		require.NoError(t, err)
	}
	whole, err := os.ReadFile(live.Path())
	require.NoError(t, err)
	log, err := os.ReadFile(live.Path() + "-wal")
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(27, 28))
	n, seen := max(trials(20), 10), map[string]bool{}
	path := filepath.Join(t.TempDir(), "shop.db")
	for i := range n {
		torn := log[:r.IntN(len(log)+1)]
		if i%2 == 1 { // or a block of it that never came
			torn = slices.Clone(log)
			at := r.IntN(len(torn)-512) / 512 * 512
			copy(torn[at:at+512], bytes.Repeat([]byte{byte(r.IntN(256))}, 512))
		}
		require.NoError(t, os.WriteFile(path, whole, 0o600))
		require.NoError(t, os.WriteFile(path+"-wal", torn, 0o600))
		note := noteOf(t, path)
		require.True(t, right[note], note)
		seen[note] = true
		sqlite.Remove(path)
	}
	t.Logf("%d logs cut or torn; %d states of 13 seen, all whole", n, len(seen))
	assert.Greater(t, len(seen), 3)
}

// A key of an index is another: who goes by it would miss the record. The bench is
// refused, but to verify it and to save the rest.
func TestDamagedIndexIsRefused(t *testing.T) {
	master := fullBench(t)
	path := filepath.Join(t.TempDir(), "shop.db")
	require.NoError(t, backup(t, master, path))
	var root, size int
	db, err := sql.Open("sqlite", sqlite.DSN(path, 0, "mode=ro"))
	require.NoError(t, err)
	require.NoError(t, db.QueryRow(`SELECT rootpage FROM sqlite_schema WHERE name = 'pigment_card_code'`).Scan(&root))
	require.NoError(t, db.QueryRow(`PRAGMA page_size`).Scan(&size))
	require.NoError(t, db.Close())
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	page := whole[(root-1)*size : root*size]
	at := bytes.Index(page, []byte("WH"))
	require.Positive(t, at)
	page[at+1] = 'G'
	require.NoError(t, os.WriteFile(path, whole, 0o600))

	_, err = Open(ctx(t), path, options())
	require.ErrorIs(t, err, ErrDamaged)
	require.NotContains(t, err.Error(), "\n")
	o := options()
	o.Damaged = true
	b, err := Open(ctx(t), path, o)
	require.NoError(t, err)
	defer b.Close()
	v, err := b.Verify(ctx(t))
	require.NoError(t, err)
	require.NotEmpty(t, v.Problems)
	_, _, err = b.ExportRest(ctx(t), io.Discard)
	require.NoError(t, err)
}
