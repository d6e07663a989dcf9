package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"slices"

	"masstone/recipes/archive/engine"
	"masstone/recipes/archive/sqlite"
)

// ExportRest writes a bench as a bundle without the records that are damaged or
// break the rules, and without all that was made from them. It returns how many
// records it holds, and a line for each that it leaves out.
func (b *Bench) ExportRest(ctx context.Context, w io.Writer) (n int, left []string, err error) {
	n, err = b.export(ctx, w, "the rest of the bench", func(ctx context.Context, tx *snapshot) error {
		left, err = pickRest(ctx, tx, func(placed) bool { return false })
		return err
	})
	return n, left, err
}

// ExportWithout writes a bench as a bundle without a client and all that was made
// for it: parts, targets, recipes, batches, pours, approvals, runs, moulds, and what was
// drawn from a stock for them. It returns what ExportRest does.
func (b *Bench) ExportWithout(ctx context.Context, w io.Writer, client string) (n int, left []string, err error) {
	n, err = b.export(ctx, w, "the bench without a client", func(ctx context.Context, tx *snapshot) error {
		if _, err := find[Client](ctx, tx, kindClient, "client", "name", client); err != nil {
			return err
		}
		left, err = pickRest(ctx, tx, func(v placed) bool {
			switch r := v.(type) {
			case *Client:
				return r.Name == client
			case *Part:
				return r.Client == client
			case *Target:
				return r.Client == client
			case *Recipe:
				return r.Client == client
			case *Approval:
				return r.Client == client
			case *Run:
				return r.Client == client
			case *Mould:
				return r.Client == client
			}
			return false
		})
		return err
	})
	return n, left, err
}

// A restRecord is a record on its way into a bundle of the rest.
type restRecord struct {
	kind
	stored // without the document
	called string
	name   string
	links  []link
}

// pickRest picks every record but those that are gone, damaged or break the
// rules, and those that name them or supersede them.
func pickRest(ctx context.Context, tx *snapshot, gone func(placed) bool) (left []string, err error) {
	var all []restRecord
	for _, k := range kinds() {
		err := engine.EachRow(ctx, tx, func(rows *sql.Rows) error {
			r := restRecord{kind: k}
			if err := rows.Scan(r.targets()...); err != nil {
				return err
			}
			v := k.fresh()
			if err := r.open(k, v); err != nil {
				left = append(left, fmt.Sprintf("%s: it is damaged", r.stored.title(k)))
				return nil
			}
			r.called = r.stored.title(k)
			switch err := v.check(); {
			case gone(v):
				left = append(left, r.called)
				return nil
			case err != nil:
				left = append(left, fmt.Sprintf("%s: %v", r.called, err))
				return nil
			}
			key, err := k.named(r.doc)
			r.name, r.links, r.doc = fmt.Sprint(key), v.links(), ""
			all = append(all, r)
			return err
		}, "SELECT "+storedColumns+" FROM "+k.table+" ORDER BY id")
		if err != nil {
			return left, err
		}
	}
	for dropped := true; dropped; {
		there := map[string]bool{}
		for _, r := range all {
			there[r.kind.name+"\n"+r.sum], there[r.kind.name+"\n"+r.name] = true, true
		}
		before := len(all)
		all = slices.DeleteFunc(all, func(r restRecord) bool {
			ok := r.prev == "" || there[r.kind.name+"\n"+r.prev]
			for _, l := range r.links {
				ok = ok && (l.sum == "" || there[l.kind.name+"\n"+l.sum]) && (l.sum != "" || there[l.kind.name+"\n"+fmt.Sprint(l.name)])
			}
			if !ok {
				left = append(left, r.called+": made from what is left out")
			}
			return !ok
		})
		dropped = len(all) < before
	}
	for _, r := range all {
		if _, err := tx.ExecContext(ctx, `INSERT INTO picked VALUES (?, ?)`, r.kind.name, r.id); err != nil {
			return left, err
		}
	}
	return left, nil
}

// A Forgotten says what Forget did.
type Forgotten struct {
	Records  int      // on the new bench
	Left     []string // what is not on it
	Numbered []string // what has another number on it
}

// Forget makes a new bench at path with all of this one but a client and what was
// made for it. The log is not taken along. This bench stays as it is.
func (b *Bench) Forget(ctx context.Context, client, path string) (Forgotten, error) {
	var done Forgotten
	to, err := Create(ctx, path, b.options)
	if err != nil {
		return done, err
	}
	r, w := io.Pipe()
	written := make(chan error, 1)
	go func() {
		var err error
		done.Records, done.Left, err = b.ExportWithout(ctx, w, client)
		w.CloseWithError(err)
		written <- err
	}()
	got, err := to.Import(ctx, r, RefuseConflicts)
	r.CloseWithError(err)
	done.Numbered = got.Numbered
	if err = errors.Join(cmpError(<-written, err), to.Close()); err != nil {
		sqlite.Remove(path)
	}
	return done, err
}

// cmpError is the first error, which may be the cause of the second.
func cmpError(first, second error) error {
	if first != nil && !errors.Is(first, io.ErrClosedPipe) {
		return first
	}
	return second
}
