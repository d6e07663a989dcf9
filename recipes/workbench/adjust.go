package workbench

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// An Adjustment is what it takes to bring a recipe to another colour, solved
// among its own pigments. Differences are CIEDE2000.
type Adjustment struct {
	Recipe      string                   `json:"recipe"`
	Resin       string                   `json:"resin"`
	Calibration string                   `json:"calibration,omitempty"`
	Loadings    map[string]figure.Number `json:"loadings_phr,omitempty"`
	Change      map[string]figure.Number `json:"change_phr,omitempty"`
	Expected    *figure.Number           `json:"expected_dE00,omitempty"`
	Upper95     *figure.Number           `json:"upper95_dE00,omitempty"`
	Chance      *figure.Number           `json:"chance,omitempty"`
	AsItIs      *figure.Number           `json:"as_it_is_dE00,omitempty" doc:"expected"`
	Note        string                   `json:"note,omitempty" doc:"why there is none"`
}

// adjust solves a recipe again for the colour wanted, by what is known of its
// lots, and of the target if the colour is one's.
func (w *wantedColor) adjust(ctx context.Context, a *archive.Bench, r archive.Recipe, ask FindRequest) (*Adjustment, error) {
	v := &Adjustment{Recipe: r.ID(), Resin: r.Resin}
	k, note, err := w.known(ctx, a, r, ask, nil)
	if err != nil {
		return nil, err
	}
	if k != nil {
		v.Calibration = k.stored.Name()
	}
	if note != "" {
		v.Note = note
		return v, nil
	}
	now, err := k.weighed(r, usualGrams, usualStep)
	if err != nil {
		return nil, err
	}
	again, err := k.adjusted(ctx, a, r, usualGrams, usualStep)
	if err != nil {
		return nil, err
	}
	v.Loadings, v.Change = figure.Map(again.Loadings), figure.Map(recipes.Change(phrs(r.Loadings), again.Loadings))
	v.Expected, v.Upper95, v.Chance, v.AsItIs = figure.Of(again.Expected), figure.Of(again.Upper95), figure.Of(again.Chance), figure.Of(now.Expected)
	return v, nil
}

// A knownFor is what is known of recipes for a wanted colour, by resin and setting.
type knownFor map[string]*knowledge

// known is what is known of a recipe's colours today with the wanted colour as their
// target, or a note that says why nothing is. What is formed goes into cache, nil for
// none.
func (w *wantedColor) known(ctx context.Context, a *archive.Bench, r archive.Recipe, ask FindRequest, cache knownFor) (*knowledge, string, error) {
	if r.Calibration == "" {
		return nil, "it was typed in, so what an adjustment does is not known", nil
	}
	thickness, over := cmp.Or(ask.ThicknessMM, r.ThicknessMM, usualThickness), cmp.Or(ask.Over, r.Backing, usualBacking)
	if w.target != nil {
		thickness, over = cmp.Or(ask.ThicknessMM, w.target.ThicknessMM, thickness), cmp.Or(ask.Over, w.target.Backing, over)
	}
	key := fmt.Sprintf("%q %g %q", r.Resin, thickness, over)
	k := cache[key]
	if k == nil {
		formed, err := know(ctx, a, question{resin: r.Resin, target: w.target, thickness: thickness, over: over})
		if err != nil {
			return nil, "", err
		}
		if formed.target == nil {
			how, err := checkedWay(ask.Measurement)
			if err != nil {
				return nil, "", err
			}
			setting, err := settingOf(ctx, a, thickness, over, how.Specular)
			if err != nil {
				return nil, "", err
			}
			formed.target = &recipes.Target{Name: figure.LabText(w.main), Labs: []color.Lab{w.main}, Readings: 1, Setting: setting}
		}
		if k = &formed; cache != nil {
			cache[key] = k
		}
	}
	if slices.ContainsFunc(codesOf(r), func(code string) bool { return k.fitted.Index(code) == 0 }) {
		return k, fmt.Sprintf("calibration %s does not know all its pigments", k.stored.Name()), nil
	}
	return k, "", nil
}

// usualStep stands in for the step of a scale that is not known, g.
const usualStep = 0.01

// adjusted is a recipe solved again among its own pigments, for a batch weighed
// like that.
func (k *knowledge) adjusted(ctx context.Context, a *archive.Bench, r archive.Recipe, grams, scale calibrate.Grams) (recipes.Recipe, error) {
	resin, err := a.Resin(ctx, r.Resin)
	if err != nil {
		return recipes.Recipe{}, err
	}
	limits, err := limitsOf(ctx, a, Limits{BatchGrams: grams, ScaleGrams: scale}, resin, k.stored, k.fitted)
	if err != nil {
		return recipes.Recipe{}, err
	}
	return recipes.Adjust(k.now, *k.target, phrs(r.Loadings), limits)
}
