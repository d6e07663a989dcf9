package archive

import (
	"bufio"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"masstone/color/remedy"

	"masstone/recipes/archive/engine"
)

// BundleVersion is the version of the exchange format this program writes. It
// reads this one and older ones.
//
// # Format
//
// A bundle is UTF-8 text, one JSON object on each line, each line ended by a
// line feed. The first line is the head:
//
//	{"bundle":"masstone","version":1,"holds":"client Tern Lighting","at":"2026-03-31T12:00:00.000Z","who":"ada","program":"masstone 0.1"}
//
// Then one line per record:
//
//	{"kind":"pigment","prev":"","at":"...","who":"...","program":"...","sum":"<64 hex digits>","doc":{...}}
//
// where sum is the record's checksum (1) of the package comment over exactly the
// bytes of doc as they stand in the line. A record comes after the record it
// supersedes (prev); apart from that the order is free. Records name each
// other by sum or by name, and every record they name is in the bundle. The
// last line is the end, with the number of records and the SHA-256 of all bytes
// before that line:
//
//	{"end":true,"records":57,"sha256":"<64 hex digits>"}
//
// Numbers such as R12 belong to a bench, not to a record; doc carries the
// number it had where it was made. The log of a bench is not in its bundles.
const BundleVersion = 1

type bundleHead struct {
	Bundle  string `json:"bundle"`
	Version int    `json:"version"`
	Holds   string `json:"holds"`
	At      string `json:"at"`
	Who     string `json:"who"`
	Program string `json:"program"`
}

type bundleRecord struct {
	Kind    string          `json:"kind"`
	Prev    string          `json:"prev"`
	At      string          `json:"at"`
	Who     string          `json:"who"`
	Program string          `json:"program"`
	Sum     string          `json:"sum"`
	Doc     json.RawMessage `json:"doc"`
}

type bundleEnd struct {
	End     bool   `json:"end"`
	Records int    `json:"records"`
	SHA256  string `json:"sha256"`
}

// Export writes the whole bench to w as a bundle and returns how many records
// it holds.
func (b *Bench) Export(ctx context.Context, w io.Writer) (int, error) {
	return b.export(ctx, w, "the whole bench", func(ctx context.Context, tx *snapshot) error {
		for _, k := range kinds() {
			if _, err := tx.ExecContext(ctx, "INSERT INTO picked SELECT CAST(? AS TEXT), id FROM "+k.table, k.name); err != nil {
				return err
			}
		}
		return nil
	})
}

// ExportClient writes a client with all parts, targets, recipes, batches, pours
// and approvals, and all they came from.
func (b *Bench) ExportClient(ctx context.Context, w io.Writer, client string) (int, error) {
	return b.export(ctx, w, "client "+client, func(ctx context.Context, tx *snapshot) error {
		if _, err := find[Client](ctx, tx, kindClient, "client", "name", client); err != nil {
			return err
		}
		return pick(ctx, tx, `
			SELECT 'client', id FROM client_card WHERE name = ?1
			UNION ALL SELECT 'part', id FROM part_card WHERE client = ?1
			UNION ALL SELECT 'target', id FROM target_card WHERE client = ?1
			UNION ALL SELECT 'recipe', id FROM recipe WHERE client = ?1
			UNION ALL SELECT 'approval', id FROM approval WHERE client = ?1
			UNION ALL SELECT 'mould', id FROM mould_card WHERE client = ?1`, client)
	})
}

// ExportRecipe writes a recipe (R12) with its batches, pours and approvals, and
// all they came from.
func (b *Bench) ExportRecipe(ctx context.Context, w io.Writer, id string) (int, error) {
	return b.export(ctx, w, "recipe "+id, func(ctx context.Context, tx *snapshot) error {
		r, err := byNumber[Recipe](ctx, tx, kindRecipe, "R", id)
		if err != nil {
			return err
		}
		return pick(ctx, tx, `
			SELECT 'recipe', id FROM recipe WHERE id = ?1
			UNION ALL SELECT 'approval', id FROM approval WHERE recipe = (SELECT sum FROM recipe WHERE id = ?1)`, r.Number)
	})
}

func pick(ctx context.Context, tx *snapshot, query string, args ...any) error {
	if _, err := tx.ExecContext(ctx, intoPicked(query), args...); err != nil {
		return err
	}
	for {
		var grown int64
		for _, more := range follow() {
			done, err := tx.ExecContext(ctx, intoPicked(more))
			if err != nil {
				return err
			}
			n, err := done.RowsAffected()
			if err != nil {
				return err
			}
			grown += n
		}
		if grown == 0 {
			return nil
		}
	}
}

// intoPicked adds what a query gives to the records picked so far.
func intoPicked(query string) string {
	return "INSERT INTO picked SELECT * FROM (" + query + ") AS more WHERE true ON CONFLICT DO NOTHING"
}

// follow lists what belongs to the records picked so far: what they name, and
// what was made from a recipe. Cards come with the cards they superseded.
func follow() []string {
	picked := func(kind, table string) string {
		return table + " JOIN picked p ON p.kind = '" + kind + "' AND p.id = " + table + ".id"
	}
	lotsIn := func(kind, table string) string {
		return "SELECT value ->> '$.item', value ->> '$.code', value ->> '$.name' FROM " + picked(kind, table) + ", json_each(" + table + ".doc, '$.lots')"
	}
	bySum := func(kind, table, sums string) string {
		return "SELECT '" + kind + "', id FROM " + table + " WHERE sum IN (" + sums + ")"
	}
	byCode := func(kind, table, column, names string) string {
		return "SELECT '" + kind + "', id FROM " + table + " WHERE " + column + " IN (" + names + ")"
	}
	return []string{
		// From a recipe forwards.
		"SELECT 'batch', id FROM batch WHERE recipe IN (SELECT sum FROM " + picked("recipe", "recipe") + ")",
		"SELECT 'pour', id FROM pour WHERE batch IN (SELECT sum FROM " + picked("batch", "batch") + ")",
		"SELECT 'pour reading', id FROM pour_reading WHERE pour IN (SELECT sum FROM " + picked("pour", "pour") + ")",
		"SELECT 'run', id FROM run WHERE approval IN (SELECT sum FROM " + picked("approval", "approval") + ")",
		"SELECT 'run cup', id FROM run_cup WHERE run IN (SELECT sum FROM " + picked("run", "run") + ")",
		// Backwards, to what a record names.
		bySum("pour", "pour", "SELECT pour FROM "+picked("run cup", "run_cup")),
		byCode("mould", "mould_card", "name", "SELECT mould FROM "+picked("run cup", "run_cup")),
		byCode("mould", "mould_card", "name", "SELECT name FROM "+picked("mould", "mould_card")),
		byCode("client", "client_card", "name", "SELECT client FROM "+picked("mould", "mould_card")),
		"SELECT 'part', id FROM part_card WHERE (client, name) IN (SELECT client, part FROM " + picked("mould", "mould_card") + ")",
		bySum("recipe", "recipe", "SELECT corrects FROM "+picked("recipe", "recipe")),
		bySum("recipe", "recipe", "SELECT recipe FROM "+picked("batch", "batch")),
		bySum("recipe", "recipe", "SELECT recipe FROM "+picked("approval", "approval")),
		bySum("recipe", "recipe", "SELECT recipe FROM "+picked("stock", "stock_card")),
		bySum("batch", "batch", "SELECT batch FROM "+picked("pour", "pour")),
		bySum("pour", "pour", "SELECT adds_to FROM "+picked("batch", "batch")),
		bySum("pour", "pour", "SELECT pour FROM approval_pour JOIN picked p ON p.kind = 'approval' AND p.id = approval"),
		bySum("pour", "pour", "SELECT pour FROM "+picked("stock move", "stock_move")),
		bySum("calibration", "calibration", "SELECT calibration FROM "+picked("recipe", "recipe")),
		bySum("target", "target_card", "SELECT target_card FROM "+picked("recipe", "recipe")),
		bySum("chip", "chip_card", "SELECT chip FROM calibration_chip JOIN picked p ON p.kind = 'calibration' AND p.id = calibration"),
		"SELECT 'target', id FROM target_card WHERE (client, name) IN (SELECT client, target FROM " + picked("recipe", "recipe") + ")",
		"SELECT 'target', id FROM target_card WHERE (client, name) IN (SELECT client, name FROM " + picked("target", "target_card") + ")",
		"SELECT 'approval', id FROM approval WHERE (client, target) IN (SELECT client, target FROM " + picked("approval", "approval") + ")",
		"SELECT 'part', id FROM part_card WHERE (client, name) IN (SELECT client, part FROM " + picked("target", "target_card") + ")",
		"SELECT 'chip', id FROM chip_card WHERE (resin, name) IN (SELECT resin, name FROM " + picked("chip", "chip_card") + ")",
		byCode("client", "client_card", "name", "SELECT client FROM "+picked("target", "target_card")),
		byCode("stock", "stock_card", "name", "SELECT stock FROM "+picked("batch", "batch")),
		"SELECT 'stock move', id FROM stock_move WHERE stock IN (SELECT name FROM " + picked("stock", "stock_card") + ")",
		byCode("backing", "backing_card", "name", "SELECT backing FROM "+picked("chip", "chip_card")),
		byCode("backing", "backing_card", "name", "SELECT backing FROM "+picked("target", "target_card")),
		byCode("resin", "resin_card", "code", "SELECT resin FROM "+picked("recipe", "recipe")),
		byCode("resin", "resin_card", "code", "SELECT resin FROM "+picked("chip", "chip_card")),
		byCode("resin", "resin_card", "code", "SELECT resin FROM "+picked("stock", "stock_card")),
		byCode("pigment", "pigment_card", "code", "SELECT pigment FROM recipe_loading JOIN picked p ON p.kind = 'recipe' AND p.id = recipe"),
		byCode("pigment", "pigment_card", "code", "SELECT pigment FROM chip_loading JOIN picked p ON p.kind = 'chip' AND p.id = chip"),
		"SELECT 'lot', id FROM lot_card WHERE (item, code, name) IN (SELECT item, code, name FROM pour_lot JOIN picked p ON p.kind = 'pour' AND p.id = pour)",
		"SELECT 'lot', id FROM lot_card WHERE (item, code, name) IN (" + lotsIn("chip", "chip_card") + " UNION " + lotsIn("batch", "batch") + " UNION " + lotsIn("approval", "approval") + ")",
		"SELECT 'lot strength', id FROM lot_strength WHERE (item, code, name) IN (SELECT item, code, name FROM " + picked("lot", "lot_card") + ")",
		byCode("pigment", "pigment_card", "code", "SELECT code FROM "+picked("lot", "lot_card")+" AND item = 'pigment'"),
		byCode("resin", "resin_card", "code", "SELECT code FROM "+picked("lot", "lot_card")+" AND item = 'resin'"),
	}
}

func (b *Bench) export(ctx context.Context, w io.Writer, holds string, choose func(context.Context, *snapshot) error) (int, error) {
	return read(ctx, b, func(tx *snapshot) (int, error) {
		// A temporary table belongs to the connection, which is pooled.
		for _, ddl := range []string{
			`CREATE TEMP TABLE IF NOT EXISTS picked (kind TEXT, id BIGINT, PRIMARY KEY (kind, id))`,
			`DELETE FROM picked`,
		} {
			if _, err := tx.ExecContext(ctx, ddl); err != nil {
				return 0, err
			}
		}
		if err := choose(ctx, tx); err != nil {
			return 0, err
		}
		whole := sha256.New()
		buffered := bufio.NewWriter(w)
		lines := json.NewEncoder(io.MultiWriter(buffered, whole))
		lines.SetEscapeHTML(false)
		err := lines.Encode(bundleHead{"masstone", BundleVersion, holds,
			b.options.Now().UTC().Format(stampLayout), b.options.Who, b.options.Program})
		if err != nil {
			return 0, err
		}
		n, total := 0, 0
		if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM picked`).Scan(&total); err != nil {
			return 0, err
		}
		for _, k := range kinds() {
			err := engine.EachRow(ctx, tx, func(rows *sql.Rows) error {
				var s stored
				if err := rows.Scan(s.targets()...); err != nil {
					return err
				}
				v := k.fresh()
				if err := s.open(k, v); err != nil {
					return err
				}
				if err := v.check(); err != nil { // no bench would take it in
					return fmt.Errorf("%s: %w; or leave it out with %s", s.title(k), err, remedy.InputAs("rest", "true"))
				}
				if n++; b.options.Progress != nil && n%mostWaiting == 0 {
					b.options.Progress(n, total)
				}
				return lines.Encode(bundleRecord{k.name, s.prev, s.at, s.who, s.program, s.sum, json.RawMessage(s.doc)})
			}, "SELECT "+storedColumns+" FROM "+k.table+" WHERE id IN (SELECT id FROM picked WHERE kind = ?) ORDER BY id", k.name)
			if err != nil {
				return 0, err
			}
		}
		end, err := json.Marshal(bundleEnd{true, n, hex.EncodeToString(whole.Sum(nil))})
		if err != nil {
			return 0, err
		}
		buffered.Write(append(end, '\n'))
		return n, buffered.Flush()
	})
}
