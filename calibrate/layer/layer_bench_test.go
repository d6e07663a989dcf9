package layer_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/calibrate/layer"
	"masstone/color"
)

// spread fills K and S with a plausible coloured tint, another value each band.
func spread(k, s, g *[color.Bands]float64) {
	for i := range k {
		f := float64(i) / (color.Bands - 1)
		k[i] = 0.02 * math.Exp(5*f)
		s[i] = 1.5 * math.Exp(1.5*math.Sin(6*f))
		g[i] = 0.9
	}
}

func benchmarkBands(b *testing.B, l layer.Layer) {
	var k, s, g [color.Bands]float64
	spread(&k, &s, &g)
	var out layer.Partials
	b.ReportAllocs()
	for b.Loop() {
		l.Bands(&k, &s, 3, &g, color.SpecularIncluded, &out)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/color.Bands, "ns/band")
}

func BenchmarkKubelkaMunkBands(b *testing.B) { benchmarkBands(b, layer.NewKubelkaMunk()) }

func BenchmarkExactBands(b *testing.B) {
	e, err := layer.NewExact(1.5)
	if err != nil {
		b.Fatal(err)
	}
	benchmarkBands(b, e)
}

// The price of the exact layer in units of Kubelka-Munk, both timed in turns.
func BenchmarkExactOverKubelkaMunk(b *testing.B) {
	var k, s, g [color.Bands]float64
	spread(&k, &s, &g)
	var out layer.Partials
	timed := func(l layer.Layer) time.Duration {
		start := time.Now()
		for range 1000 {
			l.Bands(&k, &s, 3, &g, color.SpecularIncluded, &out)
		}
		return time.Since(start)
	}
	// The fastest of many turns, so that what else runs here counts little.
	km, exact := time.Hour, time.Hour
	e := exact15()
	for b.Loop() {
		km, exact = min(km, timed(layer.NewKubelkaMunk())), min(exact, timed(e))
	}
	b.ReportMetric(float64(exact)/float64(km), "ratio")
}

func TestBandsDoNotAllocate(t *testing.T) {
	var k, s, g [color.Bands]float64
	spread(&k, &s, &g)
	var out layer.Partials
	for _, l := range []layer.Layer{layer.NewKubelkaMunk(), exact15()} {
		require.Zero(t, testing.AllocsPerRun(10, func() {
			l.Bands(&k, &s, 3, &g, color.SpecularIncluded, &out)
		}), l.Name())
	}
}

func BenchmarkNewExact(b *testing.B) {
	for b.Loop() {
		if _, err := layer.NewExact(1.5); err != nil {
			b.Fatal(err)
		}
	}
}
