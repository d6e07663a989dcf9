package recipes

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
)

// TestChangedChip: a part that still changes is evidence by its colours as they will
// be; its spectrum, of which nobody knows how it changes, is none.
func TestChangedChip(t *testing.T) {
	var grey color.Reflectance
	for i := range grey {
		grey[i] = 0.4
	}
	p := Pour{Name: "P1", Loadings: map[string]calibrate.PHR{"WH": 1}, Setting: calibrate.Setting{Thickness: 3}, Spectrum: &grey}
	c, err := p.changedChip(1)
	require.NoError(t, err)
	require.NotNil(t, c.Spectrum)
	p.Change = [3]float64{0.1, 0.2, 1.5}
	c, err = p.changedChip(1)
	require.NoError(t, err)
	require.Nil(t, c.Spectrum)
	require.Len(t, c.Labs, 3)
	for _, lab := range c.Labs {
		now, _, err := p.asRead(lab.Under, calibrate.Noise{})
		require.NoError(t, err)
		assert.InDelta(t, now.L+0.1, lab.L, 1e-9)
		assert.InDelta(t, now.A+0.2, lab.A, 1e-9)
		assert.InDelta(t, now.B+1.5, lab.B, 1e-9)
	}
}
