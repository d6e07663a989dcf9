package workbench

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
)

// TestPotHasSet: after the pot life no polyurethane flows, which is what the
// words mean; a part that can be read has cured.
func TestPotHasSet(t *testing.T) {
	for _, c := range []struct {
		life, since time.Duration
		flows       bool
		why         string
	}{
		{7 * time.Minute, time.Second, false, "its pot life is 7m, and a part is read when it has cured"},
		{0, time.Second, false, "a part is read when it has cured"},
		{7 * time.Minute, 2 * time.Minute, true, ""},
		{7 * time.Minute, 7 * time.Minute, true, ""},
		{7 * time.Minute, 50 * time.Minute, true, "its pot life is 7m, and it was poured 50m ago"},
		{7 * time.Minute, 8 * time.Minute, true, "its pot life is 7m, and it was poured 8m ago"},
		{0, 50 * time.Hour, true, ""}, // nobody knows better
	} {
		assert.Equal(t, c.why, setBy(c.life, c.since, c.flows), "%v", c)
	}
}

// TestMixedPotIsNotAddedTo: of a part that was read only the next batch is left
// to correct; the tinted side that is not mixed is corrected as ever.
func TestMixedPotIsNotAddedTo(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	readPour(t, b, addPour(t, b, r, nil).Pour, stronger(lamp(), testShop().Codes[2], 1.3))
	ways := func(ask CorrectRequest) (names []string, notes string) {
		v, err := Correct(t.Context(), b, ask)
		require.NoError(t, err)
		for _, w := range v.Ways {
			names = append(names, w.Way)
		}
		return names, strings.Join(v.Notes, "\n")
	}
	ask := usualCorrection("P1")
	ask.PotGrams, ask.PotSide = 80, "mixed"
	names, notes := ways(ask)
	assert.NotContains(t, names, "add to the pot")
	assert.Contains(t, names, "next batch")
	assert.Contains(t, notes, "the mixed pot of P1 has set")

	ask.StillFlows = true
	names, notes = ways(ask)
	assert.Contains(t, names, "add to the pot")
	assert.NotContains(t, notes, "has set")

	ask.StillFlows, ask.PotGrams, ask.PotSide = false, 30, string(batch.SideB)
	names, _ = ways(ask)
	assert.Contains(t, names, "add to the pot")

	ask.StillFlows = true
	_, err := Correct(t.Context(), b, ask)
	require.ErrorContains(t, err, "goes with")
}
