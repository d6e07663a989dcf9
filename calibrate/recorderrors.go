package calibrate

import (
	"context"
	"slices"
)

// mostMistakes bounds how many mistakes are looked for in one set of chips.
// Where many chips stay suspicious beyond them, or any does and no cause was
// argued, it is the layer model that is wrong, not the chips.
const mostMistakes = 2

// findRecordErrors looks for chips that are wrong in a way no noise explains. It
// returns the problem and its optimum with such chips taken for what they most
// likely are or downweighted, and what it found; or both as they came, to the
// last digit, where every chip is plausible.
func (p *problem) findRecordErrors(ctx context.Context, x state) (*problem, state, []finding, error) {
	asCame, xCame := p, x
	var found []finding
	for n := 0; ; n++ {
		left, err := p.leaveOut(x, p.system())
		if err != nil {
			return p, x, found, err
		}
		sizes := p.sizes(x, left)
		suspects, err := p.suspectPigments(ctx, x, sizes)
		if err != nil {
			return p, x, found, err
		}
		var f *finding
		better := false
		if len(suspects) > 0 && n < mostMistakes {
			if f, err = p.diagnose(ctx, x, sizes, suspects); err != nil && !noFit(err) {
				return p, x, found, err
			}
			if err != nil { // where no fit is left there is nothing to tell
				f = nil
			}
		}
		q, y := p, x
		if f != nil {
			if q, y, better, err = p.accept(ctx, x, f); err != nil && !noFit(err) {
				return p, x, found, err
			}
			better = better && err == nil // a mistake that leaves no fit is none
		}
		if !better {
			argued := slices.ContainsFunc(found, func(f finding) bool { return f.cause != Unexplained })
			unsettled := len(suspects) > 0 && (f != nil || n == mostMistakes)
			if countSuspicious(sizes) > max(3, len(sizes)/4) || unsettled && !argued {
				return asCame, xCame, nil, nil
			}
			return p, x, found, nil
		}
		// a swap may explain what nothing explained before
		found = slices.DeleteFunc(found, func(o finding) bool {
			return slices.ContainsFunc(o.chips, func(i int) bool { return slices.Contains(f.chips, i) })
		})
		found = append(found, *f)
		p, x = q, y
	}
}

// accept returns the problem that takes chips for what f says, its optimum, and
// whether all readings are explained about as well or better: where the layer
// model is wrong, mistakes that a few chips ask for are paid for by the rest.
func (p *problem) accept(ctx context.Context, x state, f *finding) (*problem, state, bool, error) {
	before, err := p.totalEvidence(x, p.system())
	if err != nil {
		return nil, nil, false, err
	}
	q := f.p
	y, err := q.refit(ctx)
	if err != nil {
		return nil, nil, false, err
	}
	if err := q.learn(ctx, y); err != nil {
		return nil, nil, false, err
	}
	after, err := q.totalEvidence(y, q.system())
	return q, y, after < before+tell, err
}

// totalEvidence returns the evidence of all readings at the optimum x,
// outliers counted as what nothing explains. It leaves sys factored there.
func (p *problem) totalEvidence(x state, sys *system) (float64, error) {
	v, err := p.evidence(x, sys)
	for i := range p.readings {
		if p.readings[i].trust == outlierTrust && err == nil {
			v += p.outlierCost(i, x, sys)
		}
	}
	return v, err
}
