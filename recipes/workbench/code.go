package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"regexp"

	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

var (
	pourName     = regexp.MustCompile(`^[Pp]\d+$`)
	batchName    = regexp.MustCompile(`^[Bb]\d+$`)
	recipeName   = regexp.MustCompile(`^[Rr]\d+$`)
	runName      = regexp.MustCompile(`^[Rr][Uu][Nn]\d+$`)
	planName     = regexp.MustCompile(`^[Pp][Ll]\d+$`)
	approvalName = regexp.MustCompile(`^(.+) [Vv](\d+)$`)
)

// A LookupRequest asks what a scanned code or a name stands for.
type LookupRequest struct {
	What   string
	Client string // where several have a target of this name
	Resin  string // of a chip; without it a name is that of no chip
}

// A Lookup is what a code or a name stands for: a kind of package papers, a
// name, and the client of a target or the resin of a chip.
type Lookup struct {
	Kind, Name string
	Within     string // "" if the bench has to say
}

// LookUp finds what a code or a name stands for.
func LookUp(ctx context.Context, b *Bench, r LookupRequest) (Lookup, error) {
	if papers.IsRef(r.What) {
		return lookedUp(r)
	}
	for kind, name := range map[string]*regexp.Regexp{papers.RecipeRef: recipeName, papers.BatchRef: batchName, papers.PourRef: pourName, papers.PlanRef: planName, papers.RunRef: runName} {
		if name.MatchString(r.What) {
			return Lookup{kind, r.What, ""}, nil
		}
	}
	if r.Resin != "" { // any word may name a chip
		return Lookup{papers.ChipRef, r.What, r.Resin}, nil
	}
	for _, each := range []struct {
		kind, within string
		find         func() error
	}{
		{papers.TargetRef, r.Client, func() error { _, err := b.archive.Target(ctx, r.Client, r.What); return err }},
		{papers.PigmentRef, "", func() error { _, err := b.archive.Pigment(ctx, r.What); return err }},
		{papers.ResinRef, "", func() error { _, err := b.archive.Resin(ctx, r.What); return err }},
	} {
		if err := each.find(); !errors.Is(err, archive.ErrNotFound) {
			return Lookup{each.kind, r.What, each.within}, err
		}
	}
	return Lookup{}, &Error{NotFound, "", fmt.Errorf("nothing is called %q; give a code such as masstone:batch/B7, a recipe R1, batch B1, pour P1, plan PL1 or run RUN1, or a target, pigment or resin; a chip needs %s", r.What, remedy.Input("resin"))}
}

// lookedUp reads a code.
func lookedUp(r LookupRequest) (Lookup, error) {
	ref, err := papers.ParseRef(r.What)
	if err != nil {
		return Lookup{}, invalid("", "%w", err)
	}
	v := Lookup{Kind: ref.Kind, Name: ref.Names[len(ref.Names)-1]}
	if len(ref.Names) > 1 {
		v.Within = ref.Names[0]
	}
	switch v.Kind {
	case papers.TargetRef:
		v.Within = cmp.Or(r.Client, v.Within)
	case papers.ChipRef:
		v.Within = cmp.Or(r.Resin, v.Within)
	}
	return v, nil
}
