package workbench

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/color"
	"masstone/recipes/archive"
)

// TestStartForATarget: only pastes that could make the colour, one chip each, by
// whatever is known of them; what it takes is said.
func TestStartForATarget(t *testing.T) {
	b := newBench(t)
	addResin(t, b, "NEW")
	codes := testShop().Codes // a white, a black and three colours that CLR's calibration knows
	addTarget(t, b, "lamp", map[string]float64{"WH": 1.5, "BK": 0.1, codes[2]: 0.4})
	whole, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", Whites: []string{"WH"}})
	require.NoError(t, err)
	v, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", Whites: []string{"WH"}, For: "lamp"})
	require.NoError(t, err)
	require.Equal(t, []string{"lamp"}, v.For)
	require.Equal(t, "First chips for lamp", v.Title)
	require.Less(t, v.Cups, whole.Cups)
	used := map[string]int{}
	for _, c := range v.Chips {
		for code := range c.Loadings {
			if code != "WH" {
				used[code]++
			}
		}
	}
	require.Equal(t, 1, used[codes[2]], "%v", used)
	require.Equal(t, 1, used["BK"])
	require.Greater(t, float64(*v.Castings), float64(v.Cups))
	require.Greater(t, float64(*v.WholeCastings), float64(*v.Castings))
	shown, err := ShowPlan(t.Context(), b, v.Plan)
	require.NoError(t, err)
	require.Equal(t, v, shown)

	named, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", Pigments: []string{"WH", codes[3]}, Whites: []string{"WH"}, For: "lamp"})
	require.NoError(t, err)
	require.Contains(t, named.Notes, "The pastes are those that were named.")
	require.Len(t, named.Chips, 5)

	// where the pastes that are cast make it, nothing is to be cast first
	done, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: testResin, Whites: []string{"WH"}, For: "lamp"})
	require.NoError(t, err)
	require.True(t, done.PourNow)
	require.Empty(t, done.Chips)
	require.Empty(t, done.Plan)
	require.Contains(t, done.Notes[0], "The pastes that are cast make this colour")

	_, err = PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", For: "nix"})
	require.Equal(t, NotFound, KindOf(err))
}

// TestStartForATargetByNames: without any calibration Colour Index names tell, and
// pastes of which nothing is known are named.
func TestStartForATargetByNames(t *testing.T) {
	b := bareShelf(t, archive.Pigment{Code: "TW", CIName: "PW6"}, archive.Pigment{Code: "KK", CIName: "PBk7"}, archive.Pigment{Code: "RR", CIName: "PR254"},
		archive.Pigment{Code: "OO", CIName: "PO34"}, archive.Pigment{Code: "BB", CIName: "PB15"}, archive.Pigment{Code: "ZZ", Name: "secret"})
	lab := archive.LabOf(color.Lab{L: 60, A: 30, B: 20, Under: color.D65Ten()})
	_, err := b.archive.PutTarget(t.Context(), archive.Target{Name: "knob", ThicknessMM: 3, Backing: "white", Tolerance: 1, Formula: "CIEDE2000", Readings: []archive.Reading{{Lab: &lab}}}, archive.Refuse)
	require.NoError(t, err)
	v, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", For: "knob"})
	require.NoError(t, err)
	require.Contains(t, v.Notes[0], "Nothing is known of the colour of ZZ")
	require.Contains(t, v.Notes[1], "KK, OO, RR, TW")
	require.Equal(t, []string{"D65/10"}, v.Lights, "as the target was read")

	blind := bareShelf(t, archive.Pigment{Code: "ZZ", Name: "secret"})
	_, err = blind.archive.PutTarget(t.Context(), archive.Target{Name: "knob", ThicknessMM: 3, Backing: "white", Tolerance: 1, Formula: "CIEDE2000", Readings: []archive.Reading{{Lab: &lab}}}, archive.Refuse)
	require.NoError(t, err)
	_, err = PlanStart(t.Context(), blind, PlanStartRequest{Resin: "NEW", For: "knob"})
	require.Equal(t, Invalid, KindOf(err))
}

// TestNextStopsByItself: chips are planned for a target as long as they pay.
func TestNextStopsByItself(t *testing.T) {
	b := newBench(t)
	addTarget(t, b, "lamp", map[string]float64{"WH": 1.5, "BK": 0.1, testShop().Codes[2]: 0.4})
	some, err := PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin, Count: 2, For: []string{"lamp"}})
	require.NoError(t, err)
	require.Len(t, some.Chips, 2, "as many as asked for")
	require.Greater(t, float64(*some.Chance), 0.0)
	for _, c := range some.Chips {
		require.GreaterOrEqual(t, float64(*c.Chance), float64(*some.Chance)-1e-9)
	}
	v, err := PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin, For: []string{"lamp"}})
	require.NoError(t, err)
	gain := float64(*some.Chips[0].Chance - *some.Chance)
	if v.PourNow {
		require.Less(t, gain, 0.05)
		require.Empty(t, v.Plan)
		require.Regexp(t, `^Pour now: chance \d+ %; one more chip would make it \d+ %\.$`, v.Notes[0])
	} else {
		require.LessOrEqual(t, len(v.Chips), 3)
	}
	list, err := Plans(t.Context(), b, "")
	require.NoError(t, err)
	require.Len(t, list.Plans, 1+len(v.Plan)/3)
	wide, err := PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin})
	require.NoError(t, err)
	require.Len(t, wide.Chips, 3)
	require.Nil(t, wide.Chance)
}

// TestOutlook: the short way takes fewer castings than the full set of a shelf of
// eight, whatever is read (the study of the short way, README).
func TestOutlook(t *testing.T) {
	for _, read := range []castplan.Reading{{Spectrum: true}, {Lights: calibrate.ThreeLights(color.TenDegree)}, {Lights: []color.Condition{color.D65Ten()}}} {
		o := outlookOf(read)
		require.Less(t, 6+o.chips+o.pours, 17+o.wholePours)
	}
}

// bareShelf is a bench with pigments and a resin NEW, and no chip.
func bareShelf(t testing.TB, pigments ...archive.Pigment) *Bench {
	t.Helper()
	file := filepath.Join(t.TempDir(), "bench.db")
	a, err := archive.Create(t.Context(), file, archive.Options{Now: testClock(30), Who: "ada", Program: "test"})
	require.NoError(t, err)
	require.NoError(t, a.Close())
	b := openBench(t, file)
	_, err = b.archive.ImportPigments(t.Context(), pigments)
	require.NoError(t, err)
	addResin(t, b, "NEW")
	for name, r := range map[string]float64{"white": 0.9, "black": 0.03} {
		_, err := b.archive.PutBacking(t.Context(), archive.Backing{Name: name, Constant: &r, Source: "stated"}, archive.Replace)
		require.NoError(t, err)
	}
	return b
}
