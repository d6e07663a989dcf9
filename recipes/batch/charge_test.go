package batch

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// By hand, (8): of 1 g of paste in 1 g of resin, each weighed with an sd of 4 mg,
// the share is 0.5 and its relative sd (1 - 0.5) x 0.004 x sqrt 2.
func TestStrengthOfAJar(t *testing.T) {
	c := Jar{Name: "D1", Pigment: "BK", Side: SideB, Paste: Grams(1), Resin: Grams(1)}.charge(charge{code: "BK"}, 10_000, 4000)
	require.InDelta(t, 0.5, c.share(), 1e-12)
	require.InDelta(t, 0.00282843, c.strength, 1e-8)
}
