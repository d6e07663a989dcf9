package calibrate

import (
	"context"
	"math"
	"slices"
)

// By how much the ln likelihood of a crooked shop against a straight one is trusted
// less than its word: one chip of each paste tells next to nothing of the law of
// mixing, and yet it stood 8 behind to 5 before in either kind of shop. Chosen on
// invented shops (painted and crooked pastes 21 to 25, one to three spectra of each of
// 6 pastes, where odds by it are the likeliest; they judge nothing); no source.
const doubtTemperature = 6.0

// leastDoubt is the chance of a crooked shop from which on it is counted. Common
// practice, no source.
const leastDoubt = 0.02

// doubt returns the chance that a shop taken for a straight one is crooked after all.
// The two are compared with all else that was learnt the same, so that what tells
// them apart is how castings stray and nothing else; x is the optimum of the
// straight one. As with unbend only spectra are asked.
func (p *problem) doubt(ctx context.Context, x state) (float64, error) {
	if !p.bySpectra || !p.isStraight() {
		return 0, nil
	}
	sys := p.system()
	straight, err := p.totalEvidence(x, sys)
	if err != nil {
		return 0, err
	}
	was, y := p.hyper, slices.Clone(x)
	p.setHyper(crooked, y)
	defer func() { p.setHyper(was, y) }()
	if _, _, err := p.converge(ctx, y, sys, 0.1, 20); err != nil {
		return 0, err
	}
	bent, err := p.totalEvidence(y, sys)
	if err != nil {
		return 0, nil // no fit as a crooked shop
	}
	chance := 1 / (1 + math.Exp((bent-straight)/(2*doubtTemperature)))
	if chance < leastDoubt {
		return 0, nil
	}
	return chance, nil
}

// doubted returns the hyperparameters h of a straight shop as predictions count
// them: of all that strays the mean square over both kinds of shop. What exponents and
// crowding are usual of a crooked one counts as far as it lies from the straight one's.
func (h hyperparameters) doubted(chance float64) hyperparameters {
	mean := func(straight, crooked float64) float64 {
		return math.Sqrt((1-chance)*straight*straight + chance*crooked*crooked)
	}
	h.strength = mean(h.strength, crooked.strength)
	h.k, h.s = mean(h.k, crooked.k), mean(h.s, crooked.s)
	h.scale, h.offset = mean(h.scale, crooked.scale), mean(h.offset, crooked.offset)
	h.bent = mean(h.bent, crooked.bent*math.Hypot(1, lnExponent/lnExponentSD))
	return h
}
