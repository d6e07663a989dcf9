package color

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

func TestRepeat(t *testing.T) {
	one := Lab{61.2, 38.9, 21.4, D65Ten()}
	r, err := Repeat([]Lab{one})
	require.NoError(t, err)
	assert.Equal(t, Repeatability{one, 0, -1}, r)

	// Greys that differ in L* about 50 alone, where CIEDE2000 is dL: the mean is
	// 50, the MCDM the mean of 0.1, 0.1 and 0.
	r, err = Repeat([]Lab{{49.9, 0, 0, D65Ten()}, {50.1, 0, 0, D65Ten()}, {50, 0, 0, D65Ten()}})
	require.NoError(t, err)
	assert.InDelta(t, 50, r.Mean.L, 1e-9)
	assert.InDelta(t, 0.2/3, r.MCDM, 1e-4)
	assert.Equal(t, -1, r.Outlier)

	slipped := []Lab{{61.2, 38.9, 21.4, D65Ten()}, {61.3, 38.7, 21.5, D65Ten()}, {58, 36, 19, D65Ten()}, {61.2, 38.8, 21.5, D65Ten()}}
	r, err = Repeat(slipped)
	require.NoError(t, err)
	assert.Equal(t, 2, r.Outlier)
	r, err = Repeat(slipped[1:3])
	require.NoError(t, err)
	assert.Equal(t, -1, r.Outlier, "of two readings neither is known to be the wrong one")

	same := Lab{40, 5, 5, D65Ten()}
	r, err = Repeat([]Lab{same, same, {40.01, 5, 5, D65Ten()}})
	require.NoError(t, err)
	assert.Equal(t, -1, r.Outlier, "the last digit is no outlier, however well the others agree")
}

func TestRepeatRefuses(t *testing.T) {
	_, err := Repeat(nil)
	assert.ErrorIs(t, err, ErrNoReadings)
	_, err = Repeat([]Lab{{50, 0, 0, D65Ten()}, {50, 0, 0, Condition{A, TenDegree}}})
	assert.ErrorIs(t, err, ErrConditions)
	assert.ErrorContains(t, err, "reading 2")
	_, err = Repeat([]Lab{{50, 0, 0, D65Ten()}, {50, math.NaN(), 0, D65Ten()}})
	assert.ErrorContains(t, err, "reading 2")
}

// The constants are those of the F distribution as gonum computes it.
func TestOutlierQuantiles(t *testing.T) {
	for n := 3; n <= 10; n++ {
		want := distuv.F{D1: 3, D2: float64(3 * (n - 2))}.Quantile(1 - 0.01/float64(n))
		assert.InDelta(t, want, outlierF(n), 1e-3, n)
	}
	assert.Equal(t, outlierF(10), outlierF(50))
}

// Readings that scatter normally, a uneven part included, must be called
// outliers in about one set of a hundred, and a slip of 4 be found in five.
func TestOutlierRate(t *testing.T) {
	noise := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{3, 5, 8, 15} {
		called, found := 0, 0
		const sets = 2000
		for range sets {
			readings := make([]Lab, n)
			for i := range readings {
				readings[i] = Lab{61 + 0.3*noise.NormFloat64(), 0.2 * noise.NormFloat64(), 0.3 * noise.NormFloat64(), D65Ten()}
			}
			r, err := Repeat(readings)
			require.NoError(t, err)
			if r.Outlier >= 0 {
				called++
			}
			readings[1].L += 4
			r, err = Repeat(readings)
			require.NoError(t, err)
			if r.Outlier == 1 {
				found++
			}
		}
		t.Logf("%d readings: %.1f %% called by chance, %.0f %% of slips found", n, 100*float64(called)/sets, 100*float64(found)/sets)
		assert.Less(t, called, sets*2/100, n)
		if n >= 5 {
			assert.Greater(t, found, sets*95/100, n)
		}
	}
}
