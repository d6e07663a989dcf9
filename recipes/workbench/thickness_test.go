package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
)

// TestThicknessSD: within 57 cast plates of 3.3 mm thickness varied by 0.087 mm, sd
// (BohndiekLab/end_to_end_phantom_QPAT); what is stated counts, 0 too.
func TestThicknessSD(t *testing.T) {
	exact, wide, none := 0.0, 0.2, -1.0
	assert.InDelta(t, 0.087, float64(thicknessSD(nil, 3.3)), 0.005)
	assert.EqualValues(t, 0.09, thicknessSD(nil, 10))
	assert.InDelta(t, 0.015, float64(thicknessSD(nil, 0.5)), 1e-12)
	assert.EqualValues(t, 0, thicknessSD(&exact, 3))
	assert.EqualValues(t, 0.2, thicknessSD(&wide, 3))
	assert.NoError(t, checkThicknessSD("chip", nil, 0.1))
	assert.NoError(t, checkThicknessSD("chip", &exact, 0.1))
	assert.ErrorContains(t, checkThicknessSD("chip", &wide, 0.3), "says nothing")
	assert.ErrorContains(t, checkThicknessSD("chip", &none, 3), "thickness-sd-mm")
}

// TestThicknessOfAPart: a pour goes by what was said of its part when it was read, else
// by its mould, else by its target, else by what is usual; a match goes by its target.
func TestThicknessOfAPart(t *testing.T) {
	b, run, batch := startedRun(t, 30)
	said, moulds, targets := 0.05, 0.1, 0.3
	of := func(pour string) calibrate.ThicknessMM {
		t.Helper()
		c, err := castNamed(t.Context(), b.archive, pour)
		require.NoError(t, err)
		part, err := c.asPour(t.Context(), b.archive, drifts{})
		require.NoError(t, err)
		return part.Setting.ThicknessSD
	}
	in := func(mould string, sd *float64) string {
		t.Helper()
		_, err := AddMould(t.Context(), b, AddMouldRequest{Name: mould, Cavities: 1, ThicknessSDMM: sd})
		require.NoError(t, err)
		v, err := PourRun(t.Context(), b, RunPourRequest{Run: run.Run, AddPourRequest: AddPourRequest{Batch: batch, Again: true}, Parts: 1, Mould: mould})
		require.NoError(t, err)
		readPart(t, b, v.Pour, 1, partOf(lamp()))
		return v.Pour
	}
	plain, own := in("M1", nil), in("M2", &moulds)
	assert.EqualValues(t, usualThicknessSD, of(plain))
	assert.EqualValues(t, moulds, of(own))
	_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: own, Part: 1, ThicknessSDMM: &said, Readings: Readings{Typed: []string{typed(partOf(lamp()))}}, Again: true})
	require.NoError(t, err)
	assert.EqualValues(t, said, of(own))
	c, err := castNamed(t.Context(), b.archive, own)
	require.NoError(t, err)
	half := 0.51 * c.recipe.ThicknessMM
	_, err = ReadPour(t.Context(), b, ReadPourRequest{Pour: own, Part: 1, ThicknessSDMM: &half, Readings: Readings{Typed: []string{typed(partOf(lamp()))}}, Again: true})
	assert.ErrorContains(t, err, "says nothing")
	assert.EqualValues(t, said, of(own))

	v, err := AddTarget(t.Context(), b, AddTargetRequest{Name: "shade", ThicknessSDMM: &targets, Readings: reading(typed(partOf(lamp())))})
	require.NoError(t, err)
	assert.EqualValues(t, targets, v.ThicknessSD)
	target, err := b.archive.Target(t.Context(), "", "shade")
	require.NoError(t, err)
	k, err := know(t.Context(), b.archive, question{resin: testResin, target: &target, thickness: 3, over: "white"})
	require.NoError(t, err)
	assert.EqualValues(t, targets, k.target.Setting.ThicknessSD)
	_, err = AddTarget(t.Context(), b, AddTargetRequest{Name: "thin", ThicknessMM: 0.4, ThicknessSDMM: &targets, Readings: reading(typed(partOf(lamp())))})
	assert.ErrorContains(t, err, "says nothing")
}
