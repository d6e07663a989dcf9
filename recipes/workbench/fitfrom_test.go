package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
)

// fewChips puts four chips of a new resin on the bench, as they would read in that of
// the invented shop: bare, the white, and tints of two pastes.
func fewChips(t testing.TB, b *Bench) {
	t.Helper()
	addResin(t, b, "NEW")
	codes := testShop().Codes
	castChips(t, b, "NEW", map[string]map[string]float64{"bare": {}, "white": {"WH": 2}, "grey": {"WH": 2, "BK": 0.2}, "tint": {"WH": 2, codes[2]: 0.5}}, nil)
}

// TestFitFromAnotherResin: four chips and the calibration of another resin make one of
// all its pastes.
func TestFitFromAnotherResin(t *testing.T) {
	b := newBench(t)
	fewChips(t, b)
	codes := testShop().Codes
	v, err := Fit(t.Context(), b, FitRequest{Resin: "NEW", From: "CLR"})
	require.NoError(t, err)
	assert.Equal(t, "NEW v1", v.Calibration)
	assert.Equal(t, "CLR v1", v.From)
	assert.Equal(t, codes, v.Pigments)
	assert.Equal(t, codes[3:], v.Carried)
	assert.Len(t, v.Chips, 4)
	assert.Empty(t, v.Remarks)
	mix := map[string]float64{"WH": 1.5, "BK": 0.1, codes[2]: 0.3}
	p, err := Predict(t.Context(), b, PredictRequest{Resin: "NEW", Loadings: mix, ThicknessMM: float64(testShop().Setting.Thickness), Over: "white"})
	require.NoError(t, err)
	truth := partOf(mix)
	off, err := color.LabFrom([3]float64{float64(p.Lab.L), float64(p.Lab.A), float64(p.Lab.B)}, truth.Under).DeltaE00(truth)
	require.NoError(t, err)
	assert.Less(t, off, 1.0)

	shown, err := ShowCalibration(t.Context(), b, CalibrationRequest{Resin: "NEW"})
	require.NoError(t, err)
	assert.Equal(t, v.From, shown.From)
	assert.Equal(t, v.Carried, shown.Carried)

	alone, err := Fit(t.Context(), b, FitRequest{Resin: "NEW", Layer: calibrate.KubelkaMunk, DryRun: true})
	require.NoError(t, err)
	assert.Empty(t, alone.From)
	require.NotEmpty(t, alone.Remarks)
	assert.Contains(t, alone.Remarks[0].Text, "carried over from CLR v1")
}

// TestNothingToCarry: wrong uses are one line that says what to do, and store nothing.
func TestNothingToCarry(t *testing.T) {
	for name, c := range map[string]struct {
		do   func(b *Bench)
		r    FitRequest
		says string
	}{
		"itself":         {nil, FitRequest{Resin: "NEW", From: "NEW"}, "is the resin that is fitted"},
		"no such resin":  {nil, FitRequest{Resin: "NEW", From: "NONE"}, "NONE"},
		"not calibrated": {func(b *Bench) { addOtherResin(t, b) }, FitRequest{Resin: "NEW", From: otherResin}, "has none yet"},
		"a layer":        {nil, FitRequest{Resin: "NEW", From: testResin, Layer: calibrate.KubelkaMunk}, "goes by the layer of CLR"},
		"an index":       {nil, FitRequest{Resin: "NEW", From: testResin, Index: 1.5}, "is of the exact layer"},
		"another pigment": {func(b *Bench) {
			_, err := b.archive.PutPigment(t.Context(), archive.Pigment{Code: "ZN"}, archive.Refuse)
			require.NoError(t, err)
			lab := archive.LabOf(partOf(lamp()))
			_, err = b.archive.ImportChips(t.Context(), "NEW", []archive.Chip{{Resin: "NEW", Name: "zinc", Loadings: map[string]float64{"ZN": 1}, Backing: "white", ThicknessMM: 3, Readings: []archive.Reading{{Lab: &lab}}}}, archive.Refuse)
			require.NoError(t, err)
		}, FitRequest{Resin: "NEW", From: testResin}, "knows no ZN"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			fewChips(t, b)
			if c.do != nil {
				c.do(b)
			}
			_, err := Fit(t.Context(), b, c.r)
			require.ErrorContains(t, err, c.says)
			require.NotContains(t, err.Error(), "\n")
			all, err := b.archive.Calibrations(t.Context(), "NEW")
			require.NoError(t, err)
			assert.Empty(t, all)
		})
	}
}
