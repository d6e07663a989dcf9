package workbench

import (
	"context"
	"errors"
	"fmt"

	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A NewBench is a bench file just made.
type NewBench struct {
	Bench    string    `json:"bench" doc:"path"`
	Backings []Backing `json:"backings" as:"backing list"`
}

// Init makes a bench file at path, with the backings white and black on it.
func Init(ctx context.Context, path string, o Options) (NewBench, error) {
	b, err := Create(ctx, path, o)
	if err != nil {
		return NewBench{}, err
	}
	all, err := Backings(ctx, b)
	return NewBench{b.Path(), all.Backings}, errors.Join(err, b.Close())
}

// A Copied is a bench and the copy made of it.
type Copied struct {
	Bench  string `json:"bench"`
	Backup string `json:"backup"`
	// Head is the newest link of the copy's log.
	Head archive.Head `json:"head" doc:"of the copy's log, to check against by verify"`
}

// Backup copies the bench, as of one moment, to a new file while it stays in
// use.
func Backup(ctx context.Context, b *Bench, path string) (Copied, error) {
	head, err := b.archive.Backup(ctx, path)
	return Copied{b.Path(), path, head}, err
}

// A Restored is a bench that a backup was put in the place of.
type Restored struct {
	Bench    string `json:"bench"`
	Backup   string `json:"backup"`
	Records  int    `json:"records"`
	Replaced string `json:"replaced" doc:"what was there before, empty if nothing"`
}

// Restore checks a backup and puts a copy of it in the place of the bench at
// path, which must not be in use and is kept under another name.
func Restore(ctx context.Context, path, backup string, o Options) (Restored, error) {
	got, err := archive.Restore(ctx, path, backup, o.archive())
	return Restored{path, backup, got.Records, got.Replaced}, err
}

// A Checked is what re-reading a whole bench came to.
type Checked struct {
	Records  int               `json:"records"`
	Problems []archive.Problem `json:"problems"`
	// Links are of the chain that proves the log, Head the newest of them.
	Links      int          `json:"links" doc:"of the log's chain"`
	LinkedFrom int64        `json:"linked_from" doc:"line of the log"`
	Head       archive.Head `json:"head" doc:"of the log"`
	Unchecked  []string     `json:"unchecked" doc:"what this role of a database cannot check"`

	Bench string `json:"-"` // path
	Back  string `json:"-"` // how it goes back to its backup
}

// Err is nil if nothing is wrong with the bench.
func (c Checked) Err() error {
	n := len(c.Problems)
	if n == 0 {
		return nil
	}
	return fmt.Errorf("%s: %s found; %s", c.Bench, figure.Count(n, "problem"), c.Back)
}

// A VerifyRequest asks whether a bench is as it was stored.
type VerifyRequest struct {
	Heads []string // of the log, as papers and backups carry them, to hold it against
}

// Verify re-reads the whole bench and checks every page, reference, checksum and
// link of the log.
func Verify(ctx context.Context, b *Bench, r VerifyRequest) (Checked, error) {
	got, err := b.archive.Verify(ctx)
	v := Checked{got.Records, append([]archive.Problem{}, got.Problems...), got.Links, got.LinkedFrom, got.Head, append([]string{}, got.Unchecked...), b.Path(), got.Back}
	for _, head := range r.Heads {
		if err != nil {
			break
		}
		var lost *archive.Problem
		if lost, err = b.archive.Holds(ctx, archive.Head(head)); lost != nil {
			v.Problems = append(v.Problems, *lost)
		}
		if errors.Is(err, archive.ErrInvalid) {
			err = invalid("head", "%w", err)
		}
	}
	return v, err
}

// A LogRequest asks who changed what on the bench, and when.
type LogRequest struct {
	About string // words in the line; any if empty
	Who   string // only changes by this person
	Limit int    // most lines, the newest; 0 for all
}

// A LogList is changes to the bench, the newest last.
type LogList struct {
	Log []archive.LogLine `json:"log"`
}

// Log lists changes to the bench.
func Log(ctx context.Context, b *Bench, r LogRequest) (LogList, error) {
	if r.Limit < 0 {
		return LogList{}, outOfRange("limit", r.Limit, "0 or more")
	}
	lines, err := b.archive.Log(ctx, archive.LogFilter{About: r.About, Who: r.Who, Limit: r.Limit})
	return LogList{append([]archive.LogLine{}, lines...)}, err
}
