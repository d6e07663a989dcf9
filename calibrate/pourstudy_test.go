//go:build study

package calibrate_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// TestStudyPours: what the read pours of a shop teach beside nine chips, against as
// many chips as there are castings, made of sets of 32.
func TestStudyPours(t *testing.T) {
	for _, world := range []uint64{1, 2} {
		straight := virtualshop.Painted(world, 8)
		straight.StrengthSD = 0.015
		for _, s := range []*virtualshop.Shop{straight, virtualshop.CrookedPastes(world, 8)} {
			t.Run(s.Name, func(t *testing.T) {
				rng := rand.New(rand.NewPCG(world, 'p'))
				mixtures := unseenOf(s, rng, 120)
				if s.Crooked.Exponents != nil {
					mixtures = pieces(s, rng, s.Mixtures(rng, 120))
				}
				first := s.CastAll(rng, firstChips(s))
				set := s.Study(virtualshop.Thin)
				var sets []calibrate.Chip
				for i := range 109 {
					c := set[i%len(set)]
					c.Name = fmt.Sprint(c.Name, " ", i/len(set)+1)
					sets = append(sets, c)
				}
				sets = s.CastAll(rng, sets)
				for _, e := range virtualshop.Evidences() {
					if only := os.Getenv("EVIDENCE"); only != "" && only != string(e) {
						continue
					}
					o := calibrate.Options{Layer: calibrate.KubelkaMunk}
					with := func(recipes, n int) []calibrate.Chip {
						return append(first[:len(first):len(first)], s.CastAll(rng, pouredMixtures(s, rng, n, recipes))...)
					}
					out := []trial{try(t, s.Codes, first, e, o, mixtures)}
					out = append(out, try(t, s.Codes, with(10, 10), e, o, mixtures), try(t, s.Codes, with(100, 100), e, o, mixtures), try(t, s.Codes, with(20, 100), e, o, mixtures))
					out = append(out, try(t, s.Codes, sets[:len(set)], e, o, mixtures), try(t, s.Codes, sets, e, o, mixtures))
					t.Log(table(s.Name+": 9 chips; with 10 pours; with 100 pours; with 100 pours of 20 recipes; 32 chips; 109 chips", out))
				}
			})
		}
	}
}
