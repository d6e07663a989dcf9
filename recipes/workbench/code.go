package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"

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
	code, err := b.coded(ctx, r.What)
	if err != nil {
		return Lookup{}, err
	}
	if r.Resin != "" && code.Kind == "" { // any word may name a chip
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
		switch err := each.find(); {
		case errors.Is(err, archive.ErrNotFound):
		case err == nil && code.there:
			return Lookup{}, &Error{Conflict, "", fmt.Errorf("%q is a %s and a %s; say %s, or %s", r.What, code.Kind, each.kind, papers.RefTo(code.Kind, strings.ToUpper(r.What)), papers.RefTo(each.kind, r.What))}
		default:
			return Lookup{each.kind, r.What, each.within}, err
		}
	}
	if code.Kind != "" {
		return code.Lookup, nil
	}
	return Lookup{}, &Error{NotFound, "", fmt.Errorf("nothing is called %q; give a code such as masstone:batch/B7, a recipe R1, batch B1, pour P1, plan PL1 or run RUN1, or a target, pigment or resin; a chip needs %s", r.What, remedy.Input("resin"))}
}

// A code is what a word stands for that is a letter and a number, such as R1: nothing
// where it is none.
type code struct {
	Lookup
	there bool // on the bench
}

// coded is a word as a code. A target or a paste may be called like one.
func (b *Bench) coded(ctx context.Context, word string) (code, error) {
	for kind, is := range map[string]struct {
		name *regexp.Regexp
		find func() error
	}{
		papers.RecipeRef: {recipeName, func() error { _, err := b.archive.Recipe(ctx, word); return err }},
		papers.BatchRef:  {batchName, func() error { _, err := b.archive.Batch(ctx, word); return err }},
		papers.PourRef:   {pourName, func() error { _, err := b.archive.Pour(ctx, word); return err }},
		papers.PlanRef:   {planName, func() error { _, err := b.archive.Plan(ctx, word); return err }},
		papers.RunRef:    {runName, func() error { _, err := b.archive.Run(ctx, word); return err }},
	} {
		if !is.name.MatchString(word) {
			continue
		}
		err := is.find()
		if errors.Is(err, archive.ErrNotFound) {
			return code{Lookup{kind, word, ""}, false}, nil
		}
		return code{Lookup{kind, word, ""}, err == nil}, err
	}
	return code{}, nil
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
