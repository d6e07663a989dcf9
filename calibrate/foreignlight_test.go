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

// Under lights that no chip was read under the bars are wider, and still hold: one
// Lab under D65 and 10 degrees, mixtures judged under a client's D50 and 2 degrees and
// under tungsten.
func TestBarsUnderAnotherLight(t *testing.T) {
	d65, d50, a := color.D65Ten(), color.Under(color.D50, color.TwoDegree), color.Under(color.A, color.TenDegree)
	judged := map[color.Condition][]calibrate.Judged{}
	open := map[color.Condition]float64{}
	for seed := uint64(1); seed <= 2; seed++ {
		s := virtualshop.Painted(seed, 6)
		rng := rand.New(rand.NewPCG(seed, 'l'))
		chips := virtualshop.OneLight.Of(s.CastAll(rng, s.Study(virtualshop.TwoTint)))
		c, err := calibrate.Fit(context.Background(), s.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
		require.NoError(t, err)
		for _, mix := range s.Mixtures(rng, 60) {
			p, err := c.Predict(calibrate.Sample{Loadings: mix, Setting: s.Setting}, d65, d50, a)
			require.NoError(t, err)
			for _, k := range p.Colors {
				j, err := k.Judge(s.Color(mix, s.Setting, k.Lab.Under))
				require.NoError(t, err)
				judged[k.Lab.Under] = append(judged[k.Lab.Under], j)
				open[k.Lab.Under] += calibrate.ExpectedDE00(k.Lab.Values(), k.Lab.Values(), k.Cov) / 120
			}
		}
	}
	for _, under := range []color.Condition{d65, d50, a} {
		v := calibrate.TallyOf(judged[under])
		t.Logf("%s: mean %.2f, claimed %.2f, %.0f %% inside", under, v.Mean, open[under], 100*v.Coverage95)
		require.GreaterOrEqual(t, v.Coverage95, 0.85)
	}
	require.Greater(t, open[a], open[d65])
	require.Greater(t, open[d50], open[d65])
}
