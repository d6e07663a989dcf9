package archive

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func BenchmarkOpen(b *testing.B) {
	path := filepath.Join(b.TempDir(), "shop.db")
	bench, err := Create(ctx(b), path, options())
	require.NoError(b, err)
	stock(b, bench)
	require.NoError(b, bench.Close())
	for b.Loop() {
		bench, err := Open(ctx(b), path, options())
		require.NoError(b, err)
		require.NoError(b, bench.Close())
	}
}

// manyChips are chips with a Lab and a spectrum each.
func manyChips(n int) []Chip {
	r := rand.New(rand.NewPCG(1, 2))
	chips := make([]Chip, n)
	for i := range chips {
		s := Spectrum{400, 10, make([]float64, 31)}
		for j := range s.R {
			s.R[j] = float64(r.IntN(10000)) / 10000
		}
		chips[i] = Chip{Name: fmt.Sprintf("C-%05d", i), Loadings: map[string]float64{"WH": 1, "RD": float64(i) / 1e4}, Backing: "white",
			ThicknessMM: 3, ChipGrams: 50, ScaleGrams: 0.01, Readings: []Reading{reading(50, 10, 10), {Spectrum: &s}}}
	}
	return chips
}

func BenchmarkImport10kSpectra(b *testing.B) {
	chips := manyChips(10_000)
	b.ReportAllocs()
	for b.Loop() {
		b.StopTimer()
		bench := newShop(b)
		b.StartTimer()
		report, err := bench.ImportChips(ctx(b), "CLR", chips, Refuse)
		require.NoError(b, err)
		require.Len(b, report.Added, len(chips))
	}
}

func BenchmarkVerify10k(b *testing.B) {
	bench := newShop(b)
	_, err := bench.ImportChips(ctx(b), "CLR", manyChips(10_000), Refuse)
	require.NoError(b, err)
	for b.Loop() {
		verified(b, bench)
	}
}

// A large calibration: the covariance of 24 pigments takes a few megabytes.
func BenchmarkCalibration4MB(b *testing.B) {
	bench := newShop(b)
	doc := append(append([]byte(`[0.12345678`), make([]byte, 0, 4<<20)...), []byte{}...)
	for len(doc) < 4<<20 {
		doc = append(doc, ",0.12345678"...)
	}
	doc = append(doc, ']')
	for b.Loop() {
		_, err := bench.AddCalibration(ctx(b), Calibration{Resin: "CLR", Document: doc})
		require.NoError(b, err)
		_, err = bench.Calibration(ctx(b), "CLR", 0)
		require.NoError(b, err)
	}
}
