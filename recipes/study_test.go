//go:build study

package recipes

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate/virtualshop"
)

// The search against gonum's simplex run on every subset by itself, from 0.3
// phr of each: all 793 sets of 12 pigments for each of 50 targets, then all
// 12950 of 24. An hour or more.
func TestStudyPlainWay(t *testing.T) {
	for _, c := range []struct {
		shop    matchShop
		targets int
	}{{shop12(), 50}, {shop24(), 50}} {
		var ours, plain time.Duration
		better, equal := 0, 0
		n := len(c.shop.shop.Codes)
		for i, target := range c.shop.targets[:c.targets] {
			m, err := newMatch(c.shop.cal, target, Limits{BatchGrams: 100, ScaleGrams: 0.01})
			require.NoError(t, err)
			t0 := time.Now()
			list, _, err := m.search(context.Background())
			require.NoError(t, err)
			ours += time.Since(t0)
			t0 = time.Now()
			best := plainMatch(m)
			plain += time.Since(t0)
			t.Logf("%d pigments, target %2d: F %.5f, plain %.5f", n, i, list[0].value, best)
			if assert.LessOrEqual(t, list[0].value, best*1.0001, "%d pigments, target %d", n, i) {
				if list[0].value < best*0.999 {
					better++
				} else {
					equal++
				}
			}
		}
		t.Logf("%d pigments: better on %d of %d, equal on %d; ours %v, plain %v, ratio %.0f", n, better, c.targets, equal, ours, plain, float64(plain)/float64(ours))
	}
}

// First pours of 100 targets in each of several shops.
func TestStudyFirstPours(t *testing.T) {
	for _, evidence := range virtualshop.Evidences() {
		s := newMatchShop(t, 12, 100, evidence)
		p1, p05, _ := firstPours(t, s, true)
		e1, e05, claims := firstPours(t, s, false)
		t.Logf("%-12s predicted %3.0f %% / %3.0f %%, expected %3.0f %% / %3.0f %%; claimed %s", evidence, 100*p1, 100*p05, 100*e1, 100*e05, reliability(claims))
	}
}

// Whether the printed chance is one: claimed against landed in bins, over
// twelve invented shops with 120 targets each. About 5 minutes.
func TestStudyChance(t *testing.T) {
	edges := []float64{0, 0.5, 0.65, 0.75, 0.85, 0.95, 0.99, 1.01}
	for _, evidence := range virtualshop.Evidences() {
		var all [][2]float64
		for seed := uint64(21); seed < 33; seed++ {
			s := newSeededShop(t, seed, 12, 120, evidence)
			_, _, claims := firstPours(t, s, false)
			all = append(all, claims...)
			t.Logf("%-12s shop %d: claimed %s", evidence, seed, reliability(claims))
		}
		for b := range len(edges) - 1 {
			n, claimed, landed := 0.0, 0.0, 0.0
			for _, c := range all {
				if c[0] >= edges[b] && c[0] < edges[b+1] {
					n++
					claimed += c[0]
					landed += c[1]
				}
			}
			if n == 0 {
				continue
			}
			p := claimed / n
			t.Logf("%-12s %3.0f-%3.0f %%: %4.0f recipes, claimed %.1f %%, landed %.1f %% +- %.1f", evidence, 100*edges[b], math.Min(100, 100*edges[b+1]), n, 100*p, 100*landed/n, 100*math.Sqrt(p*(1-p)/n))
		}
	}
}

func newSeededShop(t *testing.T, seed uint64, pigments, targets int, evidence virtualshop.Evidence) matchShop {
	t.Helper()
	return fitShop(t, virtualshop.Painted(seed, pigments), rand.New(rand.NewPCG(seed, uint64(pigments))), targets, evidence)
}
