package calibrate

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

// hyperparameters are how far what is not on record strays: standard deviations of
// unknowns that are else of unit variance. 0 is for what stays where it is.
type hyperparameters struct {
	strength float64 // ln strength of one portion of paste
	k, s     float64 // ln K and ln S of a casting against the law of mixing
	scale    float64 // a reading of a spectrum, as a share of it
	offset   float64 // a reading of a spectrum, in reflectance factor: a surface
	// bent is how far pastes may depart from the law of mixing that is linear in
	// the loading, as a share of what is known of pastes that do.
	bent float64
	loss float64 // c of the light lost past the aperture
}

// Strength that falls with the loading and scattering that crowds, of pastes
// that do so, before a chip is read: strength goes as c^p. From a prototype on
// measured films and pastes; no other source.
const (
	lnExponent   = -0.05
	lnExponentSD = 0.05
	crowding     = 0.05 // per phr
	crowdingSD   = 0.07
	// below which a wild step does not go: 20 phr would scatter without end
	leastCrowding = -0.05
	// What is lost past an aperture of radius r is absorbed as by c / r^2: a photon
	// Monte Carlo of ours, of 3 mm at n 1.5, 8 mm lit, mu_s' 1.5, 5 and 15 per mm,
	// lost 28, 7 and 1.4 % of R; skin about 10 % (Takiwaki 2002, doi
	// 10.1034/j.1600-0846.2001.80206.x).
	usualLoss = 0.55
	lossSD    = 0.4 // of its ln
)

// exponent is p of a pigment whose unknown is e.
func (h *hyperparameters) exponent(e float64) float64 {
	if h.bent == 0 {
		return 1
	}
	return math.Exp(h.bent * (lnExponent + lnExponentSD*e))
}

func (h *hyperparameters) crowding(e float64) float64 {
	return math.Max(h.bent*(crowding+crowdingSD*e), leastCrowding)
}

func (h *hyperparameters) lost(e float64) float64 { return h.loss * math.Exp(lossSD*e) }

// usualStrengthSD is how far portions of a well stirred paste stray in strength. Common
// practice, no source.
const usualStrengthSD = 0.007

// straight is a shop whose castings keep to the law of mixing, but for the strength of
// a portion: by it layer models are compared and mistakes on record looked for, where
// a casting that may miss by anything explains all of them. What is 0 stays so.
var straight = hyperparameters{strength: usualStrengthSD, loss: usualLoss}

// crooked is what a shop that does not keep the law strays by before its readings say
// how far: its portions are 3 % off, castings miss the law by 1 %, and of exponents and
// crowding no more is known than what pastes are like that bend it. Two chips of a
// pigment tell next to nothing of these, and what is not told has to stay open, or the
// bars would be those of a straight shop. Chosen on invented shops (paint shops 101 to
// 106 of virtualshop, which judge nothing); no source.
var crooked = hyperparameters{strength: 0.03, k: 0.01, s: 0.01, scale: 0.0005, offset: 0.001, bent: 1, loss: usualLoss}

// What even a careless bench does not pass, and a layer model that is wrong: more is
// taken for something else. Common practice, no source.
const (
	mostStrengthSD   = 0.05 // but for softly
	mostCastingError = 0.5
)

// softly is how far in ln strength scatter passes its most before it counts: many chips
// may say that it does.
const softly = 0.1

// beyondMost is -2 ln of how likely a strength scatter is that passes its most, and the
// slope of it by its ln.
func beyondMost(strength float64) (cost, slope float64) {
	a := math.Max(math.Log(strength/mostStrengthSD), 0) / softly
	return a * a, 2 * a / softly
}

// An outer is one hyperparameter as it is learnt: by its ln, about the ln of the
// usual, with one spread below it and one above.
type outer struct {
	usual       float64
	below, more float64 // spreads
	most        float64 // what it does not pass
	of          []of    // what it sets, one or more
	kinds       []int   // the kinds of own unknowns that it scales
}

// Kinds of the castings' own unknowns, by the hyperparameter that scales them.
const (
	byStrength = iota
	byK
	byS
	byScale
	byOffset
	byNone
	ownKinds
)

// outers lists the hyperparameters that the readings may speak of. Absorption and
// scattering are taken to stray alike: readings hardly tell one from the other. How
// wide each may lie, and what a scale and an offset do not pass, has no source: of few
// chips strength scatter passes for rough curves, so less of it than is usual of such
// shops is hardly believed.
func (p *problem) outers() []outer {
	type h = hyperparameters
	u := &crooked
	return slices.DeleteFunc([]outer{
		{u.strength, 0.12, 0.5, mostCastingError, []of{func(h *h) *float64 { return &h.strength }}, []int{byStrength}},
		{u.k, 1.2, 1.2, mostCastingError, []of{func(h *h) *float64 { return &h.k }, func(h *h) *float64 { return &h.s }}, []int{byK, byS}},
		{u.scale, 0.5, 0.5, 0.02, []of{func(h *h) *float64 { return &h.scale }}, []int{byScale}},
		{u.offset, 0.8, 0.8, 0.02, []of{func(h *h) *float64 { return &h.offset }}, []int{byOffset}},
	}, func(o outer) bool { return *o.of[0](&p.hyper) == 0 })
}

// prior is -2 ln of how likely a value is beforehand, and the slope of that by its
// ln.
func (o *outer) prior(v float64) (cost, slope float64) {
	s := o.spread(v)
	a := math.Log(v/o.usual) / s
	cost, slope = a*a, 2*a/s
	if o.kinds[0] == byStrength {
		above, steeper := beyondMost(v)
		cost, slope = cost+above, slope+steeper
	}
	return cost, slope
}

// spread is that on the side of a value.
func (o *outer) spread(v float64) float64 {
	if v < o.usual {
		return o.below
	}
	return o.more
}

// of points at one of the hyperparameters.
type of func(h *hyperparameters) *float64

// How far the hyperparameters are followed: until none would move by stillLn in its
// ln, or -2 ln likelihood falls by less than stillCost, or for mostRounds.
const (
	stillLn    = 0.03
	stillCost  = 0.5
	mostRounds = 12
)

// learnHyper sets the hyperparameters to what makes the readings most likely, and
// moves x to the optimum there. The likelihood is that of the readings as
// linearised, curves and all that is the castings' own integrated out: their
// deviations at the optimum would claim too much, since a curve runs smoothest at
// some wrong loading (errors in variables; Carroll et al., Measurement Error in
// Nonlinear Models, 2006). It is climbed by Fisher's scoring, as variances of
// random effects are (restricted maximum likelihood: Patterson and Thompson,
// Biometrika 58, 545 (1971)): with R the inverse covariance of a casting's
// readings and U_i the columns that hyperparameter i scales, -2 ln likelihood has
//
//	slope by ln i      2 sum over k of i of (U'RU)_kk - u_k^2     (7)
//	expected bend      4 sum over k of i and l of j of (U'RU)_kl^2
//
// Chips that may be wrong on record have no say in it, or one slip would pass for
// scatter.
func (p *problem) learnHyper(ctx context.Context, x state, sys *system) error {
	trust, err := p.downweight(x, sys)
	if err != nil {
		return err
	}
	if p.isStraight() {
		err = p.learnStrength(ctx, x, sys)
	} else {
		err = p.score(ctx, x, sys)
	}
	if err != nil {
		return err
	}
	for i := range p.readings {
		p.readings[i].trust = trust[i]
	}
	_, _, err = p.converge(ctx, x, sys, 0.1, 15)
	return err
}

// How far the strength scatter of a straight shop lies from the usual, in ln, and what
// bounds it softly: a wrong layer model must not go for scatter. Common practice, no
// source.
const strengthSDSpread = 0.7

// learnStrength is learnHyper of a straight shop, where only strengths scatter. Where
// chips are few the optimum runs, the more they may scatter, to where some portion was
// wrong and curves run smoother, and has less room there: Laplace's approximation then
// takes what room there is about it for all there is. By spectra, whose curves run rough
// where next to nothing is absorbed, the density at the optimum for less scatter and the
// room there may come to more; the most of all counts.
func (p *problem) learnStrength(ctx context.Context, x state, sys *system) error {
	set := func(ln float64) float64 {
		now := p.hyper
		now.strength = math.Exp(ln)
		p.setHyper(now, x)
		beyond := (ln - math.Log(usualStrengthSD)) / strengthSDSpread
		above, _ := beyondMost(now.strength)
		return beyond*beyond + above
	}
	type optimum struct {
		x        state
		strength float64
	}
	known := map[int]optimum{}
	found, err := p.peak(math.Log(p.hyper.strength), octave, set, func(steps int) (float64, error) {
		least, err := p.optimum(ctx, x, sys, 0.1, 15)
		if err != nil {
			return 0, err
		}
		now := p.hyper
		known[steps] = optimum{slices.Clone(x), now.strength}
		for k, o := range known {
			if k >= steps || !p.bySpectra {
				continue
			}
			then := now
			then.strength = o.strength
			p.setHyper(then, slices.Clone(x))
			y := slices.Clone(o.x)
			p.setHyper(now, y)
			if there, err := p.evidence(y, sys); err == nil {
				least = math.Min(least, there)
			}
		}
		return least, nil
	})
	if err != nil {
		return err
	}
	set(found.at)
	sd := found.sd(strengthSDSpread)
	p.openStrength = p.hyper.strength * math.Exp(math.Min(sd, strengthSDSpread)*math.Min(sd, strengthSDSpread)) // a lognormal's root mean square
	return nil
}

// score climbs as far as the likelihood by Laplace's approximation rises: where chips
// are few it knows what (7) does not, that the curves would follow. Where (7) leads
// nowhere the likelihood alone is asked, of hyperparameters about an octave away.
func (p *problem) score(ctx context.Context, x state, sys *system) error {
	outers := p.outers()
	from := make([]float64, len(outers))
	for i, o := range outers {
		from[i] = math.Log(*o.of[0](&p.hyper))
	}
	best, bestX, lowest := p.hyper, slices.Clone(x), math.Inf(1)
	again := func() { // goes back to the best
		p.setHyper(best, x)
		copy(x, bestX)
	}
	cost := func(v []float64) (float64, error) {
		again()
		now := p.hyper
		for i, o := range outers {
			by := math.Exp(v[i]) / *o.of[0](&now)
			for _, h := range o.of {
				*h(&now) = math.Min(*h(&now)*by, o.most)
			}
		}
		p.setHyper(now, x)
		at, err := p.standing(ctx, x, sys)
		if err != nil && (math.IsInf(lowest, 1) || ctx.Err() != nil) {
			return 0, err
		}
		if err != nil { // no fit so far away
			return math.Inf(1), nil
		}
		if at < lowest {
			best, lowest = now, at
			copy(bestX, x)
		}
		return at, nil
	}
	c := climb{cost: cost, gain: stillCost, still: stillLn, reach: 1, slopes: func([]float64) ([]float64, *mat.SymDense, error) {
		again()
		if err := p.inform(x, sys); err != nil {
			return nil, nil, err
		}
		slope, bend := p.slopesByHyper(x, sys, outers)
		return slope, bend, nil
	}}
	risen, err := c.from(from)
	if err == nil && !risen {
		err = c.about(octave)
	}
	if err != nil {
		return err
	}
	again()
	return nil
}

// standing moves x to the optimum and returns -2 ln likelihood there, what is known
// of the hyperparameters beforehand counted.
func (p *problem) standing(ctx context.Context, x state, sys *system) (float64, error) {
	cost, err := p.optimum(ctx, x, sys, 0.1, 15)
	if err != nil {
		return 0, err
	}
	for _, o := range p.outers() {
		v, _ := o.prior(*o.of[0](&p.hyper))
		cost += v
	}
	return cost, nil
}

// open returns the hyperparameters as predictions count them: of the strength scatter
// the root mean square over what the readings leave open of it, since its likeliest
// value, where little is told of it, is mostly too small. Of how far castings miss the
// law so little is told that the mean would be that of what hardly any shop does. sys
// is informed at x.
func (p *problem) open(x state, sys *system) hyperparameters {
	out := p.hyper
	_, bend := p.moments(x, sys)
	for _, o := range p.outers() {
		s := o.spread(*o.of[0](&out))
		v := 2 / (s * s)
		for _, a := range o.kinds {
			for _, b := range o.kinds {
				v += bend[a][b]
			}
		}
		for _, h := range o.of {
			if at := h(&out); at == &out.strength {
				*at *= math.Exp(2 / v) // a lognormal's, of variance 2 / v
			}
		}
	}
	return out
}

// slopesByHyper is (7), by the ln of each hyperparameter.
func (p *problem) slopesByHyper(x state, sys *system, outers []outer) ([]float64, *mat.SymDense) {
	by, bends := p.moments(x, sys)
	n := len(outers)
	slope, bend := make([]float64, n), mat.NewSymDense(n, nil)
	for i, o := range outers {
		_, slope[i] = o.prior(*o.of[0](&p.hyper))
		for _, a := range o.kinds {
			slope[i] += by[a]
		}
		for j := i; j < n; j++ {
			v := 0.0
			for _, a := range o.kinds {
				for _, b := range outers[j].kinds {
					v += bends[a][b]
				}
			}
			if i == j {
				s := o.spread(*o.of[0](&p.hyper))
				v += 2 / (s * s)
			}
			bend.SetSym(i, j, v)
		}
	}
	return slope, bend
}

// kinds lists the kind of each of a casting's own unknowns, and how much of its
// scale that hyperparameter is.
func (p *problem) kinds(c *casting) (kind []int, share []float64) {
	n := p.strays(c)
	kind, share = make([]int, n), make([]float64, n)
	for k := range kind {
		kind[k], share[k] = byNone, 1
	}
	first := &p.readings[c.readings[0]]
	for k, e := range first.border {
		if e >= 0 && first.loadingSD[k] > 0 {
			v := p.hyper.strength * first.loading[k] / first.loadingSD[k]
			kind[e-c.from], share[e-c.from] = byStrength, v*v
		}
	}
	if n < c.to-c.from {
		return kind, share
	}
	for w := range errorWaves {
		kind[first.waves-c.from+w], kind[first.waves-c.from+errorWaves+w] = byK, byS
	}
	for _, k := range c.readings {
		if r := &p.readings[k]; r.off >= 0 {
			kind[r.off-c.from], kind[r.off-c.from+1] = byScale, byOffset
		}
	}
	return kind, share
}

// moments sums up (7), where sys is informed at x.
func (p *problem) moments(x state, sys *system) (slope [ownKinds]float64, bend [ownKinds][ownKinds]float64) {
	for i := range p.castings {
		c, l := &p.castings[i], &sys.linear[i]
		kind, share := p.kinds(c)
		u, told := x[p.n+c.from:p.n+c.to], l.told()
		for a, ka := range kind {
			slope[ka] += 2 * share[a] * (told.Data[a*told.Stride+a] - u[a]*u[a])
			for b, kb := range kind {
				v := told.Data[a*told.Stride+b]
				bend[ka][kb] += 4 * share[a] * share[b] * v * v
			}
		}
	}
	return slope, bend
}

// told returns U'RU, R = M - M D M: how much of each of the casting's own unknowns
// the readings tell, of 1.
func (l *linear) told() blas64.General {
	n, own := l.n, l.own.Cols
	mu := blas64.General{Rows: n, Cols: own, Stride: own, Data: make([]float64, n*own)}
	blas64.Symm(blas.Left, 1, l.m, l.own, 0, mu)
	dmu := blas64.General{Rows: n, Cols: own, Stride: own, Data: make([]float64, n*own)}
	blas64.Gemm(blas.NoTrans, blas.NoTrans, 1, blas64.General{Rows: n, Cols: n, Stride: n, Data: l.spread}, mu, 0, dmu)
	for i, v := range l.own.Data[:n*own] {
		dmu.Data[i] = v - dmu.Data[i]
	}
	out := blas64.General{Rows: own, Cols: own, Stride: own, Data: make([]float64, own*own)}
	blas64.Gemm(blas.Trans, blas.NoTrans, 1, mu, dmu, 0, out)
	return out
}
