package main

import (
	"context"
	"maps"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
)

// limitsOf are the flags and what the cards of resin and pigments say.
func limitsOf(ctx context.Context, b *archive.Bench, o matchOptions, resin archive.Resin, stored archive.Calibration, cal *calibrate.Calibration) (recipes.Limits, error) {
	l := recipes.Limits{MaxPigments: o.maxPigments, Recipes: o.answers, TotalPHR: calibrate.PHR(firstKnown(o.totalPHR, resin.MaxPHR)),
		BatchGrams: calibrate.Grams(o.grams), ScaleGrams: calibrate.Grams(o.scale), MinWeigh: calibrate.Grams(o.minWeigh), StrengthScatter: firstKnown(o.scatter, cal.Scatter),
		MinOpacity: o.opacity, MaxCostPerKg: o.maxCost, ResinPricePerKg: o.resinPrice, Predicted: o.byPredicted,
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
		if o.stock && p.StockG != nil {
			l.StockGrams[p.Code] = calibrate.Grams(*p.StockG)
		}
	}
	for code, v := range o.maxPHR {
		l.MaxPHR[code] = calibrate.PHR(v)
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
	l.Required, l.Allowed = tidyCodes(o.required), tidyCodes(o.allowed)
	l.Forbidden = append(l.Forbidden, tidyCodes(o.forbidden)...)
	for _, code := range slices.Concat(l.Required, l.Allowed, slices.Sorted(maps.Keys(o.maxPHR)), tidyCodes(o.forbidden)) {
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
