package archive

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"sort"
	"strings"
	"time"

	"masstone/recipes/archive/engine"
)

// A Stamp says where a record came from. The bench fills it in; what a caller
// puts there is ignored.
type Stamp struct {
	At      time.Time // UTC, to the millisecond
	Who     string
	Program string
	Ref     string // the record's sum (1): the same on every bench that holds it
}

func (s *Stamp) place(_ int64, at Stamp) { *s = at }

// A Fact is the stamp of a record that has a number rather than a name.
type Fact struct {
	// Number is the record's number on this bench. Another bench that imports
	// the record may give it another; its Ref stays.
	Number int64 `json:"no"`
	Stamp  `json:"-"`
}

func (f *Fact) place(number int64, at Stamp) { f.Number, f.Stamp = number, at }

// placed is what every record type is through the Stamp or Fact it embeds.
type placed interface {
	place(number int64, at Stamp)
	check() error
	links() []link
}

// A kind is a sort of record: its name in bundles and sums, its table, and the
// columns that name a card (none for a fact).
type kind struct {
	name, table string
	key         []string
	chained     bool          // prev holds the sum of the record before it under the same key
	fresh       func() placed // an empty record to read into
}

var (
	kindResin       = kind{"resin", "resin_card", []string{"code"}, true, func() placed { return new(Resin) }}
	kindPigment     = kind{"pigment", "pigment_card", []string{"code"}, true, func() placed { return new(Pigment) }}
	kindLot         = kind{"lot", "lot_card", []string{"item", "code", "name"}, true, func() placed { return new(Lot) }}
	kindLotOpened   = kind{"lot opened", "lot_opened", []string{"item", "code"}, true, func() placed { return new(OpenedLot) }}
	kindLotStrength = kind{"lot strength", "lot_strength", []string{"item", "code", "name"}, true, func() placed { return new(LotStrength) }}
	kindBacking     = kind{"backing", "backing_card", []string{"name"}, true, func() placed { return new(Backing) }}
	kindChip        = kind{"chip", "chip_card", []string{"resin", "name"}, true, func() placed { return new(Chip) }}
	kindCalibration = kind{"calibration", "calibration", nil, false, func() placed { return new(Calibration) }}
	kindClient      = kind{"client", "client_card", []string{"name"}, true, func() placed { return new(Client) }}
	kindPart        = kind{"part", "part_card", []string{"client", "name"}, true, func() placed { return new(Part) }}
	kindTarget      = kind{"target", "target_card", []string{"client", "name"}, true, func() placed { return new(Target) }}
	kindRecipe      = kind{"recipe", "recipe", nil, false, func() placed { return new(Recipe) }}
	kindStock       = kind{"stock", "stock_card", []string{"name"}, true, func() placed { return new(Stock) }}
	kindBatch       = kind{"batch", "batch", nil, false, func() placed { return new(Batch) }}
	kindPour        = kind{"pour", "pour", nil, false, func() placed { return new(Pour) }}
	kindPourReading = kind{"pour reading", "pour_reading", nil, false, func() placed { return new(PourReading) }}
	kindApproval    = kind{"approval", "approval", []string{"client", "target"}, true, func() placed { return new(Approval) }}
	kindPlan        = kind{"plan", "plan", nil, false, func() placed { return new(Plan) }}
	kindMould       = kind{"mould", "mould_card", []string{"name"}, true, func() placed { return new(Mould) }}
	kindRun         = kind{"run", "run", nil, false, func() placed { return new(Run) }}
	kindRunCup      = kind{"run cup", "run_cup", nil, false, func() placed { return new(RunCup) }}
	kindEquipment   = kind{"equipment", "equipment_card", []string{"item", "name"}, true, func() placed { return new(Equipment) }}
	kindClientLink  = kind{"client link", "client_link_card", []string{"hash"}, true, func() placed { return new(ClientLink) }}
	kindStockMove   = kind{"stock move", "stock_move", []string{"stock"}, true, func() placed { return new(StockMove) }}
)

// kinds lists every kind, each after the kinds its records name.
func kinds() []kind {
	return []kind{kindResin, kindPigment, kindLot, kindLotOpened, kindLotStrength, kindBacking,
		kindChip, kindCalibration, kindClient, kindPart, kindTarget, kindRecipe, kindStock,
		kindBatch, kindPour, kindPourReading, kindApproval, kindStockMove, kindPlan, kindMould, kindRun, kindRunCup, kindEquipment, kindClientLink}
}

// An OnChange says what to do with a card whose name is taken by a card that
// says something else.
type OnChange int

const (
	Refuse  OnChange = iota // return ErrConflict
	Replace                 // supersede the old card, which is kept
)

// An Outcome is what became of a card.
type Outcome string

const (
	Added     Outcome = "added"
	Unchanged Outcome = "unchanged"
	Changed   Outcome = "changed"
)

// A Report names the cards of an import by what became of them.
type Report struct {
	Added     []string `json:"added"`
	Changed   []string `json:"changed"`
	Unchanged []string `json:"unchanged"`
}

func (r *Report) add(name string, o Outcome) {
	switch o {
	case Added:
		r.Added = append(r.Added, name)
	case Changed:
		r.Changed = append(r.Changed, name)
	default:
		r.Unchanged = append(r.Unchanged, name)
	}
}

// String gives the counts.
func (r Report) String() string {
	return fmt.Sprintf("%d added, %d changed, %d unchanged", len(r.Added), len(r.Changed), len(r.Unchanged))
}

// A stored record as its table holds it.
type stored struct {
	id                               int64
	prev, sum, doc, at, who, program string
}

const storedColumns = "id, prev, sum, doc, at, who, program"

func (s *stored) targets() []any {
	return []any{&s.id, &s.prev, &s.sum, &s.doc, &s.at, &s.who, &s.program}
}

const stampLayout = "2006-01-02T15:04:05.000Z"

func (s *stored) digest(kind string) string {
	h := digestOf(kind, s.prev, s.at, s.who, s.program, s.doc) // (1)
	return hex.EncodeToString(h[:])
}

// digestOf is the SHA-256 of lines.
func digestOf(lines ...string) [sha256.Size]byte {
	return sha256.Sum256([]byte(strings.Join(lines, "\n")))
}

// sound refuses a record that is not what was stored.
func (s *stored) sound(k kind) error {
	if s.digest(k.name) != s.sum {
		return s.damaged(k, "its content does not match its checksum")
	}
	return nil
}

// open checks a stored record of k and decodes it into v. Every record that is
// read goes through here.
func (s *stored) open(k kind, v placed) error {
	if err := s.sound(k); err != nil {
		return err
	}
	if err := json.Unmarshal([]byte(s.doc), v); err != nil {
		return s.damaged(k, fmt.Sprintf("it cannot be read (%v)", err))
	}
	at, err := time.Parse(stampLayout, s.at)
	if err != nil {
		return s.damaged(k, fmt.Sprintf("its time cannot be read (%v)", err))
	}
	v.place(s.id, Stamp{At: at, Who: s.who, Program: s.program, Ref: s.sum})
	return nil
}

// damaged names a record that cannot be believed.
func (s *stored) damaged(k kind, what string) error {
	return fmt.Errorf("%s: %w: %s; %s", s.title(k), ErrDamaged, what, engine.KeepFile)
}

// title names a stored record: recipe R6, or pigment 3 ("WH").
func (s *stored) title(k kind) string {
	if letter, ok := letters()[k.name]; ok {
		return fmt.Sprintf("%s %s%d", k.name, letter, s.id)
	}
	t := fmt.Sprintf("%s %d", k.name, s.id)
	if key, err := k.named(s.doc); err == nil && len(key) > 0 {
		t += fmt.Sprintf(" (%q)", subject(key...))
	}
	return t
}

// named reads the name of a card from its document.
func (k kind) named(doc string) ([]any, error) {
	var fields map[string]any
	if err := json.Unmarshal([]byte(doc), &fields); err != nil {
		return nil, err
	}
	key := make([]any, len(k.key))
	for i, column := range k.key {
		if column == "name" && (k.name == kindLotStrength.name) {
			column = "lot"
		}
		text, _ := fields[column].(string)
		key[i] = text
	}
	return key, nil
}

// document renders v as the archive stores it: fields in the order of the
// struct, map keys sorted, no spaces, numbers in the fewest digits that give
// them back. A field added to a record type later must be omitempty, or the
// cards of old benches would count as changed.
func document(v any) (string, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return "", fmt.Errorf("%w: %v", ErrInvalid, err)
	}
	return strings.TrimSuffix(b.String(), "\n"), nil
}

// reader is a transaction that hears of records that cannot be listed.
type reader interface {
	engine.Queryer
	leaveOut(error)
}

// records reads the records of k that the rest of the query selects. One that
// breaks the rules, as an older program may have let it in, is left out, and
// the bench's LeftOut hears of it.
func records[T any, P interface {
	*T
	placed
}](ctx context.Context, q reader, k kind, rest string, args ...any) ([]T, error) {
	return scan[T, P](ctx, q, k, func(err error) error { q.leaveOut(err); return nil }, rest, args...)
}

// scan is records with an answer to a record that breaks the rules.
func scan[T any, P interface {
	*T
	placed
}](ctx context.Context, q engine.Queryer, k kind, breaks func(error) error, rest string, args ...any) ([]T, error) {
	rows, err := q.QueryContext(ctx, "SELECT "+storedColumns+" FROM "+k.table+" "+rest, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		var s stored
		if err := rows.Scan(s.targets()...); err != nil {
			return nil, err
		}
		var v T
		if err := s.open(k, P(&v)); err != nil {
			return nil, err
		}
		if err := P(&v).check(); err != nil {
			if err := breaks(fmt.Errorf("%s: %w", s.title(k), err)); err != nil {
				return nil, err
			}
			continue
		}
		all = append(all, v)
	}
	return all, rows.Err()
}

// one reads the first record the rest of the query selects, or sql.ErrNoRows.
func one[T any, P interface {
	*T
	placed
}](ctx context.Context, q engine.Queryer, k kind, rest string, args ...any) (T, error) {
	all, err := scan[T, P](ctx, q, k, func(err error) error { return err }, rest+" LIMIT 1", args...)
	if err == nil && len(all) == 0 {
		err = sql.ErrNoRows
	}
	if err != nil {
		var none T
		return none, err
	}
	return all[0], nil
}

// newest selects the card of each name that counts.
func newest(k kind) string {
	return fmt.Sprintf("WHERE id IN (SELECT max(id) FROM %s GROUP BY %s)", k.table, strings.Join(k.key, ", "))
}

// named selects the newest card with a name.
func named(k kind) string {
	return "WHERE " + strings.Join(k.key, " = ? AND ") + " = ? ORDER BY id DESC"
}

// prepared returns the statement for query, prepared once per transaction.
func (c *change) prepared(ctx context.Context, query string) (*sql.Stmt, error) {
	if s, ok := c.ready[query]; ok {
		return s, nil
	}
	s, err := c.PrepareContext(ctx, query)
	if err == nil {
		c.ready[query] = s
	}
	return s, err
}

// latest returns the newest record of k with a name.
func (c *change) latest(ctx context.Context, k kind, name []any) (stored, bool, error) {
	q, err := c.prepared(ctx, "SELECT "+storedColumns+" FROM "+k.table+" "+named(k)+" LIMIT 1")
	if err != nil {
		return stored{}, false, err
	}
	return c.first(ctx, k, q, name...)
}

// first returns the record that a query gives, if it gives one.
func (c *change) first(ctx context.Context, k kind, q *sql.Stmt, args ...any) (stored, bool, error) {
	var s stored
	err := q.QueryRowContext(ctx, args...).Scan(s.targets()...)
	if errors.Is(err, sql.ErrNoRows) {
		return s, false, nil
	}
	if err != nil {
		return s, false, err
	}
	return s, true, s.sound(k)
}

// insert writes a record with a new stamp and gives v its stamp.
func (c *change) insert(ctx context.Context, k kind, prev string, v placed) error {
	if err := v.check(); err != nil {
		return err
	}
	doc, err := document(v)
	if err != nil {
		return err
	}
	s := stored{prev: prev, doc: doc, at: c.stamp.At.Format(stampLayout), who: c.stamp.Who, program: c.stamp.Program}
	s.sum = s.digest(k.name)
	if err := c.rules(ctx, k, v); err != nil {
		return k.called(doc, err)
	}
	if err := c.store(ctx, k, &s); err != nil {
		return err
	}
	delete(c.names, strings.TrimSuffix(k.table, "_card"))
	at := c.stamp
	at.Ref = s.sum
	v.place(s.id, at)
	return nil
}

// store writes a record as it is and sets its id.
func (c *change) store(ctx context.Context, k kind, s *stored) error {
	return c.add(ctx, k, []*stored{s})
}

// add writes records of one kind as they are, in one statement, and sets their ids.
func (c *change) add(ctx context.Context, k kind, all []*stored) error {
	c.changed = true
	if k.name == kindRecipe.name || k.name == kindApproval.name {
		c.colored = true
	}
	q, err := c.prepared(ctx, "INSERT INTO "+k.table+" (prev, sum, doc, at, who, program) VALUES (?, ?, ?, ?, ?, ?)"+strings.Repeat(", (?, ?, ?, ?, ?, ?)", len(all)-1)+" RETURNING id, sum")
	if err != nil {
		return err
	}
	args, bySum := make([]any, 0, 6*len(all)), make(map[string]*stored, len(all))
	for _, s := range all {
		args = append(args, s.prev, s.sum, s.doc, s.at, s.who, s.program)
		bySum[s.sum] = s
	}
	rows, err := q.QueryContext(ctx, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	added := c.pending[k.name]
	for rows.Next() {
		var id int64
		var sum string
		if err := rows.Scan(&id, &sum); err != nil {
			return err
		}
		bySum[sum].id = id
		added.include(id)
	}
	c.pending[k.name] = added
	return rows.Err()
}

// storeAll writes records of one kind in their order, in as few statements as it
// takes. Of one that cannot be written it tells which it is.
func (c *change) storeAll(ctx context.Context, k kind, all []*stored) (bad int, err error) {
	for done := 0; done < len(all); {
		n := 1
		for _, many := range []int{mostWaiting, mostWaiting / 8} { // few statements have to be prepared
			if len(all)-done >= many {
				n = many
				break
			}
		}
		some := all[done : done+n]
		if n > 1 && c.attempt(ctx, func() error { return c.add(ctx, k, some) }) == nil {
			done += n
			continue
		}
		if c.broken != nil {
			return done, c.broken
		}
		for i := range some { // one of them cannot be written
			if err := c.add(ctx, k, some[i:i+1]); err != nil {
				return done + i, err
			}
		}
		done += n
	}
	return 0, nil
}

// put writes the card v under name unless the bench holds the same already.
func (c *change) put(ctx context.Context, k kind, v placed, on OnChange, name ...any) (Outcome, error) {
	old, found, err := c.latest(ctx, k, name)
	if err != nil {
		return "", err
	}
	if !found {
		if err := v.check(); err != nil {
			return "", err
		}
		for _, part := range name { // cards that older programs named so stay
			if text, ok := part.(string); ok && text != strings.TrimSpace(text) {
				return "", fmt.Errorf("%s: %w: %q begins or ends with a blank; leave the blank out", title(k, name), ErrInvalid, text)
			}
		}
		return Added, c.insert(ctx, k, "", v)
	}
	if err := v.check(); err != nil {
		return "", err
	}
	doc, err := document(v)
	if err != nil {
		return "", err
	}
	if doc == old.doc {
		return Unchanged, old.open(k, v)
	}
	if on == Refuse {
		return "", &conflict{k, name, differing(old.doc, doc)}
	}
	return Changed, c.insert(ctx, k, old.sum, v)
}

// A conflict is an ErrConflict of one card.
type conflict struct {
	kind   kind
	name   []any
	fields string // that differ
}

func (e *conflict) Error() string {
	return fmt.Sprintf("%s: %v (%s)", title(e.kind, e.name), ErrConflict, e.fields)
}

func (e *conflict) Unwrap() error { return ErrConflict }

// putLogged is put with a line in the log, unless nothing changed.
func (c *change) putLogged(ctx context.Context, k kind, v placed, on OnChange, name ...any) (Outcome, error) {
	outcome, err := c.put(ctx, k, v, on, name...)
	if err != nil || outcome == Unchanged {
		return outcome, err
	}
	return outcome, c.log(ctx, k.name+" "+string(outcome), subject(name...), "")
}

// subject names a card in the log: CLR / B-07.
func subject(name ...any) string {
	var parts []string
	for _, part := range name {
		if part != "" {
			parts = append(parts, fmt.Sprint(part))
		}
	}
	return strings.Join(parts, " / ")
}

// number is the next number of a fact.
func (c *change) number(ctx context.Context, k kind) (n int64, err error) {
	q, err := c.prepared(ctx, "SELECT coalesce(max(id), 0) + 1 FROM "+k.table)
	if err != nil {
		return 0, err
	}
	err = q.QueryRowContext(ctx).Scan(&n)
	return n, err
}

// title names a card in errors: chip "B-07" of "CLR".
func title(k kind, name []any) string {
	if len(name) == 0 {
		return k.name
	}
	t := fmt.Sprintf("%s %q", k.name, name[len(name)-1])
	if len(name) > 1 && name[len(name)-2] != "" {
		t += fmt.Sprintf(" of %q", name[len(name)-2])
	}
	return t
}

// differing lists the fields in which two documents differ.
func differing(a, b string) string {
	var x, y map[string]json.RawMessage
	if json.Unmarshal([]byte(a), &x) != nil || json.Unmarshal([]byte(b), &y) != nil {
		return "all of it"
	}
	var fields []string
	for name := range x {
		if !bytes.Equal(x[name], y[name]) {
			fields = append(fields, name)
		}
	}
	for name := range y {
		if _, both := x[name]; !both {
			fields = append(fields, name)
		}
	}
	sort.Strings(fields)
	return strings.Join(fields, ", ")
}

// names returns the names in an identity table.
func names(ctx context.Context, q engine.Queryer, table, column string) (map[string]bool, error) {
	rows, err := q.QueryContext(ctx, "SELECT "+column+" FROM "+table)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[string]bool{}
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, err
		}
		all[name] = true
	}
	return all, rows.Err()
}

// known returns the names in an identity table, read once per transaction.
func (c *change) known(ctx context.Context, table, column string) (map[string]bool, error) {
	if all, ok := c.names[table]; ok {
		return all, nil
	}
	all, err := names(ctx, c, table, column)
	if err == nil {
		c.names[table] = all
	}
	return all, err
}

// require returns an error that lists the known names if name is not one.
func (c *change) require(ctx context.Context, table, column, name string) error {
	all, err := c.known(ctx, table, column)
	if err != nil || all[name] {
		return err
	}
	return unknown(table, name, all)
}

func unknown(what, name string, names map[string]bool) error {
	if len(names) == 0 {
		return notFound(name, "%s %q; the bench has none yet, add it first", what, name)
	}
	list := make([]string, 0, len(names))
	for n := range names {
		list = append(list, strings.Join(strings.Fields(n), " ")) // an error is one line
	}
	sort.Strings(list)
	if len(list) > 40 {
		list = append(list[:40], fmt.Sprintf("and %d more", len(list)-40))
	}
	return notFound(name, "%s %q; the bench has %s", what, name, strings.Join(list, ", "))
}
