package archive

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/sqlite"
)

// The crash tests kill a second program (kill -9) at random moments while it
// changes a bench, again and again on the same file, and then look. The moment
// is counted in changes begun and in shares of the time a change took this
// program just before, so that a busy machine moves it along.
//
//   - what it said was done is there, whole;
//   - what it had begun and not yet called done is there whole or not at all: the
//     kill may fall between the commit and the word;
//   - nothing else is there, and Verify finds nothing.
//
// A killed process loses nothing that it wrote, only a machine does. So in
// every few trials the write-ahead log is also cut at a random byte, as if the
// machine had died before the disk had it all, in a copy: that copy must hold
// some whole beginning of the changes, and verify.

// killedAmong starts a child on a task of many changes, kills it within one of
// the first few, and returns the numbers of what it had begun and done, -1 if
// nothing.
func killedAmong(t testing.TB, r *rand.Rand, task, path string, few int) (begun, done int) {
	t.Helper()
	cmd, lines := startChild(t, task, path)
	begun, done = -1, -1
	last, share := r.IntN(few), r.Float64()
	var since time.Time // the change before began
	for lines.Scan() {
		switch line := lines.Text(); {
		case line == "ready":
			since = time.Now().Add(-time.Millisecond)
		case strings.HasPrefix(line, "begin "):
			fmt.Sscan(line[6:], &begun)
			if begun == last { // somewhere within it, or, if it is quicker, within the next
				time.AfterFunc(time.Duration(share*float64(time.Since(since))), func() { cmd.Process.Kill() })
			}
			since = time.Now()
		case strings.HasPrefix(line, "done "):
			fmt.Sscan(line[5:], &done)
		}
	}
	cmd.Wait()
	require.GreaterOrEqual(t, begun, last, "the child died before it was killed")
	return begun, done
}

// killed starts a child on a task, kills it after a random time, and tells
// whether it had ended.
func killed(t testing.TB, r *rand.Rand, task, path string, within time.Duration) (ended bool) {
	t.Helper()
	cmd, lines := startChild(t, task, path)
	var timer *time.Timer
	for lines.Scan() {
		switch line := lines.Text(); {
		case line == "ready":
			timer = time.AfterFunc(time.Duration(r.Int64N(int64(within))), func() { cmd.Process.Kill() })
		case line == "done":
			ended = true
		}
	}
	cmd.Wait()
	require.NotNil(t, timer, "the child died before it was ready")
	timer.Stop()
	return ended
}

// pace is how long a child takes from ready to done when nobody kills it: kills
// fall evenly within it, and some after.
func pace(t testing.TB, task, path string) time.Duration {
	t.Helper()
	cmd, lines := startChild(t, task, path)
	var start time.Time
	for lines.Scan() {
		switch lines.Text() {
		case "ready":
			start = time.Now()
		case "done":
			require.NoError(t, cmd.Wait())
			return time.Since(start) * 5 / 4
		}
	}
	require.Fail(t, "the child did not end")
	return 0
}

// trials is how often to try: half of n times, as a sample, a tenth of it when time is
// short, and n times faults in the study.
func trials(n int) int {
	switch {
	case testing.Short() || underRace:
		return n / 10
	case faults == 1:
		return (n + 1) / 2
	}
	return n * faults
}

func TestKilledWhileChanging(t *testing.T) {
	for _, verb := range []string{"import", "approve", "draw"} {
		t.Run(verb, func(t *testing.T) {
			t.Parallel()
			r := rand.New(rand.NewPCG(5, uint64(len(verb))))
			var path string
			var before int // changes there before the trial
			var acknowledged, open, landed, torn int
			n := trials(30)
			for trial := range n {
				if trial%25 == 0 {
					path = filepath.Join(t.TempDir(), "shop.db")
					b, err := Create(ctx(t), path, options())
					require.NoError(t, err)
					stock(t, b)
					require.NoError(t, tintPail(b))
					require.NoError(t, b.Close())
					before = 0
				}
				who := fmt.Sprintf("t%d", trial)
				begun, done := killedAmong(t, r, verb+" "+who, path, 5)
				acknowledged += done + 1
				if trial%4 == 0 && cut(t, r, path) {
					torn++
				}
				b, err := Open(ctx(t), path, options())
				require.NoError(t, err)
				there := changes(t, b, verb, who)
				for i := range done + 1 {
					require.True(t, there[i], "trial %d: change %d was acknowledged and is lost", trial, i)
				}
				if begun > done {
					open++
					if there[begun] {
						landed++
					}
				}
				for i := range there {
					require.LessOrEqual(t, i, begun)
				}
				before += len(there)
				if verb == "approve" {
					a, err := b.Approvals(ctx(t), "", "Harbour lamp / housing")
					require.NoError(t, err)
					require.Len(t, a, before)
				}
				if trial%5 == 4 || trial == n-1 {
					verified(t, b)
				}
				require.NoError(t, b.Close())
			}
			t.Logf("%d kills: %d changes acknowledged, all there; %d under way, %d of them had been committed, the others are wholly absent; %d logs cut",
				n, acknowledged, open, landed, torn)
			assert.Greater(t, acknowledged, n/2) // on average two came before the one that was hit
		})
	}
}

// changes returns which changes of a child are on the bench, and fails if one
// is there in part.
func changes(t testing.TB, b *Bench, verb, who string) map[int]bool {
	t.Helper()
	there := map[int]bool{}
	if verb == "draw" {
		level, err := b.StockLevel(ctx(t), "pail")
		require.NoError(t, err)
		batches, err := b.Batches(ctx(t), "")
		require.NoError(t, err)
		draws := level.Moves[1:] // after the tint
		require.Len(t, batches, len(draws), "a draw, its batch and its pour come together")
		require.InDelta(t, 91000-10*float64(len(draws)), level.Grams, 1e-6)
		for _, m := range draws {
			p, err := b.PourRef(ctx(t), m.Pour)
			require.NoError(t, err)
			k, err := b.BatchRef(ctx(t), p.Batch)
			require.NoError(t, err)
			require.Equal(t, []string{m.Note, m.Note}, []string{p.Note, k.Note})
			var i int
			if _, err := fmt.Sscanf(m.Note, who+"-%d", &i); err == nil && strings.HasPrefix(m.Note, who+"-") {
				there[i] = true
			}
		}
		return there
	}
	if verb == "approve" {
		all, err := b.Approvals(ctx(t), "", "Harbour lamp / housing")
		require.NoError(t, err)
		logged, err := b.Log(ctx(t), LogFilter{About: "approved"})
		require.NoError(t, err)
		require.Len(t, logged, len(all), "an approval and its log line come together")
		var colors int
		require.NoError(t, pool(b).QueryRow(`SELECT count(*) FROM color WHERE approved`).Scan(&colors))
		require.Equal(t, 2*len(all), colors)
		for _, a := range all {
			var i int
			if _, err := fmt.Sscanf(a.Note, who+"-%d", &i); err == nil && strings.HasPrefix(a.Note, who+"-") {
				there[i] = true
			}
		}
		return there
	}
	chips, err := b.Chips(ctx(t), "CLR")
	require.NoError(t, err)
	logged, err := b.Log(ctx(t), LogFilter{About: "chips imported"})
	require.NoError(t, err)
	require.Len(t, chips, 3*len(logged)-1, "three chips and a log line come together, but for the first two chips")
	parts := map[int]int{}
	for _, k := range chips {
		var i, part int
		if _, err := fmt.Sscanf(k.Name, who+"-%d/%d", &i, &part); err == nil {
			parts[i]++
		}
	}
	for i, n := range parts {
		require.Equal(t, 3, n, "change %d is there in part", i)
		there[i] = true
	}
	return there
}

// cut copies a bench and the log its dead writer left, cuts the log at a random
// byte, and checks what opens from that.
func cut(t testing.TB, r *rand.Rand, path string) bool {
	t.Helper()
	log, err := os.ReadFile(path + "-wal")
	if os.IsNotExist(err) || len(log) == 0 {
		return false
	}
	require.NoError(t, err)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	torn := filepath.Join(t.TempDir(), "torn.db")
	require.NoError(t, os.WriteFile(torn, whole, 0o600))
	require.NoError(t, os.WriteFile(torn+"-wal", log[:r.IntN(len(log))], 0o600))
	b, err := Open(ctx(t), torn, options())
	require.NoError(t, err)
	defer b.Close()
	changes(t, b, "import", "t")
	changes(t, b, "approve", "t")
	changes(t, b, "draw", "t")
	verified(t, b)
	return true
}

func TestKilledWhileMigrating(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(6, 7))
	masters := map[int64][]byte{}
	for version := int64(1); version <= 4; version++ {
		path := filepath.Join(t.TempDir(), "old.db")
		oldBench(t, path, version)
		var err error
		masters[version], err = os.ReadFile(path)
		require.NoError(t, err)
	}
	n := trials(20)
	once := filepath.Join(t.TempDir(), "once.db")
	require.NoError(t, os.WriteFile(once, masters[1], 0o600))
	within := pace(t, "migrate", once)
	reached := map[int]int{} // schema reached → kills
	var copies, finished int
	for trial := range n {
		version := int64(1 + trial%4)
		path := filepath.Join(t.TempDir(), "shop.db")
		require.NoError(t, os.WriteFile(path, masters[version], 0o600))
		ended := killed(t, r, "migrate", path, within)
		now, newest, err := sqlite.Version(ctx(t), path, time.Second, "mode=rw")
		require.NoError(t, err)
		require.GreaterOrEqual(t, now, int(version))
		if ended {
			finished++
			require.Equal(t, newest, now, "the migration was acknowledged")
		}
		reached[now]++
		for _, k := range beside(t, path) {
			if strings.Contains(k, ".part-") {
				continue // begun and not finished; nobody is told of it
			}
			copies++
			held, _, err := sqlite.Version(ctx(t), k, time.Second, "mode=rw")
			require.NoError(t, err)
			require.Equal(t, int(version), held, "a copy is of the bench as it was")
			if trial%4 == 0 {
				sound(t, k)
			}
		}
		if now > int(version) {
			require.NotEmpty(t, beside(t, path), "it was copied before the first step")
		}
		b, err := Open(ctx(t), path, options())
		require.NoError(t, err)
		if version >= 3 {
			r, err := b.Recipe(ctx(t), "R300")
			require.NoError(t, err)
			require.Equal(t, 2.99, r.Loadings["RD"])
		}
		if trial%2 == 0 {
			verified(t, b)
		}
		require.NoError(t, b.Close())
	}
	t.Logf("%d kills: schema reached → times %v, %d acknowledged; %d finished copies, all whole", n, reached, finished, copies)
}

func sound(t testing.TB, path string) {
	t.Helper()
	b, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	verified(t, b)
	require.NoError(t, b.Close())
}

func TestKilledWhileCreating(t *testing.T) {
	t.Parallel()
	r := rand.New(rand.NewPCG(8, 9))
	n := trials(10)
	within := pace(t, "create", filepath.Join(t.TempDir(), "once.db"))
	var made, begun int
	for range n {
		path := filepath.Join(t.TempDir(), "shop.db")
		ended := killed(t, r, "create", path, within)
		b, err := Open(ctx(t), path, options())
		if ended {
			require.NoError(t, err)
			made++
		} else if err != nil {
			b, err = Create(ctx(t), path, options())
			require.NoError(t, err, "what is left is no bench, and no obstacle to one")
			begun++
		}
		verified(t, b)
		require.NoError(t, b.Close())
	}
	t.Logf("%d kills: %d benches acknowledged, %d not made yet, the others finished on opening", n, made, begun)
}
