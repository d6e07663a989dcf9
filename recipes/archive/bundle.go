package archive

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"masstone/color/remedy"
	"sort"
	"strings"
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
		n := 0
		for _, k := range kinds() {
			err := eachRow(ctx, tx, func(rows *sql.Rows) error {
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
				n++
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

// An OnConflict says what to do when a name stands for one thing on the bench
// and for another in a bundle.
type OnConflict int

const (
	RefuseConflicts OnConflict = iota // import nothing and list the names
	KeepMine                          // the bench's card counts, the bundle's is kept behind it
	TakeTheirs                        // the bundle's card counts, the bench's is kept behind it
)

// An Imported says what Import did.
type Imported struct {
	Holds     string         `json:"holds"`
	Added     map[string]int `json:"added"`     // records by kind
	Unchanged int            `json:"unchanged"` // records the bench had already
	Changed   []string       `json:"changed"`   // names that stand for something else now
	Numbered  []string       `json:"numbered"`  // facts with another number here: recipe R12 is R57 here
}

// What is wrong with a bundle rather than with a bench, for errors.Is the same.
var (
	errTorn     = reworded{ErrDamaged, "damaged"}
	errNoBundle = reworded{ErrInvalid, "it is no masstone bundle"}
)

// reworded is an error that reads otherwise.
type reworded struct {
	error
	text string
}

func (r reworded) Error() string { return r.text }
func (r reworded) Unwrap() error { return r.error }

// Import reads a bundle: all of it or, if anything in it is damaged, missing
// or in conflict, nothing. A bundle imported twice changes nothing the second
// time.
//
// A record the bench has is recognized by its sum. A card whose name the bench
// knows goes on top when it was made from the bench's card, and behind when
// the bench's card was made from it. When neither is so and they say the same,
// nothing changes. When they differ, the names stand for two different things
// and on decides; approvals and stock movements are never taken in that case.
func (b *Bench) Import(ctx context.Context, r io.Reader, on OnConflict) (Imported, error) {
	return write(ctx, b, func(c *change) (Imported, error) {
		if err := c.on.Defer(ctx, c.Tx); err != nil {
			return Imported{}, err
		}
		in := intake{change: c, on: on, names: map[string]*nameState{}, got: Imported{Added: map[string]int{}}}
		whole, err := in.read(ctx, r)
		if err == nil {
			err = in.settle(ctx)
		}
		if err == nil {
			err = in.complete(ctx)
		}
		if err != nil {
			return Imported{}, fmt.Errorf("bundle: %w; nothing was imported", err)
		}
		if len(in.got.Added)+len(in.got.Changed) == 0 {
			return in.got, nil
		}
		n := 0
		for _, k := range in.got.Added {
			n += k
		}
		return in.got, c.log(ctx, "bundle imported", in.got.Holds, fmt.Sprintf("%d records added, %d names changed, sha256 %s", n, len(in.got.Changed), whole))
	})
}

// intake is an import under way.
type intake struct {
	*change
	on    OnConflict
	names map[string]*nameState
	order []string // of names
	got   Imported
	added []addedRecord
}

// An addedRecord is a record of the bundle that is new to the bench.
type addedRecord struct {
	kind
	stored
	line int
}

// A nameState is what an import knows of a card's name.
type nameState struct {
	kind   kind
	key    []any
	had    bool   // the bench knew the name before
	mine   stored // the card that counted before
	theirs stored // the bundle's last card
	known  bool   // the bench had the bundle's last card before
	later  bool   // the bundle holds mine, so theirs is the same or later
	added  bool   // a card was added
}

// read stores the bundle's records and returns the bundle's checksum.
func (in *intake) read(ctx context.Context, r io.Reader) (string, error) {
	byName := map[string]kind{}
	for _, k := range kinds() {
		byName[k.name] = k
	}
	lines := bundleLines{in: bufio.NewReaderSize(r, 1<<16), whole: sha256.New()}
	line, err := lines.next()
	if errors.Is(err, io.EOF) {
		return "", fmt.Errorf("it is empty: %w; name a file that %s wrote", errNoBundle, remedy.Verb("export"))
	}
	if err != nil {
		return "", err
	}
	var head bundleHead
	if err := json.Unmarshal(line, &head); err != nil || head.Bundle != "masstone" {
		return "", fmt.Errorf("line 1: %w; name a file that %s wrote", errNoBundle, remedy.Verb("export"))
	}
	if head.Version > BundleVersion || head.Version < 1 {
		return "", fmt.Errorf("line 1: %w: bundle version %d and this program reads up to %d; use the newer program", ErrNewer, head.Version, BundleVersion)
	}
	in.got.Holds = head.Holds
	n := 0
	for {
		before := hex.EncodeToString(lines.whole.Sum(nil))
		line, err := lines.next()
		if errors.Is(err, io.EOF) {
			return "", fmt.Errorf("%w: it ends after line %d without its last line; copy it again", errTorn, lines.n)
		}
		if err != nil {
			return "", err
		}
		var r struct {
			bundleRecord
			bundleEnd
		}
		if err := json.Unmarshal(line, &r); err != nil {
			return "", fmt.Errorf("line %d: %w: %v; copy it again", lines.n, errTorn, err)
		}
		if r.End {
			if r.Records != n || r.SHA256 != before {
				return "", fmt.Errorf("%w: it has %d records with checksum %.12s, and should have %d with %.12s; copy it again", errTorn, n, before, r.Records, r.SHA256)
			}
			if _, err := lines.next(); !errors.Is(err, io.EOF) {
				return "", fmt.Errorf("line %d: %w: something follows its last line; copy it again", lines.n, errTorn)
			}
			return before, nil
		}
		n++
		k, ok := byName[r.Kind]
		if !ok {
			return "", fmt.Errorf("line %d: %w: record of kind %q; use the newer program", lines.n, ErrNewer, r.Kind)
		}
		s := stored{prev: r.Prev, sum: r.Sum, doc: string(r.Doc), at: r.At, who: r.Who, program: r.Program}
		if err := in.take(ctx, k, &s, lines.n); err != nil {
			return "", fmt.Errorf("line %d: %w", lines.n, err)
		}
	}
}

// take stores one record unless the bench has it.
func (in *intake) take(ctx context.Context, k kind, s *stored, line int) error {
	if s.digest(k.name) != s.sum {
		return fmt.Errorf("%w: %s does not match its checksum; copy it again", errTorn, k.name)
	}
	made, err := canonical(k, s)
	if err != nil {
		return err
	}
	q, err := in.prepared(ctx, "SELECT EXISTS (SELECT 1 FROM "+k.table+" WHERE sum = ?)")
	if err != nil {
		return err
	}
	var known bool
	if err := q.QueryRowContext(ctx, s.sum).Scan(&known); err != nil {
		return err
	}
	var state *nameState
	if len(k.key) > 0 {
		if state, err = in.state(ctx, k, s); err != nil {
			return err
		}
		state.theirs, state.known = *s, known
		state.later = state.later || (state.had && s.sum == state.mine.sum)
		state.added = state.added || !known
	}
	if known {
		in.got.Unchanged++
		return nil
	}
	if s.prev != "" {
		if err := in.requireRefs(ctx, k, s.prev); err != nil {
			return fmt.Errorf("%w: the %s that %.12s supersedes is missing; export again", errTorn, k.name, s.sum)
		}
	}
	if state != nil && state.had && !state.later && (k.name == kindApproval.name || k.name == kindStockMove.name) {
		return fmt.Errorf("%s: %w and both benches went on from there; rename one of the two before exporting", title(k, state.key), ErrConflict)
	}
	if err := in.store(ctx, k, s); err != nil {
		return fmt.Errorf("%s %.12s cannot be stored: %w", k.name, s.sum, err)
	}
	in.added = append(in.added, addedRecord{k, *s, line})
	in.got.Added[k.name]++
	if letter, ok := letters()[k.name]; ok && made != 0 && made != s.id {
		in.got.Numbered = append(in.got.Numbered, fmt.Sprintf("%s %s%d is %s%d here", k.name, letter, made, letter, s.id))
	}
	return nil
}

// letters go before the numbers of facts that people call by number.
func letters() map[string]string {
	return map[string]string{kindRecipe.name: "R", kindBatch.name: "B", kindPour.name: "P", kindPlan.name: "PL", kindRun.name: "RUN"}
}

// canonical returns an error unless the document is exactly what this program
// would write for what it says, and else the number in it: the one a fact had
// where it was made.
func canonical(k kind, s *stored) (made int64, err error) {
	v := k.fresh()
	if err := json.Unmarshal([]byte(s.doc), v); err != nil {
		return 0, fmt.Errorf("%w: %s cannot be read: %v; copy it again", errTorn, k.name, err)
	}
	doc, err := document(v)
	if err != nil {
		return 0, err
	}
	if doc != s.doc {
		return 0, fmt.Errorf("%w: %s holds more than this program knows (%s); use the newer program", ErrNewer, k.name, differing(doc, s.doc))
	}
	if f, ok := v.(interface{ made() int64 }); ok {
		made = f.made()
	}
	return made, s.open(k, k.fresh()) // the stamp, too, must be readable
}

func (f *Fact) made() int64 { return f.Number }

// state returns what is known of the name of a card.
func (in *intake) state(ctx context.Context, k kind, s *stored) (*nameState, error) {
	key, err := k.named(s.doc)
	if err != nil {
		return nil, fmt.Errorf("%w: %v", errTorn, err)
	}
	id := k.name + "\n" + fmt.Sprint(key...)
	if state, ok := in.names[id]; ok {
		return state, nil
	}
	mine, had, err := in.latest(ctx, k, key)
	if err != nil {
		return nil, err
	}
	state := &nameState{kind: k, key: key, had: had, mine: mine}
	in.names[id] = state
	in.order = append(in.order, id)
	return state, nil
}

// settle decides which card of each name counts.
func (in *intake) settle(ctx context.Context) error {
	var conflicts []string
	for _, id := range in.order {
		n := in.names[id]
		if !n.had || !n.added {
			continue
		}
		counts := n.mine.doc
		switch {
		case n.later:
			counts = n.theirs.doc
		case n.known, n.mine.doc == n.theirs.doc:
		case in.on == TakeTheirs:
			counts = n.theirs.doc
		case in.on == KeepMine:
		default:
			conflicts = append(conflicts, fmt.Sprintf("%s (%s)", title(n.kind, n.key), differing(n.mine.doc, n.theirs.doc)))
			continue
		}
		top, _, err := in.latest(ctx, n.kind, n.key)
		if err != nil {
			return err
		}
		if top.doc != counts {
			s := stored{prev: top.sum, doc: counts, at: in.stamp.At.Format(stampLayout), who: in.stamp.Who, program: in.stamp.Program}
			s.sum = s.digest(n.kind.name)
			if err := in.store(ctx, n.kind, &s); err != nil {
				return err
			}
		}
		if counts != n.mine.doc {
			in.got.Changed = append(in.got.Changed, title(n.kind, n.key))
		}
	}
	sort.Strings(in.got.Changed)
	if len(conflicts) > 20 {
		conflicts = append(conflicts[:20], fmt.Sprintf("and %d more", len(conflicts)-20))
	}
	if len(conflicts) > 0 {
		return fmt.Errorf("%w: %s; say whether to keep yours or take theirs", ErrConflict, strings.Join(conflicts, ", "))
	}
	return nil
}

// complete looks for records that name what neither the bundle nor the bench
// holds. Without it the engine would refuse the commit without saying which.
func (in *intake) complete(ctx context.Context) error {
	if len(in.got.Added) == 0 {
		return nil
	}
	var missing []string
	err := in.change.on.Dangling(ctx, in.Tx, func(table string, _ int64, parent string) {
		missing = append(missing, fmt.Sprintf("a %s that a %s names", parent, table))
	})
	if err != nil {
		return err
	}
	if len(missing) > 0 {
		return fmt.Errorf("%w: it lacks %s; export again", errTorn, missing[0])
	}
	return in.ruled(ctx)
}

// ruled asks of every new record what a verb would have asked, now that all that
// it names is there.
func (in *intake) ruled(ctx context.Context) error {
	pails := map[string]int{} // line of the last movement
	for _, r := range in.added {
		v := r.fresh()
		if err := r.open(r.kind, v); err != nil {
			return err
		}
		if err := v.check(); err != nil {
			return fmt.Errorf("line %d: %w", r.line, err)
		}
		if err := in.rules(ctx, r.kind, v); err != nil {
			return fmt.Errorf("line %d: %w", r.line, r.called(r.doc, err))
		}
		if m, ok := v.(*StockMove); ok {
			pails[m.Stock] = r.line
		}
	}
	for name, line := range pails {
		var bad error
		in.heard = func(err error) { bad = cmp.Or(bad, err) }
		if _, err := stockLevel(ctx, in.change, name); err != nil {
			return err
		}
		if bad != nil {
			return fmt.Errorf("line %d: %w", line, bad)
		}
	}
	return nil
}

// bundleLines reads lines and keeps the checksum of all it gave.
type bundleLines struct {
	in    *bufio.Reader
	whole hash.Hash
	n     int
}

func (l *bundleLines) next() ([]byte, error) {
	line, err := l.in.ReadBytes('\n')
	if len(line) == 0 || (err != nil && !errors.Is(err, io.EOF)) {
		return nil, err
	}
	l.n++
	if line[len(line)-1] != '\n' {
		return nil, fmt.Errorf("line %d: %w: it is cut short; copy it again", l.n, errTorn)
	}
	l.whole.Write(line)
	return bytes.TrimSuffix(line, []byte{'\n'}), nil
}
