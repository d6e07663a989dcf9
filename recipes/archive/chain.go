package archive

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"maps"
	"slices"
	"strconv"
	"strings"

	"masstone/recipes/archive/engine"
)

// The chain proves the log, and by it every record. Each line has a link
//
//	link = SHA-256(link before \n line ... \n record ... \n)               (2)
//
// in lower-case hexadecimal, over the lines since the link before it, usually
// one, as JSON arrays [id, at, who, program, verb, subject, detail], then the
// records stored since, as [kind, number, sum], by kind and number. A line that
// is edited, put in or taken out, and a record that is taken out or put in
// without a line, break a link; what is cut off at the end does not, and shows
// only against a link that was written down elsewhere: a Head.
//
// A bench of an older schema is linked as it is found when it is brought to this
// one: its first link is over all there is.

// A Head names a link: the number of its line and its first 16 digits, as it is
// printed, 57-3fa9c1d2e4b57a01. It is empty on a bench nobody changed.
type Head string

func headOf(line int64, link string) Head { return Head(fmt.Sprintf("%d-%.16s", line, link)) }

// A linker computes links.
type linker struct{ hash.Hash }

func newLinker(before string) linker {
	l := linker{sha256.New()}
	l.Write([]byte(before + "\n"))
	return l
}

func (l linker) add(fields ...any) {
	text, _ := json.Marshal(fields) // numbers and strings only
	l.Write(append(text, '\n'))
}

func (l linker) link() string { return hex.EncodeToString(l.Sum(nil)) } // (2)

// Numbers are those of records of one kind that were stored one after the other.
type numbers struct{ first, last int64 }

func (n *numbers) include(id int64) {
	if n.first == 0 || id < n.first {
		n.first = id
	}
	n.last = max(n.last, id)
}

// log adds a line to the log and its link to the chain.
func (c *change) log(ctx context.Context, verb, subject, detail string) error {
	q, err := c.prepared(ctx, `INSERT INTO log (at, who, program, verb, subject, detail) VALUES (?, ?, ?, ?, ?, ?) RETURNING id`)
	if err != nil {
		return err
	}
	var line int64
	at := c.stamp.At.Format(stampLayout)
	if err := q.QueryRowContext(ctx, at, c.stamp.Who, c.stamp.Program, verb, subject, detail).Scan(&line); err != nil {
		return err
	}
	last, err := c.prepared(ctx, newestLink)
	if err != nil {
		return err
	}
	var before int64
	var link string
	err = last.QueryRowContext(ctx).Scan(&before, &link)
	next := newLinker(link)
	switch {
	case errors.Is(err, sql.ErrNoRows): // the first link is over all there is
		if err := eachLine(ctx, c, line, func(l []any) { next.add(l...) }); err != nil {
			return err
		}
		if c.pending, err = allNumbers(ctx, c.transaction); err != nil {
			return err
		}
	case err != nil:
		return err
	default:
		next.add(line, at, c.stamp.Who, c.stamp.Program, verb, subject, detail)
	}
	upto := map[string]int64{}
	for _, k := range kinds() {
		if added, any := c.pending[k.name]; any {
			if err := eachSum(ctx, c, k, added, func(id int64, sum string) { next.add(k.name, id, sum) }); err != nil {
				return err
			}
			upto[k.name] = added.last
		}
	}
	clear(c.pending)
	text, err := json.Marshal(upto)
	if err != nil {
		return err
	}
	add, err := c.prepared(ctx, `INSERT INTO chain (line, upto, link) VALUES (?, ?, ?)`)
	if err != nil {
		return err
	}
	_, err = add.ExecContext(ctx, line, string(text), next.link())
	return err
}

// eachLine goes through the log up to a line.
func eachLine(ctx context.Context, q engine.Queryer, upto int64, fn func([]any)) error {
	return engine.EachRow(ctx, q, func(rows *sql.Rows) error {
		var id int64
		var s [6]string
		if err := rows.Scan(&id, &s[0], &s[1], &s[2], &s[3], &s[4], &s[5]); err != nil {
			return err
		}
		fn([]any{id, s[0], s[1], s[2], s[3], s[4], s[5]})
		return nil
	}, `SELECT id, at, who, program, verb, subject, detail FROM log WHERE id <= ? ORDER BY id`, upto)
}

// eachSum goes through the records of a kind by number.
func eachSum(ctx context.Context, q engine.Queryer, k kind, of numbers, fn func(id int64, sum string)) error {
	return engine.EachRow(ctx, q, func(rows *sql.Rows) error {
		var id int64
		var sum string
		err := rows.Scan(&id, &sum)
		fn(id, sum)
		return err
	}, "SELECT id, sum FROM "+k.table+" WHERE id BETWEEN ? AND ? ORDER BY id", of.first, of.last)
}

// allNumbers are those of all records there are. A bench on its way from an older
// schema has not the tables of all kinds yet.
func allNumbers(ctx context.Context, tx *transaction) (map[string]numbers, error) {
	tables := map[string]bool{}
	err := engine.EachRow(ctx, tx, func(rows *sql.Rows) error {
		var name string
		err := rows.Scan(&name)
		tables[name] = true
		return err
	}, tx.on.Tables())
	if err != nil {
		return nil, err
	}
	all := map[string]numbers{}
	for _, k := range kinds() {
		if !tables[k.table] {
			continue
		}
		var n numbers
		if err := tx.QueryRowContext(ctx, "SELECT coalesce(min(id), 0), coalesce(max(id), 0) FROM "+k.table).Scan(&n.first, &n.last); err != nil {
			return nil, err
		}
		if n.last > 0 {
			all[k.name] = n
		}
	}
	return all, nil
}

// linkOld links what an older program left.
func (o Options) linkOld(ctx context.Context, tx *sql.Tx, on engine.DB) error {
	var lines int64
	if err := tx.QueryRowContext(ctx, `SELECT count(*) FROM log`).Scan(&lines); err != nil || lines == 0 {
		return err
	}
	c, err := newChange(ctx, &transaction{tx, on}, o)
	if err != nil {
		return err
	}
	return c.log(ctx, "log linked", "", fmt.Sprintf("from here on; the %d lines before and all records as they were found", lines))
}

const newestLink = `SELECT line, link FROM chain ORDER BY line DESC LIMIT 1`

// Head names the newest link: what this bench holds now, in one line of paper.
func (b *Bench) Head(ctx context.Context) (Head, error) {
	return read(ctx, b, func(tx *snapshot) (Head, error) {
		return headAt(ctx, tx, newestLink)
	})
}

// HeadOfApproval names the link of the line that logged an approval.
func (b *Bench) HeadOfApproval(ctx context.Context, ref string) (Head, error) {
	return read(ctx, b, func(tx *snapshot) (Head, error) { return headOfApproval(ctx, tx, ref) })
}

func headOfApproval(ctx context.Context, tx engine.Queryer, ref string) (Head, error) {
	return headAt(ctx, tx, `SELECT line, link FROM chain, approval WHERE sum = ? AND CAST(upto ->> '$.approval' AS BIGINT) >= approval.id ORDER BY line LIMIT 1`, ref)
}

func headAt(ctx context.Context, q engine.Queryer, query string, args ...any) (Head, error) {
	var line int64
	var link string
	err := q.QueryRowContext(ctx, query, args...).Scan(&line, &link)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return headOf(line, link), err
}

// Holds tells whether the chain goes through a head that was written down; the
// problem is nil if it does.
func (b *Bench) Holds(ctx context.Context, h Head) (*Problem, error) {
	number, digits, ok := strings.Cut(strings.ToLower(strings.TrimSpace(string(h))), "-")
	line, err := strconv.ParseInt(number, 10, 64)
	if !ok || err != nil || len(digits) < 8 {
		return nil, fmt.Errorf("head %q: %w: write it as it is printed, such as 57-3fa9c1d2e4b57a01", h, ErrInvalid)
	}
	return read(ctx, b, func(tx *snapshot) (*Problem, error) {
		var link string
		_, back := tx.on.Place()
		err := tx.QueryRowContext(ctx, `SELECT link FROM chain WHERE line = ?`, line).Scan(&link)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			return &Problem{"head " + string(h), fmt.Sprintf("the log has no line %d with a link; the end of the log was cut off, or this is another bench", line), compare(back)}, nil
		case err != nil:
			return nil, err
		case !strings.HasPrefix(link, digits):
			return &Problem{"head " + string(h), fmt.Sprintf("line %d of the log has the link %.16s; what led up to it was altered, or this is another bench", line, link), compare(back)}, nil
		}
		return nil, nil
	})
}

// unlinked is a record that no link was met for yet.
type unlinked struct {
	id  int64
	sum string
}

// chain checks every link, and that each line and each record is under one.
func (v *verifier) chain(ctx context.Context) error {
	all, err := allNumbers(ctx, v.tx.transaction)
	if err != nil {
		return err
	}
	left := map[string][]unlinked{}
	for _, k := range kinds() {
		if of, any := all[k.name]; any {
			if err := eachSum(ctx, v.tx, k, of, func(id int64, sum string) { left[k.name] = append(left[k.name], unlinked{id, sum}) }); err != nil {
				return err
			}
		}
	}
	var lines [][]any
	var last int64
	if err := eachLine(ctx, v.tx, 1<<62, func(l []any) {
		lines = append(lines, l)
		last++
		if id := l[0].(int64); id != last {
			v.damage("log", "lines %d to %d are missing", last, id-1)
			last = id
		}
	}); err != nil {
		return err
	}
	before := ""
	err = engine.EachRow(ctx, v.tx, func(rows *sql.Rows) error {
		var line int64
		var text, link string
		if err := rows.Scan(&line, &text, &link); err != nil {
			return err
		}
		where := fmt.Sprintf("log line %d", line)
		upto := map[string]int64{}
		if err := json.Unmarshal([]byte(text), &upto); err != nil {
			v.damage(where, "what it says it changed cannot be read")
		}
		if v.Links == 0 {
			v.LinkedFrom = line
		}
		got, lost := newLinker(before), false
		for ; len(lines) > 0 && lines[0][0].(int64) <= line; lines = lines[1:] {
			l := lines[0]
			where = fmt.Sprintf("log line %d (%s)", line, strings.TrimSpace(fmt.Sprint(l[4], " ", l[5])))
			got.add(l...)
		}
		for _, k := range kinds() {
			end, any := upto[k.name]
			n := int64(0)
			for ; any && len(left[k.name]) > 0 && left[k.name][0].id <= end; left[k.name] = left[k.name][1:] {
				r := left[k.name][0]
				got.add(k.name, r.id, r.sum)
				n = r.id
			}
			if any && n != end {
				v.damage(where, "%s %d, which it stored, is missing", k.name, end)
				lost = true
			}
		}
		if got.link() != link && !lost {
			v.damage(where, "it, the line before, or what it stored was altered: link %.12s, not %.12s", got.link(), link)
		}
		before, v.Head = link, headOf(line, link)
		v.Links++
		return nil
	}, `SELECT line, upto, link FROM chain ORDER BY line`)
	if err != nil {
		return err
	}
	for _, l := range lines {
		v.damage(fmt.Sprintf("log line %d", l[0]), "it has no link; it was put in, or its link was taken out")
	}
	if v.Head == "" {
		return nil // nothing was changed yet, or a line above says that a link is missing
	}
	for _, kind := range slices.Sorted(maps.Keys(left)) {
		if n := len(left[kind]); n > 0 {
			v.damage(fmt.Sprintf("%s %d", kind, left[kind][0].id), "%d records from it on were stored without a line in the log", n)
		}
	}
	return nil
}
