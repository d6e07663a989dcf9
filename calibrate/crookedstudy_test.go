//go:build study

package calibrate_test

import (
	"context"
	"fmt"
	"math/rand/v2"
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

// Shops that no layer model is true of.
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

// The paints of testdata/measured_paints on two fixed splits.
func TestStudyMeasuredPaints(t *testing.T) {
	_, readings := measuredPaints(t)
	for _, letters := range []string{"AB", "ABE"} {
		paints, fit, unseen := splitPaints(readings, letters)
		sort.Strings(paints)
		t.Log(table("measured paints, pieces "+letters, []trial{try(t, paints, fit, virtualshop.Spectra, calibrate.Options{}, seen(unseen))}))
	}
}

// Light lost past the aperture, where nobody says which that is and where all say it.
func TestStudyAperture(t *testing.T) {
	for world := uint64(1); world <= 4; world++ {
		for _, stated := range []calibrate.ApertureMM{0, 4} {
			s := virtualshop.PastAperture(world, 12)
			s.Setting.Aperture = stated
			t.Run(fmt.Sprintf("%s, stated %g", s.Name, float64(stated)), func(t *testing.T) {
				rng := rand.New(rand.NewPCG(world, 'q'))
				chips := s.CastAll(rng, s.Study(virtualshop.Thin))
				mixtures := pieces(s, rng, s.Mixtures(rng, 150))
				for _, layer := range []string{"", calibrate.ExactLayer} {
					c, err := calibrate.Fit(context.Background(), s.Codes, chips, calibrate.Options{Layer: layer})
					require.NoError(t, err)
					r := trial{evidence: virtualshop.Spectra, chips: len(chips), layer: c.Layer.Name}
					r.against(t, c, mixtures)
					t.Logf("index %.3f g %.2f law %.3g %.3g %.3g casting %+v scatter %.4f noise %+v modelerror %+v loo %+v", c.Layer.Index, c.Layer.Anisotropy, c.Law.Bent, c.Law.Crowding, c.Law.Loss, c.CastingError, c.Scatter, c.Noise, c.ModelError, c.LeaveOut.MeanDE00)
					for _, o := range c.Others {
						t.Logf("%+v", o)
					}
					t.Log(table(s.Name, []trial{r}))
				}
			})
		}
	}
}
