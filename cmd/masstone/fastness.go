package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
)

// leftOut is a pigment that a match does not use for its class.
type leftOut struct {
	Pigment string `json:"pigment"`
	Why     string `json:"why"`
}

// fastness forbids the pigments whose cards give too low a class of heat or
// light fastness.
func fastness(ctx context.Context, b *archive.Bench, o matchOptions, l *recipes.Limits, cal *calibrate.Calibration) ([]leftOut, error) {
	if o.heatClass == 0 && o.lightClass == 0 {
		return nil, nil
	}
	pigments, err := b.Pigments(ctx)
	if err != nil {
		return nil, err
	}
	var out []leftOut
	for _, p := range pigments {
		why := ""
		for _, c := range []struct {
			what, card string
			least      float64
		}{{"heat", p.HeatClass, o.heatClass}, {"light", p.LightClass, o.lightClass}} {
			if recipes.FastEnough(c.card, c.least, o.strictClass) {
				continue
			}
			why = fmt.Sprintf("%s class %s, below %s", c.what, c.card, short(c.least))
			if _, known := recipes.FastnessClass(c.card); !known {
				why = "no " + c.what + " class on its card"
			}
		}
		switch {
		case why == "" || cal.Index(p.Code) == 0:
			continue
		case slices.Contains(l.Required, p.Code):
			return nil, misusef("--require %s: %s; lower the class asked for, or take another pigment", p.Code, why)
		}
		out = append(out, leftOut{p.Code, why})
		l.Forbidden = append(l.Forbidden, p.Code)
	}
	return out, nil
}

// blameClass adds to the failure of a match what was left out for its class.
func blameClass(err error, out []leftOut) error {
	if len(out) == 0 {
		return err
	}
	var codes []string
	for _, l := range out {
		codes = append(codes, l.Pigment)
	}
	return fmt.Errorf("%w; left out for their class: %s", err, listed(codes))
}

func printLeftOut(env *Env, out []leftOut) {
	var parts []string
	for _, l := range out {
		parts = append(parts, fmt.Sprintf("%s (%s)", l.Pigment, l.Why))
	}
	if len(parts) > 0 {
		env.print("Left out for their class: %s.", tidy(strings.Join(parts, ", ")))
	}
}
