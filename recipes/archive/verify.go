package archive

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"

	"masstone/recipes/archive/engine"
)

// A Problem is something Verify found.
type Problem struct {
	Where string `json:"where"`
	What  string `json:"what"`
	Do    string `json:"do"`
}

func (p Problem) String() string { return p.Where + ": " + p.What + "; " + p.Do }

// Checked says how much Verify went through.
type Checked struct {
	Records int  `json:"records"`
	Links   int  `json:"links"` // of the log's chain
	Head    Head `json:"head"`  // the newest of them
	// LinkedFrom is the first line with a link: 1, or on a bench of an older
	// schema the line that was added when it was brought to this one.
	LinkedFrom int64     `json:"linked_from"`
	Problems   []Problem `json:"problems"`
	// Unchecked is what could not be looked at by whoever is at the bench, and who can.
	Unchecked []string `json:"unchecked"`
	Back      string   `json:"-"` // how such a bench goes back to its backup
}

// Verify re-reads the whole bench: SQLite's own check of every page and index,
// every reference, every record's checksum (approved recipes and all they came
// from included), the chain of every card and of the log, the schema with the triggers that
// keep records from being changed, and the tables for finding. It changes
// nothing.
func (b *Bench) Verify(ctx context.Context) (Checked, error) {
	return read(ctx, b, func(tx *snapshot) (Checked, error) {
		v := verifier{tx: tx}
		v.place, v.Back = tx.on.Place()
		for _, step := range []func(context.Context) error{v.pages, v.references, v.schema, v.records, v.stocks, v.chain, v.derived, v.columns} {
			err := v.apart(ctx, step)
			if ctx.Err() != nil {
				return v.Checked, ctx.Err()
			}
			if gone := b.explain(err); errors.Is(gone, ErrLost) || errors.Is(gone, ErrAway) {
				return v.Checked, gone
			}
			if err != nil { // the rest may still be readable
				v.damage(v.place, "it cannot be read to the end: %v", err)
			}
		}
		return v.Checked, nil
	})
}

type verifier struct {
	tx    *snapshot
	place string // what the bench stands in
	Checked
}

// apart takes a step in such a way that a query that fails in it does not end the
// transaction for the steps after it, as a database would have it.
func (v *verifier) apart(ctx context.Context, step func(context.Context) error) error {
	if _, err := v.tx.ExecContext(ctx, `SAVEPOINT step`); err != nil {
		return err
	}
	err := step(ctx)
	if _, back := v.tx.ExecContext(ctx, `ROLLBACK TO step`); err == nil {
		err = back
	}
	return err
}

// damage reports what only a backup can mend.
func (v *verifier) damage(where, format string, a ...any) {
	v.report(where, compare(v.Back), format, a...)
}

// compare is what to do about damage, and then.
func compare(back string) string { return back + ", and compare" }

func (v *verifier) report(where, do, format string, a ...any) {
	if len(v.Problems) < 1000 {
		v.Problems = append(v.Problems, Problem{where, fmt.Sprintf(format, a...), do})
	}
}

func (v *verifier) pages(ctx context.Context) error {
	return v.tx.on.Pages(ctx, v.tx.Tx, func(line string) {
		v.damage(v.place, "%s", strings.ReplaceAll(line, "\n", " "))
	})
}

func (v *verifier) references(ctx context.Context) error {
	return v.tx.on.Dangling(ctx, v.tx.Tx, func(table string, row int64, parent string) {
		v.damage(fmt.Sprintf("%s row %d", table, row), "it refers to a row of %s that is not there", parent)
	})
}

// schema compares the tables, indexes, views and triggers with those that the
// migrations make in an empty file.
func (v *verifier) schema(ctx context.Context) error {
	want, have, err := v.tx.on.Schema(ctx, v.tx.Tx)
	if err != nil {
		return err
	}
	if want == nil {
		v.Unchecked = append(v.Unchecked, "the schema with the triggers that keep records: this role may not make one to compare with; have its owner verify, or grant it CREATE ON DATABASE")
		return nil
	}
	for _, name := range slices.Sorted(maps.Keys(want)) {
		if have[name] != want[name] {
			v.damage(name, "the schema's definition of it is missing or altered")
		}
	}
	for _, name := range slices.Sorted(maps.Keys(have)) {
		if _, ours := want[name]; !ours && strings.HasPrefix(name, "trigger ") {
			v.damage(name, "it is not part of the schema and may change records")
		}
	}
	return nil
}

// records checks the sum of every record, that it can be read, and that it
// follows a record of its own name.
func (v *verifier) records(ctx context.Context) error {
	for _, k := range kinds() {
		name := "''"
		if len(k.key) > 0 {
			name = "concat_ws(' / ', " + strings.Join(k.key, ", ") + ")"
		}
		ids := int64(0)
		under := map[string]string{} // sum → name, of records seen
		err := engine.EachRow(ctx, v.tx, func(rows *sql.Rows) error {
			var s stored
			var name string
			if err := rows.Scan(append(s.targets(), &name)...); err != nil {
				return err
			}
			v.Records++
			where := fmt.Sprintf("%s %d", k.name, s.id)
			if name != "" {
				where += " (" + name + ")"
			}
			ids++
			if s.id != ids {
				v.damage(where, "records %d to %d are missing before it", ids, s.id-1)
				ids = s.id
			}
			if got := s.digest(k.name); got != s.sum {
				v.damage(where, "its content was altered: checksum %.12s, not %.12s", got, s.sum)
			} else if r := k.fresh(); s.open(k, r) != nil {
				v.damage(where, "it cannot be read")
			} else if err := r.check(); err != nil {
				v.report(where, "it is left out of lists; say it anew, right", "it was let in by an older program: %v", err)
			}
			if k.chained {
				if before, seen := under[s.prev]; s.prev != "" && (!seen || before != name) {
					v.damage(where, "the record it supersedes, %.12s, is missing", s.prev)
				}
				under[s.sum] = name
			}
			return nil
		}, "SELECT "+storedColumns+", "+name+" FROM "+k.table+" ORDER BY id")
		if err != nil {
			return err
		}
	}
	return nil
}

// stocks checks that what was drawn from each stock was there.
func (v *verifier) stocks(ctx context.Context) error {
	all, err := records[Stock](ctx, v.tx, kindStock, newest(kindStock)+" ORDER BY name")
	if err != nil {
		return nil // a damaged record, which is told already
	}
	for _, s := range all {
		moves, err := scan[StockMove](ctx, v.tx, kindStockMove, func(error) error { return nil }, "WHERE stock = ? ORDER BY id", s.Name)
		level := StockLevel{Contents: map[string]float64{}}
		for _, m := range moves {
			if err = level.apply(m); err != nil {
				v.report("stock "+s.Name, "weigh the pail and record a count", "a movement was let in by an older program and is left out: %v", err)
			}
		}
	}
	return nil
}

// derived checks the tables that triggers fill from the documents.
func (v *verifier) derived(ctx context.Context) error {
	for _, d := range []struct{ table, columns, source string }{
		{"chip_loading", "chip, pigment, phr", "SELECT c.id, key, CAST(value AS DOUBLE PRECISION) FROM chip_card c, json_each(c.doc, '$.loadings')"},
		{"calibration_chip", "calibration, chip", "SELECT c.id, value FROM calibration c, json_each(c.doc, '$.chips')"},
		{"recipe_loading", "recipe, pigment, phr", "SELECT r.id, key, CAST(value AS DOUBLE PRECISION) FROM recipe r, json_each(r.doc, '$.loadings')"},
		{"pour_lot", "pour, item, code, name", "SELECT p.id, value ->> '$.item', value ->> '$.code', value ->> '$.name' FROM pour p, json_each(p.doc, '$.lots')"},
		{"approval_pour", "approval, pour", "SELECT a.id, value FROM approval a, json_each(a.doc, '$.pours')"},
		{"plan_chip", "plan, name", "SELECT p.id, value ->> '$.name' FROM plan p, json_each(p.doc, '$.chips')"},
		{"color", "recipe, resin, light, approved, l, a, b", "SELECT recipe, resin, light, approved, CAST(l AS DOUBLE PRECISION), CAST(a AS DOUBLE PRECISION), CAST(b AS DOUBLE PRECISION) FROM record_color"},
		{"word_index", "kind, record, words", "SELECT kind, record, words FROM record_words"},
	} {
		var missing, extra int
		held := "SELECT " + d.columns + " FROM " + d.table
		err := v.tx.QueryRowContext(ctx, "SELECT (SELECT count(*) FROM ("+d.source+" EXCEPT "+held+") AS missing), (SELECT count(*) FROM ("+held+" EXCEPT "+d.source+") AS extra)").Scan(&missing, &extra)
		if err != nil {
			return err
		}
		if missing+extra > 0 {
			v.report(d.table, "export the bench and import it into a new one", "it disagrees with the records: %d rows missing, %d too many", missing, extra)
		}
	}
	return nil
}

// columns compares the packed colours with the rows they were packed from.
func (v *verifier) columns(ctx context.Context) error {
	type block struct {
		light, upto int64
		data        []byte
	}
	var blocks []block
	err := engine.EachRow(ctx, v.tx, func(rows *sql.Rows) error {
		var k block
		err := rows.Scan(&k.light, &k.upto, &k.data)
		blocks = append(blocks, k)
		return err
	}, `SELECT light, upto, data FROM color_block ORDER BY light, upto`)
	if err != nil {
		return err
	}
	after := map[int64]int64{}
	for _, k := range blocks {
		data, _, err := packed(ctx, v.tx, k.light, after[k.light], k.upto)
		if err != nil {
			return err
		}
		if string(data) != string(k.data) {
			v.report(fmt.Sprintf("color_block of light %d up to %d", k.light, k.upto),
				"export the bench and import it into a new one", "it disagrees with the colours it was packed from")
		}
		after[k.light] = k.upto
	}
	return nil
}

// Checksum is the checksum of the whole bench's records, in no order: two
// benches with the same records have the same one, whatever their numbers.
func (b *Bench) Checksum(ctx context.Context) (string, error) {
	return read(ctx, b, func(tx *snapshot) (string, error) {
		var sums []string
		for _, k := range kinds() {
			err := engine.EachRow(ctx, tx, func(rows *sql.Rows) error {
				var sum string
				err := rows.Scan(&sum)
				sums = append(sums, sum)
				return err
			}, "SELECT sum FROM "+k.table)
			if err != nil {
				return "", err
			}
		}
		sort.Strings(sums)
		h := digestOf(sums...)
		return hex.EncodeToString(h[:]), nil
	})
}
