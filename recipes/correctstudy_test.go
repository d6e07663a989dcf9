//go:build study

package recipes

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// mayWorsen is the per cent of corrected pours that may come out further off by
// more than 0.1.
const mayWorsen = 3

// A hundred targets whose recipes hold a pigment 15 % off, 37 chips, batches of
// 100 g on 0.01 g, in three shops: about a minute on two idle cores.
func TestStudyCorrect(t *testing.T) {
	for _, shop := range []*virtualshop.Shop{realShop(t), virtualshop.Painted(9, 12), virtualshop.Radiative(9, 12)} {
		t.Run(shop.Name, func(t *testing.T) {
			t.Log(slipHead(2))
			for _, e := range []virtualshop.Evidence{virtualshop.Spectra, virtualshop.ThreeLights, virtualshop.OneLight} {
				b := newSlipBench(t, shop, e, 1, calibrate.Options{})
				var courses []course
				for _, s := range b.targets(t, 100, Limits{BatchGrams: 100, ScaleGrams: 0.01}) {
					courses = append(courses, s.batches(t, 2))
				}
				table := tabulate(e, courses)
				t.Log(table)
				for i, must := range mustReach[e] {
					assert.GreaterOrEqual(t, table.within1[i+1], must, "%s, correction %d", e, i+1)
				}
				assert.LessOrEqual(t, table.worsePercent(), float64(mayWorsen), "%s", e)
			}
		})
	}
}

// The same by additions to the pot.
func TestStudyCorrectPot(t *testing.T) {
	shop := realShop(t)
	t.Log(slipHead(2))
	for _, e := range []virtualshop.Evidence{virtualshop.Spectra, virtualshop.ThreeLights, virtualshop.OneLight} {
		b := newSlipBench(t, shop, e, 2, calibrate.Options{Layer: calibrate.KubelkaMunk})
		var courses []course
		for _, s := range b.targets(t, 100, Limits{BatchGrams: 300, ScaleGrams: 0.01}) {
			courses = append(courses, s.pots(t, 2))
		}
		table := tabulate(e, courses)
		t.Log(table)
		for i, must := range mustReach[e] {
			assert.GreaterOrEqual(t, table.within1[i+1], must, "%s, correction %d", e, i+1)
		}
		assert.LessOrEqual(t, table.worsePercent(), float64(mayWorsen), "%s", e)
	}
}
