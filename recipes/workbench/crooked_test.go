package workbench

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/recipes"
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

// TestOneCovariance: a match, what is expected of its recipe when it is weighed, and a
// prediction of one casting of so many grams claim the same of it, whatever castings
// miss by. Beside what a prediction counts is the reading of the target.
func TestOneCovariance(t *testing.T) {
	b := newBench(t)
	stored, cal, err := calibrationOn(t.Context(), b.archive, testResin, 0)
	require.NoError(t, err)
	cal.CastingError = calibrate.CastingError{K: 0.034, S: 0.034, LeastDE00: 0.62}
	document, err := json.Marshal(cal)
	require.NoError(t, err)
	_, err = b.archive.AddCalibration(t.Context(), archive.Calibration{Resin: testResin, Layer: stored.Layer, Chips: stored.Chips, Document: document})
	require.NoError(t, err)
	target := addTarget(t, b, "lamp", lamp())
	match, err := Match(t.Context(), b, MatchRequest{Target: "lamp", Limits: usualLimits()})
	require.NoError(t, err)
	found := match.Recipes[0]
	recipe, err := b.archive.Recipe(t.Context(), found.ID)
	require.NoError(t, err)
	mix := phrs(recipe.Loadings)

	k, err := know(t.Context(), b.archive, question{resin: testResin, target: &target, thickness: target.ThicknessMM, over: target.Backing})
	require.NoError(t, err)
	weighed, err := k.weighed(recipe, 100, 0.01)
	require.NoError(t, err)
	p, err := k.now.Conservative().Predict(calibrate.Sample{Loadings: mix, Setting: k.target.Setting, OneCasting: true, WeighSD: weighSD(mix, 100, 0.01)}, k.target.Labs[0].Under)
	require.NoError(t, err)
	cov := p.Colors[0].Cov
	for i := range cov {
		cov[i][i] += recipes.ReadingSD * recipes.ReadingSD
	}
	predicted := calibrate.Land(k.target.Labs[0].Values(), p.Colors[0].Lab.Values(), cov, 1)
	for what, is := range map[string]calibrate.Landing{"match": {Expected: float64(found.Expected), Upper95: float64(found.Upper95), Chance: float64(found.Chance)}, "weighed": weighed.Landing} {
		require.InDelta(t, predicted.Expected, is.Expected, 1e-3, what)
		require.InDelta(t, predicted.Upper95, is.Upper95, 1e-3, what)
		require.InDelta(t, predicted.Chance, is.Chance, 1e-3, what)
	}
}
