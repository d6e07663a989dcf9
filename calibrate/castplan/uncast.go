package castplan

import (
	"math"
	"slices"

	"masstone/calibrate"
)

// sameLoading is how near two loadings must be to count as one: a share of the
// larger. Common practice, no source.
const sameLoading = 0.02

// Uncast leaves out the candidates that were cast already, whatever they were
// called then: the same pigments within 2 % of their loadings, over the same
// backing and as thick.
func Uncast(candidates []Chip, cast []calibrate.Chip) []Chip {
	var out []Chip
	for _, c := range candidates {
		if !slices.ContainsFunc(cast, func(old calibrate.Chip) bool { return c.like(&old) }) {
			out = append(out, c)
		}
	}
	return out
}

func (c *Chip) like(old *calibrate.Chip) bool {
	if c.Backing.Name != old.BackingName || math.Abs(float64(c.Bench.Thickness-old.Thickness)) > 0.05*float64(old.Thickness) {
		return false
	}
	for code, phr := range old.Loadings {
		if phr > 0 && c.Loadings[code] == 0 {
			return false
		}
	}
	for code, phr := range c.Loadings {
		if was := old.Loadings[code]; math.Abs(float64(phr-was)) > sameLoading*float64(max(phr, was)) {
			return false
		}
	}
	return true
}
