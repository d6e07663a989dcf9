package calibrate_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// pieces casts one piece of each mixture; its colour is the truth to foretell.
func pieces(s *virtualshop.Shop, rng *rand.Rand, mixtures []map[string]calibrate.PHR) []unseen {
	var out []unseen
	w, err := color.WeightsFor(color.D65Ten())
	if err != nil {
		panic(err)
	}
	for _, m := range mixtures {
		r := s.Piece(rng, m, s.Setting)
		out = append(out, unseen{calibrate.Sample{Loadings: m, Setting: s.Setting, OneCasting: true}, w.Lab(&r)})
	}
	return out
}

// seen takes readings for the truth to foretell.
func seen(readings []calibrate.Chip) []unseen {
	var out []unseen
	w, err := color.WeightsFor(color.D65Ten())
	if err != nil {
		panic(err)
	}
	for _, c := range readings {
		set := calibrate.Setting{Thickness: c.Thickness, Backing: c.Backing, Specular: c.Measurement.Specular, ThicknessSD: c.ThicknessSD}
		out = append(out, unseen{calibrate.Sample{Loadings: c.Loadings, Setting: set, OneCasting: true}, w.Lab(c.Spectrum)})
	}
	return out
}

// A crooked shop is taken for one, with bars that hold, and a straight one is not. The
// long form is TestStudyCrooked.
func TestCrookedShopIsTold(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	for _, c := range []struct {
		shop    *virtualshop.Shop
		crooked bool
	}{{virtualshop.CrookedPastes(21, 5), true}, {virtualshop.Painted(21, 5), false}} {
		rng := rand.New(rand.NewPCG(21, 'c'))
		chips := virtualshop.Spectra.Of(c.shop.CastAll(rng, c.shop.Study(virtualshop.Thin)))
		mixtures := pieces(c.shop, rng, c.shop.Mixtures(rng, 150))
		cal, err := calibrate.Fit(context.Background(), c.shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
		require.NoError(t, err)
		require.Equal(t, c.crooked, cal.CastingError.K > 0, c.shop.Name)
		require.Equal(t, c.crooked, cal.CastingError.LeastDE00 > 0, c.shop.Name)
		r := trial{evidence: virtualshop.Spectra, chips: len(chips), layer: cal.Layer.Name}
		r.against(t, cal, mixtures)
		t.Log(table(c.shop.Name, []trial{r}))
		if c.crooked { // 20 chips tell too little of it
			hold(t, r, bar{0.85, 0.90, 0.99}, bar{1.2, 0.75, 0.99})
		} else {
			require.LessOrEqual(t, r.mean, 0.20)
			require.GreaterOrEqual(t, r.channels, 0.90)
		}
	}
}
