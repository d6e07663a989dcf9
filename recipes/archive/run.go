package archive

import (
	"context"
	"fmt"
)

// A Run is an order of parts cast after an approval, cup by cup.
type Run struct {
	Fact
	Approval  string  `json:"approval"` // Ref of the approval it is cast to
	Client    string  `json:"client,omitempty"`
	Target    string  `json:"target"`
	Parts     int     `json:"parts"`      // wanted
	Risk      float64 `json:"risk"`       // largest chance of being wrong about a part that is called within
	StartedOn string  `json:"started_on"` // day; today if empty
	Note      string  `json:"note,omitempty"`
}

// ID is how people refer to it: RUN3.
func (r Run) ID() string { return fmt.Sprintf("RUN%d", r.Number) }

// A RunCup is a pour as a cup of a run.
type RunCup struct {
	Fact
	Run    string   `json:"run"`   // Ref of the run
	Pour   string   `json:"pour"`  // Ref of the pour, which has lots, day and room
	Parts  int      `json:"parts"` // cast of it
	Mould  string   `json:"mould,omitempty"`
	MouldC *float64 `json:"mould_c,omitempty"` // temperature of the mould in °C
	By     string   `json:"by,omitempty"`      // who poured, if not who wrote it down
	Note   string   `json:"note,omitempty"`
}

// AddRun stores a run and returns it with its number.
func (b *Bench) AddRun(ctx context.Context, r Run) (Run, error) {
	return write(ctx, b, func(c *change) (Run, error) {
		a, err := byRef[Approval](ctx, c, kindApproval, r.Approval)
		if err != nil {
			return r, fmt.Errorf("run: %w", err)
		}
		r.Client, r.Target = a.Client, a.Target
		if r.StartedOn == "" {
			r.StartedOn = c.today()
		}
		if r.Number, err = c.number(ctx, kindRun); err != nil {
			return r, err
		}
		if err := c.insert(ctx, kindRun, "", &r); err != nil {
			return r, err
		}
		return r, c.log(ctx, "run started", r.ID(), parts(r.Parts)+" of "+subject(r.Client, a.Name()))
	})
}

// AddRunCup stores a pour as a cup of a run.
func (b *Bench) AddRunCup(ctx context.Context, k RunCup) (RunCup, error) {
	return write(ctx, b, func(c *change) (RunCup, error) {
		r, err := byRef[Run](ctx, c, kindRun, k.Run)
		if err != nil {
			return k, fmt.Errorf("cup of a run: %w", err)
		}
		p, err := byRef[Pour](ctx, c, kindPour, k.Pour)
		if err != nil {
			return k, fmt.Errorf("cup of %s: %w", r.ID(), err)
		}
		if k.Number, err = c.number(ctx, kindRunCup); err != nil {
			return k, err
		}
		if err := c.insert(ctx, kindRunCup, "", &k); err != nil {
			return k, err
		}
		return k, c.log(ctx, "run cup added", r.ID(), p.ID()+", "+parts(k.Parts))
	})
}

// parts counts them.
func parts(n int) string {
	if n == 1 {
		return "1 part"
	}
	return fmt.Sprintf("%d parts", n)
}

// Run returns a run by its ID, such as RUN3 or 3.
func (b *Bench) Run(ctx context.Context, id string) (Run, error) {
	return read(ctx, b, func(tx *snapshot) (Run, error) { return byNumber[Run](ctx, tx, kindRun, "RUN", id) })
}

// RunRef returns the run with a Ref.
func (b *Bench) RunRef(ctx context.Context, ref string) (Run, error) {
	return read(ctx, b, func(tx *snapshot) (Run, error) { return byRef[Run](ctx, tx, kindRun, ref) })
}

// Runs lists the runs, newest first.
func (b *Bench) Runs(ctx context.Context) ([]Run, error) {
	return read(ctx, b, func(tx *snapshot) ([]Run, error) {
		return records[Run](ctx, tx, kindRun, "ORDER BY id DESC")
	})
}

// RunCups lists the cups of a run in the order they were written down.
func (b *Bench) RunCups(ctx context.Context, runRef string) ([]RunCup, error) {
	return read(ctx, b, func(tx *snapshot) ([]RunCup, error) {
		return records[RunCup](ctx, tx, kindRunCup, "WHERE run = ? ORDER BY id", runRef)
	})
}

// CupOfPour returns the cup that a pour is, ErrNotFound if it is of no run.
func (b *Bench) CupOfPour(ctx context.Context, pourRef string) (RunCup, error) {
	return read(ctx, b, func(tx *snapshot) (RunCup, error) {
		found, err := records[RunCup](ctx, tx, kindRunCup, "WHERE pour = ? ORDER BY id", pourRef)
		if err == nil && len(found) == 0 {
			err = fmt.Errorf("%w run of that pour", ErrNotFound)
		}
		if err != nil {
			return RunCup{}, err
		}
		return found[0], nil
	})
}
