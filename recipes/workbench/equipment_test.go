package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
)

// TestScaleIsTaken: what a request goes by: the step it gives, the scale it names, the
// one in use, and else the usual step.
func TestScaleIsTaken(t *testing.T) {
	b := newBench(t)
	filled := func(name string, step calibrate.Grams) (calibrate.Grams, calibrate.Grams, calibrate.Grams, error) {
		var least, most calibrate.Grams
		err := ScaleChoice{name}.fill(t.Context(), b.archive, 0.05, &step, &least, &most)
		return step, least, most, err
	}
	step, least, most, err := filled("", 0)
	require.NoError(t, err)
	assert.Equal(t, []calibrate.Grams{0.05, 0, 0}, []calibrate.Grams{step, least, most})

	for _, r := range []AddScaleRequest{{Name: "bench", StepGrams: 0.01, MaxGrams: 500, SDGrams: 0.01}, {Name: "fine", StepGrams: 0.001}} {
		_, err := AddScale(t.Context(), b, r)
		require.NoError(t, err)
	}
	for name, c := range map[string]struct {
		name              string
		given             calibrate.Grams
		step, least, most float64
	}{
		"in use":   {"", 0, 0.01, 0.3464, 500}, // the first; 10 sd of the square root of 12
		"named":    {"fine", 0, 0.001, 0, 0},
		"as given": {"", 0.1, 0.1, 0, 0},
	} {
		step, least, most, err := filled(c.name, c.given)
		require.NoError(t, err, name)
		assert.InDelta(t, c.step, float64(step), 1e-9, name)
		assert.InDelta(t, c.least, float64(least), 1e-4, name)
		assert.InDelta(t, c.most, float64(most), 1e-9, name)
	}
	_, _, _, err = filled("kitchen", 0)
	assert.ErrorContains(t, err, `unknown scale "kitchen"`)
	v, err := UseEquipment(t.Context(), b, archive.Scale, "fine")
	require.NoError(t, err)
	assert.True(t, v.InUse)
	_, r := poured(t, b)
	made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: Making{Grams: 100, GramsPerMinute: 300, Margin: 0.2, Headroom: 4}})
	require.NoError(t, err)
	assert.InDelta(t, 0.001, made.Step.Grams(), 1e-9)
	found, err := Match(t.Context(), b, MatchRequest{Target: "lamp", Resin: testResin, Limits: Limits{MaxPigments: 2, Recipes: 1, BatchGrams: 100}})
	require.NoError(t, err)
	assert.InDelta(t, 0.001, float64(found.ScaleGrams), 1e-9)
	_, err = Match(t.Context(), b, MatchRequest{Target: "lamp", Resin: testResin, Limits: Limits{MaxPigments: 2, Recipes: 1, BatchGrams: 100, ScaleChoice: ScaleChoice{"kitchen"}}})
	assert.ErrorContains(t, err, `unknown scale "kitchen"`)
	again, err := AddScale(t.Context(), b, AddScaleRequest{Name: "fine", StepGrams: 0.001, Note: "levelled", Replace: true})
	require.NoError(t, err)
	assert.True(t, again.InUse, "a new card leaves it in use")
	_, err = AddScale(t.Context(), b, AddScaleRequest{Name: "fine", StepGrams: 0.002})
	assert.ErrorIs(t, err, archive.ErrConflict)
}

// TestInstrumentIsTaken: typed readings that say nothing are of the instrument in
// use, and its aperture is kept with them; what they say stands.
func TestInstrumentIsTaken(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	_, err := AddInstrument(t.Context(), b, AddInstrumentRequest{Name: "sphere", ApertureMM: 8, Condition: color.Condition{Illuminant: color.D65}, RepeatSD: 0.04})
	require.NoError(t, err)
	_, err = AddInstrument(t.Context(), b, AddInstrumentRequest{Name: "ring", Measurement: color.Measurement{Geometry: color.Directional}, MCondition: "M1", ApertureMM: 2})
	require.NoError(t, err)
	p := addPour(t, b, r, nil)
	v, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: p.Pour, Spot: Spot{FlatMM: 6}, Readings: Readings{Typed: []string{typed(partOf(lamp()))}}})
	require.NoError(t, err)
	require.NotNil(t, v.Taken)
	assert.Equal(t, "8 mm", v.Taken.Aperture)
	assert.Equal(t, "sphere", v.Taken.Instrument)
	said := ""
	for _, x := range v.Remarks {
		said += x.Text + "\n"
	}
	assert.Contains(t, said, "too small for an aperture of 8 mm")
	place, err := Place(t.Context(), b, PlaceRequest{Kind: TargetPiece, Name: "shade"})
	require.NoError(t, err)
	assert.Equal(t, color.D65Ten(), place.Condition)
	place, err = Place(t.Context(), b, PlaceRequest{Kind: TargetPiece, Name: "shade", Instrument: "ring", Condition: color.Under(color.A, color.TwoDegree)})
	require.NoError(t, err)
	assert.Equal(t, color.Directional, place.Measurement.Geometry)
	assert.Equal(t, color.Under(color.A, color.TwoDegree), place.Condition)
	_, err = Place(t.Context(), b, PlaceRequest{Kind: TargetPiece, Name: "shade", Instrument: "rin"})
	assert.ErrorContains(t, err, `unknown instrument "rin"`)
	_, err = AddInstrument(t.Context(), b, AddInstrumentRequest{Name: "x", Condition: color.Condition{Observer: color.TwoDegree}})
	assert.ErrorContains(t, err, "goes with a light")
	_, err = AddInstrument(t.Context(), b, AddInstrumentRequest{Name: "x", Measurement: color.Measurement{Geometry: color.Directional, Specular: color.SpecularIncluded}})
	assert.Error(t, err)
}

// TestEquipmentSeen: a card is not replaced by what was made from an older one.
func TestEquipmentSeen(t *testing.T) {
	b := newBench(t)
	add := func(r AddScaleRequest) error { _, err := AddScale(t.Context(), b, r); return err }
	require.NoError(t, add(AddScaleRequest{Name: "bench", StepGrams: 0.01}))
	all, err := AllEquipment(t.Context(), b, archive.Scale)
	require.NoError(t, err)
	seen := all.Equipment[0].Ref
	require.NoError(t, add(AddScaleRequest{Name: "bench", StepGrams: 0.02, Replace: true, Seen: seen}))
	err = add(AddScaleRequest{Name: "bench", StepGrams: 0.05, Replace: true, Seen: seen})
	assert.Equal(t, Conflict, KindOf(err), err)
	assert.ErrorContains(t, err, "was changed by")
	all, err = AllEquipment(t.Context(), b, archive.Scale)
	require.NoError(t, err)
	assert.InDelta(t, 0.02, float64(*all.Equipment[0].StepGrams), 1e-9)
	assert.True(t, all.Equipment[0].InUse)
}
