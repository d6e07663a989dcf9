package calibrate

import (
	"math"

	"masstone/color"
)

// Layer models that explain the chips about as well may still say other colours
// of mixtures never cast. What they say differently the bars of the chosen one
// have to own up to: where few chips were cast, nothing else shows that it was
// chosen wrongly.

// By how much the ln likelihoods of exact layers that scatter more and less forward
// are trusted less than their word: two chips per pigment tell the mean cosine only
// by what curves usually look like, and no two shelves do. Chosen on invented shops;
// no source.
const temperature = 2.0

// weighModels sets what each candidate says of usual mixtures, under the main
// condition of all, and how much it is to be believed: its posterior weight,
// priorPenalty being the prior (Hoeting et al., Statistical Science 14, 382
// (1999), eq. 1-3). The exact layers share what the best of them deserves.
func weighModels(fits []candidate) error {
	under, err := color.WeightsFor(fits[0].main)
	if err != nil {
		return err
	}
	best := top(fits).logPosterior()
	exact, shared := math.Inf(-1), 0.0 // the best of the exact layers, and all of them
	for k := range fits {
		if f := &fits[k]; f.model.Name == ExactLayer {
			exact = math.Max(exact, f.logPosterior())
		}
	}
	for k := range fits {
		f := &fits[k]
		f.colours, f.score.Weight = f.usualColours(top(fits).p, under), math.Exp(f.logPosterior()-best)
		if f.model.Name == ExactLayer {
			f.score.Weight = math.Exp((f.logPosterior() - exact) / temperature)
			shared += f.score.Weight
		}
	}
	all := 0.0
	for k := range fits {
		f := &fits[k]
		if f.model.Name == ExactLayer {
			f.score.Weight *= math.Exp(exact-best) / shared
		}
		all += f.score.Weight
	}
	for k := range fits {
		fits[k].score.Weight /= all
	}
	return nil
}

// betweenSD returns how far the colours of the candidates deviate from colours for
// want of knowing which is right, beyond what bars hold already whose squared
// CIEDE2000 differences are claimed, in CIEDE2000 units per direction: the root mean
// square over usual mixtures, each candidate by its weight, each difference shrunk for
// what of it the bars explain.
func betweenSD(fits []candidate, colours [][3]float64, claimed []float64) float64 {
	sum := 0.0
	for k := range fits {
		for i, lab := range fits[k].colours {
			d2 := math.Pow(color.Delta00(colours[i], lab), 2)
			sum += fits[k].score.Weight * d2 * d2 / (d2 + claimed[i]) / float64(len(claimed))
		}
	}
	return math.Sqrt(sum / 3)
}

// besideSD is betweenSD of the shop that f was not taken for, straight or crooked.
func besideSD(f, other *candidate, claimed []float64) (float64, error) {
	if other.p == nil {
		return 0, nil
	}
	under, err := color.WeightsFor(f.main)
	if err != nil {
		return 0, err
	}
	beside := *other
	beside.colours = other.usualColours(f.p, under)
	sd := betweenSD([]candidate{beside}, f.usualColours(f.p, under), claimed)
	return math.Round(1e4*sd) / 1e4, nil // no more digits are known of it
}

// claimedSquares lists the squared CIEDE2000 differences that the bars of c expect of
// usual mixtures.
func (p *problem) claimedSquares(c *Calibration, main color.Condition) (out []float64, err error) {
	over := map[color.Reflectance]*Evaluator{}
	var grad [MaxComponents][3]float64
	p.eachUsual(func(r *reading) {
		e := over[r.backing]
		if e == nil && err == nil {
			e, err = c.Evaluator(Setting{Thickness: ThicknessMM(r.thickness), Backing: r.backing, Specular: color.SpecularIncluded}, main)
			over[r.backing] = e
		}
		if err == nil {
			e.Set(r.curve[1:], r.loading[1:])
			lab := e.LabGradient(0, grad[:len(r.curve)-1])
			out = append(out, trace(color.Metric00(lab), e.Covariance()))
		}
	})
	return out, err
}

func trace(m, c [3][3]float64) (sum float64) {
	for i := range 3 {
		for j := range 3 {
			sum += m[i][j] * c[i][j]
		}
	}
	return sum
}

// usualColours lists the candidate's colours of the usual mixtures of like.
func (f *candidate) usualColours(like *problem, under *color.Weights) (out [][3]float64) {
	var w workspace
	f.p.expand(f.x, &w)
	like.eachUsual(func(r *reading) {
		f.p.reflect(r, f.x, &w)
		out = append(out, under.Lab((*color.Reflectance)(&w.partials.R)).Values())
	})
	return out
}
