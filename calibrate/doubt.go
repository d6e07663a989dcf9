package calibrate

import "math"

// By how much the ln likelihood of a crooked shop against a straight one is trusted
// less than its word: spectra of one chip of each paste tell next to nothing of the law
// of mixing, and yet it stood 8 behind to 5 before in either kind of shop. Chosen on
// invented shops (painted and crooked pastes 21 to 25, one to three chips of each paste,
// where odds by it are the likeliest; they judge nothing); no source.
const doubtTemperature = 6.0

// leastDoubt is the chance of a crooked shop from which on it is counted. Common
// practice, no source.
const leastDoubt = 0.02

// doubt is the chance that a shop is crooked by whose straight optimum the readings
// are that much likelier, in -2 ln likelihood, once either has learnt all it can: by
// usual errors a crooked shop may be far behind that is ahead by its own. What colours
// say of it is taken at its word: trusted less, three lights of two chips of each of
// testdata/real_pigments came out with bars that hold all.
func (p *problem) doubt(behind float64) float64 {
	if p.bySpectra {
		behind /= doubtTemperature
	}
	if chance := 1 / (1 + math.Exp(behind/2)); chance >= leastDoubt {
		return chance
	}
	return 0
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
