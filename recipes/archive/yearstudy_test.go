//go:build study

package archive

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/recipes/archive/postgres/ownserver"
)

// aYear puts on a bench what a busy shop leaves in a year: chips, a calibration a
// month, a recipe for every tenth pour, and batches, pours and readings with documents
// as large as the program's.
func aYear(t testing.TB, b *Bench, chips, pours int) {
	t.Helper()
	r := rand.New(rand.NewPCG(1, 2))
	filler := func(bytes int) []byte {
		var s strings.Builder
		s.WriteString(`{"x":[0`)
		for s.Len() < bytes {
			fmt.Fprintf(&s, ",%.5f", r.Float64())
		}
		return []byte(s.String() + "]}")
	}
	stock(t, b)
	_, err := b.ImportChips(ctx(t), "CLR", manyChips(chips), Refuse)
	require.NoError(t, err)
	for range 12 {
		_, err := b.AddCalibration(ctx(t), Calibration{Resin: "CLR", Document: filler(127_000)})
		require.NoError(t, err)
	}
	k, err := b.Calibration(ctx(t), "CLR", 0)
	require.NoError(t, err)
	var recipe Recipe
	for done := 0; done < pours; done += 500 {
		require.NoError(t, b.Together(ctx(t), func(b *Bench) error {
			for i := range min(500, pours-done) {
				if i%10 == 0 {
					v := shade(r)
					found, err := b.AddRecipes(ctx(t), Recipe{Resin: "CLR", Calibration: k.Ref, Target: "Harbour lamp / housing", Loadings: map[string]float64{"WH": 1, "RD": r.Float64()},
						Predicted: []Lab{lab(v[0], v[1], v[2]), {v[0], v[1], v[2], "A", 10}}, Document: filler(500)})
					require.NoError(t, err)
					recipe = found[0]
				}
				batch, err := b.AddBatch(ctx(t), Batch{Recipe: recipe.Ref, TotalGrams: 250, ScaleGrams: 0.01, Lines: []Line{{"B", 117.3}, {"WH", 2.55}, {"RD", 0.53 + r.Float64()}, {"A", 129.62}}, Document: filler(3000)})
				require.NoError(t, err)
				pour, err := b.AddPour(ctx(t), Pour{Batch: batch.Ref, Lines: []Line{{"B", 117.3}, {"WH", 2.55}, {"RD", 0.5 + r.Float64()}, {"A", 129.62}}})
				require.NoError(t, err)
				_, err = b.AddPourReading(ctx(t), PourReading{Pour: pour.Ref, Readings: []Reading{reading(60+r.Float64(), 39, 21)}, Verdict: filler(1600)})
				require.NoError(t, err)
			}
			return nil
		}))
	}
}

// TestStudyYear measures what a year weighs.
func TestStudyYear(t *testing.T) {
	chips, pours := 1000, 20_000
	if s := os.Getenv("POURS"); s != "" {
		fmt.Sscan(s, &pours)
	}
	took := func(what string, do func()) {
		start := time.Now()
		do()
		t.Logf("  %s %v", what, time.Since(start).Round(time.Millisecond))
	}
	folder := t.TempDir()
	weight := func(path string) string {
		info, err := os.Stat(path)
		require.NoError(t, err)
		return fmt.Sprintf("%.1f MB", float64(info.Size())/1e6)
	}
	t.Logf("%d chips, %d pours", chips, pours)
	inFile := benchOf(t, emptyFile())
	took("stored in a file in", func() { aYear(t, inFile, chips, pours) })
	copied := filepath.Join(folder, "copy.db")
	took("backed up in", func() { require.NoError(t, backup(t, inFile, copied)) })
	took("verified in", func() { verified(t, inFile) })
	took("opened in", func() {
		b, err := Open(ctx(t), copied, options())
		require.NoError(t, err)
		require.NoError(t, b.Close())
	})
	bundle := filepath.Join(folder, "bundle")
	f, err := os.Create(bundle)
	require.NoError(t, err)
	_, err = inFile.Export(context.Background(), f)
	require.NoError(t, err)
	t.Logf("  the file %s, a bundle of it %s", weight(copied), weight(bundle))

	server := ownserver.Start(t)
	name := server.Database("")
	inBase, err := Create(ctx(t), server.Address("owner", name), options())
	require.NoError(t, err)
	defer inBase.Close()
	took("stored in a database in", func() { aYear(t, inBase, chips, pours) })
	took("verified in", func() { verified(t, inBase) })
	var size int64
	require.NoError(t, pool(inBase).QueryRow(`SELECT pg_database_size(current_database())`).Scan(&size))
	took("dumped and restored in", func() { server.Dumped(name) })
	t.Logf("  the database %.1f MB, its dump %s", float64(size)/1e6, weight(server.DumpFile()))
}
