//go:build study

package recipes_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
	"masstone/recipes"
)

// TestStudyClaims: what a match claims of the first pour and what lands within 1.0,
// by the full set and by one chip of each paste, straight shops and crooked ones. How
// far the claims are off is told for the recipe that was chosen and for the mixture
// that the target was made of, which nobody chose: 1 where they hold.
func TestStudyClaims(t *testing.T) {
	targets := 40
	if n, err := strconv.Atoi(os.Getenv("TARGETS")); err == nil {
		targets = n
	}
	const pours = 4
	for _, e := range virtualshop.Evidences() {
		for _, short := range []bool{false, true} {
			plan := map[bool]string{false: "full set", true: "one chip of each"}[short]
			t.Run(fmt.Sprintf("%s, %s", e, plan), func(t *testing.T) {
				var claimed, landed, chosen, drawn, n float64
				for world := uint64(1); world <= 4; world++ {
					s := virtualshop.Painted(world, 8)
					s.StrengthSD = 0.015
					if world > 2 {
						s = virtualshop.CrookedPastes(world, 8)
						s.StrengthSD = 0.02
					}
					w := newCaster(t, s, e)
					rng := rand.New(rand.NewPCG(world, 'h'))
					var whole *calibrate.Calibration
					if !short {
						chips, _ := w.start(t, rng, w.Codes, 0)
						whole = w.fit(t, w.Codes, chips)
					}
					for _, mix := range w.draw(rng, targets) {
						target, cal := w.wanted(rng, mix), whole
						if short {
							codes := castplan.Likely(mainOf(t, target.Labs, target.Spectrum), w.pastes, nil)
							chips, _ := w.start(t, rng, codes, 1)
							cal = w.fit(t, codes, chips)
						}
						limits := wayLimits
						limits.StrengthScatter = cal.Scatter
						a, err := recipes.Match(context.Background(), cal, target, limits)
						require.NoError(t, err)
						best := a.Recipes[0]
						claimed += best.Chance
						n++
						want := mainOf(t, target.Labs, target.Spectrum)
						landed += w.lands(t, rng, best, want, pours)
						off := func(mix map[string]calibrate.PHR) float64 {
							p, err := cal.Conservative().Predict(calibrate.Sample{Loadings: mix, Setting: w.Setting}, color.D65Ten())
							if err != nil {
								return 1 // of a paste that was not cast
							}
							truth := s.Color(mix, w.Setting, color.D65Ten())
							miss := color.Delta00(truth.Values(), p.Colors[0].Lab.Values())
							return miss / p.Colors[0].Expected
						}
						chosen += off(best.Loadings)
						drawn += off(mix)
					}
				}
				t.Log(fmt.Sprintf("claimed %.0f %%, landed %.0f %%; miss over expected miss: chosen %.2f, drawn %.2f", 100*claimed/n, 100*landed/n, chosen/n, drawn/n))
			})
		}
	}
}

// lands pours a recipe some times and returns the share that is within 1.0 of want.
func (w *caster) lands(t *testing.T, rng *rand.Rand, r recipes.Recipe, want color.Lab, pours int) (share float64) {
	for range pours {
		cup := w.Chip("part", r.Loadings)
		cup.ChipGrams = 100
		read := w.evidence.Of([]calibrate.Chip{w.Cast(rng, cup)})[0]
		if color.Delta00(want.Values(), mainOf(t, read.Labs, read.Spectrum).Values()) <= 1 {
			share += 1 / float64(pours)
		}
	}
	return share
}

// TestStudyCrookedPours: first pours in shops of crooked pastes, 12 of them, from 48
// chips: 24 targets each, five pours of the recipe that is chosen; what lands within 1.0,
// what was claimed, and how many recipes hold more white than any chip.
func TestStudyCrookedPours(t *testing.T) {
	for _, e := range virtualshop.Evidences() {
		var claimed, landed, beyond, n float64
		for world := uint64(1); world <= 3; world++ {
			s := virtualshop.CrookedPastes(world, 12)
			w := newCaster(t, s, e)
			rng := rand.New(rand.NewPCG(world, 'f'))
			cal := w.fit(t, s.Codes, s.CastAll(rng, s.Study(virtualshop.Thin)))
			limits := wayLimits
			limits.StrengthScatter = cal.Scatter
			for _, mix := range s.Mixtures(rng, 24) {
				target := w.wanted(rng, mix)
				a, err := recipes.Match(context.Background(), cal, target, limits)
				require.NoError(t, err)
				best := a.Recipes[0]
				claimed += best.Chance
				if best.Loadings[virtualshop.White] > cal.Curves[cal.Index(virtualshop.White)].MaxPHR {
					beyond++
				}
				n++
				want := mainOf(t, target.Labs, target.Spectrum)
				landed += w.lands(t, rng, best, want, 5)
			}
		}
		t.Logf("%-13s landed within 1.0 %.0f %%, claimed %.0f %%, %.0f of %.0f recipes with more white than any chip", e, 100*landed/n, 100*claimed/n, beyond, n)
	}
}
