package workbench

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"masstone/calibrate"
	"masstone/color/remedy"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"slices"
	"strings"
)

// Limits are what a request says of the recipes it looks for, beside what the
// cards of resin and pigments say. Zero is no limit of its own.
type Limits struct {
	MaxPigments                  int      // in a recipe
	Recipes                      int      // most to give
	Required, Allowed, Forbidden []string // codes
	MaxPHR                       map[string]calibrate.PHR
	TotalPHR                     calibrate.PHR
	BatchGrams                   calibrate.Grams // whose weighing error counts
	ScaleChoice
	ScaleGrams            calibrate.Grams // step of the scale; that of the scale in use if 0
	MinWeigh              calibrate.Grams
	StrengthScatter       float64 // from pour to pour, sd of ln strength; as the chips showed if 0
	MinOpacity            float64 // contrast over black and white, 0..1
	MaxCostPerKg          float64
	ResinPricePerKg       float64
	Stock                 bool    // no more of a pigment than its card says there is
	ByPredicted           bool    // choose by predicted instead of expected difference
	HeatClass, LightClass float64 // least class of a pigment
	StrictClass           bool    // a pigment without a class is left out too
}

// How many pigments and recipes a search takes where a person says nothing.
const (
	UsualMaxPigments = 4
	UsualRecipes     = 5
)

// check refuses what no search takes.
func (l Limits) check() error {
	switch {
	case l.MaxPigments < 1 || l.MaxPigments > recipes.MaxPerRecipe:
		return outOfRange("max-pigments", l.MaxPigments, fmt.Sprintf("1 to %d", recipes.MaxPerRecipe))
	case l.Recipes < 1 || l.Recipes > 50:
		return outOfRange("recipes", l.Recipes, "1 to 50")
	}
	return weighable(weight{"grams", l.BatchGrams}, weight{"scale", l.ScaleGrams}, weight{"min-weigh", l.MinWeigh})
}

// limitsOf are a request's limits and what the cards of resin and pigments say.
func limitsOf(ctx context.Context, b *archive.Bench, o Limits, resin archive.Resin, stored archive.Calibration, cal *calibrate.Calibration) (recipes.Limits, error) {
	l := recipes.Limits{MaxPigments: o.MaxPigments, Recipes: o.Recipes, TotalPHR: cmp.Or(o.TotalPHR, calibrate.PHR(resin.MaxPHR)),
		BatchGrams: o.BatchGrams, ScaleGrams: o.ScaleGrams, MinWeigh: o.MinWeigh, StrengthScatter: cmp.Or(o.StrengthScatter, cal.Scatter),
		MinOpacity: o.MinOpacity, MaxCostPerKg: o.MaxCostPerKg, ResinPricePerKg: o.ResinPricePerKg, Predicted: o.ByPredicted,
		MaxPHR: map[string]calibrate.PHR{}, PricePerKg: map[string]float64{}, StockGrams: map[string]calibrate.Grams{}}
	pigments, err := b.Pigments(ctx)
	if err != nil {
		return l, err
	}
	for _, p := range pigments {
		if p.MaxPHR > 0 {
			l.MaxPHR[p.Code] = calibrate.PHR(p.MaxPHR)
		}
		if p.PricePerKG > 0 {
			l.PricePerKg[p.Code] = p.PricePerKG
		}
		if o.Stock && p.StockG != nil {
			l.StockGrams[p.Code] = calibrate.Grams(*p.StockG)
		}
	}
	for code, v := range o.MaxPHR {
		l.MaxPHR[code] = v
		if v == 0 {
			l.Forbidden = append(l.Forbidden, code)
		}
	}
	tidyCodes := func(codes []string) []string {
		var out []string
		for _, c := range codes {
			if c = strings.TrimSpace(c); c != "" {
				out = append(out, c)
			}
		}
		return out
	}
	l.Required, l.Allowed = tidyCodes(o.Required), tidyCodes(o.Allowed)
	l.Forbidden = append(l.Forbidden, tidyCodes(o.Forbidden)...)
	for _, code := range slices.Concat(l.Required, l.Allowed, slices.Sorted(maps.Keys(o.MaxPHR)), tidyCodes(o.Forbidden)) {
		if _, err := b.Pigment(ctx, code); err != nil {
			return l, err
		}
	}
	for _, code := range slices.Concat(l.Required, l.Allowed) {
		if cal.Index(code) == 0 {
			return l, notFitted(code, stored)
		}
	}
	// what no calibration knows cannot be used anyway
	l.Forbidden = slices.DeleteFunc(l.Forbidden, func(code string) bool { return cal.Index(code) == 0 })
	return l, nil
}

// A LeftOut is a pigment that a match does not use for its class.
type LeftOut struct {
	Pigment string `json:"pigment"`
	Why     string `json:"why"`
}

// fastness forbids the pigments whose cards give too low a class of heat or
// light fastness.
func fastness(ctx context.Context, b *archive.Bench, o Limits, l *recipes.Limits, cal *calibrate.Calibration) ([]LeftOut, error) {
	if o.HeatClass == 0 && o.LightClass == 0 {
		return nil, nil
	}
	pigments, err := b.Pigments(ctx)
	if err != nil {
		return nil, err
	}
	var out []LeftOut
	for _, p := range pigments {
		why := ""
		for _, c := range []struct {
			what, card string
			least      float64
		}{{"heat", p.HeatClass, o.HeatClass}, {"light", p.LightClass, o.LightClass}} {
			if recipes.FastEnough(c.card, c.least, o.StrictClass) {
				continue
			}
			why = fmt.Sprintf("%s class %s, below %s", c.what, c.card, figure.Short(c.least))
			if _, known := recipes.FastnessClass(c.card); !known {
				why = "no " + c.what + " class on its card"
			}
		}
		switch {
		case why == "" || cal.Index(p.Code) == 0:
			continue
		case slices.Contains(l.Required, p.Code):
			return nil, invalid("require", "%s: %s; lower the class asked for, or take another pigment", remedy.InputAs("require", p.Code), why)
		}
		out = append(out, LeftOut{p.Code, why})
		l.Forbidden = append(l.Forbidden, p.Code)
	}
	return out, nil
}

// blameClass adds to the failure of a match what was left out for its class.
func blameClass(err error, out []LeftOut) error {
	if len(out) == 0 {
		return err
	}
	var codes []string
	for _, l := range out {
		codes = append(codes, l.Pigment)
	}
	return fmt.Errorf("%w; left out for their class: %s", err, figure.List(codes))
}
