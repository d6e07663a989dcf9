package workbench

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/recipes/archive"
)

// TestCrookedShopIsSaid: how far castings miss the law of mixing, and what more chips
// do not lower, is said by a fit, a match and a plan, and of a straight shop nothing.
func TestCrookedShopIsSaid(t *testing.T) {
	for name, c := range map[string]struct {
		miss calibrate.CastingError
		fit  string
		note string
	}{
		"straight": {},
		"crooked": {calibrate.CastingError{K: 0.034, S: 0.034, LeastDE00: 0.62},
			"castings miss the law of mixing by 3.4 %: more chips will not lower expected dE00 below 0.6",
			"Castings miss the law of mixing by 3.4 %: more chips will not lower expected dE00 below 0.6."},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			stored, cal, err := calibrationOn(t.Context(), b.archive, testResin, 0)
			require.NoError(t, err)
			cal.CastingError = c.miss
			document, err := json.Marshal(cal)
			require.NoError(t, err)
			_, err = b.archive.AddCalibration(t.Context(), archive.Calibration{Resin: testResin, Layer: stored.Layer, Chips: stored.Chips, Document: document})
			require.NoError(t, err)
			addTarget(t, b, "lamp", lamp())

			var fit FitResult
			fit.fill(stored, calibrate.LabEvidence, cal, make([]calibrate.Chip, len(cal.Chips)))
			require.Equal(t, c.fit, fit.Castings.Says)
			require.Equal(t, c.miss, calibrate.CastingError{K: float64(fit.Castings.K), S: float64(fit.Castings.S), LeastDE00: float64(fit.Castings.Least)})

			match, err := Match(t.Context(), b, MatchRequest{Target: "lamp", Limits: usualLimits()})
			require.NoError(t, err)
			plan, err := PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin, Count: 1})
			require.NoError(t, err)
			pays, err := PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin, For: []string{"lamp"}})
			require.NoError(t, err)
			for what, notes := range map[string][]string{"match": match.Notes, "plan": plan.Notes, "plan for a target": pays.Notes} {
				if c.note == "" {
					for _, note := range notes {
						require.NotContains(t, note, "law of mixing", what)
					}
					continue
				}
				require.Contains(t, notes, c.note, what)
			}
		})
	}
}
