package batch_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

// By hand: pot life 7 min less a fifth is 5.6 min; weighing 0.5, mixing 1.5
// and degassing 1.5 leave 2.1 min, at 300 g a minute 630 g a cup. 1500 g need
// 3 cups of 500 g. Mixed density of the clear resin 1/0.9749373 = 1.025707, so
// 487.47 ml a cup and 1949.9 ml of container.
func TestCupsByPotLife(t *testing.T) {
	s, err := batch.Plan(request(1500, nil))
	require.NoError(t, err)
	require.Len(t, s.Cups, 3)
	require.InDelta(t, 5.6, s.Clock.Usable, 1e-9)
	for _, c := range s.Cups {
		require.InDelta(t, 500, c.Total.Grams(), 0.021)
		require.InDelta(t, 3.5+500.0/300, c.Minutes, 1e-3)
		require.InDelta(t, 487.47, c.Volume.Millilitres(), 0.03)
		require.InDelta(t, 1949.9, c.Container.Millilitres(), 0.1)
		require.False(t, c.Late)
	}
	require.Contains(t, s.Notes[0], "3 cups: stir all pigment into all of side B in one pot first")

	s, err = batch.Plan(request(620, nil))
	require.NoError(t, err)
	require.Len(t, s.Cups, 1)
	require.Equal(t, s.Total, s.Cups[0].Total)
}

// By hand: a 1000 ml container with room for four times holds 250 ml,
// 256.4 g; a shot of 18.5 ml with 10 % waste is 20.87 g, so 12 shots a cup and
// 30 shots in 3 cups of 10.
func TestCupsByShots(t *testing.T) {
	r := request(0, nil)
	r.Order = batch.Order{Cavity: batch.Millilitres(18.5), Shots: 30, Waste: 0.1}
	r.Handling.Container, r.Handling.Shot = batch.Millilitres(1000), 0 // poured into open moulds
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.Len(t, s.Cups, 3)
	for _, c := range s.Cups {
		require.Equal(t, 10, c.Shots)
		require.InDelta(t, 208.7, c.Total.Grams(), 0.05)
		require.LessOrEqual(t, c.Container.Millilitres(), 1000.0)
	}

	r.Order.Shots = 31 // 11, 10, 10
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.Equal(t, []int{11, 10, 10}, []int{s.Cups[0].Shots, s.Cups[1].Shots, s.Cups[2].Shots})

	r.Order = batch.Order{Cavity: batch.Millilitres(400), Shots: 2}
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.Len(t, s.Cups, 4)
	require.Contains(t, strings.Join(s.Notes, "\n"), "One part needs more than one cup")
}

func TestCupsOfAFastResin(t *testing.T) {
	r := request(100, nil)
	r.Resin.PotLife = 3 * time.Minute
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.True(t, s.Cups[0].Late)
	require.Contains(t, strings.Join(s.Notes, "\n"), "A cup needs 3.8 min and the pot life allows 2.4: leave out the vacuum")

	r.Handling.Degas, r.Handling.Mix = 0, time.Minute
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.False(t, s.Cups[0].Late)
	require.Zero(t, s.Cups[0].Container, "no vacuum, no headroom")

	r.Resin.PotLife = 0
	s, err = batch.Plan(r)
	require.NoError(t, err)
	require.Contains(t, strings.Join(s.Notes, "\n"), "Pot life is not known")
}

// By hand: of a pot life of 4.2 min a fifth is left unused, 3.36 min; a cup of
// 100 g needs 3.5 min and 1/3 min to pour. It is late, though it is poured
// before the pot life is over. Of 5 min 4 may be used, and it is in time.
func TestLateIsPastTheUsableTime(t *testing.T) {
	for minutes, late := range map[float64]bool{4.2: true, 5: false} {
		r := request(100, nil)
		r.Resin.PotLife = time.Duration(minutes * float64(time.Minute))
		s, err := batch.Plan(r)
		require.NoError(t, err)
		require.Len(t, s.Cups, 1)
		require.InDelta(t, 3.5+1.0/3, s.Cups[0].Minutes, 1e-9)
		require.Less(t, s.Cups[0].Minutes, s.Clock.PotLife)
		require.Equal(t, late, s.Cups[0].Late, "pot life %g min", minutes)
	}
}

func TestCapacity(t *testing.T) {
	r := request(600, nil)
	r.Scale.Capacity = batch.Grams(500)
	s, err := batch.Plan(r)
	require.NoError(t, err)
	require.Contains(t, strings.Join(s.Notes, "\n"), "over the scale's capacity of 500 g")
}

// A limit is a limit whatever the rounding: every batch from 100 to 200 g in
// cups of 20 g on a coarse scale.
func TestCupsNeverOverTheLimit(t *testing.T) {
	r := request(100, map[string]batch.PHR{"WH": 2})
	r.Scale.Step, r.Handling.MaxCup = batch.Grams(0.05), batch.Grams(20)
	for g := 100.0; g < 200; g += 0.05 {
		r.Order.Total = batch.Grams(g)
		s, err := batch.Plan(r)
		require.NoError(t, err)
		for _, c := range s.Cups {
			require.LessOrEqual(t, c.Total.Grams(), 20.0, "batch of %g g", g)
		}
	}
}
