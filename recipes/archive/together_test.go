package archive

import (
	"errors"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func counts(t testing.TB, b *Bench) (n struct{ Batches, Pours, Moves, Log int }) {
	t.Helper()
	require.NoError(t, pool(b).QueryRow(`SELECT (SELECT count(*) FROM batch), (SELECT count(*) FROM pour),
		(SELECT count(*) FROM stock_move), (SELECT count(*) FROM log)`).Scan(&n.Batches, &n.Pours, &n.Moves, &n.Log))
	return n
}

// Whatever fails on the way, nothing of a shot drawn for a pour is there.
func TestTogetherIsAllOrNothing(t *testing.T) {
	b := newShop(t)
	require.NoError(t, tintPail(b))
	r, err := b.Recipe(ctx(t), "R1")
	require.NoError(t, err)
	before := counts(t, b)

	stop := errors.New("the power went")
	for _, after := range []int{1, 2, 3} {
		err := b.Together(ctx(t), func(b *Bench) error {
			k, err := b.AddBatch(ctx(t), Batch{Recipe: r.Ref, Stock: "pail", TotalGrams: 21, Lines: []Line{{"B", 10}, {"A", 11}}})
			if err != nil || after == 1 {
				return errors.Join(err, stop)
			}
			p, err := b.AddPour(ctx(t), Pour{Batch: k.Ref})
			if err != nil || after == 2 {
				return errors.Join(err, stop)
			}
			_, err = b.MoveStock(ctx(t), StockMove{Stock: "pail", Kind: Draw, Grams: 10, Pour: p.Ref})
			return errors.Join(err, stop)
		})
		require.ErrorIs(t, err, stop)
		assert.Equal(t, before, counts(t, b), "stopped after step %d", after)
	}

	require.NoError(t, drawShot(b, r, "whole"))
	assert.Equal(t, before.Batches+1, counts(t, b).Batches)
	assert.Equal(t, before.Moves+1, counts(t, b).Moves)
	verified(t, b)
}

// A method that fails within leaves nothing, though what was done before and
// after it is kept, and others see nothing until the end.
func TestTogetherStepFails(t *testing.T) {
	b := newShop(t)
	require.NoError(t, tintPail(b))
	other, err := Open(ctx(t), b.Path(), options())
	require.NoError(t, err)
	defer other.Close()

	require.NoError(t, b.Together(ctx(t), func(b *Bench) error {
		_, err := b.PutResin(ctx(t), Resin{Code: "AMB", MixA: 1, MixB: 1, PigmentSide: "B"}, Refuse)
		require.NoError(t, err)
		_, err = b.ImportChips(ctx(t), "AMB", []Chip{twoChips()[0], {Name: "bad", Loadings: map[string]float64{"ZZ": 1}, Backing: "white", ThicknessMM: 3, Readings: []Reading{reading(50, 0, 0)}}}, Refuse)
		require.ErrorIs(t, err, ErrNotFound)
		report, err := b.PreviewPigments(ctx(t), []Pigment{{Code: "OX"}})
		require.NoError(t, err)
		assert.Equal(t, []string{"OX"}, report.Added)
		_, err = b.PutLot(ctx(t), Lot{Item: OfPigment, Code: "OX", Name: "1"}, Refuse)
		assert.ErrorIs(t, err, ErrNotFound, "a preview leaves no name behind")
		_, err = b.MoveStock(ctx(t), StockMove{Stock: "pail", Kind: Draw, Grams: 10})
		require.NoError(t, err)
		level, err := b.StockLevel(ctx(t), "pail")
		require.NoError(t, err)
		assert.InDelta(t, 90990, level.Grams, 1e-6, "it sees what it wrote")
		level, err = other.StockLevel(ctx(t), "pail")
		require.NoError(t, err)
		assert.InDelta(t, 91000, level.Grams, 1e-6, "others do not yet")
		return nil
	}))
	chips, err := other.Chips(ctx(t), "AMB")
	require.NoError(t, err)
	assert.Empty(t, chips, "the import that failed is wholly absent")
	level, err := other.StockLevel(ctx(t), "pail")
	require.NoError(t, err)
	assert.InDelta(t, 90990, level.Grams, 1e-6)
	verified(t, b)
	if inDatabase == nil {
		require.NoError(t, backup(t, b, filepath.Join(t.TempDir(), "copy.db")))
	}
}

// What was put in a step that failed has no name afterwards, also if the step
// had looked its names up.
func TestTogetherForgetsNamesOfAFailedStep(t *testing.T) {
	b := newShop(t)
	stop := errors.New("on second thoughts")
	lot := Lot{Item: OfPigment, Code: "OX", Name: "1"}
	require.NoError(t, b.Together(ctx(t), func(b *Bench) error {
		err := b.Together(ctx(t), func(b *Bench) error {
			_, err := b.PutPigment(ctx(t), Pigment{Code: "OX"}, Refuse)
			require.NoError(t, err)
			_, err = b.PutLot(ctx(t), lot, Refuse)
			require.NoError(t, err, "it knows the name it gave")
			return stop
		})
		require.ErrorIs(t, err, stop)
		_, err = b.PutLot(ctx(t), lot, Refuse)
		require.ErrorIs(t, err, ErrNotFound)
		require.ErrorContains(t, err, `pigment "OX"; the bench has RD, WH, YE`)
		_, err = b.AddRecipes(ctx(t), Recipe{Resin: "CLR", Loadings: map[string]float64{"OX": 1}})
		require.ErrorIs(t, err, ErrNotFound)
		_, err = b.PutLot(ctx(t), Lot{Item: OfPigment, Code: "RD", Name: "1"}, Refuse)
		return err
	}))
	verified(t, b)
}

// Where SQLite takes the transaction back by itself, as it does when the disk cannot be
// read, nothing that comes after is stored either, though fn does not mind.
func TestTogetherAfterItWasTakenBack(t *testing.T) {
	b := newShop(t)
	before := counts(t, b)
	err := b.Together(ctx(t), func(b *Bench) error {
		require.NoError(t, note(b, "Pier"))
		_, err := b.within.ExecContext(ctx(t), "ROLLBACK")
		require.NoError(t, err)
		for _, name := range []string{"Gull", "Tern"} {
			require.Error(t, note(b, name))
		}
		_, _ = b.within.ExecContext(ctx(t), "INSERT INTO client (name) VALUES ('Skua')")
		return nil
	})
	require.ErrorContains(t, err, "the disk failed amid a change")
	assert.Equal(t, before, counts(t, b))
	all, err := b.Clients(ctx(t))
	require.NoError(t, err)
	assert.Len(t, all, 1, "Tern Lighting")
	require.NoError(t, note(b, "after"))
	verified(t, b)
}
