package calibrate

import (
	"context"
	"slices"
)

// Layer models are chosen between for a resin: each by the mean cosine that suits
// it, and with chips that are wrong on record put right, since these speak for
// the wrong model.

// tryAnisotropies returns the candidates with those that scatter more or less
// forward than the exact layer they hold, where that is worth it and nobody said
// how far forward. The best of them has learnt all.
func tryAnisotropies(ctx context.Context, fits []candidate, o Options) ([]candidate, error) {
	exact := best(fits, ExactLayer)
	if exact == nil || o.Anisotropy != nil || !exact.worthLearning(fits) {
		return fits, nil
	}
	from := *exact
	others, err := from.otherAnisotropies(ctx)
	if err != nil {
		return nil, err
	}
	var out []candidate
	if km := best(fits, KubelkaMunk); km != nil {
		out = append(out, *km)
	}
	out = append(append(out, from), others...)
	if f := top(out); f.model.Name == ExactLayer && f.model.Anisotropy != from.model.Anisotropy {
		err = f.learn(ctx, o)
	}
	return out, err
}

// findAllRecordErrors looks for chips that are wrong on record by the best
// candidate of each layer model in turn, until one finds some or doubts none: by
// a wrong model too many may seem wrong to name any.
func findAllRecordErrors(ctx context.Context, fits []candidate) error {
	leader := top(fits)
	if err := leader.findRecordErrors(ctx); err != nil || len(leader.found) > 0 || leader.suspicious == 0 {
		return err
	}
	for _, name := range []string{KubelkaMunk, ExactLayer} {
		if f := best(fits, name); f != nil && f.model.Name != leader.model.Name {
			return f.findRecordErrors(ctx)
		}
	}
	return nil
}

// findRecordErrors looks for chips that are wrong on record, beside those found
// already, and judges anew if it finds any.
func (f *candidate) findRecordErrors(ctx context.Context) error {
	p, x, found, err := f.p.findRecordErrors(ctx, f.x)
	if err != nil || len(found) == 0 {
		return err
	}
	f.p, f.x, f.found = p, x, append(slices.Clip(f.found), found...)
	return f.judge()
}

// refitOthers returns the candidates where what the best of them found wrong on
// record is also put to the other layer models: one of them may explain the chips
// better once they are right, and tell better what else is wrong.
func refitOthers(ctx context.Context, fits []candidate, models []LayerModel, o Options) ([]candidate, error) {
	leader := *top(fits)
	out := []candidate{leader}
	for _, model := range models {
		if model.Name == leader.model.Name {
			continue
		}
		own := best(fits, model.Name)
		c, err := leader.underModel(ctx, model)
		if err == nil && (model.Name == KubelkaMunk || c.worthLearning(out)) {
			if err = c.learn(ctx, o); err == nil {
				err = c.findRecordErrors(ctx)
			}
		}
		if noFit(err) {
			if own != nil {
				out = append(out, *own)
			}
			continue
		}
		if err != nil {
			return nil, err
		}
		if own != nil && own.logPosterior() > c.logPosterior() {
			c = *own
		}
		out = append(out, c)
	}
	return tryAnisotropies(ctx, out, o)
}

// underModel returns another layer model's first fit to the chips with the first
// mistake that f found: what a wrong model found besides may be its own.
func (f *candidate) underModel(ctx context.Context, model LayerModel) (c candidate, err error) {
	c = candidate{model: model, main: f.main, found: f.found[:1]}
	p := *f.found[0].p
	if p.layer, err = model.build(); err != nil {
		return c, err
	}
	if c.p, _, err = p.withMistake(&mistake{}, f.found[0].x); err != nil {
		return c, err
	}
	if c.x, err = c.p.refit(ctx); err != nil {
		return c, err
	}
	return c, c.judge()
}

// otherAnisotropies returns the candidates that scatter more or less forward than
// f and are otherwise what f has learnt.
func (f *candidate) otherAnisotropies(ctx context.Context) ([]candidate, error) {
	others := slices.DeleteFunc(slices.Clone(cosines), func(g float64) bool { return g == f.model.Anisotropy })
	out := make([]candidate, len(others))
	left, err := thatFit(out, func(i int) error {
		c := &out[i]
		*c = candidate{model: f.model, main: f.main, found: f.found}
		c.model.Anisotropy = others[i]
		l, err := c.model.build()
		if err != nil {
			return err
		}
		if c.p, c.x, err = f.p.withMistake(&mistake{}, f.x); err != nil {
			return err
		}
		c.p.layer = l
		sys := c.p.system()
		if _, _, err := c.p.converge(ctx, c.x, sys, 0.5, 30); err != nil {
			return err
		}
		if err := c.p.tune(ctx, c.x, sys); err != nil {
			return err
		}
		if err := c.judge(); err != nil || c.score.LogLikelihood < f.score.LogLikelihood-behindInAll {
			return err
		}
		if err := c.p.learn(ctx, c.x); err != nil {
			return err
		}
		return c.judge()
	})
	if noFit(err) { // f fits
		return nil, nil
	}
	return left, err
}
