package calibrate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate/layer"
	"masstone/color"
)

// TestPartsOfOneCasting: readings of one cup share what was weighed and how thick it came
// out; parts out of one pot share what was weighed, and each is as thick as it is; what is
// said to be one casting and cannot be is several.
func TestPartsOfOneCasting(t *testing.T) {
	type chip struct {
		casting, part string
		phr           PHR
		mm, sd        ThicknessMM
	}
	for name, c := range map[string]struct {
		chips          []chip
		weighed, thick int // that differ
	}{
		"two of their own":           {[]chip{{"", "", 1, 3, 0.09}, {"", "", 1, 3, 0.09}}, 2, 2},
		"a cup over two backings":    {[]chip{{"cup", "", 1, 3, 0.09}, {"cup", "", 1, 3, 0.09}}, 1, 1},
		"two parts of a pot":         {[]chip{{"pot", "P1", 1, 3, 0.09}, {"pot", "P2", 1, 3, 0.09}}, 1, 2},
		"one is known better":        {[]chip{{"pot", "P1", 1, 3, 0.09}, {"pot", "P2", 1, 3, 0.02}}, 1, 2},
		"one is known exactly":       {[]chip{{"pot", "P1", 1, 3, 0}, {"pot", "P2", 1, 3, 0.02}}, 1, 1},
		"one is thicker":             {[]chip{{"pot", "P1", 1, 3, 0.09}, {"pot", "P2", 1, 2, 0.06}}, 1, 2},
		"a part of it read twice":    {[]chip{{"pot", "P1", 1, 3, 0.09}, {"pot", "P2", 1, 3, 0.09}, {"pot", "P1", 1, 3, 0.09}}, 1, 2},
		"other loadings":             {[]chip{{"pot", "P1", 1, 3, 0.09}, {"pot", "P2", 1.1, 3, 0.09}}, 2, 2},
		"one part of two thickness":  {[]chip{{"cup", "", 1, 3, 0.09}, {"cup", "", 1, 2, 0.09}}, 2, 2},
		"two castings by their name": {[]chip{{"pot", "P1", 1, 3, 0.09}, {"cup", "P1", 1, 3, 0.09}}, 2, 2},
	} {
		var chips []Chip
		for _, k := range c.chips {
			chips = append(chips, Chip{Name: "chip", Casting: k.casting, Part: k.part, Loadings: map[string]PHR{"WH": k.phr}, Thickness: k.mm, ThicknessSD: k.sd,
				Backing: color.Constant(0.9), Labs: []color.Lab{{L: 80, Under: color.D65Ten()}}, ChipGrams: 50, ScaleGrams: 0.01})
		}
		p, err := newProblem([]string{"WH"}, chips, layer.NewKubelkaMunk(), defaultSurface, usualNoise)
		require.NoError(t, err)
		weighed, thick, own := map[int]bool{}, map[int]bool{}, map[int]bool{}
		for _, r := range p.readings {
			weighed[r.border[1]] = true
			if r.thick >= 0 {
				thick[r.thick], own[r.thick] = true, true
			}
			require.Less(t, r.thick, r.waves, "%s: before what strays in crooked shops alone", name)
			for _, at := range []int{r.border[1], r.off} {
				own[at] = true
			}
		}
		require.Len(t, weighed, c.weighed, name)
		require.Len(t, p.castings, c.weighed, name)
		require.Len(t, thick, c.thick, name)
		require.Len(t, own, c.weighed+c.thick+len(chips), "%s: each its own unknown", name)
	}
}

// TestSampleOfAChip: the casting that a chip is was weighed on its scale: 0.01 g on 50 g
// of resin miss by 0.02 phr / sqrt(12), half as much of a paste half as strong (the sd of
// a uniform error).
func TestSampleOfAChip(t *testing.T) {
	c := Chip{Name: "chip", Loadings: map[string]PHR{"WH": 1, "BK": 0.1}, Thickness: 3, ThicknessSD: 0.09, Backing: color.Constant(0.9), Aperture: 4,
		Measurement: color.Measurement{Specular: color.SpecularIncluded}, ChipGrams: 50, ScaleGrams: 0.01, PasteStrength: map[string]float64{"BK": 0.5}}
	s := c.Sample()
	require.True(t, s.OneCasting)
	require.Equal(t, c.Loadings, s.Loadings)
	require.Equal(t, Setting{Thickness: 3, ThicknessSD: 0.09, Backing: c.Backing, Specular: color.SpecularIncluded, Aperture: 4}, s.Setting)
	require.InDelta(t, 0.02/math.Sqrt(12), float64(s.WeighSD["WH"]), 1e-12)
	require.InDelta(t, 0.01/math.Sqrt(12), float64(s.WeighSD["BK"]), 1e-12)
	require.Zero(t, (&Chip{Loadings: c.Loadings}).Sample().WeighSD["WH"])
}
