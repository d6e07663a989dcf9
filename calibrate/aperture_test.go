package calibrate

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
)

// TestThrough: an aperture counts where the chips say theirs; who says nothing read
// through that of most chips.
func TestThrough(t *testing.T) {
	of := func(all ...ApertureMM) (chips []Chip) {
		for _, r := range all {
			chips = append(chips, Chip{Aperture: r})
		}
		return chips
	}
	for _, c := range []struct {
		chips []Chip
		usual ApertureMM
		heard []Chip
	}{
		{of(0, 0), 0, of(0, 0)},
		{of(4, 4), 4, of(4, 4)},
		{of(0, 4, 2, 2, 0), 2, of(2, 4, 2, 2, 2)},
		{of(0, 0, 0, 2, 4), 2, of(2, 2, 2, 2, 4)},
	} {
		require.Equal(t, c.usual, usualAperture(c.chips))
		require.Equal(t, c.heard, through(c.chips, c.usual))
	}
	silent := of(4, 0)
	require.Equal(t, of(0, 0), through(silent, 0), "one chip that says it does not count alone")
	require.Equal(t, of(4, 0), silent, "what was given stays")

	for _, c := range []struct {
		chips, stated, counts ApertureMM
		note                  string
	}{
		{0, 0, 0, ""},
		{0, 4, 0, ""},
		{4, 4, 4, ""},
		{4, 0, 4, "it does not say through what aperture it was read: taken for that of the chips, 8 mm"},
		{4, 2, 2, "it was read through an aperture of 4 mm, the chips through 8 mm: the light that scatters past either is counted"},
	} {
		cal := Calibration{Aperture: c.chips, Spectral: true, Main: color.D65Ten()}
		require.Equal(t, c.counts, cal.Through(c.stated))
		lab := color.Lab{L: 50, Under: color.D65Ten()}
		r, done, err := cal.Admit(Reading{Labs: []color.Lab{lab}, Aperture: c.stated})
		require.NoError(t, err)
		require.Equal(t, c.counts, r.Aperture)
		if c.note == "" {
			require.Empty(t, done)
		} else {
			require.Equal(t, []string{c.note}, done)
		}
	}
	require.EqualValues(t, 8, ApertureOf(8).Diameter())
	require.EqualValues(t, 4, ApertureOf(8), "the radius is half of what an instrument is sold by")
}
