package workbench

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/recipes/batch"
	"masstone/recipes/papers"
)

// hundredGrams is a batch of 100 g on a scale of 0.01 g, made as commands make
// it.
func hundredGrams() Making {
	usual := batch.UsualHandling()
	return Making{Grams: 100, ScaleGrams: 0.01, Headroom: usual.Headroom, GramsPerMinute: usual.PourRate, Margin: usual.Margin, DropScatter: 0.1}
}

// TestSheetThatIsNotDelivered is not stored; the same sheet again keeps its
// name, another lot makes another.
func TestSheetThatIsNotDelivered(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	ask := BatchRequest{Recipe: r.ID(), Making: hundredGrams(), Shop: []string{"Demo Castings"}}
	full := errors.New("the disk is full")
	ask.Deliver = func(papers.BatchSheet) error { return full }
	_, err := MakeBatch(t.Context(), b, ask)
	require.ErrorIs(t, err, full)
	stored, err := b.archive.Batches(t.Context(), "")
	require.NoError(t, err)
	require.Empty(t, stored)

	var paper papers.BatchSheet
	ask.Deliver = func(p papers.BatchSheet) error { paper = p; return nil }
	first, err := MakeBatch(t.Context(), b, ask)
	require.NoError(t, err)
	assert.Equal(t, "B1", first.Batch)
	assert.Equal(t, "B1", paper.Batch)
	assert.Equal(t, "100 g", paper.Order)
	assert.Equal(t, "CLR v1", paper.Calibration)
	assert.Equal(t, ask.Shop, paper.Shop)
	again, err := MakeBatch(t.Context(), b, ask)
	require.NoError(t, err)
	assert.Equal(t, "B1", again.Batch)
	addLots(t, b, "WH", "7")
	_, err = OpenLot(t.Context(), b, OpenLotRequest{"WH", "7"})
	require.NoError(t, err)
	other, err := MakeBatch(t.Context(), b, ask)
	require.NoError(t, err)
	assert.Equal(t, "B2", other.Batch)
	assert.Equal(t, map[string]string{"WH": "7"}, other.Paper.Lots)

	// found again as it was made up, with the lots meant then
	for id, lots := range map[string]map[string]string{"B1": {}, "b2": {"WH": "7"}} {
		sheet, lines, err := ShowBatch(t.Context(), b, id, ask.Shop)
		require.NoError(t, err)
		assert.Nil(t, lines)
		assert.Equal(t, first.Lines, sheet.Lines)
		assert.Equal(t, lots, sheet.Paper.Lots)
		assert.Equal(t, sheet.At[:10], sheet.Paper.Made.Format("2006-01-02"))
	}
}

// TestSheetIsRefused: an order is by mass or by volume, whole.
func TestSheetIsRefused(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	for name, c := range map[string]struct {
		change func(*Making)
		field  string
		says   string
	}{
		"nothing":                    {func(m *Making) { m.Grams = 0 }, "grams", "how much?"},
		"both":                       {func(m *Making) { m.Shots = 3 }, "grams", "give either"},
		"waste of a mass":            {func(m *Making) { m.Waste = 0.1 }, "grams", "give either"},
		"no cavity":                  {func(m *Making) { m.Grams, m.Shots = 0, 3 }, "cavity-ml", "is missing"},
		"no shots":                   {func(m *Making) { m.Grams, m.CavityML = 0, 18.5 }, "shots", "1 or more"},
		"drops of what is not in it": {func(m *Making) { m.DropGrams = map[string]calibrate.Grams{"ZZ": 0.03} }, "drops", "holds no such pigment"},
	} {
		m := hundredGrams()
		c.change(&m)
		_, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: m})
		require.ErrorContains(t, err, c.says, name)
		var fault *Error
		require.ErrorAs(t, err, &fault, name)
		assert.Equal(t, Invalid, fault.Kind, name)
		assert.Equal(t, c.field, fault.Field, name)
	}
}

// TestOrderByVolume: by hand, 12 parts of 10 ml with a tenth lost are 132 ml,
// and the sheet says what was ordered.
func TestOrderByVolume(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	m := hundredGrams()
	m.Grams, m.CavityML, m.Shots, m.Waste = 0, 10, 12, 0.1
	v, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: m, Smallest: true, Poured: batch.Poured{"WH": batch.Grams(3)}})
	require.NoError(t, err)
	assert.InDelta(t, 132, v.Volume.Millilitres(), 0.05)
	assert.Equal(t, "12 parts of 10 ml and 10 % waste", v.Paper.Order)
	require.NotNil(t, v.Smallest)
	require.NotNil(t, v.Rescue)
	assert.NotEmpty(t, v.Rescue.Remedies)
}
