package recipes

import (
	"context"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// A matchShop is a fitted invented shop with targets it never saw.
type matchShop struct {
	shop    *virtualshop.Shop
	cal     *calibrate.Calibration
	targets []Target
}

// newMatchShop fits an invented shop of n pigments on its 37-chip kind of plan
// and draws targets from unseen mixtures.
func newMatchShop(t testing.TB, pigments, targets int, evidence virtualshop.Evidence) matchShop {
	t.Helper()
	return fitShop(t, virtualshop.Painted(7, pigments), rand.New(rand.NewPCG(11, uint64(pigments))), targets, evidence)
}

func fitShop(t testing.TB, shop *virtualshop.Shop, rng *rand.Rand, targets int, evidence virtualshop.Evidence) matchShop {
	t.Helper()
	chips := evidence.Of(shop.CastAll(rng, shop.Study(virtualshop.TwoTint)))
	cal, err := calibrate.Fit(context.Background(), shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	if err != nil {
		t.Fatal(err)
	}
	s := matchShop{shop: shop, cal: cal}
	for _, mix := range shop.Mixtures(rng, targets) {
		s.targets = append(s.targets, Target{Name: "unseen", Labs: []color.Lab{shop.Color(mix, shop.Setting, cal.Main)}, Setting: shop.Setting})
	}
	return s
}

var (
	shop6  = sync.OnceValue(func() matchShop { return newMatchShop(&testing.B{}, 6, 12, virtualshop.Spectra) })
	shop12 = sync.OnceValue(func() matchShop { return newMatchShop(&testing.B{}, 12, 50, virtualshop.Spectra) })
	shop24 = sync.OnceValue(func() matchShop { return newMatchShop(&testing.B{}, 24, 50, virtualshop.Spectra) })
	shop40 = sync.OnceValue(func() matchShop { return newMatchShop(&testing.B{}, 40, 10, virtualshop.Spectra) })
)

func benchmarkMatch(b *testing.B, s matchShop, size int) {
	limits := Limits{MaxPigments: size, BatchGrams: 100, ScaleGrams: 0.01}
	b.ReportAllocs()
	i := 0
	var solved, excluded int
	for b.Loop() {
		a, err := Match(context.Background(), s.cal, s.targets[i%len(s.targets)], limits)
		if err != nil {
			b.Fatal(err)
		}
		solved += a.Solved
		excluded += a.Excluded
		i++
	}
	b.ReportMetric(float64(solved)/float64(i), "solved/op")
	b.ReportMetric(float64(excluded)/float64(i), "excluded/op")
}

func BenchmarkMatch12x4(b *testing.B) { benchmarkMatch(b, shop12(), 4) }
func BenchmarkMatch24x4(b *testing.B) {
	s := shop24()
	benchmarkMatch(b, s, 4)
	// the plain way once, in the same run: its time over ours is the ratio
	m, err := newMatch(s.cal, s.targets[0], Limits{BatchGrams: 100, ScaleGrams: 0.01})
	if err != nil {
		b.Fatal(err)
	}
	start := time.Now()
	plainMatch(m)
	plain := time.Since(start)
	ours := b.Elapsed() / time.Duration(max(b.N, 1))
	b.ReportMetric(float64(plain)/float64(ours), "times-plain")
}
func BenchmarkMatch40x5(b *testing.B) { benchmarkMatch(b, shop40(), 5) }
