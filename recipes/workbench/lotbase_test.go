package workbench

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
)

// baseChip is a file of one thick chip of a resin without paste, as the calibration
// has it where the resin's own colour is so many times as strong.
func baseChip(t testing.TB, b *Bench, name string, times float64) File {
	t.Helper()
	_, cal, err := calibrationOn(t.Context(), b.archive, testResin, 0)
	require.NoError(t, err)
	aged, err := cal.WithLots(map[string]calibrate.Strength{"": {Ln: math.Log(times)}})
	require.NoError(t, err)
	p, err := aged.Predict(calibrate.Sample{Setting: testShop().Setting}, color.D65Ten())
	require.NoError(t, err)
	l := p.Colors[0].Lab
	text := fmt.Sprintf("chip,backing,thickness_mm,WH,L,a,b\n%s,white,%g,0,%.4f,%.4f,%.4f\n", name, float64(testShop().Setting.Thickness), l.L, l.A, l.B)
	return File{Name: "base.csv", Data: strings.NewReader(text), Options: readings.Options{Condition: color.D65Ten()}}
}

// TestBaseOfALotIsLearnt: a chip without paste tells how strong the own colour of a
// resin lot is; it is counted while the lot is in use, and less surely the longer
// ago it was learnt.
func TestBaseOfALotIsLearnt(t *testing.T) {
	b := newBench(t)
	target, r := poured(t, b)
	addLots(t, b, testResin, "A-7")
	const times = 2.0
	v, err := LearnLot(t.Context(), b, LearnLotRequest{Code: testResin, Lot: "A-7", Chips: baseChip(t, b, "base", times)})
	require.NoError(t, err)
	assert.Greater(t, math.Log(times), float64(v.Ln)-1.96*float64(v.SD))
	assert.Less(t, math.Log(times), float64(v.Ln)+1.96*float64(v.SD))
	assert.Less(t, float64(v.SD), 0.9*baseDrift)
	assert.Less(t, float64(v.Chips[0].After), float64(v.Chips[0].Before))

	q := question{resin: testResin, codes: codesOf(r), target: &target, thickness: target.ThicknessMM, over: "white"}
	before, err := know(t.Context(), b.archive, q)
	require.NoError(t, err)
	assert.NotContains(t, before.strengths, "", "it is not in use")
	_, err = OpenLot(t.Context(), b, OpenLotRequest{testResin, "A-7"})
	require.NoError(t, err)
	after, err := know(t.Context(), b.archive, q)
	require.NoError(t, err)
	assert.InDelta(t, float64(v.Ln), after.strengths[""].Ln, 1e-6)
	assert.Contains(t, strings.Join(after.notes, "\n"), "the own colour of CLR lot A-7 is counted as")
	assert.Contains(t, after.posterior().Lots, "")
	assert.Equal(t, testResin, after.lotStrengths()[0].Code)

	last := aged(calibrate.Strength{Ln: 0.1, SD: 0.4}, 365*24*time.Hour)
	assert.InDelta(t, 0.5, last.SD, 1e-3)
	assert.Equal(t, 0.4, aged(calibrate.Strength{SD: 0.4}, -time.Hour).SD)

	later, err := Open(t.Context(), b.archive.Path(), Options{Now: func() time.Time { return b.archive.Now().AddDate(1, 0, 0) }, Who: "ada", Program: "test"})
	require.NoError(t, err)
	t.Cleanup(func() { later.Close() })
	old, err := know(t.Context(), later.archive, q)
	require.NoError(t, err)
	assert.InDelta(t, math.Hypot(after.strengths[""].SD, baseYearsSD), old.strengths[""].SD, 1e-3, "a year on")

	// counted once a pour of the target was read too
	p := addPour(t, b, r, nil)
	readPour(t, b, p.Pour, lamp())
	seen, err := know(t.Context(), b.archive, q)
	require.NoError(t, err)
	assert.Contains(t, seen.strengths, "")
	_, err = Correct(t.Context(), b, CorrectRequest{Pour: p.Pour, MaxPigments: 4, ScaleGrams: 0.01, BatchGrams: 100})
	require.NoError(t, err)

	_, err = LearnLot(t.Context(), b, LearnLotRequest{Code: testResin, Lot: "A-7", Resin: otherResin, Chips: baseChip(t, b, "base", times)})
	assert.ErrorContains(t, err, "is learnt from chips of CLR")
}
