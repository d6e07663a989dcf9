package workbench

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
)

// An evidence is the pours of a target that knowledge learns from.
type evidence struct {
	casts []cast
	pours []recipes.Pour
	refs  []string
	notes []string
}

// evidenceUpTo gathers the read pours of a target up to the last one, in its
// resin, of its lots, and of pigments that the calibration knows. A pour that
// was not read, that came later, or that the calibration was fitted from, is none.
func evidenceUpTo(ctx context.Context, b *archive.Bench, last cast, stored archive.Calibration, cal *calibrate.Calibration) (evidence, error) {
	var e evidence
	drifts := drifts{}
	all, err := b.Pours(ctx, last.recipe.Client, last.recipe.Target)
	if err != nil {
		return e, err
	}
	for _, p := range all {
		if p.Number > last.pour.Number {
			break
		}
		if stored.FittedFrom(p) {
			continue
		}
		c, err := castOf(ctx, b, p)
		if err != nil {
			return e, err
		}
		switch other := otherLot(c.pour.Lots, last.pour.Lots); {
		case c.recipe.Resin != last.recipe.Resin:
			continue
		case len(c.readings) == 0 && p.Number != last.pour.Number:
			continue
		case other != "":
			e.notes = append(e.notes, fmt.Sprintf("%s is left out: %s", p.ID(), other))
			continue
		case !c.knownTo(cal) && p.Number != last.pour.Number:
			e.notes = append(e.notes, fmt.Sprintf("%s is left out: the calibration does not know all its pigments", p.ID()))
			continue
		}
		warm, err := c.otherWarmth(ctx, b)
		if err != nil {
			return e, err
		}
		if warm != "" {
			if p.Number != last.pour.Number {
				e.notes = append(e.notes, fmt.Sprintf("%s is left out: %s", p.ID(), warm))
				continue
			}
			e.notes = append(e.notes, fmt.Sprintf("%s is in doubt: %s; read it again first", p.ID(), warm))
		}
		part, err := c.asPour(ctx, b, drifts)
		if err != nil {
			return e, err
		}
		e.casts, e.pours, e.refs = append(e.casts, c), append(e.pours, part), append(e.refs, c.pour.Ref)
	}
	return e, nil
}

// knownTo tells whether a calibration has curves of all that is in a cast.
func (c cast) knownTo(cal *calibrate.Calibration) bool {
	loadings, err := c.contents.Loadings()
	return err == nil && !slices.ContainsFunc(slices.Collect(maps.Keys(loadings)), func(code string) bool { return loadings[code] > 0 && cal.Index(code) == 0 })
}
