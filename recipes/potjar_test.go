package recipes

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
)

// TestAdditionsFromDilutions: on a coarse scale additions come from pastes let down where
// that is expected to land nearer. What goes in adds up: paste by paste, and the side
// that dilutions carry beside that which is weighed. Of a jar no more is taken than it
// holds, a mixed pot takes from none, and none makes a pot grow beyond its most.
func TestAdditionsFromDilutions(t *testing.T) {
	taken := 0
	for _, s := range small() {
		p, _ := s.pour(s.recipe.Loadings)
		pot := potOf(p, 120)
		pot.Share, pot.ScaleGrams, pot.MinWeigh = 0.5, 0.1, 0.1
		ask := func(change func(*Pot)) Correction {
			with := *pot
			with.Diluted = map[string]Dilution{}
			for code := range pot.Pigments {
				with.Diluted[code] = Dilution{Item: code + " D1", Share: 1.0 / 21, SD: 0.01, Left: 100}
			}
			change(&with)
			x, err := Correct(context.Background(), s.cal, s.target, []Pour{p}, CorrectOptions{Pot: &with})
			require.NoError(t, err)
			return x
		}
		neat := ask(func(p *Pot) { p.Diluted = nil })
		x := ask(func(*Pot) {})
		assert.LessOrEqual(t, x.Add.Expected, neat.Add.Expected)
		if len(x.Add.From) == 0 {
			assert.Equal(t, neat.Add.Expected, x.Add.Expected)
			continue
		}
		taken++
		carried := 0.0
		for code, g := range x.Add.From {
			steps := float64(g) / 0.1
			assert.InDelta(t, math.Round(steps), steps, 1e-3, "%s", code)
			assert.InDelta(t, float64(x.Add.Add[code]), float64(g)/21, 1e-5, "%s", code)
			carried += float64(g) * 20 / 21
		}
		side := 120 + float64(x.Add.Resin) + carried
		assert.InDelta(t, 120*x.Add.Growth, side, 1e-4)
		assert.GreaterOrEqual(t, float64(x.Add.Resin), -1e-9)
		for code, phr := range x.Add.Loadings {
			holds := float64(pot.Pigments[code]+x.Add.Add[code]) / (2 * side) * 100
			assert.InDelta(t, holds, float64(phr), 1e-5, "%s", code)
		}
		assert.Less(t, x.Add.Expected, neat.Add.Expected-worthDiluting)

		for name, change := range map[string]func(*Pot){
			"empty jars": func(p *Pot) {
				for code, d := range p.Diluted {
					d.Left = 0
					p.Diluted[code] = d
				}
			},
			"mixed":     func(p *Pot) { p.Share = 1 },
			"no growth": func(p *Pot) { p.MaxGrowth = 1 },
		} {
			assert.Empty(t, ask(change).Add.From, name)
		}
	}
	assert.Positive(t, taken)
	bad := Pot{Resin: 100, Share: 0.5, Pigments: map[string]calibrate.Grams{small()[0].codes()[0]: 1}, Diluted: map[string]Dilution{"WH": {Share: 1}}}
	require.ErrorContains(t, bad.check(small()[0].cal), "share between 0 and 1")
}
