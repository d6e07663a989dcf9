//go:build study

package calibrate_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// Crooked pastes, by how many chips were cast and what was read of them.
func TestStudyCrooked(t *testing.T) {
	for world := uint64(1); world <= 3; world++ {
		s := virtualshop.CrookedPastes(world, 12)
		var out []trial
		for _, plan := range virtualshop.Plans() {
			rng := rand.New(rand.NewPCG(world, 'q'))
			chips := s.CastAll(rng, s.Study(plan))
			mixtures := pieces(s, rng, s.Mixtures(rng, 150))
			for _, e := range virtualshop.Evidences() {
				out = append(out, try(t, s.Codes, chips, e, calibrate.Options{Layer: calibrate.KubelkaMunk}, mixtures))
			}
		}
		t.Log(table(s.Name, out))
	}
}

// Shops that no layer model is true of. Past its aperture the first loses light by a law
// that is none of mixing: of whites the same share however they scatter, which tints
// lose the less the more they absorb. By spectra it comes out at 0.79, expected 1.6, inside
// 100 %, and no nearer where its aperture was counted beside the curves (c found 0.04 of
// the 0.55 expected): what is lost passes for portions of paste that are stronger.
func TestStudyUntrueLayers(t *testing.T) {
	for _, s := range []*virtualshop.Shop{virtualshop.PastAperture(1, 12), virtualshop.OffInstrument(1, 12)} {
		t.Run(s.Name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 'q'))
			chips := s.CastAll(rng, s.Study(virtualshop.Thin))
			mixtures := pieces(s, rng, s.Mixtures(rng, 150))
			var out []trial
			for _, e := range virtualshop.Evidences() {
				out = append(out, try(t, s.Codes, chips, e, calibrate.Options{}, mixtures))
			}
			t.Log(table(s.Name, out))
		})
	}
}

// Films, 13 pigments alone at 11 loadings, and with a tint of each.
func TestStudyFilms(t *testing.T) {
	s := virtualshop.Films(1)
	rng := rand.New(rand.NewPCG(1, 'q'))
	chips := s.CastAll(rng, s.Singles(true))
	mixtures := pieces(s, rng, s.Pairs(rng, 200))
	singles := 13 * 11
	t.Log(table(s.Name, []trial{try(t, s.Codes, chips, virtualshop.Spectra, calibrate.Options{}, mixtures)}))
	t.Log(table(s.Name+", singles alone", []trial{try(t, s.Codes, chips[:singles], virtualshop.Spectra, calibrate.Options{}, mixtures)}))
}

// The paints of testdata/measured_paints on two fixed splits, and of those never fitted
// the tints of half a paint and half a white over the white part of their cards: of 12 of
// them the two-constant theory of infinite thickness, one tint each, misses by 5.47.
func TestStudyMeasuredPaints(t *testing.T) {
	_, readings := measuredPaints(t)
	for _, letters := range []string{"AB", "ABE"} {
		paints, fit, unseen := splitPaints(readings, letters)
		sort.Strings(paints)
		c, err := calibrate.Fit(t.Context(), paints, fit, calibrate.Options{})
		require.NoError(t, err)
		against := func(name string, unseen []calibrate.Chip) {
			r := trial{evidence: virtualshop.Spectra, chips: len(fit), layer: c.Layer.Name}
			r.against(t, c, seen(unseen))
			t.Log(table(name, []trial{r}))
		}
		against("measured paints, pieces "+letters, unseen)
		against("of these the tints half and half", slices.DeleteFunc(unseen, func(c calibrate.Chip) bool {
			white := c.Loadings["ZincWhite"]
			return len(c.Loadings) != 2 || math.Abs(float64(white)*percentPerPHR-50) > 3 || c.BackingName != "white"
		}))
	}
}

// Where castings miss much the better of two starts is kept: it stood 24 better in -2 ln
// likelihood when this was written.
func TestStudyTwoStarts(t *testing.T) {
	paints, pieces := firstPaints(t, "05")
	one, _ := calibrate.FromFlat(t, paints, pieces, 0.03)
	both, further := calibrate.FromFlat(t, paints, pieces, 0.03, 0.15)
	require.Less(t, both, one-10)
	require.Less(t, further, 5.0)
}
