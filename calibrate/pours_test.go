package calibrate_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
)

// firstChips are nine chips to begin with a shelf of eight: the white over white
// and over black, and each other paste let down in it, by turns more and less.
func firstChips(s *virtualshop.Shop) []calibrate.Chip {
	type mix = map[string]calibrate.PHR
	white := s.Codes[0]
	thin := s.Chip(white+"-05b", mix{white: s.Level / 2})
	thin.BackingName, thin.Backing = "black", s.Dark
	chips := []calibrate.Chip{s.Chip(white+"-10", mix{white: s.Level}), thin}
	for i, code := range s.Codes[1:] {
		chips = append(chips, s.Chip(code+"-t", mix{white: s.Level * 0.5, code: s.Level * []calibrate.PHR{0.5, 0.15}[i%2]}))
	}
	return chips
}

// pouredMixtures are n pours of so many recipes, each poured as often.
func pouredMixtures(s *virtualshop.Shop, rng *rand.Rand, n, recipes int) []calibrate.Chip {
	all := s.Mixtures(rng, recipes)
	var out []calibrate.Chip
	for i := range n {
		c := s.Chip(fmt.Sprint("pour ", i+1), all[i%recipes])
		c.ChipGrams = 100
		out = append(out, c)
	}
	return out
}

// A pour that is wrong on record is found among many of as many recipes, where every chip
// is made of what one of them holds. The long form is TestStudyMistakesAmongPours.
func TestMistakeAmongManyPours(t *testing.T) {
	if underRace {
		t.Skip("long; run without -race")
	}
	t.Parallel()
	s := virtualshop.Painted(201, 4)
	s.StrengthSD = 0.015
	rng := rand.New(rand.NewPCG(1, 80))
	first := s.CastAll(rng, firstChips(s))
	pours, p := planted(rng, s.CastAll(rng, pouredMixtures(s, rng, 45, 15)), calibrate.LoadingSlip)
	c, err := calibrate.Fit(context.Background(), s.Codes, virtualshop.OneLight.Of(append(first, pours...)), calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	require.Equal(t, named, judge(c.Suspects, p), "%s; found %v", p.what, c.Suspects)
	require.Len(t, c.Suspects, 1)
}
