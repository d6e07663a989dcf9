package batch

import "math"

// charge is one pigment line before its amount is settled.
type charge struct {
	code     string
	unit     int64   // micrograms: scale step, or one drop
	drop     bool    // counted, not weighed
	scatter  float64 // of one drop
	ratio    int     // k of a 1:k pre-dilution, 0 for neat paste
	strong   float64 // share of paste in a jar at hand, whose ratio is only near; 0 none
	jar      string  // its name
	strength float64 // relative sd of the dilution's own weighing (8)
	base     int64   // micrograms already in the cup
}

// charges are the recipe's lines with every paste used neat.
func (j *job) charges() []charge {
	cs := make([]charge, len(j.codes))
	for i, code := range j.codes {
		cs[i] = charge{code: code, unit: j.step}
		if c := j.Colorants[code]; c.Drop.Positive() {
			cs[i].unit, cs[i].drop, cs[i].scatter = c.Drop.micrograms, true, c.Scatter
		}
	}
	return cs
}

// share is the paste in one gram of the dose.
func (c charge) share() float64 {
	if c.strong > 0 {
		return c.strong
	}
	return 1 / float64(1+c.ratio)
}

// dose is the mass of n units beyond what the cup holds.
func (c charge) dose(n int64) int64 { return c.base + n*c.unit }

// sd is the uncertainty of the paste in a dose, micrograms.
func (c charge) sd(dose int64, weighing float64) float64 {
	if dose == 0 {
		return 0
	}
	if c.drop {
		return float64(c.unit) * c.scatter * math.Sqrt(float64(dose)/float64(c.unit)) // (6)
	}
	return math.Hypot(c.share()*weighing, float64(dose)*c.share()*c.strength) // (8)
}

// fill is a cup with every line settled, in micrograms.
type fill struct {
	doses          []int64
	pigment, other int64   // the two resin lines
	carried        float64 // pigment-side resin inside the doses
}

func (f *fill) resin() float64 { return float64(f.pigment+f.other) + f.carried }

func (f *fill) total() int64 {
	sum := f.pigment + f.other
	for _, d := range f.doses {
		sum += d
	}
	return sum
}

// pour settles the doses of f for counts n and returns their sum.
func (f *fill) pour(cs []charge, n []int64) int64 {
	var sum int64
	f.doses, f.carried = f.doses[:0], 0
	for i, c := range cs {
		d := c.dose(n[i])
		f.doses, sum = append(f.doses, d), sum+d
		f.carried += float64(d) * (1 - c.share()) // (7)
	}
	return sum
}

// toTotal settles f so that the batch weighs total. It is false if the doses
// leave no room for the resin, a side comes to nothing, or the steps of the
// scale make more paste than resin of a recipe that is not so.
func (j *job) toTotal(f *fill, cs []charge, n []int64, total int64) bool {
	doses := f.pour(cs, n)
	resin := float64(total-doses) + f.carried
	f.other = nearest(resin*j.Resin.Mix.Share(j.Resin.PigmentSide.other()), j.step) // (4)
	f.pigment = nearest(float64(total-doses-f.other), j.step)                       // (4), (7)
	paste := float64(doses) - f.carried
	if r := f.resin(); paste > r && paste > 1.01*r*j.sum/100 {
		return false
	}
	return f.pigment >= 0 && float64(f.pigment)+f.carried > 0 && f.other > 0
}

// toResin settles f around a resin mass instead, never below what the cup
// holds of either side; the side with too much in the cup draws the other.
func (j *job) toResin(f *fill, cs []charge, n []int64, resin float64, cupPigment, cupOther int64) {
	f.pour(cs, n)
	share := j.Resin.Mix.Share(j.Resin.PigmentSide)
	per := (1 - share) / share
	want := max(0, nearest(resin*share-f.carried, j.step))
	f.pigment, f.other = want, nearest(resin*(1-share), j.step)
	if follow := max(want, cupPigment); follow > want || resin*share < f.carried {
		f.pigment, f.other = follow, nearest((float64(follow)+f.carried)*per, j.step)
	}
	if cupOther > f.other {
		f.other = cupOther
		f.pigment = max(f.pigment, nearest(float64(cupOther)/per-f.carried, j.step))
	}
}

// judge is the outcome of a settled cup.
func (j *job) judge(cs []charge, f *fill) (float64, error) {
	resin, weighing := f.resin(), j.Scale.sd()
	for i, c := range cs {
		j.mixture.Loadings[c.code] = PHR(100 * float64(f.doses[i]) * c.share() / resin) // (5)
		j.mixture.Weighing[c.code] = PHR(100 * c.sd(f.doses[i], weighing) / resin)
	}
	return j.expected()
}
