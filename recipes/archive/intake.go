package archive

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"sort"
	"strings"
	"time"

	"masstone/color/remedy"
	"masstone/recipes/archive/engine"
)

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
	errTorn     = engine.Reword(ErrDamaged, "damaged")
	errNoBundle = engine.Reword(ErrInvalid, "it is no masstone bundle")
)

// Import reads a bundle: all of it or, if anything in it is damaged, missing
// or in conflict, nothing. A bundle imported twice changes nothing the second
// time.
//
// A record the bench has is recognized by its sum. A card whose name the bench
// knows goes on top when it was made from the bench's card, and behind when
// the bench's card was made from it. When neither is so and they say the same,
// nothing changes. When they differ, the names stand for two different things
// and on decides; approvals and stock movements are never taken in that case.
//
// A bundle may be of any size: it is read once, records are stored many at a time,
// and what is remembered of them does not grow with their number.
// To be done again where others were in the way it has to be read again, which takes
// an io.Seeker.
func (b *Bench) Import(ctx context.Context, r io.Reader, on OnConflict) (Imported, error) {
	again := rewound(r)
	return write(ctx, b, func(c *change) (Imported, error) {
		if err := again(); err != nil {
			return Imported{}, err
		}
		if err := c.on.Defer(ctx, c.Tx); err != nil {
			return Imported{}, err
		}
		in := intake{change: c, on: on, tell: b.options.Progress, base: map[string]int64{}, names: map[sum]*nameState{}, got: Imported{Added: map[string]int{}}}
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
		return in.got, c.log(ctx, "bundle imported", in.got.Holds, fmt.Sprintf("%d records added, %d names changed, sha256 %s", in.added(), len(in.got.Changed), whole))
	})
}

// rewound takes a reader back to where it is now, but for the first time.
func rewound(r io.Reader) func() error {
	s, can := r.(io.Seeker)
	var from int64
	if can {
		var err error
		from, err = s.Seek(0, io.SeekCurrent)
		can = err == nil
	}
	first := true
	return func() error {
		switch {
		case first:
			first = false
			return nil
		case !can:
			return fmt.Errorf("bundle: %w: another program was writing; import it again, nothing was imported", ErrBusy)
		}
		_, err := s.Seek(from, io.SeekStart)
		return err
	}
}

// intake is an import under way.
type intake struct {
	*change
	on      OnConflict
	tell    func(done, total int)
	waiting []arrival          // records of one kind, to be stored together
	bytes   int                // of their documents
	base    map[string]int64   // by kind, the last record that the bench had before
	names   map[sum]*nameState // by the sum of kind and name
	order   []*nameState
	runs    []arrivals
	got     Imported
}

func (in *intake) added() (n int) {
	for _, k := range in.got.Added {
		n += k
	}
	return n
}

// An arrival is a record of the bundle.
type arrival struct {
	kind
	stored
	line int
	made int64 // the number a fact had where it was made
}

// arrivals are records that were stored one after the other as they stood in the
// bundle: of a whole bench, all of one kind.
type arrivals struct {
	kind
	line     int
	made, id int64 // of the first
	n        int
}

// Records are stored as many at a time, as long as their documents are not large.
const (
	mostWaiting = 128
	mostBytes   = 4 << 20
)

// A nameState is what an import knows of a card's name that the bench knew before: of
// its cards no more than their sums.
type nameState struct {
	kind   kind
	mine   sum  // of the card that counted before
	theirs sum  // of the bundle's last card
	known  bool // the bench had the bundle's last card before
	later  bool // the bundle holds mine, so theirs is the same or later
	added  bool // a card was added
}

// A sum of a record, as bytes.
type sum [sha256.Size]byte

func sumOf(digits string) (s sum) {
	hex.Decode(s[:], []byte(digits))
	return s
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
			if err := in.flush(ctx); err != nil {
				return "", err
			}
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
		a := arrival{kind: k, line: lines.n, stored: stored{prev: r.Prev, sum: r.Sum, doc: string(r.Doc), at: r.At, who: r.Who, program: r.Program}}
		if a.made, err = canonical(k, &a.stored); err != nil {
			return "", fmt.Errorf("line %d: %w", lines.n, err)
		}
		if len(in.waiting) > 0 && in.waiting[0].kind.name != k.name || len(in.waiting) == mostWaiting || in.bytes > mostBytes {
			if err := in.flush(ctx); err != nil {
				return "", err
			}
		}
		in.waiting = append(in.waiting, a)
		in.bytes += len(a.doc)
	}
}

// flush stores the records that wait, but for those that the bench has.
func (in *intake) flush(ctx context.Context) error {
	if len(in.waiting) == 0 {
		return nil
	}
	defer func() { in.waiting, in.bytes = in.waiting[:0], 0 }()
	k := in.waiting[0].kind
	if _, begun := in.base[k.name]; !begun {
		next, err := in.number(ctx, k)
		if err != nil {
			return err
		}
		in.base[k.name] = next - 1
	}
	there, err := in.there(ctx, k)
	if err != nil {
		return err
	}
	var fresh []*arrival
	for i := range in.waiting {
		a := &in.waiting[i]
		known := there[a.sum]
		if err := in.take(ctx, a, known, there); err != nil {
			return fmt.Errorf("line %d: %w", a.line, err)
		}
		if there[a.sum] = true; !known {
			fresh = append(fresh, a)
		}
	}
	return in.keep(ctx, k, fresh)
}

// there tells which of the records that wait, and of those they supersede, the bench
// holds.
func (in *intake) there(ctx context.Context, k kind) (map[string]bool, error) {
	there := map[string]bool{}
	q, err := in.prepared(ctx, "SELECT sum FROM "+k.table+" WHERE sum IN (?"+strings.Repeat(", ?", mostWaiting-1)+")")
	if err != nil {
		return nil, err
	}
	args := make([]any, mostWaiting)
	for _, of := range []func(*arrival) string{func(a *arrival) string { return a.sum }, func(a *arrival) string { return a.prev }} {
		any := false
		for i := range args {
			if args[i] = ""; i < len(in.waiting) {
				args[i] = of(&in.waiting[i])
			}
			any = any || args[i] != ""
		}
		if !any {
			continue
		}
		rows, err := q.QueryContext(ctx, args...)
		if err != nil {
			return nil, err
		}
		for rows.Next() {
			var sum string
			if err := rows.Scan(&sum); err != nil {
				rows.Close()
				return nil, err
			}
			there[sum] = true
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			return nil, err
		}
	}
	return there, nil
}

// take decides on one record, which the bench knows or not.
func (in *intake) take(ctx context.Context, a *arrival, known bool, there map[string]bool) error {
	state, err := in.state(ctx, a)
	if err != nil {
		return err
	}
	if state != nil {
		state.theirs, state.known = sumOf(a.sum), known
		state.later = state.later || state.theirs == state.mine
		state.added = state.added || !known
	}
	if known {
		in.got.Unchanged++
		return nil
	}
	if a.prev != "" && !there[a.prev] {
		return fmt.Errorf("%w: the %s that %.12s supersedes is missing; export again", errTorn, a.kind.name, a.sum)
	}
	if state != nil && !state.later && (a.kind.name == kindApproval.name || a.kind.name == kindStockMove.name) {
		key, err := a.named(a.doc)
		return fmt.Errorf("%s: %w and both benches went on from there; rename one of the two before exporting", title(a.kind, key), cmp.Or(err, ErrConflict))
	}
	return nil
}

// keep stores records of one kind in their order.
func (in *intake) keep(ctx context.Context, k kind, all []*arrival) error {
	rows := make([]*stored, len(all))
	for i, a := range all {
		rows[i] = &a.stored
	}
	if bad, err := in.storeAll(ctx, k, rows); err != nil {
		return fmt.Errorf("line %d: %s %.12s cannot be stored: %w", all[bad].line, k.name, all[bad].sum, err)
	}
	for _, a := range all {
		if last := len(in.runs) - 1; last >= 0 && in.runs[last].goesOn(a) {
			in.runs[last].n++
		} else {
			in.runs = append(in.runs, arrivals{k, a.line, a.made, a.id, 1})
		}
	}
	if len(all) > 0 {
		in.got.Added[k.name] += len(all)
	}
	return nil
}

// goesOn tells whether a record follows in the bundle and on the bench.
func (r *arrivals) goesOn(a *arrival) bool {
	return a.kind.name == r.kind.name && a.line == r.line+r.n && a.id == r.id+int64(r.n) && (a.made == r.made+int64(r.n) || a.made == 0 && r.made == 0)
}

// numbered says which facts have another number here, one a line, or in one line if
// they are very many.
func (r *arrivals) numbered() (lines []string) {
	letter, ok := letters()[r.kind.name]
	if !ok || r.made == 0 || r.made == r.id {
		return nil
	}
	if last := int64(r.n - 1); r.n > 100 {
		return []string{fmt.Sprintf("%s %s%d to %s%d are %s%d to %s%d here", r.kind.name, letter, r.made, letter, r.made+last, letter, r.id, letter, r.id+last)}
	}
	for i := range int64(r.n) {
		lines = append(lines, fmt.Sprintf("%s %s%d is %s%d here", r.kind.name, letter, r.made+i, letter, r.id+i))
	}
	return lines
}

// letters go before the numbers of facts that people call by number.
func letters() map[string]string {
	return map[string]string{kindRecipe.name: "R", kindBatch.name: "B", kindPour.name: "P", kindPlan.name: "PL", kindRun.name: "RUN"}
}

// canonical returns an error unless the document is exactly what this program
// would write for what it says and has its checksum, and else the number in it: the
// one a fact had where it was made.
func canonical(k kind, s *stored) (made int64, err error) {
	if s.digest(k.name) != s.sum {
		return 0, fmt.Errorf("%w: %s does not match its checksum; copy it again", errTorn, k.name)
	}
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
	if _, err := time.Parse(stampLayout, s.at); err != nil {
		return 0, fmt.Errorf("%w: the time of a %s cannot be read: %v; copy it again", errTorn, k.name, err)
	}
	if f, ok := v.(interface{ made() int64 }); ok {
		made = f.made()
	}
	return made, nil
}

func (f *Fact) made() int64 { return f.Number }

// state returns what is known of the name of a card; nil for one that is new to the
// bench, and for facts.
func (in *intake) state(ctx context.Context, a *arrival) (*nameState, error) {
	if len(a.key) == 0 || in.base[a.kind.name] == 0 {
		return nil, nil
	}
	key, err := a.named(a.doc)
	if err != nil {
		return nil, fmt.Errorf("%w: %v", errTorn, err)
	}
	id := sum(digestOf(a.kind.name, fmt.Sprint(key)))
	if state, ok := in.names[id]; ok {
		return state, nil
	}
	mine, had, err := in.newest(ctx, a.kind, in.base[a.kind.name], key)
	if err != nil || !had {
		return nil, err
	}
	state := &nameState{kind: a.kind, mine: sumOf(mine.sum)}
	in.names[id] = state
	in.order = append(in.order, state)
	return state, nil
}

// newest returns the newest record of k with a name, of those up to a number.
func (in *intake) newest(ctx context.Context, k kind, upto int64, name []any) (stored, bool, error) {
	q, err := in.prepared(ctx, "SELECT "+storedColumns+" FROM "+k.table+" WHERE id <= ? AND "+strings.Join(k.key, " = ? AND ")+" = ? ORDER BY id DESC LIMIT 1")
	if err != nil {
		return stored{}, false, err
	}
	return in.first(ctx, k, q, append([]any{upto}, name...)...)
}

// settle decides which card of each name counts.
func (in *intake) settle(ctx context.Context) error {
	var conflicts []string
	more := 0
	for _, n := range in.order {
		if !n.added {
			continue
		}
		mine, err := in.document(ctx, n.kind, n.mine)
		if err != nil {
			return err
		}
		theirs, err := in.document(ctx, n.kind, n.theirs)
		if err != nil {
			return err
		}
		key, err := n.kind.named(mine)
		if err != nil {
			return err
		}
		counts := mine
		switch {
		case n.later:
			counts = theirs
		case n.known, mine == theirs:
		case in.on == TakeTheirs:
			counts = theirs
		case in.on == KeepMine:
		default:
			if len(conflicts) < 20 {
				conflicts = append(conflicts, fmt.Sprintf("%s (%s)", title(n.kind, key), differing(mine, theirs)))
			} else {
				more++
			}
			continue
		}
		top, _, err := in.latest(ctx, n.kind, key)
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
		if counts != mine {
			in.got.Changed = append(in.got.Changed, title(n.kind, key))
		}
	}
	sort.Strings(in.got.Changed)
	if more > 0 {
		conflicts = append(conflicts, fmt.Sprintf("and %d more", more))
	}
	if len(conflicts) > 0 {
		return fmt.Errorf("%w: %s; say whether to keep yours or take theirs", ErrConflict, strings.Join(conflicts, ", "))
	}
	return nil
}

// document reads a record's document again.
func (in *intake) document(ctx context.Context, k kind, s sum) (doc string, err error) {
	q, err := in.prepared(ctx, "SELECT doc FROM "+k.table+" WHERE sum = ?")
	if err != nil {
		return "", err
	}
	err = q.QueryRowContext(ctx, hex.EncodeToString(s[:])).Scan(&doc)
	return doc, err
}

// complete looks for records that name what neither the bundle nor the bench
// holds. Without it the engine would refuse the commit without saying which.
func (in *intake) complete(ctx context.Context) error {
	if len(in.got.Added) == 0 {
		return nil
	}
	for i := range in.runs {
		in.got.Numbered = append(in.got.Numbered, in.runs[i].numbered()...)
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
	done, total := 0, in.added()
	for _, run := range in.runs {
		for from := 0; from < run.n; from += mostWaiting {
			page, err := in.again(ctx, run.kind, run.id+int64(from), run.id+int64(min(from+mostWaiting, run.n))-1)
			if err != nil {
				return err
			}
			for i := range page {
				line := run.line + int(page[i].id-run.id)
				v := run.fresh()
				if err := page[i].open(run.kind, v); err != nil {
					return err
				}
				if err := v.check(); err != nil {
					return fmt.Errorf("line %d: %w", line, err)
				}
				if err := in.rules(ctx, run.kind, v); err != nil {
					return fmt.Errorf("line %d: %w", line, run.called(page[i].doc, err))
				}
				if m, ok := v.(*StockMove); ok {
					pails[m.Stock] = line
				}
			}
			if done += len(page); in.tell != nil {
				in.tell(done, total)
			}
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

// again reads the records from one number to another.
func (in *intake) again(ctx context.Context, k kind, from, to int64) (page []stored, err error) {
	q, err := in.prepared(ctx, "SELECT "+storedColumns+" FROM "+k.table+" WHERE id BETWEEN ? AND ? ORDER BY id")
	if err != nil {
		return nil, err
	}
	rows, err := q.QueryContext(ctx, from, to)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var s stored
		if err := rows.Scan(s.targets()...); err != nil {
			return nil, err
		}
		page = append(page, s)
	}
	return page, rows.Err()
}

// bundleLines reads lines and keeps the checksum of all it gave.
type bundleLines struct {
	in    *bufio.Reader
	whole hash.Hash
	n     int
}

// longestLine is far above what any record takes.
const longestLine = 256 << 20

func (l *bundleLines) next() ([]byte, error) {
	var line []byte
	for {
		part, err := l.in.ReadSlice('\n')
		line = append(line, part...)
		switch {
		case errors.Is(err, bufio.ErrBufferFull) && len(line) < longestLine:
			continue
		case errors.Is(err, bufio.ErrBufferFull):
			return nil, fmt.Errorf("line %d: %w: it is longer than any record; copy it again", l.n+1, errTorn)
		case len(line) == 0 || err != nil && !errors.Is(err, io.EOF):
			return nil, err
		}
		break
	}
	l.n++
	if line[len(line)-1] != '\n' {
		return nil, fmt.Errorf("line %d: %w: it is cut short; copy it again", l.n, errTorn)
	}
	l.whole.Write(line)
	return bytes.TrimSuffix(line, []byte{'\n'}), nil
}
