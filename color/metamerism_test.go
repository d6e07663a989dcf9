package color

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// metamerPairs reads the spectra: a sample that matches under D65/10 and one
// that does not quite.
func metamerPairs(t *testing.T) (std Reflectance, samples map[string]Reflectance) {
	rows := readFigures(t, "metamerism/spectra.csv")
	require.Len(t, rows, Bands)
	var exact, param Reflectance
	for i, row := range rows {
		std[i], exact[i], param[i] = row.num(t, "R_standard"), row.num(t, "R_sample_exact"), row.num(t, "R_sample_param")
	}
	return std, map[string]Reflectance{"exact": exact, "param": param}
}

// indices.csv: four decimals; the weights for A there are the printed ones of
// three decimals, so under A the second decimal of Lab may differ by a few.
func TestMetamerismIndices(t *testing.T) {
	std, samples := metamerPairs(t)
	ref, err := WeightsFor(D65Ten())
	require.NoError(t, err)
	for _, row := range readFigures(t, "metamerism/indices.csv") {
		light, err := ParseIlluminant(row["test_illuminant"])
		require.NoError(t, err)
		test, err := WeightsFor(Condition{light, TenDegree})
		require.NoError(t, err)
		smp := samples[row["pair"]]
		name := row["pair"] + " " + row["test_illuminant"]
		digits := 2e-4
		if light == A {
			digits = 2e-3
		}
		stdTest, smpTest := test.Lab(&std), test.Lab(&smp)
		for k, want := range row.triple(t, "L_std", "a_std", "b_std") {
			assert.InDelta(t, want, stdTest.Values()[k], digits, name)
		}
		for k, want := range row.triple(t, "L_smp", "a_smp", "b_smp") {
			assert.InDelta(t, want, smpTest.Values()[k], digits, name)
		}
		plain, err := Compare(stdTest, smpTest, CIE76)
		require.NoError(t, err)
		assert.InDelta(t, row.num(t, "MI_uncorrected"), plain.DE, digits, name)
		additive, err := MetamerismLab(ref.Lab(&std), ref.Lab(&smp), stdTest, smpTest, CIE76)
		require.NoError(t, err)
		assert.InDelta(t, row.num(t, "MI_additive"), additive, digits, name)
		spectral, err := MetamerismSpectral(&std, &smp, D65Ten(), Condition{light, TenDegree}, CIE76)
		require.NoError(t, err)
		assert.InDelta(t, row.num(t, "MI_spectral"), spectral, digits, name)
	}
}

// A sample is its own metamer, and under the reference itself nothing is left
// of any sample.
func TestMetamerismIsNilWhereItMustBe(t *testing.T) {
	std, samples := metamerPairs(t)
	w, err := WeightsFor(D65Ten())
	require.NoError(t, err)
	for name, smp := range samples {
		for _, f := range Formulas() {
			d, err := MetamerismSpectral(&std, &smp, D65Ten(), D65Ten(), f)
			require.NoError(t, err)
			assert.InDelta(t, 0, d, 1e-9, name)
			d, err = MetamerismLab(w.Lab(&std), w.Lab(&smp), w.Lab(&std), w.Lab(&smp), f)
			require.NoError(t, err)
			assert.InDelta(t, 0, d, 1e-9, name)
		}
		d, err := MetamerismSpectral(&smp, &smp, D65Ten(), Condition{A, TenDegree}, CIEDE2000)
		require.NoError(t, err)
		assert.False(t, math.IsNaN(d))
		assert.InDelta(t, 0, d, 1e-9)
	}
}

func TestMetamerismRefuses(t *testing.T) {
	day, lamp := Lab{50, 0, 0, D65Ten()}, Lab{50, 0, 0, Condition{A, TenDegree}}
	_, err := MetamerismLab(day, lamp, lamp, lamp, CIE76)
	assert.ErrorIs(t, err, ErrConditions)
	_, err = MetamerismLab(day, day, day, lamp, CIE76)
	assert.ErrorIs(t, err, ErrConditions)
	_, err = MetamerismLab(day, day, lamp, lamp, "CIE1234")
	assert.ErrorContains(t, err, "unknown colour-difference formula")
	r := Constant(0.5)
	_, err = MetamerismSpectral(&r, &r, Condition{}, D65Ten(), CIE76)
	assert.ErrorContains(t, err, "unknown illuminant")
	_, err = MetamerismSpectral(&r, &r, D65Ten(), Condition{D65, 1}, CIE76)
	assert.ErrorContains(t, err, "unknown observer")
}
