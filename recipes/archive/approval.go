package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// An Approval says that a recipe is the one to use for a target from now on.
// It is written once; approving again makes the target's next version. Its Ref
// is the checksum over its content, and through the Refs in it over the recipe,
// the calibration, the chips and the pours it came from.
type Approval struct {
	Stamp      `json:"-"`
	Client     string   `json:"client,omitempty"`
	Target     string   `json:"target"`
	Version    int      `json:"version"`     // counts the approvals of the target from 1; the bench fills it in
	TargetCard string   `json:"target_card"` // Ref of the target as approved against; the recipe's if empty
	Recipe     string   `json:"recipe"`      // Ref of the recipe
	Pours      []string `json:"pours"`       // Refs of the pours that proved it
	// Colors is the colour it was approved at, by light: the readings of the
	// part. The recipe's prediction if empty.
	Colors []Lab     `json:"colors"`
	Lots   []LotName `json:"lots"` // used in the pours; the bench adds those it knows of
	By     string    `json:"by"`   // who approved; whoever is at the bench if empty
	Note   string    `json:"note,omitempty"`
}

// Name is how people refer to it: Harbour lamp / housing v2.
func (a Approval) Name() string { return fmt.Sprintf("%s v%d", a.Target, a.Version) }

// Approve stores an approval as the next version of the recipe's target.
func (b *Bench) Approve(ctx context.Context, a Approval) (Approval, error) {
	return write(ctx, b, func(c *change) (Approval, error) {
		r, err := byRef[Recipe](ctx, c, kindRecipe, a.Recipe)
		if err != nil {
			return a, fmt.Errorf("approval: %w", err)
		}
		if r.Target == "" {
			return a, fmt.Errorf("approval of %s: %w: the recipe is for no target; match it to one first", r.ID(), ErrInvalid)
		}
		if (a.Target != "" && a.Target != r.Target) || (a.Client != "" && a.Client != r.Client) {
			return a, fmt.Errorf("approval of %s: %w: the recipe is for %s, not for %s", r.ID(), ErrInvalid, subject(r.Client, r.Target), subject(a.Client, a.Target))
		}
		a.Client, a.Target = r.Client, r.Target
		if a.TargetCard == "" {
			a.TargetCard = r.TargetCard
		}
		if a.Pours == nil {
			a.Pours = []string{}
		}
		if len(a.Colors) == 0 {
			a.Colors = r.Predicted
		}
		if a.By == "" {
			a.By = c.stamp.Who
		}
		if a.Lots, err = c.lotsOf(ctx, a.Pours, a.Lots); err != nil {
			return a, fmt.Errorf("approval of %s: %w", r.ID(), err)
		}
		old, found, err := c.latest(ctx, kindApproval, []any{a.Client, a.Target})
		if err != nil {
			return a, err
		}
		a.Version = 1
		if found {
			var was Approval
			if err := old.open(kindApproval, &was); err != nil {
				return a, err
			}
			a.Version = was.Version + 1
		}
		if err := c.insert(ctx, kindApproval, old.sum, &a); err != nil {
			return a, err
		}
		return a, c.log(ctx, "approved", subject(a.Client, a.Name()), fmt.Sprintf("%s, checksum %s", r.ID(), a.Ref))
	})
}

// lotsOf adds the lots of pours to lots, each once.
func (c *change) lotsOf(ctx context.Context, pours []string, lots []LotName) ([]LotName, error) {
	all := []LotName{}
	seen := map[LotName]bool{}
	add := func(more []LotName) {
		for _, l := range more {
			if !seen[l] {
				seen[l] = true
				all = append(all, l)
			}
		}
	}
	add(lots)
	for _, ref := range pours {
		p, err := byRef[Pour](ctx, c, kindPour, ref)
		if err != nil {
			return nil, err
		}
		add(p.Lots)
	}
	return all, nil
}

// Approvals lists the approvals of a target, newest first.
func (b *Bench) Approvals(ctx context.Context, client, name string) ([]Approval, error) {
	return read(ctx, b, func(tx *snapshot) ([]Approval, error) {
		t, err := target(ctx, tx, client, name)
		if err != nil {
			return nil, err
		}
		return records[Approval](ctx, tx, kindApproval, named(kindApproval), t.Client, t.Name)
	})
}

// Approval returns a version of a target's approval; 0 is the newest.
func (b *Bench) Approval(ctx context.Context, client, name string, version int) (Approval, error) {
	return read(ctx, b, func(tx *snapshot) (Approval, error) {
		t, err := target(ctx, tx, client, name)
		if err != nil {
			return Approval{}, err
		}
		a, err := one[Approval](ctx, tx, kindApproval,
			"WHERE client = ? AND target = ? AND (version = ?3 OR ?3 = 0) ORDER BY id DESC", t.Client, t.Name, version)
		if errors.Is(err, sql.ErrNoRows) {
			if version == 0 {
				return a, fmt.Errorf("%w approval of target %q; it has none yet", ErrNotFound, t.Name)
			}
			return a, fmt.Errorf("%w approval of target %q version %d; leave the version out for the newest", ErrNotFound, t.Name, version)
		}
		return a, err
	})
}
