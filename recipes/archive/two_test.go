package archive

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestMain lets the test binary be a second program at the bench: with
// MASSTONE_CHILD set it does what child says and nothing else.
func TestMain(m *testing.M) {
	if !underRace { // which follows no addresses that SQLite keeps
		if code := putDisksIn(); code != 0 {
			fmt.Fprintln(os.Stderr, "the disks of the tests are not in, code", code)
			os.Exit(1)
		}
	}
	if task := os.Getenv("MASSTONE_CHILD"); task != "" {
		if err := child(task, os.Getenv("MASSTONE_BENCH"), os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func startChild(t testing.TB, task, path string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), "MASSTONE_CHILD="+task, "MASSTONE_BENCH="+path)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	return cmd, bufio.NewScanner(out)
}

// Two benches on one file in one program, and two programs, write at once:
// nobody is turned away and nothing is lost.
func TestManyAtOneBench(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	first, err := Create(ctx(t), path, options())
	require.NoError(t, err)
	defer first.Close()
	stock(t, first)
	second, err := Open(ctx(t), path, options())
	require.NoError(t, err)
	defer second.Close()

	const each = 25
	var all sync.WaitGroup
	errs := make(chan error, 8*each)
	for who, b := range map[string]*Bench{"one": first, "two": second} {
		for lane := range 2 {
			all.Go(func() {
				for n := range each {
					errs <- importTrio(b, fmt.Sprintf("%s-%d-%d", who, lane, n))
				}
			})
		}
	}
	for _, who := range []string{"three", "four"} {
		cmd, lines := startChild(t, "import "+who+" "+fmt.Sprint(each), path)
		all.Go(func() {
			for lines.Scan() {
				if !strings.HasPrefix(lines.Text(), "begin") && !strings.HasPrefix(lines.Text(), "done") && lines.Text() != "ready" {
					errs <- fmt.Errorf("%s", lines.Text())
				}
			}
			errs <- cmd.Wait()
		})
	}
	all.Wait()
	close(errs)
	for err := range errs {
		require.NoError(t, err)
	}
	chips, err := second.Chips(ctx(t), "CLR")
	require.NoError(t, err)
	assert.Len(t, chips, 2+3*each*(2*2+2))
	recipes, err := first.Find(ctx(t), FindQuery{Limit: 10000})
	require.NoError(t, err)
	assert.Len(t, recipes, 1)
	verified(t, first)
}

// Programs that start at once make one bench between them.
func TestManyCreateOrMigrate(t *testing.T) {
	for round := range 3 {
		path := filepath.Join(t.TempDir(), "shop.db")
		if round > 0 {
			oldBench(t, path, int64(round))
		}
		var all sync.WaitGroup
		made := make(chan error, 6)
		for range 6 {
			all.Go(func() {
				var b *Bench
				var err error
				if round == 0 {
					b, err = Create(ctx(t), path, options())
				} else {
					b, err = Open(ctx(t), path, options())
				}
				if err == nil {
					err = b.Close()
				}
				made <- err
			})
		}
		all.Wait()
		close(made)
		failed := 0
		for err := range made {
			if err != nil {
				assert.ErrorIs(t, err, ErrExists)
				failed++
			}
		}
		if round == 0 {
			assert.Equal(t, 5, failed, "one of them makes it")
		} else {
			assert.Zero(t, failed)
		}
		b, err := Open(ctx(t), path, options())
		require.NoError(t, err)
		verified(t, b)
		require.NoError(t, b.Close())
		if round > 0 {
			assert.Len(t, beside(t, path), 1)
		}
	}
}

// readAll is what a reader does with a bench, and tells what it came to.
func readAll(path string) error {
	b, err := Open(ctx(nil), path, options())
	if err != nil {
		return err
	}
	defer b.Close()
	v, err := b.Verify(ctx(nil))
	if err != nil || len(v.Problems) > 0 {
		return fmt.Errorf("verify: %w %v", err, v.Problems)
	}
	if _, err := b.Targets(ctx(nil), ""); err != nil {
		return err
	}
	if _, err := b.Recipe(ctx(nil), "R1"); err != nil {
		return err
	}
	if _, err := b.Find(ctx(nil), FindQuery{Words: "harbour"}); err != nil {
		return err
	}
	if _, err := b.Nearest(ctx(nil), NearestQuery{Lab: lab(61, 39, 21)}); err != nil {
		return err
	}
	n, err := b.Export(ctx(nil), new(bytes.Buffer))
	if err != nil || n != v.Records {
		return fmt.Errorf("export: %d records, %w", n, err)
	}
	_, err = b.PutClient(ctx(nil), Client{Name: "Gull Boats"}, Refuse)
	return fmt.Errorf("read %d; then: %w", n, err)
}

// importTrio imports three chips that belong together.
func importTrio(b *Bench, name string) error {
	var chips []Chip
	for n := range 3 {
		chips = append(chips, Chip{Name: fmt.Sprintf("%s/%d", name, n), Loadings: map[string]float64{"WH": 1, "RD": 0.1}, Backing: "white",
			ThicknessMM: 3, Readings: []Reading{reading(61, 39, 21)}, Note: strings.Repeat("x", 2000)})
	}
	_, err := b.ImportChips(ctx(nil), "CLR", chips, Refuse)
	return err
}

// tintPail makes the stock that drawShot draws from.
func tintPail(b *Bench) error {
	return b.Together(ctx(nil), func(b *Bench) error {
		if _, err := b.PutStock(ctx(nil), Stock{Name: "pail", Resin: "CLR"}, Refuse); err != nil {
			return err
		}
		_, err := b.MoveStock(ctx(nil), StockMove{Stock: "pail", Kind: Tint, Lines: []Line{{"B", 90000}, {"WH", 1000}}})
		return err
	})
}

// drawShot draws a shot for a batch and a pour of its own.
func drawShot(b *Bench, r Recipe, name string) error {
	return b.Together(ctx(nil), func(b *Bench) error {
		k, err := b.AddBatch(ctx(nil), Batch{Recipe: r.Ref, Stock: "pail", TotalGrams: 21, Lines: []Line{{"B", 10}, {"A", 11}}, Note: name})
		if err != nil {
			return err
		}
		p, err := b.AddPour(ctx(nil), Pour{Batch: k.Ref, Note: name})
		if err != nil {
			return err
		}
		_, err = b.MoveStock(ctx(nil), StockMove{Stock: "pail", Kind: Draw, Grams: 10, Pour: p.Ref, Note: name})
		return err
	})
}

// child does a task at the bench of path, and says on out what it begins and,
// once the bench has acknowledged it, what is done.
func child(task, path string, out io.Writer) error {
	var verb, who string
	n := 1 << 30
	fmt.Sscan(task, &verb, &who, &n)
	say := func(format string, a ...any) { fmt.Fprintf(out, format+"\n", a...) }
	switch verb {
	case "read":
		return readAll(path)
	case "restore":
		say("ready")
		if _, err := Restore(ctx(nil), path, os.Getenv("MASSTONE_BACKUP"), options()); err != nil {
			return err
		}
		say("done")
		return nil
	case "create":
		say("ready")
		b, err := Create(ctx(nil), path, options())
		if err != nil {
			return err
		}
		say("done")
		return b.Close()
	case "visit": // opens the bench for each change, as commands do
		say("ready")
		for i := range n {
			b, err := Open(ctx(nil), path, options())
			if err != nil {
				return err
			}
			if err := errors.Join(importTrio(b, fmt.Sprintf("%s-%d", who, i)), b.Close()); err != nil {
				return err
			}
			say("done %d", i)
			time.Sleep(time.Duration(rand.N(40)) * time.Millisecond)
		}
		return nil
	case "migrate":
		say("ready")
		b, err := Open(ctx(nil), path, options())
		if err != nil {
			return err
		}
		say("done")
		return b.Close()
	}
	b, err := Open(ctx(nil), path, options())
	if err != nil {
		return err
	}
	defer b.Close()
	r, err := b.Recipe(ctx(nil), "R1")
	if err != nil {
		return err
	}
	say("ready")
	for i := range n {
		say("begin %d", i)
		switch verb {
		case "import":
			err = importTrio(b, fmt.Sprintf("%s-%d", who, i))
		case "approve":
			_, err = b.Approve(ctx(nil), Approval{Recipe: r.Ref, Note: fmt.Sprintf("%s-%d", who, i), Colors: []Lab{lab(61, 39, 21), {60, 40, 25, "A", 10}}})
		case "draw":
			err = drawShot(b, r, fmt.Sprintf("%s-%d", who, i))
		default:
			err = fmt.Errorf("no such task: %s", verb)
		}
		if err != nil {
			return err
		}
		say("done %d", i)
	}
	return nil
}
