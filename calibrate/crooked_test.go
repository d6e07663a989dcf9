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

// Crooked shops are taken for such, with bars that hold over all of them, and a straight
// one is not. How 20 chips happen to be cast decides much of how near one shop comes, so
// its bars are held only with those of the others. The long form is TestStudyCrooked.
func TestCrookedShopIsTold(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	fit := func(shop *virtualshop.Shop, world uint64, crooked bool) trial {
		rng := rand.New(rand.NewPCG(world, 'c'))
		chips := virtualshop.Spectra.Of(shop.CastAll(rng, shop.Study(virtualshop.Thin)))
		mixtures := pieces(shop, rng, shop.Mixtures(rng, 150))
		cal, err := calibrate.Fit(context.Background(), shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
		require.NoError(t, err)
		require.Equal(t, crooked, cal.CastingError.K > 0, shop.Name)
		require.Equal(t, crooked, cal.CastingError.LeastDE00 > 0, shop.Name)
		r := trial{evidence: virtualshop.Spectra, chips: len(chips), layer: cal.Layer.Name}
		r.against(t, cal, mixtures)
		t.Log(table(shop.Name, []trial{r}))
		return r
	}
	worlds := []uint64{21, 22, 23, 24}
	var all trial
	for _, world := range worlds {
		r := fit(virtualshop.CrookedPastes(world, 5), world, true)
		require.LessOrEqual(t, r.mean, 1.2)
		all.layer, all.evidence, all.chips = r.layer, r.evidence, r.chips
		all.mean += r.mean / float64(len(worlds))
		all.channels += r.channels / float64(len(worlds))
		all.expected += r.expected / float64(len(worlds))
	}
	hold(t, all, bar{0.85, 0.90, 0.99}, bar{0.85, 0.85, 0.99})
	require.InDelta(t, all.mean, all.expected, 0.25*all.mean, "claimed")
	r := fit(virtualshop.Painted(21, 5), 21, false)
	require.LessOrEqual(t, r.mean, 0.20)
	require.GreaterOrEqual(t, r.channels, 0.90)
}
