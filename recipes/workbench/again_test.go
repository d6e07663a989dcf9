package workbench

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
)

// TestSameWithinAMinute: what was recorded less than a minute ago is not recorded
// again unless it is meant, or says something else.
func TestSameWithinAMinute(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 3, 31, 9, 0, 0, 0, time.UTC)
	shop := newBench(t)
	_, r := poured(t, shop)
	made := addBatch(t, shop, r)
	path := shop.Path()
	b, err := Open(t.Context(), path, Options{Now: func() time.Time { return now }, Who: "ada", Program: "test"})
	require.NoError(t, err)
	defer b.Close()

	lab := typed(partOf(lamp()))
	ready := []func() error{
		func() error { _, err := AddPour(t.Context(), b, AddPourRequest{Batch: made.ID()}); return err },
		func() error {
			_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: "P1", Readings: Readings{Typed: []string{lab}}})
			return err
		},
		func() error {
			_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Recipe: r.ID(), Grams: 5000, ScaleGrams: 0.1})
			return err
		},
	}
	for _, do := range ready {
		require.NoError(t, do())
	}
	place := func() ReadingPlace {
		p, err := Place(t.Context(), b, PlaceRequest{Kind: TargetPiece, Name: "lamp", Condition: color.D65Ten()})
		require.NoError(t, err)
		return p
	}
	for name, verb := range map[string]func(again bool, other string) error{
		"pour add": func(again bool, other string) error {
			_, err := AddPour(t.Context(), b, AddPourRequest{Batch: made.ID(), Note: other, Again: again})
			return err
		},
		"pour read": func(again bool, other string) error {
			_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: "P1", Readings: Readings{Typed: []string{lab}}, Note: other, Again: again})
			return err
		},
		"approve": func(again bool, other string) error {
			_, err := Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{"P1"}, Note: other, Again: again})
			return err
		},
		"stock tint": func(again bool, other string) error {
			_, err := TintStock(t.Context(), b, TintStockRequest{Stock: "pail", Grams: 500, ScaleGrams: 0.1, Note: other, Again: again})
			return err
		},
		"stock draw": func(again bool, other string) error {
			_, err := DrawStock(t.Context(), b, DrawStockRequest{Stock: "pail", Grams: 100, ScaleGrams: 0.01, Note: other, Again: again})
			return err
		},
		"stock draw with its pour": func(again bool, other string) error {
			_, err := DrawStock(t.Context(), b, DrawStockRequest{Stock: "pail", Grams: 110, ScaleGrams: 0.01, Pour: true, Note: other, Again: again})
			return err
		},
		"stock correct": func(again bool, other string) error {
			_, err := CorrectStock(t.Context(), b, CorrectStockRequest{Stock: "pail", Added: []batch.Amount{{Item: "WH", Grams: batch.Grams(1)}}, Note: other, Again: again})
			return err
		},
		"reading add": func(again bool, other string) error {
			labs := []color.Lab{partOf(lamp())}
			if other != "" {
				labs[0].L += 0.1
			}
			_, err := AddReadings(t.Context(), b, AddReadingsRequest{Place: place(), Labs: labs, Again: again})
			return err
		},
	} {
		t.Run(name, func(t *testing.T) {
			now = now.Add(time.Hour)
			lines := func() int {
				log, err := b.archive.Log(t.Context(), archive.LogFilter{})
				require.NoError(t, err)
				return len(log)
			}
			require.NoError(t, verb(false, ""))
			was := lines()
			for _, ago := range []time.Duration{0, 59 * time.Second} {
				now = now.Add(ago)
				err := verb(false, "")
				require.Error(t, err)
				assert.Equal(t, Repeated, KindOf(err), err)
				assert.ErrorContains(t, err, "with the same content")
				assert.Equal(t, was, lines(), "nothing is stored")
			}
			require.NoError(t, verb(true, ""), "it is meant")
			require.NoError(t, verb(false, "another"), "it says something else")
			require.NoError(t, verb(false, ""), "something else came between")
			now = now.Add(time.Minute)
			require.NoError(t, verb(false, ""), "a minute is over")
			now = now.Add(-time.Hour)
			require.NoError(t, verb(false, ""), "a clock that was set back is no moment ago")
		})
	}
	report, err := Verify(t.Context(), b, VerifyRequest{})
	require.NoError(t, err)
	assert.Empty(t, report.Problems)
}
