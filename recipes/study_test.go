//go:build study

package recipes

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate/virtualshop"
)

// The search against gonum's simplex on every one of 12950 subsets, for each
// of 50 targets: about half an hour.
func TestStudyPlainWay(t *testing.T) {
	s := shop24()
	var ours, plain time.Duration
	for i, target := range s.targets {
		m, err := newMatch(s.cal, target, Limits{BatchGrams: 100, ScaleGrams: 0.01})
		require.NoError(t, err)
		t0 := time.Now()
		list, _, err := m.search(context.Background())
		require.NoError(t, err)
		ours += time.Since(t0)
		t0 = time.Now()
		best := plainMatch(m)
		plain += time.Since(t0)
		t.Logf("target %2d: F %.5f, plain %.5f", i, list[0].value, best)
		assert.LessOrEqual(t, list[0].value, best*1.001+1e-4)
	}
	t.Logf("ours %v, plain %v, ratio %.0f", ours, plain, float64(plain)/float64(ours))
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
