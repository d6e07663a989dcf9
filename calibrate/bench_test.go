package calibrate_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// A fit of 12 pigments from 48 chips, with posterior and leave-one-out.
func BenchmarkFit48(b *testing.B) {
	pigments, chips, _ := calibrate.RealPigments(b, 48)
	for _, e := range virtualshop.Evidences() {
		for _, layer := range []string{calibrate.KubelkaMunk, calibrate.ExactLayer} {
			b.Run(string(e)+"/"+layer, func(b *testing.B) { benchmarkFit(b, pigments, e.Of(chips), calibrate.Options{Layer: layer}) })
		}
		b.Run(string(e)+"/choosing", func(b *testing.B) { benchmarkFit(b, pigments, e.Of(chips), calibrate.Options{}) })
	}
}

// A fit of 24 pigments from 100 chips with spectra.
func BenchmarkFit100(b *testing.B) {
	s := virtualshop.Painted(1, 24)
	rng := rand.New(rand.NewPCG(1, 1))
	plan := s.Study(virtualshop.Thin)
	for i, m := range s.Mixtures(rng, 100-len(plan)) {
		plan = append(plan, s.Chip(string(rune('a'+i)), m))
	}
	benchmarkFit(b, s.Codes, virtualshop.Spectra.Of(s.CastAll(rng, plan)), calibrate.Options{})
}

// What a fit costs as chips become many: 13 pigments by spectra, every layer model, in
// seconds and in memory taken of the system. With the tag study also 300 and 1,000.
func BenchmarkFitGrows(b *testing.B) {
	for _, n := range []int{48, 150, 300, 1000} {
		if n > 150 && !whole {
			continue
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s := virtualshop.Painted(1, 13)
			benchmarkFit(b, s.Codes, virtualshop.Spectra.Of(manyChips(s, n)), calibrate.Options{})
			var used runtime.MemStats
			runtime.ReadMemStats(&used)
			b.ReportMetric(float64(used.Sys)/1e6, "MB")
		})
	}
}

// manyChips casts the chips of a plan and mixtures, n together.
func manyChips(s *virtualshop.Shop, n int) []calibrate.Chip {
	rng := rand.New(rand.NewPCG(1, 1))
	plan := s.Study(virtualshop.TwoTint)
	for i, m := range s.Mixtures(rng, n-len(plan)) {
		plan = append(plan, s.Chip(fmt.Sprintf("mixture %d", i+1), m))
	}
	return s.CastAll(rng, plan)
}

func benchmarkFit(b *testing.B, pigments []string, chips []calibrate.Chip, o calibrate.Options) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := calibrate.Fit(context.Background(), pigments, chips, o); err != nil {
			b.Fatal(err)
		}
	}
}

// One evaluation of a mixture of four pigments: its colour and how that answers
// to each loading, and the bars with it.
func BenchmarkModelEval(b *testing.B) {
	pigments, chips, _ := calibrate.RealPigments(b, 48)
	mixture, phr, grad := []int{1, 3, 6, 9}, []float64{0.8, 0.3, 0.05, 0.1}, make([][3]float64, 4)
	for _, layer := range []string{calibrate.KubelkaMunk, calibrate.ExactLayer} {
		c, err := calibrate.Fit(context.Background(), pigments, virtualshop.Spectra.Of(chips), calibrate.Options{Layer: layer})
		require.NoError(b, err)
		e, err := c.Evaluator(calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9), Specular: color.SpecularIncluded})
		require.NoError(b, err)
		b.Run(layer+"/gradient", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				e.Set(mixture, phr)
				e.LabGradient(0, grad)
			}
		})
		b.Run(layer+"/gradient and covariance", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				e.Set(mixture, phr)
				e.LabGradient(0, grad)
				e.Covariance()
			}
		})
	}
}
