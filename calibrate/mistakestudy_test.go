//go:build study

package calibrate_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// Fifty planted mistakes of each kind per evidence, and fifty clean sets.
func TestStudyMistakes(t *testing.T) {
	const n = 50
	paints := []*virtualshop.Shop{paintShop(t)}
	var painted []*virtualshop.Shop
	for k := range n {
		painted = append(painted, virtualshop.Painted(uint64(100+k), 12))
	}
	for name, shops := range map[string][]*virtualshop.Shop{"paints": paints, "painted": painted} {
		for _, e := range virtualshop.Evidences() {
			t.Run(fmt.Sprintf("%s %s", name, e), func(t *testing.T) {
				clean := plantAll(t, shops, e, "", n)
				t.Logf("%-8s %-12s clean: %d of %d false alarms", name, e, clean.alarms, n)
				for _, cause := range plantedCauses {
					c := plantAll(t, shops, e, cause, n)
					t.Logf("%-8s %-12s %-13s named %d, pointed at %d, wrong %d, missed %d", name, e, cause, c.named, c.pointed, c.wrong, c.missed)
				}
			})
		}
	}
}

// How much one planted mistake worsens the mixtures never cast, as a factor.
func TestStudyOneBadChip(t *testing.T) {
	for _, e := range virtualshop.Evidences() {
		for _, n := range []int{26, 37, 48} {
			codes, chips, mixtures := calibrate.RealPigments(t, n)
			clean := heldOut(t, codes, e.Of(chips), mixtures)
			for _, cause := range plantedCauses {
				cases := 10
				if cause == calibrate.WrongBacking && n < 48 {
					cases = 1 // one chip over black
				}
				sum := 0.0
				for k := range cases {
					bad, _ := planted(rand.New(rand.NewPCG(uint64(k), 5)), chips, cause)
					sum += heldOut(t, codes, e.Of(bad), mixtures) / clean / float64(cases)
				}
				t.Logf("%-12s %d chips, %-13s x%.2f", e, n, cause, sum)
			}
		}
	}
}

// One planted mistake in shops where light follows radiative transfer, the layer left
// to the fit, beside the clean chips.
func TestStudyMistakesByChoice(t *testing.T) {
	for k := range uint64(12) {
		s := virtualshop.Radiative(40+k, 12)
		rng := rand.New(rand.NewPCG(k, 78))
		chips := s.CastAll(rng, s.Study(virtualshop.Thin))
		bad, p := planted(rand.New(rand.NewPCG(k, 79)), chips, plantedCauses[k%3])
		for _, e := range []virtualshop.Evidence{virtualshop.ThreeLights, virtualshop.Spectra} {
			clean, err := calibrate.Fit(context.Background(), s.Codes, e.Of(chips), calibrate.Options{})
			require.NoError(t, err)
			c, err := calibrate.Fit(context.Background(), s.Codes, e.Of(bad), calibrate.Options{})
			require.NoError(t, err)
			t.Logf("%s, %s: clean %s, %d alarms; %s: %s, named %t, told %v", s.Name, e, clean.Layer.Name, len(clean.Suspects),
				p.cause, c.Layer.Name, judge(c.Suspects, p) == named, c.Suspects)
		}
	}
}

// One planted mistake among nine chips and the 60 pours of twelve recipes.
func TestStudyMistakesAmongPours(t *testing.T) {
	const n = 6
	for _, e := range []virtualshop.Evidence{virtualshop.OneLight, virtualshop.ThreeLights} {
		for _, cause := range []calibrate.Cause{"", calibrate.LoadingSlip, calibrate.SwappedChips} {
			var out tally
			start := time.Now()
			for k := range uint64(n) {
				s := virtualshop.Painted(201+k, 8)
				s.StrengthSD = 0.015
				rng := rand.New(rand.NewPCG(k, 80))
				first := s.CastAll(rng, firstChips(s))
				pours, p := planted(rng, s.CastAll(rng, pouredMixtures(s, rng, 60, 12)), cause)
				c, err := calibrate.Fit(context.Background(), s.Codes, e.Of(append(first, pours...)), calibrate.Options{Layer: calibrate.KubelkaMunk})
				require.NoError(t, err)
				out.count(c.Suspects, p)
			}
			t.Logf("%-12s %-13s named %d, pointed at %d, wrong %d, missed %d, alarms %d of %d; %.0f s a fit", e, cause,
				out.named, out.pointed, out.wrong, out.missed, out.alarms, n, time.Since(start).Seconds()/n)
		}
	}
}
