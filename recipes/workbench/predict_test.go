package workbench

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// strongerBy opens a lot of a pigment that is known to be stronger than the
// calibrated one, as ln strength.
func strongerBy(t testing.TB, b *Bench, code, lot string, ln, sd float64) {
	t.Helper()
	name := pigmentLot(code, lot)
	_, err := b.archive.PutLot(t.Context(), archive.Lot{Item: name.Item, Code: code, Name: lot}, archive.Refuse)
	require.NoError(t, err)
	_, err = b.archive.OpenLot(t.Context(), name)
	require.NoError(t, err)
	stored, err := b.archive.Calibration(t.Context(), testResin, 0)
	require.NoError(t, err)
	_, err = b.archive.SetLotStrength(t.Context(), archive.LotStrength{Item: name.Item, Code: code, Lot: lot, LnStrength: ln, SD: sd, Calibration: stored.Ref})
	require.NoError(t, err)
}

// TestPredictedIsWhatTheShopCasts holds predictions against the colours of the
// invented shop (calibrate/virtualshop).
func TestPredictedIsWhatTheShopCasts(t *testing.T) {
	b := newBench(t)
	yellow := testShop().Codes[2]
	for _, mix := range []map[string]float64{{}, {"WH": 1.5}, {"WH": 1.5, yellow: 0.4}, {"WH": 1, "BK": 0.1, yellow: 0.2}} {
		v, err := Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: mix, ThicknessMM: float64(testShop().Setting.Thickness)})
		require.NoError(t, err)
		require.Equal(t, figure.Loadings(mix), v.Mix)
		require.Equal(t, []string{"white", "included", "CLR v1"}, []string{v.Over, v.Specular, v.Calibration})
		off, err := v.Lab.Color("D65/10").DeltaE00(partOf(mix))
		require.NoError(t, err)
		if len(mix) > 0 { // no chip is of bare resin
			assert.Less(t, off, float64(v.Upper95), v.Mix)
		}
		assert.Equal(t, v.Lab, v.Colors[0].Lab)
		assert.NotNil(t, v.Notes)
		assert.NotNil(t, v.Lots)
	}
}

// TestBarsOfOneCasting: bars of one casting are wider than those of the mean by what
// the strength of its portions scatters by, in quadrature; the colour is the same.
func TestBarsOfOneCasting(t *testing.T) {
	b := newBench(t)
	mix := map[string]float64{"WH": 1.5, testShop().Codes[2]: 0.4}
	of := func(one bool) PredictResult {
		v, err := Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: mix, OneCasting: one})
		require.NoError(t, err)
		require.Equal(t, one, v.OneCasting)
		return v
	}
	mean, one := of(false), of(true)
	require.Equal(t, mean.Lab, one.Lab)
	require.Greater(t, one.Half95.B, mean.Half95.B)
	require.Greater(t, one.Expected, mean.Expected)
	// one portion 1 % stronger or weaker moves the colour by this much
	_, fitted, err := calibrationOn(t.Context(), b.archive, testResin, 0)
	require.NoError(t, err)
	var square float64
	for code := range mix {
		more := map[string]float64{}
		for k, v := range mix {
			more[k] = v
		}
		more[code] *= 1.01
		v, err := Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: more})
		require.NoError(t, err)
		square += math.Pow(float64(v.Lab.B-mean.Lab.B)*100*fitted.Scatter*1.96, 2)
	}
	require.InEpsilon(t, math.Sqrt(square+math.Pow(float64(mean.Half95.B), 2)), float64(one.Half95.B), 0.05)
}

// TestBarsOfAThickness: a thickness that may miss widens the bars of a thin part by what
// the colour changes with it, in quadrature; the colour is the same.
func TestBarsOfAThickness(t *testing.T) {
	b := newBench(t)
	mix := map[string]float64{testShop().Codes[2]: 0.3}
	of := func(mm, sd float64) PredictResult {
		v, err := Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: mix, ThicknessMM: mm, ThicknessSDMM: &sd})
		require.NoError(t, err)
		return v
	}
	exact, loose := of(1, 0), of(1, 0.1)
	require.Equal(t, exact.Lab, loose.Lab)
	_, fitted, err := calibrationOn(t.Context(), b.archive, testResin, 0)
	require.NoError(t, err)
	by := float64(of(1.005, 0).Lab.B-of(0.995, 0).Lab.B) * 10 * 1.96 * fitted.ModelError.Widen // per 0.1 mm
	require.Greater(t, math.Abs(by), 0.5)
	require.InEpsilon(t, math.Hypot(float64(exact.Half95.B), by), float64(loose.Half95.B), 0.05)
}

// TestPredictionIsForTheLotsInUse: a lot that is a fifth stronger colours as a
// fifth more of the calibrated one would, since K and S go with what is there
// (the law of Beer and Lambert; Duncan 1940).
func TestPredictionIsForTheLotsInUse(t *testing.T) {
	b := newBench(t)
	yellow := testShop().Codes[2]
	predict := func(r PredictRequest) PredictResult {
		t.Helper()
		r.Resin = testResin
		v, err := Predict(t.Context(), b, r)
		require.NoError(t, err)
		return v
	}
	mix, more := map[string]float64{"WH": 1, yellow: 0.5}, map[string]float64{"WH": 1, yellow: 0.6}
	before, stronger := predict(PredictRequest{Loadings: mix}), predict(PredictRequest{Loadings: more})
	strongerBy(t, b, yellow, "K-2", 0.1823215568, 0) // ln 1.2
	now := predict(PredictRequest{Loadings: mix})
	assert.InDelta(t, float64(stronger.Lab.A), float64(now.Lab.A), 1e-6)
	assert.InDelta(t, float64(stronger.Lab.L), float64(now.Lab.L), 1e-6)
	require.Len(t, now.Lots, 1)
	assert.Equal(t, "K-2", now.Lots[0].Lot)
	assert.InDelta(t, 1.2, float64(now.Lots[0].Strength), 1e-6)
	require.Len(t, now.Notes, 1)
	assert.Contains(t, now.Notes[0], yellow+" lot K-2 is counted as 20 % stronger")

	assert.Equal(t, before, predict(PredictRequest{Loadings: mix, AsCalibrated: true}))
	for _, without := range []map[string]float64{{"WH": 1}, {}, nil} { // only the pigments in the mixture are spoken of
		v := predict(PredictRequest{Loadings: without})
		assert.Empty(t, v.Lots)
		assert.Empty(t, v.Notes)
	}
}

func TestPredictionBeyondWhatWasSeen(t *testing.T) {
	b := newBench(t)
	v, err := Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: map[string]float64{"WH": 4.5, "BK": 1.6}})
	require.NoError(t, err)
	require.Len(t, v.Notes, 3)
	assert.Contains(t, v.Notes[0], "BK 1.6 phr is more than any chip holds (1.5)")
	assert.Contains(t, v.Notes[1], "WH 4.5 phr is more than any chip holds (3)")
	assert.Equal(t, "6.1 phr of paste is more than CLR bears (6)", v.Notes[2])

	_, err = Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: map[string]float64{"XX": 1}})
	assert.Equal(t, NotFound, KindOf(err))
	_, err = b.archive.PutPigment(t.Context(), archive.Pigment{Code: "ZN"}, archive.Refuse)
	require.NoError(t, err)
	_, err = Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: map[string]float64{"ZN": 1}})
	assert.ErrorContains(t, err, "on the shelf but not in calibration CLR v1")
	_, err = Predict(t.Context(), b, PredictRequest{Resin: testResin, Over: "grey"})
	assert.Equal(t, NotFound, KindOf(err))
	_, err = Predict(t.Context(), b, PredictRequest{Resin: testResin, Calibration: 9})
	assert.Equal(t, NotFound, KindOf(err))
}

// mixtures is a file of mixtures.
func mixtures(lines ...string) File {
	return File{Name: "mixes.csv", Data: strings.NewReader(strings.Join(lines, "\n") + "\n"), Options: readings.Options{Backing: "white", ThicknessMM: 3}}
}

// TestCoverageIsPooledOverChannels: of two readings, six values: one L* lies
// outside its interval, and with it one reading outside its region and its
// bound.
func TestCoverageIsPooledOverChannels(t *testing.T) {
	b := newBench(t)
	mix, err := Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: map[string]float64{"WH": 1, "BK": 0.2}})
	require.NoError(t, err)
	off := mix.Lab.L + 4*mix.Half95.L
	v, err := PredictFile(t.Context(), b, PredictFileRequest{Resin: testResin, File: mixtures("mix,WH,BK,L_D65,a_D65,b_D65",
		fmt.Sprintf("at,1,0.2,%g,%g,%g", mix.Lab.L, mix.Lab.A, mix.Lab.B), fmt.Sprintf("off,1,0.2,%g,%g,%g", off, mix.Lab.A, mix.Lab.B))})
	require.NoError(t, err)
	require.Equal(t, 2, v.Summary.N)
	require.InDelta(t, 5.0/6, float64(v.Summary.Coverage), 1e-9)
	require.InDelta(t, 0.5, float64(v.Summary.Region), 1e-9)
	require.InDelta(t, 0.5, float64(v.Summary.Upper95Share), 1e-9)
	require.Equal(t, v.Summary, v.ByLight["D65/10"])
	require.True(t, *v.Rows[0].Inside)
	require.False(t, *v.Rows[1].Inside)
	require.Equal(t, mix.Lab, v.Rows[0].Lab)
	require.Equal(t, mix.Upper95, v.Rows[0].Upper95)
}

// TestRowsAreUnderTheMainLight: or under the first they were read under, where
// they were not read under it.
func TestRowsAreUnderTheMainLight(t *testing.T) {
	b := newBench(t)
	file := func() File {
		return mixtures("mix,WH,L_A,a_A,b_A,L_D65,a_D65,b_D65", "both,1,92,0,3,92,-1,3", "lamp,1,92,0,3,-,-,-", "unread,1,-,-,-,-,-,-")
	}
	v, err := PredictFile(t.Context(), b, PredictFileRequest{Resin: testResin, File: file()})
	require.NoError(t, err)
	var under []string
	for _, r := range v.Rows {
		under = append(under, r.Under)
	}
	require.Equal(t, []string{"D65/10", "A/10", "D65/10"}, under)
	require.Equal(t, []string{"D65/10", "A/10"}, v.Lights)
	require.InDelta(t, -1, float64(v.Rows[0].Measured.A), 1e-9)
	require.Nil(t, v.Rows[2].DE00)
	require.Equal(t, []int{2, 1, 2}, []int{v.Summary.N, v.ByLight["D65/10"].N, v.ByLight["A/10"].N})

	v, err = PredictFile(t.Context(), b, PredictFileRequest{Resin: testResin, File: file(), Under: []color.Condition{color.Under(color.A, color.TenDegree)}})
	require.NoError(t, err)
	require.Equal(t, []string{"A/10", "D65/10"}, v.Lights)
	require.Equal(t, "A/10", v.Rows[0].Under)
	require.InDelta(t, 0, float64(v.Rows[0].Measured.A), 1e-9)
}

func TestFileOfMixturesForTheLotsInUse(t *testing.T) {
	b := newBench(t)
	yellow := testShop().Codes[2]
	file := func() File { return mixtures("mix,WH,"+yellow, "tint,1,0.5", "plain,1,0") }
	strongerBy(t, b, yellow, "K-2", 0.1823215568, 0)
	v, err := PredictFile(t.Context(), b, PredictFileRequest{Resin: testResin, File: file()})
	require.NoError(t, err)
	mix, err := Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: map[string]float64{"WH": 1, yellow: 0.5}})
	require.NoError(t, err)
	require.Equal(t, mix.Lab, v.Rows[0].Lab)
	require.Equal(t, mix.Lots, v.Lots)
	require.Equal(t, mix.Notes, v.Notes)
	require.Nil(t, v.Summary)
	plain, err := PredictFile(t.Context(), b, PredictFileRequest{Resin: testResin, File: file(), AsCalibrated: true})
	require.NoError(t, err)
	require.NotEqual(t, v.Rows[0].Lab, plain.Rows[0].Lab)
	require.Equal(t, v.Rows[1].Lab, plain.Rows[1].Lab)
	require.Empty(t, plain.Lots)
}

func TestRowsAtFault(t *testing.T) {
	b := newBench(t)
	_, err := b.archive.PutPigment(t.Context(), archive.Pigment{Code: "ZN"}, archive.Refuse)
	require.NoError(t, err)
	for want, lines := range map[string][]string{
		"mixes.csv:3: two: column ZN: the pigment is not in calibration CLR v1": {"mix,WH,ZN", "one,1,0", "two,1,0.1"},
		`mixes.csv:2: one: backing "grey" is not on the bench`:                  {"mix,WH,backing", "one,1,grey"},
	} {
		_, err := PredictFile(t.Context(), b, PredictFileRequest{Resin: testResin, File: mixtures(lines...)})
		require.ErrorContains(t, err, want)
	}
}

// TestThicknessThatSaysNothing: how far a thickness may miss is no less than nothing and
// at most half of it.
func TestThicknessThatSaysNothing(t *testing.T) {
	b := newBench(t)
	for sd, ok := range map[float64]bool{0: true, 0.3: true, 1.5: true, 1.6: false, 30: false, -0.1: false, math.Inf(1): false, math.NaN(): false} {
		_, err := Predict(t.Context(), b, PredictRequest{Resin: testResin, Loadings: map[string]float64{"WH": 1}, ThicknessMM: 3, ThicknessSDMM: &sd})
		if ok {
			require.NoError(t, err)
			continue
		}
		require.Equal(t, Invalid, KindOf(err), "%g", sd)
		require.NotContains(t, err.Error(), "\n")
	}
}
