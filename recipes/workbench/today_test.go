package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
)

// TestToday: a batch waits for the scale, then its pour for the instrument, then
// for a correction or an approval.
func TestToday(t *testing.T) {
	b := newBench(t)
	target, r := poured(t, b)
	_ = target
	at := func() UnderWay {
		v, err := Today(t.Context(), b, 5)
		require.NoError(t, err)
		return v
	}
	made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: Making{Grams: 200, ScaleGrams: 0.01}})
	require.NoError(t, err)
	v := at()
	require.Len(t, v.ToWeigh, 1)
	assert.Equal(t, made.Batch, v.ToWeigh[0].Batch)
	assert.Empty(t, v.ToRead)

	p, err := AddPour(t.Context(), b, AddPourRequest{Batch: made.Batch})
	require.NoError(t, err)
	v = at()
	assert.Empty(t, v.ToWeigh)
	require.Len(t, v.ToRead, 1)
	assert.Equal(t, p.Pour, v.ToRead[0].Pour)

	_, err = ReadPour(t.Context(), b, ReadPourRequest{Pour: p.Pour, Readings: Readings{Typed: []string{"20,0,0"}}})
	require.NoError(t, err)
	v = at()
	assert.Empty(t, v.ToRead)
	require.Len(t, v.Missed, 1)
	assert.Empty(t, v.ToApprove)
	_, err = Today(t.Context(), b, 0)
	assert.Equal(t, Invalid, KindOf(err))
}

// TestCalibrationIsShown: a stored calibration shows what its fit found, with
// the chips it was made from.
func TestCalibrationIsShown(t *testing.T) {
	b := newBench(t)
	all, err := Calibrations(t.Context(), b, testResin)
	require.NoError(t, err)
	require.Len(t, all.Calibrations, 1)
	v, err := ShowCalibration(t.Context(), b, CalibrationRequest{Resin: testResin})
	require.NoError(t, err)
	assert.Equal(t, all.Calibrations[0].Calibration, v.Calibration)
	assert.Len(t, v.Chips, all.Calibrations[0].Chips)
	chips, err := Chips(t.Context(), b, testResin)
	require.NoError(t, err)
	assert.Equal(t, chips.Chips[0].Name, v.Chips[0].Chip)
	_, err = ShowCalibration(t.Context(), b, CalibrationRequest{Resin: testResin, Version: 9})
	assert.Equal(t, NotFound, KindOf(err))
}

// TestWithAnotherAtIt: what two people do on one open bench is logged with the
// name of each.
func TestWithAnotherAtIt(t *testing.T) {
	b := newBench(t)
	for _, who := range []string{"ada", "ben"} {
		_, err := AddLot(t.Context(), b.With(Options{Who: who, Program: "test, from " + who}), AddLotRequest{Code: testShop().Codes[0], Lot: "L-" + who, Grams: calibrate.Grams(5)})
		require.NoError(t, err)
	}
	log, err := Log(t.Context(), b, LogRequest{Limit: 2})
	require.NoError(t, err)
	assert.Equal(t, []string{"ada", "ben"}, []string{log.Log[0].Who, log.Log[1].Who})
	assert.Equal(t, "test, from ben", log.Log[1].Program)
}
