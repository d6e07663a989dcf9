package color

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// lab_to_srgb.csv: two general libraries agree exactly in 8 bit.
func TestSwatches(t *testing.T) {
	for _, row := range readFigures(t, "srgb/lab_to_srgb.csv") {
		for suffix, light := range map[string]Illuminant{"_d65": D65, "_d50": D50} {
			x := LabFrom(row.triple(t, "L", "a", "b"), Condition{light, TwoDegree})
			got, err := x.Swatch()
			require.NoError(t, err)
			want := row.triple(t, "R8"+suffix, "G8"+suffix, "B8"+suffix)
			assert.Equal(t, want, [3]float64{float64(got.R), float64(got.G), float64(got.B)}, "%s%s", row["id"], suffix)
			assert.Equal(t, row["in_gamut"+suffix] == "yes", got.InGamut, "%s%s", row["id"], suffix)
			if got.InGamut {
				c := x.srgb()
				floats := row.triple(t, "r"+suffix, "g"+suffix, "b"+suffix)
				for k, v := range [3]float64{c.R, c.G, c.B} {
					assert.InDelta(t, floats[k], v, 2e-5, "%s%s channel %d", row["id"], suffix, k)
				}
			}
		}
	}
}

func TestSwatchOfOtherLightsShowsTheirWhiteAsWhite(t *testing.T) {
	for _, light := range Illuminants() {
		s, err := Lab{100, 0, 0, Condition{light, TenDegree}}.Swatch()
		require.NoError(t, err)
		assert.Equal(t, "#ffffff", s.Hex(), light)
		assert.True(t, s.InGamut, light)
	}
	s, err := Lab{104, 0, 0, D65Ten()}.Swatch()
	require.NoError(t, err)
	assert.False(t, s.InGamut, "brighter than white")
	_, err = Lab{math.NaN(), 0, 0, D65Ten()}.Swatch()
	assert.ErrorContains(t, err, "not a number")
}
