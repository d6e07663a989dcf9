package castplan_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
)

// BenchmarkNext is one chip chosen among all candidates of twelve pigments for a
// hundred mixtures of the gamut.
func BenchmarkNext(b *testing.B) {
	w := newWorld(virtualshop.Painted(1, 12), 1, calibrate.KubelkaMunk)
	chips := w.cast(rand.New(rand.NewPCG(1, 'b')), w.start(b, 2))
	for _, e := range virtualshop.Evidences() {
		c := w.fit(b, e, chips)
		for _, count := range []int{1, 5} {
			r := w.request(b, c, count)
			b.Run(string(e)+map[int]string{1: "/first", 5: "/five"}[count], func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					_, err := castplan.Next(context.Background(), c, r)
					require.NoError(b, err)
				}
				b.ReportMetric(float64(len(r.Candidates)), "candidates")
			})
		}
	}
}
