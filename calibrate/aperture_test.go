package calibrate

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate/layer"
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
		more  []float64 // 1 / r^2 than past the usual one
	}{
		{of(0, 0), 0, []float64{0, 0}},
		{of(4, 4), 4, []float64{0, 0}},
		{of(0, 4, 2, 2, 0), 2, []float64{0, 1./16 - 1./4, 0, 0, 0}},
		{of(0, 0, 0, 4, 2), 4, []float64{0, 0, 0, 0, 1./4 - 1./16}},
	} {
		given := slices.Clone(c.chips)
		require.Equal(t, c.usual, usualAperture(c.chips))
		for i, chip := range through(c.chips, c.usual) {
			require.InDelta(t, c.more[i], chip.narrow, 1e-12)
		}
		require.Equal(t, given, c.chips, "what was given stays")
	}

	for _, c := range []struct {
		chips, stated, counts ApertureMM
		note                  string
	}{
		{0, 0, 0, ""},
		{0, 4, 0, ""},
		{4, 4, 4, ""},
		{4, 0, 4, "it does not say through what aperture it was read: taken for that of the chips, 8 mm"},
		{4, 2, 2, "it was read through an aperture of 4 mm, the chips through 8 mm: what scatters past each is counted"},
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

// TestSpillSlopes: what is lost past an aperture, more or less of it, has the slopes of
// its differences.
func TestSpillSlopes(t *testing.T) {
	km := layer.NewKubelkaMunk()
	at := func(k, s, x, lost float64) (out layer.Partials, slope [color.Bands]float64) {
		var ks, ss, backing [color.Bands]float64
		for b := range ks {
			ks[b], ss[b], backing[b] = k*(1+0.1*float64(b)), s, 0.5
		}
		spill(km, &ks, &ss, x, lost, &backing, color.SpecularIncluded, &out, &slope)
		return out, slope
	}
	const d = 1e-6
	for _, lost := range []float64{0.1, -0.1} {
		p, slope := at(0.05, 1, 2, lost)
		require.Less(t, (p.R[3]-at0(at(0.05, 1, 2, 0)).R[3])*lost, 0.0, "the more is lost, the darker")
		for b := range color.Bands {
			f := 1 + 0.1*float64(b)
			require.InDelta(t, (at0(at(0.05+d/f, 1, 2, lost)).R[b]-p.R[b])/d, p.DK[b], 1e-4)
			require.InDelta(t, (at0(at(0.05, 1+d, 2, lost)).R[b]-p.R[b])/d, p.DS[b], 1e-4)
			require.InDelta(t, (at0(at(0.05, 1, 2+d, lost)).R[b]-p.R[b])/d, p.DX[b], 1e-4)
			require.InDelta(t, (at0(at(0.05, 1, 2, lost+d)).R[b]-p.R[b])/d, slope[b], 1e-4)
		}
	}
}

func at0(p layer.Partials, _ [color.Bands]float64) layer.Partials { return p }
