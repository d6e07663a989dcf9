//go:build study

package archive

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/postgres/ownserver"
)

// manyRecipes puts recipes on a bench as matches leave them: three for each of many
// targets, with what is kept beside them.
func manyRecipes(t testing.TB, b *Bench, n int) {
	t.Helper()
	stock(t, b)
	k, err := b.Calibration(ctx(t), "CLR", 0)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(1, 2))
	document := fmt.Sprintf(`{"why":"surest","bars":[%s]}`, func() (s string) {
		for i := range 60 {
			s += fmt.Sprintf("%.4f,", float64(i)/7)
		}
		return s + "0"
	}())
	require.NoError(t, b.Together(ctx(t), func(b *Bench) error {
		for done := 1; done < n; {
			target := housing()
			target.Name = fmt.Sprintf("part %05d", done)
			_, err := b.PutTarget(ctx(t), target, Refuse)
			require.NoError(t, err)
			var found []Recipe
			for range min(3, n-done) {
				v := shade(r)
				found = append(found, Recipe{Name: "surest", Resin: "CLR", Calibration: k.Ref, Target: target.Name, Client: target.Client,
					Loadings: map[string]float64{"WH": 1 + r.Float64(), "RD": r.Float64(), "YE": r.Float64()}, Predicted: []Lab{{v[0], v[1], v[2], "D65", 10}, {v[0], v[2], v[1], "A", 10}},
					DE00: r.Float64(), ExpectedDE00: 0.6, Upper95DE00: 1.1, Chance: 0.93, Document: []byte(document)})
			}
			_, err = b.AddRecipes(ctx(t), found...)
			require.NoError(t, err)
			done += len(found)
		}
		return nil
	}))
}

// heap follows how much memory is in use while something is done.
func heap(do func()) (most uint64) {
	end, ended := make(chan bool), make(chan bool)
	runtime.GC()
	go func() {
		defer close(ended)
		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most = max(most, m.HeapAlloc)
			select {
			case <-end:
				return
			case <-time.After(20 * time.Millisecond):
			}
		}
	}()
	do()
	close(end)
	<-ended
	return most
}

// TestStudyMove moves a bench of 100,000 recipes from a file into a database and
// back, and compares all of it; then how soon the nearest of them is found on each.
func TestStudyMove(t *testing.T) {
	n := 100_000
	if s := os.Getenv("RECIPES"); s != "" {
		fmt.Sscan(s, &n)
	}
	server := ownserver.Start(t)
	folder := t.TempDir()
	from := benchOf(t, emptyFile())
	start := time.Now()
	manyRecipes(t, from, n)
	t.Logf("%d recipes made in %v", n, time.Since(start))
	there, err := Create(ctx(t), server.Address("owner", server.Database("")), options())
	require.NoError(t, err)
	defer there.Close()
	back := benchOf(t, emptyFile())
	for _, move := range []struct {
		way      string
		from, to *Bench
	}{{"file to database", from, there}, {"database to file", there, back}} {
		path := filepath.Join(folder, "bundle")
		f, err := os.Create(path)
		require.NoError(t, err)
		w := bufio.NewWriter(f)
		start := time.Now()
		records := 0
		most := heap(func() {
			records, err = move.from.Export(context.Background(), w)
			require.NoError(t, err)
			require.NoError(t, w.Flush())
		})
		info, err := f.Stat()
		require.NoError(t, err)
		t.Logf("%s: %d records (%d MB) written in %v, at most %d MB in use", move.way, records, info.Size()>>20, time.Since(start), most>>20)
		_, err = f.Seek(0, 0)
		require.NoError(t, err)
		start = time.Now()
		most = heap(func() {
			_, err = move.to.Import(context.Background(), f, RefuseConflicts)
			require.NoError(t, err)
		})
		t.Logf("%s: taken in in %v, at most %d MB in use", move.way, time.Since(start), most>>20)
		require.NoError(t, f.Close())
	}
	verified(t, there)
	verified(t, back)
	sameRecords(t, from, there)
	sameRecords(t, from, back)
	nearestOnBoth(t, from, there)
}

// nearestOnBoth measures the search for the nearest colour on a file and a database,
// in turn, and compares the answers.
func nearestOnBoth(t testing.TB, inFile, inBase *Bench) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, where := range []string{"crowded", "anywhere", "no recipe near"} {
		var times [2][]float64
		for range 41 {
			v := [3]float64{98, 120, -120}
			switch where {
			case "crowded":
				v = [3]float64{94 + r.NormFloat64(), -1 + r.NormFloat64(), 3 + r.NormFloat64()}
			case "anywhere":
				v = [3]float64{5 + 90*r.Float64(), 120*r.Float64() - 60, 120*r.Float64() - 60}
			}
			var found [2][]Near
			for i, b := range []*Bench{inFile, inBase} {
				start := time.Now()
				near, err := b.Nearest(context.Background(), NearestQuery{Lab: lab(v[0], v[1], v[2])})
				times[i] = append(times[i], time.Since(start).Seconds()*1000)
				require.NoError(t, err)
				found[i] = near
			}
			require.Equal(t, found[0], found[1])
		}
		for i := range times {
			slices.Sort(times[i])
		}
		file, base := times[0][len(times[0])/2], times[1][len(times[1])/2]
		t.Logf("nearest, %s: file %.1f ms, database %.1f ms, %.2f times", where, file, base, base/file)
		require.Less(t, base/file, 3.0)
	}
}

// sameRecords compares two benches record by record.
func sameRecords(t testing.TB, a, b *Bench) {
	t.Helper()
	for _, k := range kinds() {
		query := "SELECT " + storedColumns + " FROM " + k.table + " ORDER BY id"
		x, err := pool(a).Query(query)
		require.NoError(t, err)
		y, err := pool(b).Query(query)
		require.NoError(t, err)
		for x.Next() {
			require.True(t, y.Next(), k.name)
			var of [2]stored
			require.NoError(t, x.Scan(of[0].targets()...))
			require.NoError(t, y.Scan(of[1].targets()...))
			require.True(t, of[0] == of[1], "%s %d", k.name, of[0].id)
		}
		require.False(t, y.Next(), k.name)
		require.NoError(t, errors.Join(x.Err(), x.Close(), y.Err(), y.Close()))
	}
}
