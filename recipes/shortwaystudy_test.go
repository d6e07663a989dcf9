//go:build study

package recipes_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"masstone/calibrate/virtualshop"
)

// Castings until the first part within 1.0, by the long and the short way, in
// four straight and four crooked shops of 8 pastes. About 20 minutes.
func TestStudyShortWay(t *testing.T) {
	const targets = 10
	for _, world := range []struct {
		name string
		shop func(seed uint64) *virtualshop.Shop
	}{
		{"straight", func(seed uint64) *virtualshop.Shop {
			s := virtualshop.Painted(seed, 8)
			s.StrengthSD = 0.015
			return s
		}},
		{"crooked", func(seed uint64) *virtualshop.Shop { return virtualshop.CrookedPastes(seed, 8) }},
	} {
		for _, e := range virtualshop.Evidences() {
			for _, by := range []way{shortWay, longWay} {
				t.Run(fmt.Sprintf("%s, %s, %s way", world.name, e, by), func(t *testing.T) {
					var all []wayTaken
					for seed := uint64(1); seed <= 4; seed++ {
						w := newCaster(t, world.shop(seed), e)
						rng := rand.New(rand.NewPCG(seed, 's'))
						for _, mix := range w.draw(rng, targets) {
							all = append(all, w.take(t, rng, by, w.wanted(rng, mix)))
						}
					}
					t.Log(tally(all))
				})
			}
		}
	}
}
