package recipes

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"masstone/calibrate"
	"masstone/color"
)

// A Judge tells where loadings of one's own, found by no match, are expected
// to land on a target under its main condition. It is not safe for concurrent
// use.
type Judge struct {
	cal      *calibrate.Calibration
	target   Target
	want     color.Lab
	eval     *calibrate.Evaluator
	gradient [calibrate.MaxComponents][3]float64
}

// NewJudge prepares a Judge.
func NewJudge(cal *calibrate.Calibration, t Target) (*Judge, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	colours, err := t.colours(cal)
	if err != nil {
		return nil, err
	}
	j := &Judge{cal: cal.Conservative(), target: t, want: colours[0]}
	j.eval, err = j.cal.Evaluator(t.Setting, j.want.Under)
	return j, err
}

// Want is the target's colour under its main condition.
func (j *Judge) Want() color.Lab { return j.want }

// Land returns the colour of a mixture and where it lands, given the standard
// deviation each loading was weighed with (nil for exactly): what the
// calibration leaves open, the weighing and the reading of the target count, as
// they do in Match.
func (j *Judge) Land(mix, weighSD map[string]calibrate.PHR) (color.Lab, calibrate.Landing, error) {
	return j.Foresee(mix, weighSD, 1)
}

// Foresee is Land for a day when the calibration leaves only a share open of what
// it does now, in standard deviations, as after more chips.
func (j *Judge) Foresee(mix, weighSD map[string]calibrate.PHR, share float64) (color.Lab, calibrate.Landing, error) {
	lab, cov, err := j.predict(mix, weighSD, share)
	if err != nil {
		return color.Lab{}, calibrate.Landing{}, err
	}
	return color.LabFrom(lab, j.want.Under), j.target.landing(j.want.Values(), lab, cov), nil
}

// Expected returns the Expected of Land for an eighth of its cost.
func (j *Judge) Expected(mix, weighSD map[string]calibrate.PHR) (float64, error) {
	lab, cov, err := j.predict(mix, weighSD, 1)
	if err != nil {
		return 0, err
	}
	return calibrate.ExpectedDE00(j.want.Values(), lab, j.target.read(cov)), nil
}

// predict returns the colour of a mixture with its covariance, of which the
// calibration's part counts by the share.
func (j *Judge) predict(mix, weighSD map[string]calibrate.PHR, share float64) (lab [3]float64, cov [3][3]float64, err error) {
	pigments, phr, err := j.cal.Resolve(mix)
	if err != nil {
		return lab, cov, err
	}
	j.eval.Set(pigments, phr)
	lab = j.eval.LabGradient(0, j.gradient[:])
	cov = j.eval.Covariance()
	for a := range cov {
		for b := range cov {
			cov[a][b] *= share * share
		}
	}
	for i, q := range pigments {
		sd := float64(weighSD[j.cal.Curves[q].Code])
		for a := range 3 {
			for b := range 3 {
				cov[a][b] += sd * sd * j.gradient[i][a] * j.gradient[i][b]
			}
		}
	}
	return lab, cov, nil
}

// readingVariance is that of the mean of the target's own readings, along an axis.
func (t *Target) readingVariance() float64 {
	sd := cmp.Or(t.ReadingSD, readingSD)
	return sd * sd / float64(max(1, t.Readings))
}

// read adds the noise of the target's own reading to a covariance.
func (t *Target) read(cov [3][3]float64) [3][3]float64 {
	for i := range cov {
		cov[i][i] += t.readingVariance()
	}
	return cov
}

// landing is where a colour known up to cov lies from the target's colour want,
// whose own reading counts too. Expected and Upper95 are CIEDE2000; Chance is
// that of being accepted, in the target's own terms.
func (t *Target) landing(want, lab [3]float64, cov [3][3]float64) calibrate.Landing {
	cov = t.read(cov)
	out := calibrate.Land(want, lab, cov, t.Within())
	if len(t.Axes) == 0 && (t.Formula == "" || t.Formula == color.CIEDE2000) {
		return out
	}
	between, within := t.acceptance()
	out.Chance = 0
	all := calibrate.Differences(between, want, lab, cov)
	for _, d := range all {
		if d <= within {
			out.Chance += 1 / float64(len(all))
		}
	}
	return out
}

// acceptance is how a target measures a difference, and how much of it is
// accepted. With limits per axis it is the largest share of a limit used up,
// of which 1 is accepted.
func (t *Target) acceptance() (between func(std, sample [3]float64) float64, within float64) {
	if len(t.Axes) == 0 {
		return t.total, t.Within()
	}
	return func(std, sample [3]float64) float64 {
		d, err := color.Compare(color.LabFrom(std, color.D65Ten()), color.LabFrom(sample, color.D65Ten()), color.CIE76)
		if err != nil {
			return math.Inf(1)
		}
		used := 0.0
		for axis, limit := range t.Axes {
			used = math.Max(used, math.Abs(along(d, axis))/limit)
		}
		if t.Tolerance > 0 {
			used = math.Max(used, t.total(std, sample)/t.Tolerance)
		}
		return used
	}, 1
}

// total is a difference in the target's formula.
func (t *Target) total(std, sample [3]float64) float64 {
	d, err := t.formula().Between(std, sample)
	if err != nil {
		return math.Inf(1)
	}
	return d
}

func (t *Target) formula() color.Formula {
	if t.Formula == "" {
		return color.CIEDE2000
	}
	return t.Formula
}

// Axes lists the parts of a difference a client may limit, in the order they
// are told: lightness, redness, yellowness, chroma and hue (CIELAB, hue as the
// length of DeltaH*ab).
func Axes() []string { return []string{"L", "a", "b", "C", "H"} }

// along is the signed part of a difference, sample less standard.
func along(d color.Difference, axis string) float64 {
	switch axis {
	case "L":
		return d.DL
	case "a":
		return d.DA
	case "b":
		return d.DB
	case "C":
		return d.DC
	case "H":
		return d.DH
	}
	return math.Inf(1)
}

func (t *Target) checkAxes() error {
	for _, axis := range slices.Sorted(maps.Keys(t.Axes)) {
		if !slices.Contains(Axes(), axis) {
			return fmt.Errorf("target %q: limit of %q; give limits of L, a, b, C or H", t.Name, axis)
		}
		if limit := t.Axes[axis]; !(limit > 0 && limit <= 100) {
			return fmt.Errorf("target %q: limit of %s is %g; give a difference above 0", t.Name, axis, limit)
		}
	}
	return nil
}
