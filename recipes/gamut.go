package recipes

import (
	"context"
	"fmt"
	"math"
	"strings"

	"masstone/calibrate"
	"masstone/color"
)

// Reach is what stands between a target and the recipes found for it.
type Reach string

// The kinds. Each but the first is proved by a search of its own: over every set
// of pigments for the least f, the predicted difference alone.
const (
	// Reached: a recipe is predicted within 0.5 of the target.
	Reached Reach = "reached"
	// Unsure: a mixture within the limits is, but what is known of it does not let
	// it be counted on.
	Unsure Reach = "not known well enough"
	// Forbidden: only mixtures outside the limits are.
	Forbidden Reach = "forbidden by the limits"
	// PastChips: only mixtures are that hold more paste than the calibration has
	// seen.
	PastChips Reach = "beyond the chips"
	// NoMixture: no mixture of the calibration's pigments is, at any loadings.
	NoMixture Reach = "no mixture reaches it"
)

// plenty is more paste of each and in all, in phr, than any resin bears.
const plenty = 100

// manySets is how many sets of pigments a further search may have.
const manySets = 60000

// A nearest is the nearest that mixtures under some limits are predicted to come.
type nearest struct {
	de  float64
	mix string
	lab color.Lab
}

// approach finds the least predicted difference under some limits.
func (m *match) approach(ctx context.Context, t Target, limits Limits) (nearest, error) {
	limits.Predicted, limits.Progress = true, nil
	other, err := newMatch(m.cal, t, limits)
	if err != nil {
		return nearest{}, err
	}
	if other.bench.subsets() > manySets {
		limits.MaxPigments = max(3, len(limits.Required)) // see reach
		if other, err = newMatch(m.cal, t, limits); err != nil {
			return nearest{}, err
		}
	}
	list, _, err := other.search(ctx)
	if err != nil {
		return nearest{}, err
	}
	out := nearest{de: math.Inf(1)}
	for _, f := range list {
		r, err := other.recipe(f)
		if err != nil {
			return out, err
		}
		if r.DE00 < out.de {
			out = nearest{r.DE00, loadingsText(r.Loadings), r.Colors[0].Lab}
		}
	}
	return out, nil
}

// tell finds out which kind of out of reach a target is, that no recipe is
// predicted near.
func (m *match) tell(ctx context.Context, a *Answer) error {
	within, err := m.approach(ctx, m.target, m.limits)
	if err != nil {
		return err
	}
	if within.de <= outside {
		a.Reach = Unsure
		a.Missing = fmt.Sprintf("a mixture within the limits is predicted within %.2f of the target (%s), but not known well enough to count on: chips near it would tell", within.de, within.mix)
		return nil
	}
	only := m.target // the main colour counts here
	only.Labs, only.Spectrum = []color.Lab{color.LabFrom(m.wants[0].lab, m.conds[0])}, nil
	size := max(4, m.bench.size)
	known, err := m.approach(ctx, only, Limits{MaxPigments: size})
	if err != nil {
		return err
	}
	if known.de <= outside {
		a.Reach = Forbidden
		a.Missing = fmt.Sprintf("within the limits no mixture is predicted nearer than %.2f; without them one is, within %.2f (%s)", within.de, known.de, known.mix)
		for _, relax := range m.relaxations() {
			limits := m.limits
			relax.apply(&limits)
			one, err := m.approach(ctx, m.target, limits)
			if err == nil && one.de <= outside {
				a.Missing += fmt.Sprintf("; lifting \"%s\" alone would do", relax.name)
			}
		}
		return ctx.Err()
	}
	free := Limits{MaxPigments: size, TotalPHR: plenty, MaxPHR: map[string]calibrate.PHR{}}
	for _, code := range m.cal.Codes() {
		free.MaxPHR[code] = plenty
	}
	any, err := m.approach(ctx, only, free)
	if err != nil {
		return err
	}
	if any.de <= outside {
		a.Reach = PastChips
		a.Missing = fmt.Sprintf("only a mixture of more paste than the calibration has seen is predicted near the target, within %.2f (%s)", any.de, any.mix)
		return nil
	}
	d, err := color.Compare(only.Labs[0], any.lab, color.CIEDE2000)
	if err != nil {
		return err
	}
	a.Reach = NoMixture
	a.Missing = fmt.Sprintf("%s; the nearest of all mixtures, at any loadings, is predicted %.2f off (%s)", lacking(d), any.de, any.mix)
	return nil
}

// Says is a kind of reach as the beginning of a sentence.
func (r Reach) Says() string {
	switch r {
	case Unsure:
		return "Not known well enough"
	case Forbidden:
		return "Your limits forbid it"
	case PastChips:
		return "Beyond what the chips show"
	case NoMixture:
		return "Out of reach"
	}
	return strings.ToUpper(string(r)[:1]) + string(r)[1:]
}
