package page

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

// TestBeside: a client sees part and target of the same light beside each other,
// and first the lights under which both are known. The difference is of pair 1 of
// Sharma, Wu & Dalal, Color Res. Appl. 30, 21 (2005), table 1: 2.0425.
func TestBeside(t *testing.T) {
	a, b, c := figure.Lab{L: 50, A: 2.6772, B: -79.7751}, figure.Lab{L: 50, A: 0, B: -82.7485}, figure.Lab{L: 20, A: 1, B: 2}
	all := beside(workbench.ClientView{
		Colors: []workbench.Color{{Under: "A/10", Lab: c}, {Under: "D65/10", Lab: b}},
		Wanted: []workbench.Color{{Under: "D50/2", Lab: c}, {Under: "D65/10", Lab: a}},
	})
	require.Len(t, all, 2)
	require.Equal(t, []any{"D65/10", b, a}, []any{all[0].Under, *all[0].Part, *all[0].Wanted})
	require.InDelta(t, 2.0425, float64(*all[0].DE00), 1e-4)
	require.Equal(t, []any{"A/10", c}, []any{all[1].Under, *all[1].Part})
	require.Nil(t, all[1].Wanted)
	require.Nil(t, all[1].DE00)
}
