package archive

import (
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"math"

	"masstone/recipes/archive/engine"
)

// An entry is a colour in the column: of a recipe as predicted, or as approved.
type entry struct {
	lab      [3]float64
	recipe   int64
	resin    uint32 // number of the resin's first card
	approved bool
}

const (
	entryBytes = 40   // three float64, recipe, resin, approved; little-endian
	blockSize  = 4096 // colours in a block
)

func (e *entry) pack(b []byte) []byte {
	for _, v := range e.lab {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	b = binary.LittleEndian.AppendUint64(b, uint64(e.recipe))
	b = binary.LittleEndian.AppendUint32(b, e.resin)
	approved := uint32(0)
	if e.approved {
		approved = 1
	}
	return binary.LittleEndian.AppendUint32(b, approved)
}

func (e *entry) unpack(b []byte) {
	for i := range e.lab {
		e.lab[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[8*i:]))
	}
	e.recipe = int64(binary.LittleEndian.Uint64(b[24:]))
	e.resin = binary.LittleEndian.Uint32(b[32:])
	e.approved = binary.LittleEndian.Uint32(b[36:]) == 1
}

// eachColor goes through the colours of a light, oldest first: the blocks, then
// the tail.
func eachColor(ctx context.Context, tx engine.Queryer, light int64, look func(*entry)) error {
	var e entry
	var upto int64
	err := engine.EachRow(ctx, tx, func(rows *sql.Rows) error {
		var data sql.RawBytes
		if err := rows.Scan(&upto, &data); err != nil {
			return err
		}
		if len(data)%entryBytes != 0 {
			return fmt.Errorf("%w: colour block %d of light %d is cut short; %s, or export the bench and import it into a new one", ErrDamaged, upto, light, engine.KeepFile)
		}
		for ; len(data) > 0; data = data[entryBytes:] {
			e.unpack(data)
			look(&e)
		}
		return nil
	}, `SELECT upto, data FROM color_block WHERE light = ? ORDER BY upto`, light)
	if err != nil {
		return err
	}
	return engine.EachRow(ctx, tx, func(rows *sql.Rows) error {
		if err := rows.Scan(&e.lab[0], &e.lab[1], &e.lab[2], &e.recipe, &e.resin, &e.approved); err != nil {
			return err
		}
		look(&e)
		return nil
	}, `SELECT l, a, b, recipe, resin, approved FROM color WHERE light = ? AND id > ? ORDER BY id`, light, upto)
}

// packColors moves full blocks of the tail into the column. It runs at the end
// of every transaction that added a recipe or an approval.
func (c *change) packColors(ctx context.Context) error {
	type tail struct{ light, after int64 }
	var long []tail
	err := engine.EachRow(ctx, c, func(rows *sql.Rows) error {
		var t tail
		if err := rows.Scan(&t.light, &t.after); err != nil {
			return err
		}
		long = append(long, t)
		return nil
	}, `WITH tail (light, after) AS (
			SELECT id, coalesce((SELECT max(upto) FROM color_block WHERE color_block.light = light.id), 0) FROM light
		)
		SELECT light, after FROM tail
		WHERE EXISTS (SELECT 1 FROM color WHERE color.light = tail.light AND id > after LIMIT 1 OFFSET ?)`, blockSize-1)
	if err != nil {
		return err
	}
	for _, t := range long {
		for {
			data, upto, err := packed(ctx, c, t.light, t.after, math.MaxInt64)
			if err != nil {
				return err
			}
			if len(data) < blockSize*entryBytes {
				break
			}
			if _, err := c.ExecContext(ctx, `INSERT INTO color_block (light, upto, data) VALUES (?, ?, ?)`, t.light, upto, data); err != nil {
				return err
			}
			t.after = upto
		}
	}
	return nil
}

// packed packs the next block of a light's colours, of ids above after and no
// greater than end, and returns the last id in it.
func packed(ctx context.Context, q engine.Queryer, light, after, end int64) (data []byte, upto int64, err error) {
	data = make([]byte, 0, blockSize*entryBytes)
	var e entry
	err = engine.EachRow(ctx, q, func(rows *sql.Rows) error {
		if err := rows.Scan(&upto, &e.lab[0], &e.lab[1], &e.lab[2], &e.recipe, &e.resin, &e.approved); err != nil {
			return err
		}
		data = e.pack(data)
		return nil
	}, `SELECT id, l, a, b, recipe, resin, approved FROM color WHERE light = ? AND id > ? AND id <= ? ORDER BY id LIMIT ?`,
		light, after, end, blockSize)
	return data, upto, err
}
