package batch_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/recipes/batch"
)

// By hand: half at 33 °C, a quarter at 43 °C, 7 min x 2^-0.7 = 4.3089 min at
// 30 °C; with a halving every 7 °C half of it there. That it halves at all is
// common practice without a source.
func TestPotLifeAt(t *testing.T) {
	for _, c := range []struct{ celsius, halving, minutes float64 }{
		{23, 10, 7}, {33, 10, 3.5}, {43, 10, 1.75}, {30, 10, 4.30893}, {30, 7, 3.5}, {15, 10, 7},
	} {
		got := batch.PotLifeAt(7*time.Minute, c.celsius, c.halving)
		require.InDelta(t, c.minutes, got.Minutes(), 1e-4, "%g °C, halving %g °C", c.celsius, c.halving)
	}
}

// By hand, thirty injections of 2.4 ml and a tenth of waste, 2.7079 g each, from
// a pot life of 7 min: 5.6 min usable, 3.5 min to weigh, mix and degas, so 2.1
// min for shots of 30 s and 2.7079/300 min: 4.125, four a cup, eight cups. The
// first takes 3.5 + 4 x 0.5 + 10.83/300 = 5.536 min.
//
// At 28 °C the pot life is 7 / sqrt 2 = 4.9497 min, 3.9598 usable, which leaves
// 0.4598 min: less than one shot, so thirty cups, all late. Without the vacuum
// 1.9598 min: three a cup, ten cups.
func TestShotsByPotLife(t *testing.T) {
	r := request(0, nil)
	r.Order = batch.Order{Cavity: batch.Millilitres(2.4), Shots: 30, Waste: 0.1}
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.Equal(t, []int{4, 4, 4, 4, 4, 4, 3, 3}, shotsOf(s))
	require.InDelta(t, 5.536, s.Cups[0].Minutes, 1e-3)
	require.InDelta(t, 5.536, s.Cups[1].Starts, 1e-3)
	require.InDelta(t, 0.5, s.Clock.Shot, 1e-9)
	require.Contains(t, strings.Join(s.Notes, "\n"), "4 shots a cup: 30 s to load and inject one, 2.1 min left for them")

	r.Handling.Celsius = 28
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.Len(t, s.Cups, 30)
	require.True(t, s.Cups[0].Late)
	require.InDelta(t, 4.9497, s.Clock.PotLife, 1e-4)
	require.Contains(t, strings.Join(s.Notes, "\n"), "At 28 °C the pot life is taken as 4.9 min, not 7")

	r.Handling.Degas = 0
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.Equal(t, []int{3, 3, 3, 3, 3, 3, 3, 3, 3, 3}, shotsOf(s))
	require.False(t, s.Cups[0].Late)
}

// By hand: of 5.6 min usable the mixing takes 2 and the vacuum 109 s, which leaves
// 107 s: as long as loading one part takes, and nothing to pour it in. It is one
// cup, late, and not cut into cups of nothing; a part of 2 kg, which pours for more
// than 6 min, is cut where loading takes 30 s of it. Nor does the last bit of what a
// part weighs, of which the cup is as large, make two of one.
func TestPartIsNotCutIntoNothing(t *testing.T) {
	r := request(0, nil)
	r.Handling.Degas, r.Handling.Shot = 109*time.Second, 107*time.Second
	for n := range 100 {
		r.Order = batch.Order{Cavity: batch.Millilitres(1 + float64(n)/7), Shots: 1}
		s, err := batch.Plan(r)
		require.NoError(t, err)
		require.Len(t, s.Cups, 1, "%v", r.Order.Cavity)
		require.True(t, s.Cups[0].Late)
	}

	r.Order.Cavity, r.Handling.Shot = batch.Millilitres(2000), 30*time.Second
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.Len(t, s.Cups, 6) // 107 - 30 s at 300 g/min are 385 g of 2051
	require.False(t, s.Cups[0].Late)
}

func shotsOf(s batch.Sheet) []int {
	var n []int
	for _, c := range s.Cups {
		n = append(n, c.Shots)
	}
	return n
}

// By hand: with two people the next cup is mixed while this one is injected:
// mixing takes 2 min, the vacuum 1.5, four shots 2.036, three shots 1.527.
func TestCupsStaggered(t *testing.T) {
	r := request(0, nil)
	r.Order = batch.Order{Cavity: batch.Millilitres(2.4), Shots: 30, Waste: 0.1}
	r.Handling.People = 2
	s, err := batch.Plan(r)
	require.NoError(t, err)
	for i, want := range []float64{0, 2.036, 4.072, 6.108, 8.144, 10.180, 12.217, 14.217} {
		require.InDelta(t, want, s.Cups[i].Starts, 2e-3, "cup %d", i+1)
	}
	require.Contains(t, strings.Join(s.Notes, "\n"), "the run takes 20 min")
}

// One pair of hands is never at two cups; of several, no two mix, use the
// chamber, or inject at once.
func TestHandsAreFree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := request(0, nil)
		r.Order = batch.Order{Cavity: batch.Millilitres(rapid.Float64Range(0.5, 30).Draw(t, "cavity")), Shots: rapid.IntRange(1, 60).Draw(t, "shots")}
		r.Handling.Shot = time.Duration(rapid.IntRange(1, 120).Draw(t, "shot")) * time.Second
		r.Handling.Degas = time.Duration(rapid.IntRange(0, 180).Draw(t, "degas")) * time.Second
		r.Handling.Celsius = rapid.Float64Range(18, 35).Draw(t, "celsius")
		r.Handling.People = rapid.IntRange(1, 3).Draw(t, "people")
		s, err := batch.Plan(r)
		require.NoError(t, err)
		c := s.Clock
		for i := range s.Cups[1:] {
			a, b := s.Cups[i], s.Cups[i+1]
			require.GreaterOrEqual(t, b.Starts-a.Starts, c.Weigh+c.Mix-1e-5)
			require.GreaterOrEqual(t, b.Starts+c.Weigh+c.Mix, a.Starts+c.Weigh+c.Mix+c.Degas-1e-5, "chamber")
			require.GreaterOrEqual(t, b.Starts+c.Weigh+c.Mix+c.Degas, a.Starts+a.Minutes-1e-5, "injection")
			if r.Handling.People < 2 {
				require.GreaterOrEqual(t, b.Starts, a.Starts+a.Minutes-1e-5)
			}
		}
	})
}

func TestHandlingOfShotsIsChecked(t *testing.T) {
	for what, spoil := range map[string]func(*batch.Handling){
		"inject a shot": func(h *batch.Handling) { h.Shot = -time.Second },
		"resin at":      func(h *batch.Handling) { h.Celsius = 300 },
		"halves every":  func(h *batch.Handling) { h.Halving = 0.5 },
		"people":        func(h *batch.Handling) { h.People = -1 },
	} {
		r := request(100, nil)
		spoil(&r.Handling)
		_, err := batch.Plan(r)
		require.ErrorContains(t, err, what)
	}
}
