package recipes

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"masstone/calibrate"
	"masstone/color"
)

// A judge says of a recipe that Match found what Match said of it.
func TestJudgeAgreesWithMatch(t *testing.T) {
	s := shop6()
	for _, formula := range []color.Formula{"", color.CMC21} {
		target := s.targets[0]
		target.Formula, target.Readings = formula, 3
		a, err := Match(context.Background(), s.cal, target, Limits{BatchGrams: 40, ScaleGrams: 0.01})
		require.NoError(t, err)
		j, err := NewJudge(s.cal, target)
		require.NoError(t, err)
		for _, r := range a.Recipes {
			lab, landing, err := j.Land(r.Loadings, r.LoadingSD)
			require.NoError(t, err)
			assert.InDelta(t, r.DE00, color.Delta00(j.Want().Values(), lab.Values()), 1e-9)
			assert.InDelta(t, r.Expected, landing.Expected, 1e-9)
			assert.InDelta(t, r.Upper95, landing.Upper95, 1e-9)
			assert.InDelta(t, r.Chance, landing.Chance, 1e-9)
			expected, err := j.Expected(r.Loadings, r.LoadingSD)
			require.NoError(t, err)
			assert.InEpsilon(t, landing.Expected, expected, 0.05)
			_, sure, err := j.Land(r.Loadings, nil)
			require.NoError(t, err)
			assert.Less(t, sure.Expected, landing.Expected, "weighing costs something")
		}
	}
}

// Left-out chips that came out better than claimed narrow the bars of any
// mixture, but not of one that is chosen by its bars.
func TestChosenRecipesAreNotNarrowed(t *testing.T) {
	s := shop6()
	land := func(widen float64) (match, judge, plain float64) {
		cal := *s.cal
		cal.ModelError.Widen = widen
		a, err := Match(context.Background(), &cal, s.targets[1], Limits{BatchGrams: 100, ScaleGrams: 0.01, Recipes: 1})
		require.NoError(t, err)
		j, err := NewJudge(&cal, s.targets[1])
		require.NoError(t, err)
		_, landing, err := j.Land(a.Recipes[0].Loadings, a.Recipes[0].LoadingSD)
		require.NoError(t, err)
		e, err := cal.Evaluator(s.shop.Setting)
		require.NoError(t, err)
		pigments, phr, err := cal.Resolve(a.Recipes[0].Loadings)
		require.NoError(t, err)
		e.Set(pigments, phr)
		e.LabGradient(0, make([][3]float64, len(pigments)))
		return a.Recipes[0].Expected, landing.Expected, e.Covariance()[0][0]
	}
	match, judge, plain := land(1)
	narrowMatch, narrowJudge, narrow := land(0.5)
	assert.Less(t, narrow, plain)
	assert.Equal(t, match, narrowMatch)
	assert.Equal(t, judge, narrowJudge)
	wideMatch, wideJudge, _ := land(2)
	assert.Greater(t, wideMatch, match)
	assert.Greater(t, wideJudge, judge)
}

func TestJudgeRefuses(t *testing.T) {
	s := shop6()
	_, err := NewJudge(s.cal, Target{Name: "bare", Setting: s.shop.Setting})
	require.ErrorContains(t, err, "no reading")
	j, err := NewJudge(s.cal, s.targets[0])
	require.NoError(t, err)
	_, _, err = j.Land(map[string]calibrate.PHR{"NONE": 1}, nil)
	require.ErrorContains(t, err, "NONE")
	_, err = j.Expected(map[string]calibrate.PHR{"NONE": 1}, nil)
	require.ErrorContains(t, err, "NONE")
}

// The chance counts in the target's own terms: a difference of pure lightness
// is worth less to CMC(2:1) than to CIE76, and limits per axis look at each
// axis by itself.
func TestChanceInTheTargetsOwnTerms(t *testing.T) {
	want := [3]float64{60, 30, 20}
	lab := [3]float64{61.2, 30, 20}
	cov := [3][3]float64{{0.01, 0, 0}, {0, 0.01, 0}, {0, 0, 0.01}}
	for _, c := range []struct {
		name   string
		target Target
		lo, hi float64
	}{
		{"CIE76, 1.2 off against 1", Target{Formula: color.CIE76}, 0, 0.1},
		{"CMC(2:1), half of it", Target{Formula: color.CMC21}, 0.99, 1},
		{"L within 1.2 half the time", Target{Axes: map[string]float64{"L": 1.2}}, 0.4, 0.6},
		{"a and b are on target", Target{Axes: map[string]float64{"a": 0.5, "b": 0.5}}, 0.99, 1},
		{"but the total is not", Target{Axes: map[string]float64{"a": 0.5, "b": 0.5}, Formula: color.CIE76, Tolerance: 1}, 0, 0.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := c.target.landing(want, lab, cov)
			assert.GreaterOrEqual(t, got.Chance, c.lo)
			assert.LessOrEqual(t, got.Chance, c.hi+1e-9)
		})
	}
}

// Differences in each formula against values computed with the formulas of the
// color package's own tests; verdict, words and signs.
func TestInspect(t *testing.T) {
	lab := func(l, a, b float64) color.Lab { return color.Lab{L: l, A: a, B: b, Under: color.D65Ten()} }
	target := Target{Name: "knob", Labs: []color.Lab{lab(50, 40, 10)}, Setting: calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9)}}
	part := Pour{Name: "P1", Labs: []color.Lab{lab(51, 39.2, 10.3)}, Readings: 3}

	f, err := Inspect(target, part, calibrate.Noise{})
	require.NoError(t, err)
	assert.InDelta(t, f.DE00, f.Difference.DE, 1e-12)
	assert.False(t, f.Passes)
	assert.Equal(t, "lighter, weaker, yellower", f.Words)
	assert.InDelta(t, 1, f.Difference.DL, 1e-9)
	assert.Less(t, f.Chance, 0.5)

	target.Formula, target.Tolerance = color.CIE76, 1.5
	f, err = Inspect(target, part, calibrate.Noise{})
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt(1+0.64+0.09), f.Difference.DE, 1e-9)
	assert.True(t, f.Passes)

	target.Tolerance, target.Axes = 0, map[string]float64{"L": 0.8, "a": 1, "C": 1}
	f, err = Inspect(target, part, calibrate.Noise{})
	require.NoError(t, err)
	assert.False(t, f.Passes)
	require.Len(t, f.Axes, 3)
	assert.Equal(t, AxisFinding{"L", f.Difference.DL, 0.8, false}, f.Axes[0])
	assert.Equal(t, "a", f.Axes[1].Axis)
	assert.InDelta(t, -0.8, f.Axes[1].Value, 1e-9)
	assert.True(t, f.Axes[1].Passes)
	target.Axes["L"] = 1.2
	f, err = Inspect(target, part, calibrate.Noise{})
	require.NoError(t, err)
	assert.True(t, f.Passes)
	assert.Greater(t, f.Chance, 0.5)

	// a part read as its target is; reading it more often makes it surer
	target.Axes, target.Tolerance, target.Formula = nil, 1, ""
	near := Pour{Labs: []color.Lab{lab(50.9, 40, 10)}}
	once, err := Inspect(target, near, calibrate.Noise{LabSD: 0.3})
	require.NoError(t, err)
	near.Readings = 9
	often, err := Inspect(target, near, calibrate.Noise{LabSD: 0.3})
	require.NoError(t, err)
	require.True(t, once.Passes)
	assert.Greater(t, often.Chance, once.Chance)
}

// Along one axis the difference less its limit, over its uncertainty, is a
// standard normal value (gonum/stat/distuv), and without a direction or with one
// the uncertainty of CIE76 is that of an axis. Along L* at L* 50 the weight of
// CIEDE2000 is 1 (Sharma et al. 2005).
func TestUncertainty(t *testing.T) {
	grey := color.Lab{L: 50, Under: color.D65Ten()}
	target := Target{Name: "knob", Labs: []color.Lab{grey}, Readings: 4, Setting: calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9)}, Axes: map[string]float64{"L": 0.8}}
	noise, n := calibrate.Noise{LabSD: 0.3}, 3
	sd := math.Sqrt(0.3*0.3/float64(n) + readingSD*readingSD/4)
	for _, dl := range []float64{0.2, 0.5, 0.7, -0.9} {
		part := Pour{Name: "P1", Labs: []color.Lab{{L: 50 + dl, Under: grey.Under}}, Readings: n}
		f, err := Inspect(target, part, noise)
		require.NoError(t, err)
		assert.InDelta(t, sd/0.8, f.Uncertainty, 1e-6)
		assert.InDelta(t, distuv.UnitNormal.CDF((0.8-math.Abs(dl))/sd)-distuv.UnitNormal.CDF((-0.8-math.Abs(dl))/sd), f.Chance, 0.02)
	}
	target.Axes = nil
	for formula, l := range map[color.Formula]float64{color.CIE76: 50.7, color.CIEDE2000: 50} {
		target.Formula = formula
		f, err := Inspect(target, Pour{Name: "P1", Labs: []color.Lab{{L: l, Under: grey.Under}}, Readings: n}, noise)
		require.NoError(t, err)
		assert.InDelta(t, sd, f.Uncertainty, 0.005*sd, formula)
	}
}

func TestInspectUnderSeveralLights(t *testing.T) {
	a := color.Under(color.A, color.TenDegree)
	d := color.D65Ten()
	target := Target{Name: "knob", Labs: []color.Lab{{L: 50, A: 40, B: 10, Under: d}, {L: 55, A: 44, B: 18, Under: a}},
		Setting: calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9)}}
	f, err := Inspect(target, Pour{Labs: []color.Lab{{L: 55, A: 44, B: 19, Under: a}, {L: 50, A: 40, B: 10, Under: d}}}, calibrate.Noise{})
	require.NoError(t, err)
	assert.Zero(t, f.Difference.DE)
	require.Len(t, f.Lights, 1)
	assert.Equal(t, a, f.Lights[0].Std.Under)
	assert.Greater(t, f.Lights[0].DE, 0.3)

	// only under the other light: that one counts
	f, err = Inspect(target, Pour{Labs: []color.Lab{{L: 55, A: 44, B: 19, Under: a}}}, calibrate.Noise{})
	require.NoError(t, err)
	assert.Equal(t, a, f.Difference.Std.Under)

	_, err = Inspect(target, Pour{Name: "P7", Labs: []color.Lab{{L: 55, A: 44, B: 19, Under: color.Under(color.FL11, color.TenDegree)}}}, calibrate.Noise{})
	require.ErrorContains(t, err, "P7 was read under FL11/10")
	_, err = Inspect(target, Pour{Name: "P7"}, calibrate.Noise{})
	require.ErrorContains(t, err, "no reading")

	// spectra tell all lights
	r := color.Constant(0.4)
	target.Labs, target.Spectrum = nil, &r
	f, err = Inspect(target, Pour{Spectrum: &r}, calibrate.Noise{})
	require.NoError(t, err)
	assert.Equal(t, d, f.Difference.Std.Under)
	assert.Zero(t, f.Difference.DE)
	assert.True(t, f.Passes)
	assert.Len(t, f.Lights, 2)
}

func TestTargetRefusesImpossibleLimits(t *testing.T) {
	target := Target{Name: "knob", Labs: []color.Lab{{L: 50, Under: color.D65Ten()}}, Setting: calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9)}}
	for axis, limit := range map[string]float64{"E": 1, "L": 0, "a": -1, "b": math.NaN(), "C": math.Inf(1)} {
		target.Axes = map[string]float64{axis: limit}
		require.Error(t, target.Check(), "%s %g", axis, limit)
	}
	target.Axes = map[string]float64{"L": 0.5, "H": 1}
	require.NoError(t, target.Check())
}
