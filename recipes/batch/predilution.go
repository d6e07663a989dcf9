package batch

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Predilution is a paste let down in the pigment side of the resin so that its
// dose can be weighed. It is stirred until even before any of it is used.
type Predilution struct {
	Pigment  string `json:"pigment"`
	Item     string `json:"item"` // its line on the sheet, such as "RD 1:20"
	Side     Side   `json:"side"` // what it is let down in
	Ratio    int    `json:"ratio"`
	Paste    Mass   `json:"paste_grams"`
	Resin    Mass   `json:"resin_grams"`
	Made     Mass   `json:"made_grams"`
	Use      Mass   `json:"use_grams"`
	LeftOver Mass   `json:"left_over_grams"`
	Why      string `json:"why"`

	// Of one at hand: its jar, and the share of paste in it, to which the ratio is
	// only near. Paste, Resin and Made are as it was stirred, LeftOver what stays.
	Jar       string  `json:"jar,omitempty"`
	Strength  float64 `json:"strength,omitempty"`
	StirredOn string  `json:"stirred_on,omitempty"`
}

// Share is the share of paste in a pre-dilution.
func (p Predilution) Share() float64 {
	if p.Strength > 0 {
		return p.Strength
	}
	return 1 / float64(1+p.Ratio)
}

// The let-downs offered, paste to resin by mass, and what they aim at: a dose
// and a paste line of at least thirty steps, so that rounding is at most 1.7 %
// of either, and three times the paste needed, so that the weighing the
// dilution was made with is surer than the neat one would have been (common
// practice, no source).
const (
	doseSteps = 30
	surer     = 3
)

var letDowns = [...]int{10, 20, 50, 100}

// itemOf names a line.
func itemOf(c charge) string {
	if c.ratio == 0 {
		return c.code
	}
	if c.jar != "" {
		return c.code + " " + c.jar
	}
	return fmt.Sprintf("%s 1:%d", c.code, c.ratio)
}

// diluted is c as a pre-dilution: of a jar at hand, or else the mildest let-down
// whose dose is easy to weigh. Paste is what is needed, in micrograms.
func (j *job) diluted(c charge, paste float64) charge {
	if k, ok := j.fromJar(c, paste); ok {
		return k
	}
	want := j.Scale.easy()
	c.unit, c.drop = j.step, false
	for _, c.ratio = range letDowns {
		if paste*float64(1+c.ratio) >= want {
			break
		}
	}
	made, resin := j.made(c, nearest(paste/c.share(), j.step))
	sd := j.Scale.sd()
	c.strength = (1 - c.share()) * math.Hypot(sd/float64(made), sd/float64(resin)) // (8)
	return c
}

// made is the paste and resin to stir for a dose, in tens of steps so that the
// figures are easy to hit.
func (j *job) made(c charge, dose int64) (paste, resin int64) {
	need := math.Max(surer*float64(dose)*c.share(), float64(max(doseSteps*j.step, j.Scale.minimum().micrograms)))
	paste = atLeast(need, 10*j.step)
	return paste, paste * int64(c.ratio)
}

// dilute decides which pastes are pre-diluted and settles the batch. Forced
// are those below the least line worth weighing; then, while the scale costs
// too much, the one that costs most, if that saves a quarter of what the scale
// may cost.
func (j *job) dilute(total int64) (*found, map[string]string, error) {
	cs, why := j.charges(), map[string]string{}
	if j.Dilution == DiluteNever {
		f, err := j.search(cs, total)
		return f, why, err
	}
	aim := j.aim(cs, total)
	for i, c := range cs {
		if reason := j.tooSmall(c, aim[i]); reason != "" {
			cs[i] = j.diluted(c, aim[i]*float64(c.unit))
			why[c.code] = reason
		}
	}
	best, err := j.search(cs, total)
	if errors.Is(err, errTooSmall) && len(j.Jars) > 0 { // what the jars carry may be too much
		fresh := *j
		fresh.Jars = nil
		return fresh.dilute(total)
	}
	if err != nil || j.Outcome == nil {
		return best, why, err
	}
	perfect, err := j.perfect()
	if err != nil {
		return nil, nil, err
	}
	for best.value-perfect > j.ScaleCost {
		worst, cost, err := j.costliest(best.charges, total, perfect)
		if err != nil {
			return nil, nil, err
		}
		if worst < 0 {
			break
		}
		cs := slices.Clone(best.charges)
		cs[worst] = j.diluted(cs[worst], aim[worst]*float64(cs[worst].unit))
		f, err := j.search(cs, total)
		if err != nil {
			return nil, nil, err
		}
		if f.value > best.value-j.ScaleCost/4 {
			break
		}
		best, why[cs[worst].code] = f, fmt.Sprintf("neat, its line alone adds about %.2f to the expected difference", cost)
	}
	return best, why, nil
}

// tooSmall says why a neat line of that many units cannot be weighed.
func (j *job) tooSmall(c charge, units float64) string {
	neat, least := Grams(units*float64(c.unit)/perGram), j.Scale.minimum()
	switch {
	case c.drop && units < fewestDrops:
		return fmt.Sprintf("neat it is %.1f drops, fewer than %d", units, fewestDrops)
	case !c.drop && neat.Compare(least) < 0:
		return fmt.Sprintf("neat it is %.3g g, below the least line of %v", neat.Grams(), least)
	}
	return ""
}

// costliest is the neat line whose own rounding and weighing add most to the
// perfect outcome, and what they add; -1 if there is none.
func (j *job) costliest(cs []charge, total int64, perfect float64) (worst int, cost float64, err error) {
	worst = -1
	resin := float64(total) / (1 + j.sum/100)
	for i, c := range cs {
		if c.ratio != 0 {
			continue
		}
		if _, err := j.perfect(); err != nil { // resets the mixture
			return -1, 0, err
		}
		dose := nearest(j.ideal[i]*resin/100, c.unit)
		j.mixture.Loadings[c.code] = PHR(100 * float64(dose) / resin)
		j.mixture.Weighing[c.code] = PHR(100 * c.sd(dose, j.Scale.sd()) / resin)
		v, err := j.expected()
		if err != nil {
			return -1, 0, err
		}
		if v-perfect > cost {
			worst, cost = i, v-perfect
		}
	}
	return worst, cost, nil
}

// predilutions lists what to stir for the doses settled.
func (j *job) predilutions(f *found, why map[string]string) []Predilution {
	var ps []Predilution
	for i, c := range f.charges {
		if c.ratio == 0 || f.fill.doses[i] == 0 {
			continue
		}
		if k := j.jarOf(c.jar); c.jar != "" {
			ps = append(ps, Predilution{Pigment: c.code, Item: itemOf(c), Side: k.Side, Ratio: c.ratio, Strength: c.strong, Jar: k.Name, StirredOn: k.On,
				Paste: k.Paste, Resin: k.Resin, Made: k.Paste.Plus(k.Resin), Use: Mass{f.fill.doses[i]},
				LeftOver: k.Left.Minus(Mass{f.fill.doses[i]}), Why: why[c.code]})
			continue
		}
		paste, resin := j.made(c, f.fill.doses[i])
		ps = append(ps, Predilution{
			Pigment: c.code, Item: itemOf(c), Side: j.Resin.PigmentSide, Ratio: c.ratio,
			Paste: Mass{paste}, Resin: Mass{resin}, Made: Mass{paste + resin},
			Use: Mass{f.fill.doses[i]}, LeftOver: Mass{paste + resin - f.fill.doses[i]},
			Why: why[c.code],
		})
	}
	return ps
}

// Words is the pre-dilution as an instruction for a scale of that step.
func (p Predilution) Words(step Mass) string {
	if p.Jar != "" {
		stirred := ""
		if p.StirredOn != "" {
			stirred = " of " + p.StirredOn
		}
		return fmt.Sprintf("Take %s from jar %s%s, let down 1:%.4g in side %s: stir it, weigh %s g of it, %s g stays in the jar.",
			p.Pigment, p.Jar, stirred, 1/p.Share()-1, p.Side, p.Use.At(step), p.LeftOver.At(step))
	}
	return fmt.Sprintf("Stir %s g %s into %s g of side %s until even; weigh %s g of it, %s g is left over.",
		p.Paste.At(step), p.Pigment, p.Resin.At(step), p.Side, p.Use.At(step), p.LeftOver.At(step))
}
