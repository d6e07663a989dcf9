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
	return NewBench{path, all.Backings}, errors.Join(err, b.Close())
}

// A Copied is a bench and the copy made of it.
type Copied struct {
	Bench  string `json:"bench"`
	Backup string `json:"backup"`
}

// Backup copies the bench, as of one moment, to a new file while it stays in
// use.
func Backup(ctx context.Context, b *Bench, path string) (Copied, error) {
	return Copied{b.Path(), path}, b.archive.Backup(ctx, path)
}

// A Checked is what re-reading a whole bench came to.
type Checked struct {
	Records  int               `json:"records"`
	Problems []archive.Problem `json:"problems"`

	Bench string `json:"-"` // path
}

// Err is nil if nothing is wrong with the bench.
func (c Checked) Err() error {
	n := len(c.Problems)
	if n == 0 {
		return nil
	}
	return fmt.Errorf("%s: %s found; keep the file and restore a backup", c.Bench, figure.Count(n, "problem"))
}

// Verify re-reads the whole bench and checks every page, reference and checksum.
func Verify(ctx context.Context, b *Bench) (Checked, error) {
	got, err := b.archive.Verify(ctx)
	return Checked{Records: got.Records, Problems: append([]archive.Problem{}, got.Problems...), Bench: b.Path()}, err
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
