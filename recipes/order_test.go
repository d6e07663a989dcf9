package recipes

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
)

// TestOrder: the rule that order states, case by case; common practice, no source.
func TestOrder(t *testing.T) {
	type mix = map[string]calibrate.PHR
	of := func(name string, objective, de float64, total calibrate.PHR, cost float64, pigments mix) Recipe {
		return Recipe{Why: []string{name}, Objective: objective, DE00: de, TotalPHR: total, CostPerKg: cost, Loadings: pigments}
	}
	two, three := mix{"WH": 1, "BK": 1}, mix{"WH": 1, "BK": 1, "RD": 1}
	for name, c := range map[string]struct {
		all       []Recipe
		predicted bool
		want      []string
	}{
		"none":                         {nil, false, nil},
		"nearest first":                {[]Recipe{of("far", 2, 0, 1, 1, two), of("near", 1, 0, 3, 9, three)}, false, []string{"near", "far"}},
		"fewer pigments, equally near": {[]Recipe{of("three", 1, 0, 1, 1, three), of("two", 1.004, 0, 3, 9, two)}, false, []string{"two", "three"}},
		"not if the reading tells":     {[]Recipe{of("three", 1, 0, 1, 1, three), of("two", 1.01, 0, 1, 1, two)}, false, []string{"three", "two"}},
		"then less pigment":            {[]Recipe{of("much", 1, 0, 3, 1, two), of("little", 1.004, 0, 2, 9, two)}, false, []string{"little", "much"}},
		"then the cheaper":             {[]Recipe{of("dear", 1, 0, 2.01, 9, two), of("cheap", 1.004, 0, 2.02, 1, two)}, false, []string{"cheap", "dear"}},
		"of the nearest alone":         {[]Recipe{of("near", 1, 0, 3, 1, three), of("b", 1.2, 0, 3, 1, three), of("c", 1.201, 0, 1, 1, two)}, false, []string{"near", "b", "c"}},
		"by predicted as predicted":    {[]Recipe{of("a", 1, 0.2, 1, 1, two), of("b", 2, 0.1, 3, 9, three)}, true, []string{"b", "a"}},
		"none of a pigment":            {[]Recipe{of("three", 1, 0, 2, 1, three), of("two and none", 1, 0, 2, 1, mix{"WH": 1, "BK": 1, "RD": 0})}, false, []string{"two and none", "three"}},
	} {
		order(c.all, 0.1, c.predicted)
		var got []string
		for _, r := range c.all {
			got = append(got, r.Why[0])
		}
		assert.Equal(t, c.want, got, name)
	}
}

// TestLean: a leaner recipe is never farther than what is equally near, hides as much
// to 0.01, holds no more pigment, and of some target much less; the rule that lean
// states.
func TestLean(t *testing.T) {
	s := shop6()
	leanest := 1.0
	for i, target := range s.targets[:6] {
		if i%2 == 1 {
			target.Setting.Thickness = 1 // what is behind it shows
		}
		m, err := newMatch(s.cal, target, Limits{BatchGrams: 100, ScaleGrams: 0.01})
		require.NoError(t, err)
		list, _, err := m.search(t.Context())
		require.NoError(t, err)
		limit := list[0].value + m.readingVariance()
		total := func(f found) (sum float64) {
			for _, c := range f.c[:f.n] {
				sum += c
			}
			return sum
		}
		before := list[0]
		after := m.newLeaner().lean(before, limit)
		assert.LessOrEqual(t, after.value, limit)
		assert.GreaterOrEqual(t, m.opacity(after), m.opacity(before)-0.01)
		assert.LessOrEqual(t, total(after), total(before)*(1+1e-9))
		assert.Equal(t, before.at, after.at)
		leanest = min(leanest, total(after)/total(before))
	}
	assert.Less(t, leanest, 0.9)
}
