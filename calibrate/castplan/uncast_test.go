package castplan_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/color"
)

func TestUncast(t *testing.T) {
	bench := &castplan.Bench{ChipGrams: 50, ScaleGrams: 0.01, Thickness: 3,
		Backings: []castplan.Backing{{Name: "white", Reflectance: color.Constant(0.9)}, {Name: "black", Reflectance: color.Constant(0.03)}}}
	candidate := func(over int, mix map[string]calibrate.PHR) castplan.Chip {
		c, ok := bench.Weigh(mix, bench.Backings[over])
		require.True(t, ok)
		return c
	}
	candidates := []castplan.Chip{
		candidate(0, nil),
		candidate(0, map[string]calibrate.PHR{"WH": 1, "RD": 0.2}),
		candidate(1, map[string]calibrate.PHR{"WH": 1, "RD": 0.2}),
		candidate(0, map[string]calibrate.PHR{"WH": 1, "RD": 0.24}),
		candidate(0, map[string]calibrate.PHR{"WH": 1}),
	}
	cast := []calibrate.Chip{
		{Name: "RD-7", BackingName: "white", Thickness: 3, Loadings: map[string]calibrate.PHR{"WH": 1.004, "RD": 0.201, "BK": 0}},
		{Name: "clear", BackingName: "white", Thickness: 3},
		{Name: "thick", BackingName: "white", Thickness: 6, Loadings: map[string]calibrate.PHR{"WH": 1}},
	}
	var names []string
	for _, c := range castplan.Uncast(candidates, cast) {
		names = append(names, c.Name)
	}
	require.Equal(t, []string{"RD0.2-WH1-black", "RD0.24-WH1-white", "WH1-white"}, names)
	require.Len(t, castplan.Uncast(candidates, nil), len(candidates))
}
