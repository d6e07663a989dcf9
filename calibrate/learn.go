package calibrate

import (
	"fmt"
	"maps"
	"math"

	"gonum.org/v1/gonum/mat"

	"masstone/calibrate/layer"
	"masstone/color"
)

// LearnOptions say what the new chips have in common. The zero value is for
// chips of different mixtures, one reading each.
type LearnOptions struct {
	// Bias is how far all the chips deviate from the layer model alike, as the
	// parts of one target do: a standard deviation in CIEDE2000 units per
	// direction. With 0 each deviates on its own, by the model error's floor.
	Bias float64
	// Scatter is the relative standard deviation of a pigment's strength from
	// cup to cup.
	Scatter float64
	// Readings are how many readings are behind a chip's mean, by its name;
	// absent counts as 1.
	Readings map[string]int
}

// Learned tells what new chips taught.
type Learned struct {
	// Strengths is what is known at present of each lot that NewLot or WithLots
	// made room for, by pigment code ("" for the resin), against the curve
	// before learning.
	Strengths map[string]Strength
	Chips     []LearnedChip
	// Misfit is the mean squared residual that remains, in units of what the
	// readings' noise explains: about 1 or less where everything agrees.
	Misfit float64
	// Surprise is how far the readings lie from what was to be expected before,
	// lots, weighing and noise counted, as the number of standard deviations of
	// equal rarity; 0 for readings nearer than most. Beyond 4 look for a mistake.
	Surprise float64
	Steps    int // relinearisations
}

// LearnedChip is one of the new chips before and after learning, under the
// calibration's main condition, or its first own where it was not read so.
type LearnedChip struct {
	Chip                    string
	Measured, Before, After color.Lab
	// Weighed are the loadings now believed to be in the cup.
	Weighed map[string]PHR
}

// ownFloorShare is how much of the model error's floor remains for each part on its
// own where the parts of a target deviate alike. Common practice, no source.
const ownFloorShare = 0.3

// Learn returns the calibration that also knows new chips, or poured parts:
// the most likely curves given what is known already and the new readings, with
// weighing errors as unknowns (errors in variables), and the covariance there.
// It moves the calibration only in the directions that its posterior holds
// open, so a lot needs NewLot first, and costs milliseconds where a fit costs
// seconds. The receiver stays as it is; without chips the copy equals it.
//
// With z = W L u the error of the curves, L L' their covariance and W the
// widening of the model error, v all else that is not known (weighing,
// thickness, discrepancies), both of unit variance, and h the whitened readings,
//
//	u, v minimise |y - h(u, v)|^2 + |u|^2 + |v|^2            (1)
//	covariance of z = W^2 L [(I + J'J)^-1]_uu L'             (2)
//
// by damped Gauss-Newton steps, J = dh/d(u, v) taken anew at each (Jazwinski,
// Stochastic Processes and Filtering Theory, 1970, section 9.7). (2) is kept as
// the product of a factor with itself, so it stays positive.
func (c *Calibration) Learn(chips []Chip, o LearnOptions) (*Calibration, Learned, error) {
	if c.Posterior.Discrepancy != nil {
		return nil, Learned{}, fmt.Errorf("this belief is about one target already; learn all its parts together from the calibration")
	}
	if !(o.Bias >= 0 && o.Bias < 100) || !(o.Scatter >= 0 && o.Scatter < 1) {
		return nil, Learned{}, fmt.Errorf("bias %g and scatter %g; give a bias from 0 up and a scatter from 0 to 1", o.Bias, o.Scatter)
	}
	if len(chips) == 0 {
		return c.clone(), Learned{}, nil
	}
	l, err := newUpdate(c, chips, o)
	if err != nil {
		return nil, Learned{}, err
	}
	x := make([]float64, l.n)
	var out Learned
	before := l.colours(x)
	if out.Steps, err = l.converge(x); err != nil {
		return nil, Learned{}, err
	}
	if l.raiseNoise(x) {
		more, err := l.converge(x)
		if err != nil {
			return nil, Learned{}, err
		}
		out.Steps += more
	}
	bands, labs := l.misfit(x)
	out.Misfit = (bands + labs) / float64(l.rows)
	out.Surprise = rarity(l.cost(x), float64(l.rows))
	after := l.colours(x)
	for i := range l.p.readings {
		r := &l.p.readings[i]
		chip := LearnedChip{Chip: r.chip.Name, Measured: l.measured(i), Before: before[i], After: after[i]}
		for k, e := range r.border {
			if e >= 0 && r.loadingSD[k] > 0 {
				if chip.Weighed == nil {
					chip.Weighed = maps.Clone(r.chip.Loadings)
				}
				chip.Weighed[l.p.pigments[r.curve[k]-1]] = PHR(math.Max(r.loading[k]+r.loadingSD[k]*x[l.border[e]], 0))
			}
		}
		out.Chips = append(out.Chips, chip)
	}
	learnt, z, err := l.posterior(x)
	if err != nil {
		return nil, Learned{}, err
	}
	out.Strengths = learnt.strengths(z)
	return learnt, out, nil
}

// rarity is the normal deviate as rare as chi2, a chi-square of n degrees of
// freedom, on its upper side (Wilson and Hilferty, Proc. Natl. Acad. Sci. 17,
// 684 (1931)). (1) at its minimum is such a chi-square, of as many degrees of
// freedom as there are readings.
func rarity(chi2, n float64) float64 {
	s := 2 / (9 * n)
	return math.Max((math.Cbrt(chi2/n)-1+s)/math.Sqrt(s), 0)
}

// strengths reads the lots' directions off the z of an update.
func (c *Calibration) strengths(z []float64) map[string]Strength {
	p := c.Posterior
	out := map[string]Strength{}
	at, n := 0, p.width()
	for q, r := range p.Rank[:len(c.Curves)] {
		if p.drifts(q) {
			out[c.Curves[q].Code] = Strength{Ln: z[at], SD: c.ModelError.widening() * math.Sqrt(math.Max(p.Cov[packed(at, at, n)], 0))}
		}
		at += r
	}
	return out
}

// posterior returns the calibration at x, and z there.
func (l *update) posterior(x []float64) (*Calibration, []float64, error) {
	out := l.c.clone()
	post := out.Posterior
	z := l.errors(x)
	cov, err := l.covariance(x)
	if err != nil {
		return nil, nil, err
	}
	old := l.c.Posterior
	if l.shared > 0 {
		d := &discrepancy{Size: l.shared}
		for k := range discrepancyRank {
			for b, w := range waves[k] {
				d.Shift[b] += l.shared * x[l.common+k] * w
			}
		}
		post.Discrepancy = d
		out.ModelError.Floor *= ownFloorShare
	}
	post.pack(cov)
	at, row := 0, 0
	n, m := old.width(), post.width()
	for q := range out.Curves {
		curve := &out.Curves[q]
		rank := post.Rank[q]
		basis := post.Basis[row : row+rank*perCurve]
		for i := range perCurve {
			shift, variance := 0.0, 0.0
			for r := range rank {
				v := basis[r*perCurve+i]
				shift += v * z[at+r]
				for s := range rank {
					a, b := min(at+r, at+s), max(at+r, at+s)
					variance += v * basis[s*perCurve+i] * (post.Cov[packed(a, b, m)] - old.Cov[packed(a, b, n)])
				}
			}
			value, sd := &curve.K[i%color.Bands], &curve.KSD[i%color.Bands]
			if i >= color.Bands {
				value, sd = &curve.S[i%color.Bands], &curve.SSD[i%color.Bands]
			}
			*value *= math.Exp(shift)
			*sd = math.Sqrt(math.Max(*sd**sd+variance, 0))
		}
		at += rank
		row += rank * perCurve
	}
	if km, ok := l.p.layerAt(l.state(x)).(layer.KubelkaMunk); ok && l.p.k1 >= 0 {
		out.Layer.K1, out.Layer.K2 = km.K1, km.K2
		out.Layer.K1SD = math.Sqrt(math.Max(post.Cov[packed(at, at, m)], 0))
		out.Layer.K2SD = math.Sqrt(math.Max(post.Cov[packed(at+1, at+1, m)], 0))
		out.model = km
	}
	if post.Law > 0 {
		s := l.state(x)
		sd := out.Law.ExponentSD
		out.Law, _ = l.p.law(s)
		out.Law.ExponentSD = sd
		out.Law.Loss = l.p.hyper.lost(s[l.p.loss])
	}
	for i := range l.p.readings {
		r := &l.p.readings[i]
		total := PHR(0)
		for k, q := range r.curve[1:] {
			phr := PHR(r.loading[k+1])
			total += phr
			out.Curves[q].MaxPHR = max(out.Curves[q].MaxPHR, phr)
		}
		out.MaxTotal = max(out.MaxTotal, total)
	}
	return out, z, nil
}

// covariance returns (2) in the order of the posterior, without the widening,
// the common discrepancy last.
func (l *update) covariance(x []float64) (*mat.SymDense, error) {
	h := l.information(x)
	var chol mat.Cholesky
	if !chol.Factorize(h) {
		return nil, fmt.Errorf("the readings of %s leave the range of numbers; read it again", l.p.readings[0].chip.Name)
	}
	var u mat.TriDense
	chol.UTo(&u)
	width := len(l.order)
	kept := width
	if l.shared > 0 {
		kept += discrepancyRank
	}
	// kept unknowns as functions of x, then as functions of U x
	of := mat.NewDense(l.n, kept, nil)
	of.Slice(0, l.seen, 0, width).(*mat.Dense).Copy(l.factor.Slice(0, width, 0, l.seen).T())
	for k := width; k < kept; k++ {
		of.Set(l.common+k-width, k, 1)
	}
	var half mat.Dense
	if err := u.SolveTo(&half, true, of); err != nil && !isCondition(err) {
		return nil, err
	}
	var cov, rest mat.SymDense
	cov.SymOuterK(1, half.T())
	if l.seen < width { // what the readings do not touch stays as it is
		rest.SymOuterK(1, l.factor.Slice(0, width, l.seen, width))
		for i := range width {
			for k := i; k < width; k++ {
				cov.SetSym(i, k, cov.At(i, k)+rest.At(i, k))
			}
		}
	}
	w := l.c.ModelError.widening()
	out := mat.NewSymDense(kept, nil)
	place := func(i int) int {
		if i < width {
			return l.order[i]
		}
		return i
	}
	for i := range kept {
		for k := i; k < kept; k++ {
			out.SetSym(place(i), place(k), cov.At(i, k)/(w*w))
		}
	}
	return out, nil
}
