package calibrate

import (
	"cmp"
	"context"
	"math"
	"sync"

	"masstone/color"
)

// forward is how far forward a paste's particles scatter, as the mean cosine of
// the angle, and forwardSpread how far one paste lies from another: particles of
// the size of light's wavelength have 0.5 to 0.8, smaller ones less. From memory.
const (
	forward       = 0.55
	forwardSpread = 0.2
)

// cosines are the mean cosines tried.
var cosines = []float64{forward, 0.3, 0}

// What a layer model has to gain in ln likelihood to be believed of a resin. The
// exact layer has constants that Kubelka-Munk has not, and wrongly taken for a
// few chips it does more harm than wrongly left: exactPenalty. The less forward a
// layer scatters the less scattering explains the same chips, and the more of it
// is too faint to be told, which the likelihood counts as room: roomPenalty per
// unit of the mean cosine, pigment, and number read of a chip. Chosen on invented
// shops and the chips of testdata/real_pigments, two per pigment: where
// Kubelka-Munk held, the exact layer of usual scattering gained at most 7; where
// it did not, 0 to 12 by one Lab, 7 to 31 by three lights and 16 and more by
// spectra; roomPenalty was 0.08 to 0.11 whatever was read. No source.
const (
	exactPenalty = 9.0
	roomPenalty  = 0.1
)

// An exact layer of usual index and forward scattering that falls behind by
// behindLeftOut in ln density of a left-out chip and by behindLikelihood in ln
// likelihood of a number read is not worth learning more of, nor another mean
// cosine that is behind this by behindInAll in ln likelihood of all. Chosen on
// invented shops; no source.
const (
	behindLeftOut    = 1.5
	behindLikelihood = 0.2
	behindInAll      = 60
)

// poorWiden is how much a model has to widen its bars that does not fit well.
// Chosen on invented shops; no source.
const poorWiden = 1.3

// worthLearning reports whether an exact layer of usual index and forward
// scattering is worth learning more of.
func (f *candidate) worthLearning(fits []candidate) bool {
	leader := top(fits)
	return f.score.LogScore > leader.score.LogScore-behindLeftOut ||
		f.score.LogLikelihood > leader.score.LogLikelihood-behindLikelihood*float64(f.p.numbers()) || leader.widen > poorWiden
}

// numbers counts the numbers read of all chips.
func (p *problem) numbers() (n int) {
	for i := range p.readings {
		if r := &p.readings[i]; r.chip.Spectrum != nil {
			n += color.Bands
		} else {
			n += 3 * len(r.weights)
		}
	}
	return n
}

// candidates fits the models, side by side, and returns those that fit.
func candidates(ctx context.Context, pigments []string, chips []Chip, models []LayerModel, o Options) ([]candidate, error) {
	fits := make([]candidate, len(models))
	return thatFit(fits, func(i int) (err error) {
		fits[i], err = newCandidate(ctx, pigments, chips, models[i], o)
		return err
	})
}

// learnAll learns what the candidates' curves and readings are like, side by side, and
// returns those that fit still.
func learnAll(ctx context.Context, fits []candidate, o Options) ([]candidate, error) {
	return thatFit(fits, func(i int) error { return fits[i].learn(ctx, o) })
}

// thatFit calls do for every candidate, side by side, and returns those for which there is
// a fit: where there is none for any, an error.
func thatFit(fits []candidate, do func(i int) error) (left []candidate, err error) {
	errs := make([]error, len(fits))
	var all sync.WaitGroup
	for i := range fits {
		all.Go(func() { errs[i] = do(i) })
	}
	all.Wait()
	for i := range fits {
		switch {
		case errs[i] == nil:
			left = append(left, fits[i])
		case noFit(errs[i]):
			err = cmp.Or(err, errs[i])
		default:
			return nil, errs[i]
		}
	}
	if len(left) > 0 {
		err = nil
	}
	return left, err
}

// learn learns what the curves and readings are like, and the refractive index
// of an exact layer where it is not given, and judges anew.
func (f *candidate) learn(ctx context.Context, o Options) error {
	if f.model.Name == ExactLayer && o.Index == 0 {
		if err := f.learnIndex(ctx); err != nil {
			return err
		}
	}
	if err := f.p.learn(ctx, f.x); err != nil {
		return err
	}
	return f.judge()
}

// logPosterior is what a candidate is chosen by: how likely it makes the
// readings, the curves integrated out, less its priorPenalty. What the left-out
// chips say is told, but of two chips per pigment the one left out is hardly
// known by the other: the left-out chips of testdata/real_pigments took the wrong
// layer there.
func (f *candidate) logPosterior() float64 {
	return f.score.LogLikelihood - f.priorPenalty() - f.handicap
}

// priorPenalty is what a candidate must do better than Kubelka-Munk.
func (f *candidate) priorPenalty() float64 {
	if f.model.Name == KubelkaMunk {
		return 0
	}
	behind := forward - f.model.Anisotropy
	unlikely := behind / forwardSpread
	room := roomPenalty * float64(len(f.p.pigments)) * float64(f.p.numbers()) / float64(len(f.p.readings))
	return exactPenalty + unlikely*unlikely/2 + room*behind
}

// top returns the candidate of the best logPosterior.
func top(fits []candidate) *candidate { return best(fits, "") }

// best returns the candidate of the best logPosterior of a layer model, or of all
// where none is named; nil where there is none.
func best(fits []candidate, model string) (f *candidate) {
	for i := range fits {
		if c := &fits[i]; (model == "" || c.model.Name == model) && (f == nil || c.logPosterior() > f.logPosterior()) {
			f = c
		}
	}
	return f
}

// A candidate is one layer model's fit, as far as choosing between models
// needs it.
type candidate struct {
	p     *problem
	x     state
	model LayerModel
	main  color.Condition
	score LayerTrial
	widen float64
	// suspicious counts chips so far off that they may be wrong on record.
	suspicious int
	colours    [][3]float64 // L*, a*, b* of usual mixtures, once weighed
	found      []finding    // chips that are wrong in a way no noise explains
	stands     float64      // what it stands by, once asked whether the shop is crooked
	handicap   float64      // what it must do better by, in ln likelihood, beside its priorPenalty
}

// newCandidate fits one layer model and judges it by its left-out chips.
func newCandidate(ctx context.Context, pigments []string, chips []Chip, model LayerModel, o Options) (candidate, error) {
	l, err := model.build()
	if err != nil {
		return candidate{}, err
	}
	noise := usualNoise
	if o.Noise != nil {
		noise = *o.Noise
	}
	p, err := newProblem(pigments, chips, l, o.surface(), noise)
	if err != nil {
		return candidate{}, err
	}
	f := candidate{p: p, x: p.flat(), model: model, main: o.Main}
	if f.main == (color.Condition{}) {
		f.main = p.mainCondition()
	}
	p.setHyper(straight, f.x)
	if err := p.anneal(ctx, f.x); err != nil {
		return f, err
	}
	if err := p.tune(ctx, f.x, p.system()); err != nil {
		return f, err
	}
	return f, f.judge()
}

// judge sums up the chips left out in turn, and how likely the readings are.
func (f *candidate) judge() error {
	weights, err := color.WeightsFor(f.main)
	if err != nil {
		return err
	}
	sys := f.p.system()
	evidence, err := f.p.totalEvidence(f.x, sys)
	if err != nil {
		return err
	}
	evidence += f.foundCost()
	left, err := f.p.leaveOut(f.x, sys)
	if err != nil {
		return err
	}
	misses := f.p.colourMisses(left, weights)
	e := fitModelError(misses)
	f.score, f.widen = judge(f.model, misses, e), e.Widen
	f.suspicious = countSuspicious(f.p.sizes(f.x, left))
	f.score.LogLikelihood = -evidence / 2
	return nil
}

// judge sums up the left-out chips of a layer model.
func judge(model LayerModel, misses []colourMiss, e ModelError) LayerTrial {
	t := LayerTrial{Name: model.Name, Anisotropy: model.Anisotropy, Index: model.Index}
	n := 0.0
	for i := range misses {
		t.LogScore += misses[i].credit(e) / float64(len(misses))
		if !misses[i].vague {
			t.MeanDE00 += color.Delta00(misses[i].measured, misses[i].leftOut)
			n++
		}
	}
	t.MeanDE00 /= math.Max(n, 1)
	return t
}

// mainCondition is the first in evidence, or daylight and the 10 degree
// observer where only spectra were read.
func (p *problem) mainCondition() color.Condition {
	for i := range p.readings {
		if w := p.readings[i].weights; len(w) > 0 {
			return w[0].Under
		}
	}
	return color.Under(color.D65, color.TenDegree)
}
