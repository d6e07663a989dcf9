package archive

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOneInUse: of the scales one is in use, the one put so last; the others' cards
// are kept.
func TestOneInUse(t *testing.T) {
	b := newBench(t)
	fillNow(t, b)
	all, err := b.Equipment(ctx(t), Scale)
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, "fine", all[0].Name)
	assert.True(t, all[0].InUse)
	assert.False(t, all[1].InUse)

	e, err := b.EquipmentNamed(ctx(t), Scale, "bench")
	require.NoError(t, err)
	e.InUse = true
	outcome, err := b.PutEquipment(ctx(t), e, Replace)
	require.NoError(t, err)
	assert.Equal(t, Changed, outcome)
	all, err = b.Equipment(ctx(t), Scale)
	require.NoError(t, err)
	assert.Equal(t, "bench", all[0].Name)
	assert.False(t, all[1].InUse)

	_, err = b.EquipmentNamed(ctx(t), Scale, "kitchen")
	assert.ErrorIs(t, err, ErrNotFound)
	_, err = b.PutEquipment(ctx(t), Equipment{Item: Scale, Name: "two\nlines", StepGrams: 1}, Refuse)
	require.NoError(t, err)
	_, err = b.EquipmentNamed(ctx(t), Scale, "kitchen")
	assert.EqualError(t, err, `unknown scale "kitchen"; the bench has bench, fine, two lines`)
	for name, bad := range map[string]Equipment{
		"no step":        {Item: Scale, Name: "x"},
		"a number":       {Item: Scale, Name: "0.01", StepGrams: 0.01},
		"of both":        {Item: Scale, Name: "x", StepGrams: 0.01, ApertureMM: 4},
		"carries less":   {Item: Scale, Name: "x", StepGrams: 1, MaxGrams: 0.1},
		"of 45/0":        {Item: Instrument, Name: "x", Geometry: "45/0", Specular: "included"},
		"nothing":        {Item: "ruler", Name: "x"},
		"observer of 5":  {Item: Instrument, Name: "x", Observer: 5},
		"of the unknown": {Item: Instrument, Name: "x", Illuminant: "D66"},
	} {
		_, err := b.PutEquipment(ctx(t), bad, Refuse)
		assert.ErrorIs(t, err, ErrInvalid, name)
	}
}
