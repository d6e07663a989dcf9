package calibrate_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

const underRace = calibrate.UnderRace

// small is a shop of six pigments with all its chips cast, and calibrations of
// it by both layers. Under the race detector it has four.
type small struct {
	shop       *virtualshop.Shop
	chips      []calibrate.Chip
	km, exact  *calibrate.Calibration
	byEvidence map[virtualshop.Evidence]*calibrate.Calibration // Kubelka-Munk
}

var smallShop = sync.OnceValue(func() small {
	pigments := 6
	if underRace {
		pigments = 4
	}
	s := small{shop: virtualshop.Painted(11, pigments), byEvidence: map[virtualshop.Evidence]*calibrate.Calibration{}}
	s.chips = s.shop.CastAll(rand.New(rand.NewPCG(11, 1)), s.shop.Study(virtualshop.Thin))
	fit := func(e virtualshop.Evidence, layer string) *calibrate.Calibration {
		c, err := calibrate.Fit(context.Background(), s.shop.Codes, e.Of(s.chips), calibrate.Options{Layer: layer})
		if err != nil {
			panic(err)
		}
		return c
	}
	for _, e := range virtualshop.Evidences() {
		s.byEvidence[e] = fit(e, calibrate.KubelkaMunk)
	}
	s.km, s.exact = s.byEvidence[virtualshop.Spectra], fit(virtualshop.Spectra, calibrate.ExactLayer)
	return s
})

// drawMixture draws up to four pigments, each above nothing so that a slope has
// two sides.
func drawMixture(t *rapid.T, c *calibrate.Calibration) (pigments []int, phr []float64) {
	n := rapid.IntRange(1, 4).Draw(t, "pigments")
	pigments = rapid.SliceOfNDistinct(rapid.IntRange(1, len(c.Codes())), n, n, rapid.ID[int]).Draw(t, "which")
	for range pigments {
		phr = append(phr, math.Exp(rapid.Float64Range(math.Log(0.02), math.Log(3)).Draw(t, "ln phr")))
	}
	return pigments, phr
}

func drawSetting(t *rapid.T) calibrate.Setting {
	return calibrate.Setting{
		Thickness: calibrate.ThicknessMM(rapid.Float64Range(0.3, 8).Draw(t, "mm")),
		Backing:   color.Constant(rapid.Float64Range(0, 1).Draw(t, "backing")),
		Specular:  rapid.SampledFrom([]color.Specular{color.SpecularIncluded, color.SpecularExcluded}).Draw(t, "specular"),
	}
}

// The gradient is that of finite differences, for both layers, in any setting and
// under any light.
func TestLabGradientIsTheSlope(t *testing.T) {
	for _, c := range []*calibrate.Calibration{smallShop().km, smallShop().exact} {
		t.Run(c.Layer.Name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				pigments, phr := drawMixture(t, c)
				e, err := c.Evaluator(drawSetting(t), virtualshop.Lights()...)
				require.NoError(t, err)
				grad := make([][3]float64, len(pigments))
				at := func(phr []float64, light int) [3]float64 {
					e.Set(pigments, phr)
					return e.Lab(light).Values()
				}
				for light := range virtualshop.Lights() {
					e.Set(pigments, phr)
					require.Equal(t, e.Lab(light).Values(), e.LabGradient(light, grad))
					for p := range pigments {
						h := 1e-4 * phr[p]
						up, down := slices.Clone(phr), slices.Clone(phr)
						up[p] += h
						down[p] -= h
						a, b := at(up, light), at(down, light)
						for k := range 3 {
							// in Lab per relative change, the unit a person sees
							require.InDelta(t, (a[k]-b[k])/(2*h)*phr[p], grad[p][k]*phr[p], 2e-3, "pigment %d, %v channel %d", pigments[p], virtualshop.Lights()[light], k)
						}
					}
				}
			})
		})
	}
}

// A covariance of a colour is symmetric and positive, with and without model
// error, and more light does not let a calibration claim less than nothing.
func TestCovarianceIsOne(t *testing.T) {
	for e, c := range smallShop().byEvidence {
		t.Run(string(e), func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				pigments, phr := drawMixture(t, c)
				e, err := c.Evaluator(drawSetting(t))
				require.NoError(t, err)
				e.Set(pigments, phr)
				e.LabGradient(0, make([][3]float64, len(pigments)))
				v := e.Covariance()
				for i := range 3 {
					require.Greater(t, v[i][i], 0.0)
					for j := range 3 {
						require.InDelta(t, v[i][j], v[j][i], 1e-9*(1+math.Abs(v[i][j])))
						require.LessOrEqual(t, v[i][j]*v[i][j], v[i][i]*v[j][j]*(1+1e-9))
					}
				}
			})
		})
	}
}

// A covariance is that of the mixture last set, whatever was asked before.
func TestCovarianceRemembersNoMixture(t *testing.T) {
	c := smallShop().km
	full, err := c.Evaluator(smallShop().shop.Setting)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		used := full
		if rapid.Bool().Draw(t, "coarse") {
			used = full.Coarse(3)
		}
		covariance := func(e *calibrate.Evaluator, pigments []int, phr []float64) [3][3]float64 {
			e.Set(pigments, phr)
			e.LabGradient(0, make([][3]float64, len(pigments)))
			return e.Covariance()
		}
		pigments, phr := drawMixture(t, c)
		covariance(used, pigments, phr)
		pigments, phr = drawMixture(t, c)
		require.Equal(t, covariance(used.Clone(), pigments, phr), covariance(used, pigments, phr))
	})
}

// An evaluator moved to another setting is one made for it.
func TestEvaluatorInAnotherSetting(t *testing.T) {
	c := smallShop().exact
	from, err := c.Evaluator(smallShop().shop.Setting)
	require.NoError(t, err)
	to := calibrate.Setting{Thickness: 1.5, Backing: color.Constant(0.05), Specular: color.SpecularIncluded}
	moved, err := from.In(to)
	require.NoError(t, err)
	made, err := c.Evaluator(to)
	require.NoError(t, err)
	for _, e := range []*calibrate.Evaluator{from, moved, made} {
		e.Set([]int{1, 2}, []float64{1, 0.2})
		e.LabGradient(0, make([][3]float64, 2))
	}
	require.Equal(t, made.Lab(0), moved.Lab(0))
	require.Equal(t, made.Covariance(), moved.Covariance())
	require.NotEqual(t, from.Lab(0), moved.Lab(0))
	_, err = from.In(calibrate.Setting{})
	require.ErrorContains(t, err, "thickness 0 mm")
}

// Evaluating a mixture allocates nothing.
func TestEvaluationAllocatesNothing(t *testing.T) {
	for _, c := range []*calibrate.Calibration{smallShop().km, smallShop().exact} {
		e, err := c.Evaluator(smallShop().shop.Setting)
		require.NoError(t, err)
		pigments, phr, grad := []int{1, 2, 3, 4}, []float64{1, 0.1, 0.2, 0.05}, make([][3]float64, 4)
		require.Zero(t, testing.AllocsPerRun(100, func() {
			e.Set(pigments, phr)
			e.LabGradient(0, grad)
			e.Covariance()
		}), c.Layer.Name)
	}
}

// A clone works beside its original.
func TestCloneIsIndependent(t *testing.T) {
	e, err := smallShop().km.Evaluator(smallShop().shop.Setting)
	require.NoError(t, err)
	e.Set([]int{1}, []float64{1})
	want := e.Lab(0)
	e.Clone().Set([]int{2}, []float64{1})
	require.Equal(t, want, e.Lab(0))
}

// sameClaims requires that two calibrations say the same of unseen mixtures, the
// colours within tol of CIEDE2000, the bars within a share of themselves.
func sameClaims(t *testing.T, a, b *calibrate.Calibration, tol, share float64) {
	t.Helper()
	s := smallShop().shop
	for _, m := range s.Mixtures(rand.New(rand.NewPCG(4, 4)), 30) {
		x, err := a.Predict(calibrate.Sample{Loadings: m, Setting: s.Setting}, virtualshop.Lights()...)
		require.NoError(t, err)
		y, err := b.Predict(calibrate.Sample{Loadings: m, Setting: s.Setting}, virtualshop.Lights()...)
		require.NoError(t, err)
		for i := range x.Colors {
			d, err := x.Colors[i].Lab.DeltaE00(y.Colors[i].Lab)
			require.NoError(t, err)
			require.InDelta(t, 0, d, tol, "%v", m)
			require.InEpsilon(t, x.Colors[i].Expected, y.Colors[i].Expected, share, "%v", m)
			for k := range 3 {
				require.InEpsilon(t, x.Colors[i].Half95[k], y.Colors[i].Half95[k], share, "%v", m)
			}
		}
	}
}

// A calibration that was stored says what it said.
func TestCalibrationTravelsAsJSON(t *testing.T) {
	for _, c := range []*calibrate.Calibration{smallShop().byEvidence[virtualshop.OneLight], smallShop().km, smallShop().exact} {
		text, err := json.Marshal(c)
		require.NoError(t, err)
		var back calibrate.Calibration
		require.NoError(t, json.Unmarshal(text, &back))
		require.Equal(t, c.Curves, back.Curves)
		require.Equal(t, c.Chips, back.Chips)
		sameClaims(t, c, &back, 1e-9, 1e-4)
		again, err := json.Marshal(&back)
		require.NoError(t, err)
		require.JSONEq(t, string(text), string(again))
		t.Logf("%s: %d pigments in %d kB", c.Layer.Name, len(c.Codes()), len(text)/1000)
	}
}

// A stored calibration that is cut, mixed up or made up is refused, or else
// predicts something finite; nothing panics.
func FuzzCalibrationJSON(f *testing.F) {
	shop := virtualshop.Painted(5, 2)
	chips := shop.CastAll(rand.New(rand.NewPCG(1, 1)), shop.Study(virtualshop.Tint))
	c, err := calibrate.Fit(context.Background(), shop.Codes, virtualshop.OneLight.Of(chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(f, err)
	text, err := json.Marshal(c)
	require.NoError(f, err)
	f.Add(text)
	f.Add(text[:len(text)/2])
	f.Add([]byte(`{"curves":[{"code":""}],"posterior":{"Rank":[0]},"layer":{"name":"exact","index":1.5}}`))
	f.Add([]byte(`{"curves":[{"code":""}],"posterior":{"Rank":[0]},"layer":{"name":"kubelka-munk","k2":1}}`))
	f.Add([]byte(`{"curves":[{"code":""}],"posterior":{"Rank":[0,2],"Basis":"AAAAAAAAAAAAAAAAAAAAAA==","Cov":"AAAAAAAAAAAAAAAA"},"layer":{"name":"kubelka-munk","k2":0.6}}`))
	f.Add([]byte(`null`))
	for _, text := range impossible {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var c calibrate.Calibration
		if json.Unmarshal(text, &c) != nil || len(c.Curves) == 0 {
			return
		}
		loadings := map[string]calibrate.PHR{}
		for _, code := range c.Codes() {
			if len(loadings) < calibrate.MaxComponents && code != "" {
				loadings[code] = 0.5
			}
		}
		p, err := c.Predict(calibrate.Sample{Loadings: loadings, Setting: shop.Setting}, color.D65Ten())
		if err != nil {
			return
		}
		for _, v := range p.Colors[0].Lab.Values() {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%v", p.Colors[0].Lab)
		}
	})
}

// impossible are stored calibrations that look whole and are not.
var impossible = map[string]string{
	"a surface that reflects all": `{"curves":[{"code":"","k":[1],"s":[1]}],"posterior":{"Rank":[0]},"model_error":{"widen":1},"layer":{"name":"kubelka-munk","k1":0.04,"k2":1}}`,
	"absorption beyond matter":    `{"curves":[{"code":"","k":[1e300],"s":[1e300]}],"posterior":{"Rank":[0]},"model_error":{"widen":1},"layer":{"name":"exact","index":1.5}}`,
	"a pigment twice":             `{"curves":[{"code":""},{"code":"WH"},{"code":"WH"}],"posterior":{"Rank":[0,0,0]},"model_error":{"widen":1},"layer":{"name":"exact","index":1.5}}`,
	"bars without end":            `{"curves":[{"code":""}],"posterior":{"Rank":[0]},"model_error":{"widen":1e200,"floor_de00":1e200},"layer":{"name":"exact","index":1.5}}`,
	"half a surface":              `{"curves":[{"code":""}],"posterior":{"Rank":[0,1],"Basis":"AAAAAAAAAAA=","Cov":"AAAAAA=="},"model_error":{"widen":1},"layer":{"name":"kubelka-munk","k1":0.04,"k2":0.6}}`,
}

func TestImpossibleCalibrationsAreRefused(t *testing.T) {
	for name, text := range impossible {
		t.Run(name, func(t *testing.T) {
			var c calibrate.Calibration
			require.Error(t, json.Unmarshal([]byte(text), &c))
		})
	}
}

// The order in which chips or pigments stand in a file means nothing.
func TestOrderMeansNothing(t *testing.T) {
	if underRace {
		t.Skip("many fits; run without -race")
	}
	s := smallShop()
	rng := rand.New(rand.NewPCG(8, 8))
	for _, e := range virtualshop.Evidences() {
		t.Run(string(e), func(t *testing.T) {
			chips, codes := e.Of(s.chips), slices.Clone(s.shop.Codes)
			rng.Shuffle(len(chips), func(i, j int) { chips[i], chips[j] = chips[j], chips[i] })
			rng.Shuffle(len(codes), func(i, j int) { codes[i], codes[j] = codes[j], codes[i] })
			c, err := calibrate.Fit(context.Background(), codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
			require.NoError(t, err)
			require.Equal(t, s.byEvidence[e].ModelError, c.ModelError)
			require.InEpsilon(t, s.byEvidence[e].LeaveOut.MeanDE00, c.LeaveOut.MeanDE00, 0.02)
			sameClaims(t, s.byEvidence[e], c, 0.01, 0.03)
		})
	}
}

// withoutModelError leaves what the posterior alone claims.
func withoutModelError(c *calibrate.Calibration) *calibrate.Calibration {
	out := *c
	out.ModelError = calibrate.ModelError{Widen: 1}
	return &out
}

// A second casting of a chip narrows the bars of its mixture, and on the whole
// those of others.
func TestSecondCastingNarrowsTheBars(t *testing.T) {
	if underRace {
		t.Skip("many fits; run without -race")
	}
	s := smallShop()
	for _, e := range virtualshop.Evidences() {
		t.Run(string(e), func(t *testing.T) {
			const which = 5 // the black's tint
			again := s.chips[which]
			again.Name += "-again"
			chips := append(slices.Clone(s.chips), again)
			c, err := calibrate.Fit(context.Background(), s.shop.Codes, e.Of(chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
			require.NoError(t, err)
			before, after := withoutModelError(s.byEvidence[e]), withoutModelError(c)
			bars := func(c *calibrate.Calibration, m map[string]calibrate.PHR) (sum float64) {
				p, err := c.Predict(calibrate.Sample{Loadings: m, Setting: s.shop.Setting})
				require.NoError(t, err)
				return p.Colors[0].Expected
			}
			x, y := bars(before, again.Loadings), bars(after, again.Loadings)
			t.Logf("expected %.3f, then %.3f", x, y)
			require.Less(t, y, 0.97*x)
			var a, b float64
			for _, m := range s.shop.Mixtures(rand.New(rand.NewPCG(2, 2)), 40) {
				a += bars(before, m)
				b += bars(after, m)
			}
			t.Logf("of others %.3f, then %.3f; noise %v, then %v", a/40, b/40, before.Noise, after.Noise)
			require.Less(t, b, 1.01*a)
		})
	}
}

// Leaving a chip out by the linearised update says what a fit without it says.
func TestLeftOutIsARefitWithout(t *testing.T) {
	if underRace {
		t.Skip("many fits; run without -race")
	}
	s := smallShop()
	for _, e := range virtualshop.Evidences() {
		t.Run(string(e), func(t *testing.T) {
			full, some := s.byEvidence[e], []int{5, 12}
			if whole {
				some = []int{1, 5, 8, 12}
			}
			for _, which := range some {
				chips := e.Of(s.chips)
				chip := chips[which]
				if full.Chips[which].Vague {
					continue
				}
				c, err := calibrate.Fit(context.Background(), s.shop.Codes, slices.Delete(chips, which, which+1), calibrate.Options{Layer: calibrate.KubelkaMunk, Main: full.Main})
				require.NoError(t, err)
				p, err := c.Predict(calibrate.Sample{Loadings: chip.Loadings, Setting: calibrate.Setting{Thickness: chip.Thickness, Backing: chip.Backing, Specular: chip.Measurement.Specular}}, full.Main)
				require.NoError(t, err)
				d, err := p.Colors[0].Lab.DeltaE00(full.Chips[which].LeftOut)
				require.NoError(t, err)
				t.Logf("%s left out is missed by %.2f, by a fit without it by %.2f", chip.Name, full.Chips[which].LeftDE00, color.Delta00(p.Colors[0].Lab.Values(), full.Chips[which].Measured.Values()))
				require.LessOrEqual(t, d, 0.15+0.4*full.Chips[which].LeftDE00)
			}
		})
	}
}

// More of what an instrument tells makes a better calibration of the same chips.
func TestMoreEvidenceIsBetter(t *testing.T) {
	s := smallShop()
	mixtures := unseenOf(s.shop, rand.New(rand.NewPCG(6, 6)), 60)
	last := trial{mean: math.Inf(1), expected: math.Inf(1)}
	for _, e := range virtualshop.Evidences() {
		r := trial{evidence: e}
		r.against(t, s.byEvidence[e], mixtures)
		require.Less(t, r.mean, last.mean)
		require.Less(t, r.expected, last.expected)
		last = r
	}
}

func TestPredictErrors(t *testing.T) {
	s := smallShop()
	good := func() calibrate.Sample {
		return calibrate.Sample{Loadings: map[string]calibrate.PHR{"WH": 1}, Setting: s.shop.Setting}
	}
	many := map[string]calibrate.PHR{"WH": 60, "BK": 60}
	for name, c := range map[string]struct {
		spoil func(*calibrate.Sample)
		want  string
	}{
		"unknown pigment":    {func(s *calibrate.Sample) { s.Loadings["ZZ"] = 1 }, "pigment ZZ is not in this calibration"},
		"below nothing":      {func(s *calibrate.Sample) { s.Loadings["WH"] = -1 }, "loading of WH is -1 phr; give 0 to 100"},
		"not a number":       {func(s *calibrate.Sample) { s.Loadings["WH"] = calibrate.PHR(math.NaN()) }, "give 0 to 100"},
		"more than resin":    {func(s *calibrate.Sample) { s.Loadings = many }, "loadings add up to 120 phr"},
		"no thickness":       {func(s *calibrate.Sample) { s.Thickness = 0 }, "thickness 0 mm; give a thickness above 0"},
		"percent backing":    {func(s *calibrate.Sample) { s.Backing[3] = 90 }, "backing reflects 90 at 430 nm"},
		"thickness infinite": {func(s *calibrate.Sample) { s.Thickness = calibrate.ThicknessMM(math.Inf(1)) }, "thickness"},
	} {
		sample := good()
		c.spoil(&sample)
		_, err := s.km.Predict(sample)
		require.ErrorContains(t, err, c.want, name)
	}
	_, err := s.km.Predict(good(), color.Under("candle", color.TenDegree))
	require.ErrorContains(t, err, "candle")
}

func TestFitErrors(t *testing.T) {
	s := smallShop()
	for name, c := range map[string]struct {
		spoil func(*calibrate.Chip)
		want  string
	}{
		"loading":   {func(c *calibrate.Chip) { c.Loadings = map[string]calibrate.PHR{"WH": -1} }, "chip WH-20: loading of WH is -1 phr"},
		"pigment":   {func(c *calibrate.Chip) { c.Loadings = map[string]calibrate.PHR{"ZZ": 1} }, "chip WH-20: pigment ZZ is not among the pigments to fit"},
		"thickness": {func(c *calibrate.Chip) { c.Thickness = 0 }, "chip WH-20: thickness 0 mm"},
		"percent":   {func(c *calibrate.Chip) { r := color.Constant(55); c.Spectrum = &r }, "chip WH-20: reflectance factor 55 at 400 nm"},
		"nothing":   {func(c *calibrate.Chip) { c.Spectrum, c.Labs = nil, nil }, "chip WH-20: no reading"},
		"Lab":       {func(c *calibrate.Chip) { c.Spectrum = nil; c.Labs = []color.Lab{{L: 500, Under: color.D65Ten()}} }, "chip WH-20: Lab 500"},
		"condition": {func(c *calibrate.Chip) { c.Spectrum = nil; c.Labs = []color.Lab{{L: 50}} }, "chip WH-20"},
	} {
		chips := slices.Clone(s.chips)
		c.spoil(&chips[1])
		_, err := calibrate.Fit(context.Background(), s.shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
		require.ErrorContains(t, err, c.want, name)
	}
	_, err := calibrate.Fit(context.Background(), s.shop.Codes, nil, calibrate.Options{})
	require.ErrorContains(t, err, "no chips")
	_, err = calibrate.Fit(context.Background(), append(slices.Clone(s.shop.Codes), "WH"), s.chips, calibrate.Options{})
	require.ErrorContains(t, err, "WH is listed twice")
	_, err = calibrate.Fit(context.Background(), s.shop.Codes, s.chips, calibrate.Options{Layer: "paint"})
	require.ErrorContains(t, err, `layer model "paint" is not known`)
	done, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = calibrate.Fit(done, s.shop.Codes, s.chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.ErrorIs(t, err, context.Canceled)
}

// A grossly wrong chip leaves a calibration that can be stored, and is the one
// that stands out.
func TestGrossChipCanBeStored(t *testing.T) {
	if underRace {
		t.Skip("many fits; run without -race")
	}
	s := smallShop()
	chips := slices.Clone(s.chips)
	black := color.Constant(0.05)
	chips[1].Spectrum = &black // a white, read as black
	c, err := calibrate.Fit(context.Background(), s.shop.Codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	_, err = json.Marshal(c)
	require.NoError(t, err)
	worst := slices.MaxFunc(c.Chips, func(a, b calibrate.ChipReport) int { return int(1e3 * (a.Sigma - b.Sigma)) })
	require.Equal(t, chips[1].Name, worst.Chip, fmt.Sprint(worst))
}
