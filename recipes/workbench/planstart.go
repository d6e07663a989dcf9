package workbench

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A PlanStartRequest asks which chips to cast first, for a shelf without a
// calibration.
type PlanStartRequest struct {
	Resin     string // code
	Casting   Casting
	Pigments  []string           // codes; the whole shelf if empty
	Whites    []string           // codes, the one to let colours down in first; as named on their cards if empty
	PerColour int                // chips per colour, 1 to 4; the fewest the readings make do with if 0, and 1 for a target
	Level     calibrate.PHR      // loading of a masstone; half of what the resin bears, else 2, if 0
	Evidence  calibrate.Evidence // what will be read of a chip; as the bench's instrument does if empty, else Lab under several lights
	Under     []color.Condition  // lights chips will be read under; D65, A and FL11 if empty
	// For is a target: then only the pastes that could make it are planned for.
	For, Client string
}

// PlanStart says which chips to cast first.
func PlanStart(ctx context.Context, b *Bench, r PlanStartRequest) (PlanResult, error) {
	if r.PerColour < 0 || r.PerColour > 4 {
		return PlanResult{}, outOfRange("per-colour", r.PerColour, "1 to 4")
	}
	resin, err := b.archive.Resin(ctx, r.Resin)
	if err != nil {
		return PlanResult{}, err
	}
	cast, err := b.archive.Chips(ctx, resin.Code)
	if err != nil {
		return PlanResult{}, err
	}
	shelf, err := r.shelf(ctx, b.archive)
	if err != nil {
		return PlanResult{}, err
	}
	bench, err := r.Casting.bench(ctx, b.archive, resin, cast)
	if err != nil {
		return PlanResult{}, err
	}
	bench.Order = slices.Concat(shelf.Whites, shelf.Pigments)
	as := ""
	if r.Evidence == "" && len(r.Under) == 0 {
		var read castplan.Reading
		if read, as, err = instrument(ctx, b.archive, cast); err != nil {
			return PlanResult{}, err
		}
		if as != "" {
			shelf.Reading = read
		}
	}
	whole, err := castplan.Start(shelf, bench)
	if err != nil {
		return PlanResult{}, fmt.Errorf("plan for %s: %w", resin.Code, err)
	}
	first := whole
	var target archive.Target
	var why []string
	if r.For != "" {
		if target, err = b.archive.Target(ctx, r.Client, r.For); err != nil {
			return PlanResult{}, err
		}
		var found bool
		if why, found, err = r.towards(ctx, b, resin, target, &shelf, cast); err != nil {
			return PlanResult{}, err
		}
		if found {
			first, err = r.firstFor(ctx, b.archive, shelf, bench, cast)
			if err != nil {
				return PlanResult{}, fmt.Errorf("plan for %s: %w", resin.Code, err)
			}
		}
		if !found || len(first) == 0 {
			return PlanResult{Title: "Nothing to cast first", Resin: resin.Code, For: []string{target.Name}, PourNow: true, Chips: []PlannedChip{}, Whites: []string{}, Lights: []string{},
				Notes: append(why, "There is no first chip to cast for it.")}, nil
		}
	}
	d := drawUp(resin, bench, first, shelf.Whites, shelf.Reading)
	d.kept.Title = "First chips"
	if r.For != "" {
		d.kept.Title += " for " + target.Name
		d.plan.For = []archive.TargetName{{Client: target.Client, Name: target.Name}}
		d.note(why...)
		d.foresees(shelf.Reading, cupsOf(first), cupsOf(whole))
	}
	if len(shelf.Whites) > 0 {
		d.note(fmt.Sprintf("Colours are let down in %s.", shelf.Whites[0]))
	} else {
		d.note("No white is known among these pigments, so no tints are planned: say which of them is the white.")
	}
	if as != "" {
		d.note(fmt.Sprintf("They are to be read as %s were.", as))
	}
	if len(cast) > 0 && r.For == "" {
		d.note(fmt.Sprintf("%s of %s are on the bench already; a plan of the next chips says what to add to them.", figure.Count(len(cast), "chip"), resin.Code))
	}
	return d.keep(ctx, b)
}

// firstFor are the first chips of the pastes of a target that are not cast yet.
func (r PlanStartRequest) firstFor(ctx context.Context, a *archive.Bench, shelf castplan.Shelf, bench *castplan.Bench, archived []archive.Chip) ([]castplan.Chip, error) {
	shelf.PerColour = cmp.Or(r.PerColour, 1)
	all, err := castplan.Start(shelf, bench)
	if err != nil {
		return nil, err
	}
	cast, _, err := evidenceOf(ctx, a, archived)
	return castplan.Uncast(all, cast), err
}

// cupsOf counts the castings of planned chips.
func cupsOf(chips []castplan.Chip) int {
	cups := map[string]bool{}
	for _, c := range chips {
		cups[fmt.Sprint(c.Loadings)] = true // maps print in the order of their keys
	}
	return len(cups)
}

// reading is how the chips will be read.
func (r PlanStartRequest) reading() castplan.Reading {
	switch {
	case r.Evidence == calibrate.SpectralEvidence || r.Evidence == calibrate.AllEvidence:
		return castplan.Reading{Spectrum: true, Lights: r.Under}
	case len(r.Under) > 0:
		return castplan.Reading{Lights: r.Under}
	case r.Evidence == calibrate.LabEvidence:
		return castplan.Reading{Lights: []color.Condition{color.D65Ten()}}
	}
	return castplan.Reading{Lights: calibrate.ThreeLights(color.TenDegree)}
}

// shelf is what to plan for: the pigments named, or all, and the whites among
// them.
func (r PlanStartRequest) shelf(ctx context.Context, a *archive.Bench) (castplan.Shelf, error) {
	s := castplan.Shelf{PerColour: r.PerColour, Level: r.Level, Reading: r.reading()}
	pigments, err := a.Pigments(ctx)
	if err != nil {
		return s, err
	}
	wanted := trimmed(r.Pigments)
	for _, code := range wanted {
		if _, err := a.Pigment(ctx, code); err != nil {
			return s, err
		}
	}
	for _, p := range pigments {
		if len(wanted) > 0 && !slices.Contains(wanted, p.Code) {
			continue
		}
		s.Pigments = append(s.Pigments, p.Code)
		if len(r.Whites) == 0 && namedWhite(p) {
			s.Whites = append(s.Whites, p.Code)
		}
	}
	if len(s.Pigments) == 0 {
		return s, fmt.Errorf("no pigment to plan for; %s", remedy.Verb("pigment import", "FILE"))
	}
	for _, w := range trimmed(r.Whites) {
		if !slices.Contains(s.Pigments, w) {
			return s, invalid("whites", "%s: is not among the pigments to plan for; they are %s", remedy.InputAs("whites", w), figure.List(s.Pigments))
		}
		s.Whites = append(s.Whites, w)
	}
	return s, nil
}

// namedWhite tells whether a card names a white that hides: by its Colour Index
// name or, without one, by its plain name.
func namedWhite(p archive.Pigment) bool {
	return castplan.WhiteByName(p.CIName) || p.CIName == "" && slices.Contains(strings.Fields(strings.ToLower(p.Name)), "white")
}

func trimmed(codes []string) []string {
	var out []string
	for _, c := range codes {
		out = append(out, strings.TrimSpace(c))
	}
	return out
}
