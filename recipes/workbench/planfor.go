package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"masstone/calibrate/castplan"
	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// fairChance is the chance below which pastes that are cast already are taken not
// to make a colour. Common practice, no source.
const fairChance = 0.5

// An outlook is what a target takes from here: castings of chips and pours until
// the first part within 1.0, by the study of the short way (README, "What to
// expect").
type outlook struct{ chips, pours, wholePours float64 }

// outlookOf gives the means of that study in straight shops, by what is read: chips
// beside the first ones, pours, and pours with the full set.
func outlookOf(read castplan.Reading) outlook {
	switch {
	case read.Spectrum:
		return outlook{0.2, 1.2, 1.0}
	case len(read.Lights) > 1:
		return outlook{1.3, 1.7, 1.0}
	}
	return outlook{2.2, 1.6, 1.3}
}

// towards leaves of a shelf the pastes that could make a target's colour and are
// not cast in the resin yet, and says why. found is false where those that are
// cast make it.
func (r PlanStartRequest) towards(ctx context.Context, b *Bench, resin archive.Resin, t archive.Target, shelf *castplan.Shelf, cast []archive.Chip) (notes []string, found bool, err error) {
	lab, err := mainColour(t)
	if err != nil {
		return nil, false, err
	}
	has := castIn(cast)
	if len(r.Pigments) > 0 {
		return []string{"The pastes are those that were named."}, true, nil
	}
	if chance, known, err := chanceNow(ctx, b, resin, t); err != nil {
		return nil, false, err
	} else if known && chance >= fairChance {
		return []string{fmt.Sprintf("The pastes that are cast make this colour: the chance of the next pour is %.0f %%. A plan of the next chips says whether another would raise it.", 100*chance)}, false, nil
	}
	pastes, blind, err := pastesOf(ctx, b.archive, shelf)
	if err != nil {
		return nil, false, err
	}
	codes := castplan.Likely(lab, pastes, has)
	if len(blind) > 0 {
		notes = append(notes, fmt.Sprintf("Nothing is known of the colour of %s: no Colour Index name, no reading. If %s matter, name the pastes yourself.", figure.List(blind), pronoun(len(blind))))
	}
	if len(codes) == 0 {
		if len(has) == 0 {
			return nil, false, invalid("pigments", "of no paste the colour is known; name those that make target %q with %s, or give them their Colour Index names", t.Name, remedy.Input("pigments"))
		}
		return append(notes, "No further paste that is known lies near this colour."), false, nil
	}
	notes = append(notes, fmt.Sprintf("%s: the pastes next to the target's hue, a white and a black.", figure.List(codes)))
	shelf.Pigments = codes
	for _, w := range shelf.Whites {
		if !slices.Contains(codes, w) && slices.Contains(has, w) {
			shelf.Pigments = append([]string{w}, shelf.Pigments...) // to let down in
			break
		}
	}
	shelf.Whites = slices.DeleteFunc(slices.Clone(shelf.Whites), func(w string) bool { return !slices.Contains(shelf.Pigments, w) })
	return notes, true, nil
}

func pronoun(n int) string {
	if n == 1 {
		return "it"
	}
	return "they"
}

// mainColour is a target's colour, under its own first light or else D65.
func mainColour(t archive.Target) (color.Lab, error) {
	piece, err := pieceOf(t.Name, t.Readings)
	if err != nil {
		return color.Lab{}, err
	}
	labs, err := colors(piece, nil)
	if err == nil && len(labs) == 0 {
		err = fmt.Errorf("target %q has no reading", t.Name)
	}
	if err != nil {
		return color.Lab{}, err
	}
	return labs[0], nil
}

// castIn are the pigments of chips, in no order.
func castIn(chips []archive.Chip) []string {
	var out []string
	for _, c := range chips {
		for code, phr := range c.Loadings {
			if phr > 0 && !slices.Contains(out, code) {
				out = append(out, code)
			}
		}
	}
	return out
}

// chanceNow is that of the best recipe the resin's calibration finds for a target;
// known is false without a calibration.
func chanceNow(ctx context.Context, b *Bench, resin archive.Resin, t archive.Target) (chance float64, known bool, err error) {
	k, err := know(ctx, b.archive, question{resin: resin.Code, target: &t, thickness: cmp.Or(t.ThicknessMM, usualThickness), over: cmp.Or(t.Backing, usualBacking)})
	if errors.Is(err, archive.ErrNotFound) {
		return 0, false, nil
	}
	if err != nil {
		return 0, false, err
	}
	answer, err := k.match(ctx, b.archive, resin)
	if err != nil {
		return 0, true, nil // these pastes make nothing near it
	}
	for _, r := range answer.Recipes {
		chance = math.Max(chance, r.Chance)
	}
	return chance, true, nil
}

// match finds the recipes of the target that plans count with.
func (k *knowledge) match(ctx context.Context, a *archive.Bench, resin archive.Resin) (recipes.Answer, error) {
	limits, err := limitsOf(ctx, a, Limits{MaxPigments: UsualMaxPigments, Recipes: mostRecipes, BatchGrams: usualGrams, ScaleGrams: 0.01}, resin, k.stored, k.fitted)
	if err != nil {
		return recipes.Answer{}, err
	}
	answer, err := recipes.Match(ctx, k.now, *k.target, limits)
	if err != nil {
		return answer, fmt.Errorf("target %q: %w", k.target.Name, err)
	}
	return answer, nil
}

// pastesOf is what is known of the colours of a shelf's pastes: by calibrations of
// any resin, else by chips that hold no other paste than a white, else by their
// Colour Index names and plain names. blind are those of which nothing is known.
func pastesOf(ctx context.Context, a *archive.Bench, shelf *castplan.Shelf) (pastes []castplan.Paste, blind []string, err error) {
	known := map[string]castplan.Paste{}
	resins, err := a.Resins(ctx)
	if err != nil {
		return nil, nil, err
	}
	for _, r := range resins {
		_, cal, err := calibrationOn(ctx, a, r.Code, 0)
		if errors.Is(err, archive.ErrNotFound) {
			continue
		}
		if err != nil {
			return nil, nil, err
		}
		for _, code := range cal.Codes() {
			if _, is := known[code]; is {
				continue
			}
			if known[code], err = castplan.PasteOf(cal, code); err != nil {
				return nil, nil, err
			}
		}
	}
	for _, r := range resins {
		chips, err := a.Chips(ctx, r.Code)
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return nil, nil, err
		}
		for _, c := range chips {
			code, only := ofOnePaste(c, shelf.Whites)
			if _, is := known[code]; is || !only {
				continue
			}
			piece, err := pieceOf(c.Name, c.Readings)
			if err != nil {
				return nil, nil, err
			}
			labs, err := colors(piece, nil)
			if err != nil {
				return nil, nil, err
			}
			if len(labs) > 0 {
				known[code] = castplan.PasteOfTint(code, labs[0])
			}
		}
	}
	for _, code := range shelf.Pigments {
		card, err := a.Pigment(ctx, code)
		if err != nil {
			return nil, nil, err
		}
		p, is := known[code]
		switch {
		case slices.Contains(shelf.Whites, code):
			p = castplan.Paste{Code: code, Kind: castplan.WhitePaste}
		case !is:
			p = castplan.PasteByName(code, card.CIName, card.Name)
		}
		if p.Kind == castplan.UnknownPaste {
			blind = append(blind, code)
		}
		pastes = append(pastes, p)
	}
	return pastes, blind, nil
}

// ofOnePaste tells which paste a chip is of, beside a white.
func ofOnePaste(c archive.Chip, whites []string) (code string, only bool) {
	for k, phr := range c.Loadings {
		switch {
		case phr <= 0 || slices.Contains(whites, k):
		case code != "":
			return "", false
		default:
			code = k
		}
	}
	return code, code != ""
}

// foresees says how many castings a target is likely to take by a plan of first
// chips in so many cups, and by calibrating the whole shelf first.
func (d *drawnUp) foresees(read castplan.Reading, cups, whole int) {
	o := outlookOf(read)
	k := &d.kept
	k.Castings, k.WholeCastings = float64(cups)+o.chips+o.pours, float64(whole)+o.wholePours
	d.note(fmt.Sprintf("About %.0f castings, chips and pours, are to be expected until a part is within tolerance: these, %.1f further chips and %.1f pours. With the whole shelf calibrated first it would be %.0f. Both are means over invented shops.",
		k.Castings, o.chips, o.pours, k.WholeCastings))
}

// A watch is a target whose chance of being hit a plan is held against.
type watch struct {
	judge   *recipes.Judge
	recipes []recipes.Recipe
}

// chances are that of the next pour of the watched targets, their mean, now and
// once each chip of a plan is read beside those before it.
func (in *interest) chances(plan castplan.Plan) (now float64, then []float64, err error) {
	of := func(expected []float64) (float64, error) {
		sum, at := 0.0, 0
		for _, w := range in.watches {
			n := len(w.recipes)
			chance, err := recipes.ChanceThen(w.judge, w.recipes, plan.Now[at:at+n], expected[at:at+n])
			if err != nil {
				return 0, err
			}
			sum += chance / float64(len(in.watches))
			at += n
		}
		return sum, nil
	}
	if now, err = of(plan.Now); err != nil {
		return now, nil, err
	}
	for _, s := range plan.Steps {
		chance, err := of(s.Then)
		if err != nil {
			return now, nil, err
		}
		then = append(then, chance)
	}
	return now, then, nil
}

// pourNow is the answer where no chip pays.
func pourNow(resin archive.Resin, calibration string, in interest, now float64, then []float64) PlanResult {
	v := PlanResult{Title: "Pour now", Resin: resin.Code, Calibration: calibration, PourNow: true, Chance: figure.Of(now), Chips: []PlannedChip{}, Whites: []string{}, Lights: []string{}}
	var names []string
	for _, t := range in.targets {
		v.For = append(v.For, t.Name)
		names = append(names, fmt.Sprintf("%q", t.Name))
	}
	say := fmt.Sprintf("Pour now: chance %.0f %%", 100*now)
	if len(then) > 0 {
		say += fmt.Sprintf("; one more chip would make it %.0f %%", 100*then[0])
	}
	v.Notes = append(v.Notes, say+".")
	if now < fairChance {
		v.Notes = append(v.Notes, fmt.Sprintf("No chip of the pastes that are cast makes %s likely; a plan of first chips for it looks for further pastes.", figure.List(names)))
	}
	return v
}
