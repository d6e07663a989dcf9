package layer_test

import (
	"math"
	"testing"

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

func BenchmarkNewExact(b *testing.B) {
	for b.Loop() {
		if _, err := layer.NewExact(1.5); err != nil {
			b.Fatal(err)
		}
	}
}
