package workbench

import (
	"context"
	"fmt"
	"slices"

	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// An ApproveRequest approves a recipe for its target.
type ApproveRequest struct {
	Recipe string
	Pours  []string // that proved it; the last is the part approved
	By     string   // who approved it; who is at the bench if empty
	Note   string
	Again  bool // meant, though the same was approved a moment ago
}

// An Approval is an approved recipe with everything it came from.
type Approval struct {
	Name        string            `json:"name"`
	Target      string            `json:"target"`
	Client      string            `json:"client,omitempty"`
	Version     int               `json:"version"`
	Recipe      Recipe            `json:"recipe" as:"recipe show"`
	Corrected   []string          `json:"corrected" doc:"recipes it grew from"`
	Calibration string            `json:"calibration,omitempty"`
	Chips       int               `json:"chips" doc:"fitted"`
	Pours       []string          `json:"pours"`
	Colors      []Color           `json:"colors" doc:"as read, or as predicted without a pour"`
	Lots        map[string]string `json:"lots" doc:"by code"`
	By          string            `json:"by"`
	At          string            `json:"at"`
	Who         string            `json:"who"`
	Note        string            `json:"note,omitempty"`
	Checksum    string            `json:"checksum"`
	Head        archive.Head      `json:"head" doc:"of the log when it was approved, to check against by verify"`

	Remarks Remarks `json:"-"`
}

func approvalOf(p archive.Provenance) Approval {
	a := p.Approval
	v := Approval{Name: a.Name(), Target: a.Target, Client: a.Client, Version: a.Version, Recipe: recipeOf(p.Recipe), Corrected: []string{}, Chips: len(p.Chips),
		Pours: []string{}, Colors: []Color{}, Lots: lotsByCode(a.Lots), By: a.By, At: figure.At(a.At), Who: a.Who, Note: a.Note, Checksum: a.Ref, Head: p.Head}
	for _, r := range p.Corrected {
		v.Corrected = append(v.Corrected, r.ID())
	}
	if p.Calibration != nil {
		v.Calibration = p.Calibration.Name()
	}
	for _, pour := range p.Pours {
		v.Pours = append(v.Pours, pour.ID())
	}
	for _, l := range a.Colors {
		v.Colors = append(v.Colors, Color{l.Color().Under.String(), figure.LabOf(l.Color())})
	}
	return v
}

// Approve approves a recipe for its target, with the pours that proved it. The
// approval cannot be changed afterwards; approving again makes the target's next
// version.
func Approve(ctx context.Context, b *Bench, r ApproveRequest) (Approval, error) {
	var v Approval
	var say Remarks
	err := together(ctx, b, &say, func(a *archive.Bench) error {
		recipe, err := a.Recipe(ctx, r.Recipe)
		if err != nil {
			return err
		}
		approval := archive.Approval{Recipe: recipe.Ref, By: r.By, Note: r.Note}
		for _, id := range r.Pours {
			c, err := castNamed(ctx, a, id)
			if err != nil {
				return err
			}
			if err := c.proves(ctx, a, recipe, &say); err != nil {
				return err
			}
			if warm, err := c.otherWarmth(ctx, a); err != nil {
				return err
			} else if warm != "" {
				say.warn("%s: %s; read it again before the client relies on it", c.pour.ID(), warm)
			}
			piece, err := c.piece()
			if err != nil {
				return err
			}
			labs, err := colors(piece, conditionsOf(recipe.Predicted))
			if err != nil {
				return err
			}
			approval.Colors = nil
			for _, l := range labs {
				approval.Colors = append(approval.Colors, archive.LabOf(l))
			}
			approval.Pours = append(approval.Pours, c.pour.Ref)
		}
		if len(r.Pours) == 0 {
			say.say("no pour proves it: it is approved as predicted; name one with %s", remedy.Input("pour"))
		}
		if approval, err = a.Approve(ctx, approval); err != nil {
			return err
		}
		if err := r.repeats(ctx, a, approval); err != nil {
			return err
		}
		p, err := a.Provenance(ctx, approval)
		v = approvalOf(p)
		return err
	})
	v.Remarks = say
	return v, err
}

// repeats refuses an approval that was given a moment ago.
func (r ApproveRequest) repeats(ctx context.Context, a *archive.Bench, now archive.Approval) error {
	all, err := a.Approvals(ctx, now.Client, now.Target)
	if err != nil || r.Again || len(all) < 2 {
		return err
	}
	before := all[1]
	if before.Recipe == now.Recipe && before.By == now.By && before.Note == now.Note && slices.Equal(before.Pours, now.Pours) {
		return twice(before.Name()+" is such an approval", before.Stamp, now.Stamp)
	}
	return nil
}

// proves refuses a pour of another recipe, and warns of one that misses, or will
// once it has settled.
func (c cast) proves(ctx context.Context, a *archive.Bench, r archive.Recipe, say *Remarks) error {
	if c.recipe.Ref != r.Ref {
		return fmt.Errorf("%s was poured from recipe %s, not from %s; approve %s, or name a pour of %s", c.pour.ID(), c.recipe.ID(), r.ID(), c.recipe.ID(), r.ID())
	}
	if len(c.readings) == 0 {
		return nil
	}
	v, err := c.judged(ctx, a)
	if err != nil || v == nil {
		return err
	}
	if text := c.partsText(); text != "" {
		say.say("%s", text)
	}
	if !v.Passes {
		say.warn("%s is outside tolerance, %s", c.pour.ID(), v.Line())
	}
	if s := v.Settled; s != nil {
		tell := say.say
		if !s.Passes || s.Chance < 0.5 {
			tell = say.warn
		}
		tell("%s was %s", c.pour.ID(), v.SettledLine())
	}
	return nil
}

// judged is the verdict on a cast by all its parts that count, and by what is known
// now of how they change.
func (c cast) judged(ctx context.Context, a *archive.Bench) (*kept.Verdict, error) {
	piece, err := c.piece()
	if err != nil {
		return nil, err
	}
	counted, err := c.counted()
	if err != nil {
		return nil, err
	}
	still, err := drifts{}.change(ctx, a, c.recipe.Resin, counted...)
	if err != nil {
		return nil, err
	}
	return inspect(ctx, a, c.recipe, piece, still)
}

// An ApprovalsRequest asks for the newest approval of every target, or for all
// versions of one.
type ApprovalsRequest struct{ Target, Client string }

// An ApprovalList is approved recipes.
type ApprovalList struct {
	Approvals []Approval `json:"approvals" as:"approval show"`
}

// Approvals lists approved recipes.
func Approvals(ctx context.Context, b *Bench, r ApprovalsRequest) (ApprovalList, error) {
	v := ApprovalList{Approvals: []Approval{}}
	found, err := approvals(ctx, b.archive, r)
	if err != nil {
		return v, err
	}
	for _, a := range found {
		p, err := b.archive.Provenance(ctx, a)
		if err != nil {
			return v, err
		}
		v.Approvals = append(v.Approvals, approvalOf(p))
	}
	return v, nil
}

// approvals are those of a target, or else the newest of every target.
func approvals(ctx context.Context, a *archive.Bench, r ApprovalsRequest) ([]archive.Approval, error) {
	if r.Target != "" {
		return a.Approvals(ctx, r.Client, r.Target)
	}
	targets, err := a.Targets(ctx, r.Client)
	if err != nil {
		return nil, err
	}
	var out []archive.Approval
	for _, t := range targets {
		all, err := a.Approvals(ctx, t.Client, t.Name)
		if err != nil {
			return nil, err
		}
		if len(all) > 0 {
			out = append(out, all[0])
		}
	}
	return out, nil
}

// An ApprovalRequest names an approval.
type ApprovalRequest struct {
	Target, Client string
	Version        int // the newest if 0
}

// ShowApproval shows an approved recipe with everything it came from.
func ShowApproval(ctx context.Context, b *Bench, r ApprovalRequest) (Approval, error) {
	a, err := b.archive.Approval(ctx, r.Client, r.Target, r.Version)
	if err != nil {
		return Approval{}, err
	}
	p, err := b.archive.Provenance(ctx, a)
	return approvalOf(p), err
}
