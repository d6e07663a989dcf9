package calibrate_test

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// A lotBench is a shop of six pigments with one calibration per kind of
// evidence.
type lotBench struct {
	shop  *virtualshop.Shop
	chips []calibrate.Chip
	cals  map[virtualshop.Evidence]*calibrate.Calibration
}

var lots = sync.OnceValue(func() lotBench {
	b := lotBench{shop: virtualshop.Painted(4, 6), cals: map[virtualshop.Evidence]*calibrate.Calibration{}}
	b.chips = b.shop.CastAll(rand.New(rand.NewPCG(4, 'l')), b.shop.Study(virtualshop.TwoTint))
	for _, e := range virtualshop.Evidences() {
		c, err := calibrate.Fit(context.Background(), b.shop.Codes, e.Of(b.chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
		if err != nil {
			panic(err)
		}
		b.cals[e] = c
	}
	return b
})

func (b lotBench) drift(sd float64) map[string]float64 {
	out := map[string]float64{"": sd}
	for _, code := range b.shop.Codes {
		out[code] = sd
	}
	return out
}

func marshal(t testing.TB, c *calibrate.Calibration) string {
	t.Helper()
	out, err := json.Marshal(c)
	require.NoError(t, err)
	return string(out)
}

func TestNewLotWithoutDriftChangesNothing(t *testing.T) {
	b := lots()
	for e, c := range b.cals {
		before := marshal(t, c)
		same, err := c.NewLot(b.drift(0))
		require.NoError(t, err)
		assert.Equal(t, before, marshal(t, same), "%s", e)
		_, err = c.NewLot(b.drift(0.1))
		require.NoError(t, err)
		assert.Equal(t, before, marshal(t, c), "%s: the calibration itself stays", e)
	}
}

// A lot's drift is a common factor on all a pigment does, so it shows in a
// mixture as that much error of its loading.
func TestNewLotWidensByTheDrift(t *testing.T) {
	b := lots()
	rapid.Check(t, func(t *rapid.T) {
		c := inProportion(b.cals[rapid.SampledFrom(virtualshop.Evidences()).Draw(t, "evidence")])
		code := rapid.SampledFrom(b.shop.Codes).Draw(t, "code")
		sd := rapid.Float64Range(0.01, 0.3).Draw(t, "sd")
		phr := rapid.Float64Range(0.05, 2).Draw(t, "phr")
		mix := map[string]calibrate.PHR{"WH": 1, code: calibrate.PHR(phr)}
		lot, err := c.NewLot(map[string]float64{code: sd})
		require.NoError(t, err)
		before, after := covariance(t, c, mix, b.shop.Setting), covariance(t, lot, mix, b.shop.Setting)
		e, err := c.Evaluator(b.shop.Setting)
		require.NoError(t, err)
		pigments, loadings, err := c.Resolve(mix)
		require.NoError(t, err)
		e.Set(pigments, loadings)
		grad := make([][3]float64, len(pigments))
		e.LabGradient(0, grad)
		for k, q := range pigments {
			if c.Curves[q].Code != code {
				continue
			}
			for i := range 3 {
				for j := range 3 {
					want := sd * sd * float64(mix[code]*mix[code]) * grad[k][i] * grad[k][j]
					if d := after[i][j] - before[i][j]; !(math.Abs(d-want) <= 1e-6+1e-4*math.Abs(want)) {
						t.Fatalf("entry %d, %d grows by %g, want %g", i, j, d, want)
					}
				}
			}
		}
	})
}

// inProportion is the calibration with strength in proportion to the loading, where
// a factor on a pigment's curves and one on its loading are the same.
func inProportion(c *calibrate.Calibration) *calibrate.Calibration {
	out := *c
	out.Law = calibrate.Law{}
	return &out
}

func covariance(t require.TestingT, c *calibrate.Calibration, mix map[string]calibrate.PHR, in calibrate.Setting) [3][3]float64 {
	p, err := c.Predict(calibrate.Sample{Loadings: mix, Setting: in})
	require.NoError(t, err)
	return p.Colors[0].Cov
}

// Two lots in a row drift as one of the root of their squares.
func TestNewLotTwice(t *testing.T) {
	b := lots()
	c := b.cals[virtualshop.Spectra]
	mix := map[string]calibrate.PHR{"WH": 1, "BK": 0.2}
	twice := c
	for _, sd := range []float64{0.06, 0.08} {
		var err error
		twice, err = twice.NewLot(map[string]float64{"BK": sd, "": sd})
		require.NoError(t, err)
	}
	once, err := c.NewLot(map[string]float64{"BK": 0.1, "": 0.1})
	require.NoError(t, err)
	got, want := covariance(t, twice, mix, b.shop.Setting), covariance(t, once, mix, b.shop.Setting)
	for i := range 3 {
		for j := range 3 {
			assert.InDelta(t, want[i][j], got[i][j], 1e-9)
		}
	}
}

// A lot believed to be stronger colours as more of the old one would.
func TestWithLotsMovesTheCurves(t *testing.T) {
	b := lots()
	c := inProportion(b.cals[virtualshop.ThreeLights])
	lot, err := c.WithLots(map[string]calibrate.Strength{"RD": {Ln: math.Log(1.2), SD: 0.05}})
	require.NoError(t, err)
	got, err := lot.Predict(calibrate.Sample{Loadings: map[string]calibrate.PHR{"WH": 1, "RD": 0.5}, Setting: b.shop.Setting})
	require.NoError(t, err)
	want, err := c.Predict(calibrate.Sample{Loadings: map[string]calibrate.PHR{"WH": 1, "RD": 0.6}, Setting: b.shop.Setting})
	require.NoError(t, err)
	d, err := got.Colors[0].Lab.DeltaE00(want.Colors[0].Lab)
	require.NoError(t, err)
	assert.InDelta(t, 0, d, 1e-9)
	assert.Greater(t, got.Colors[0].Half95[1], want.Colors[0].Half95[1])
}

func TestLotSurvivesStorage(t *testing.T) {
	b := lots()
	c, err := b.cals[virtualshop.OneLight].NewLot(b.drift(0.1))
	require.NoError(t, err)
	c, _, err = c.Learn(virtualshop.OneLight.Of(b.chips[5:7]), calibrate.LearnOptions{Bias: 0.2})
	require.NoError(t, err)
	var back calibrate.Calibration
	require.NoError(t, json.Unmarshal([]byte(marshal(t, c)), &back))
	wild := strings.Replace(marshal(t, c), `"Size":`, `"Size":-`, 1)
	assert.ErrorContains(t, json.Unmarshal([]byte(wild), new(calibrate.Calibration)), "departure")
	mix := map[string]calibrate.PHR{"WH": 1, "BK": 0.3, "RD": 0.2}
	got, want := covariance(t, &back, mix, b.shop.Setting), covariance(t, c, mix, b.shop.Setting)
	for i := range 3 {
		assert.InDelta(t, want[i][i], got[i][i], 1e-3*want[i][i])
	}
}

func TestNewLotErrors(t *testing.T) {
	c := lots().cals[virtualshop.Spectra]
	for _, tt := range []struct {
		drift map[string]float64
		says  string
	}{
		{map[string]float64{"ZZ": 0.1}, "pigment ZZ is not in this calibration"},
		{map[string]float64{"WH": -0.1}, "lot of WH"},
		{map[string]float64{"": math.NaN()}, "lot of the resin"},
	} {
		_, err := c.NewLot(tt.drift)
		assert.ErrorContains(t, err, tt.says)
	}
}

func TestUsualDriftOfAWhite(t *testing.T) {
	for e, c := range lots().cals {
		drift := c.UsualDrift()
		assert.Len(t, drift, 6, "%s", e)
		for code, sd := range drift {
			assert.Equal(t, code == virtualshop.White, sd < 0.1, "%s: %s drifts by %g", e, code, sd)
		}
	}
}
