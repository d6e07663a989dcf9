package recipes

import "math"

// leastGain is by how much a chip must raise the chance of the next pour to be
// cast before it: either takes a night, and a pour that misses teaches of its
// target as much as a chip, but costs the resin of a part and a client's patience.
// Common practice, no source.
const leastGain = 0.05

// ChipsThatPay is how many of some planned chips are worth casting before a pour,
// given the chance of landing within tolerance now and once each of them is read
// beside those before it: where that chance less 5 points a chip is highest.
func ChipsThatPay(now float64, then []float64) int {
	pay, most := 0, now
	for i, chance := range then {
		if worth := chance - leastGain*float64(i+1); worth >= most {
			pay, most = i+1, worth
		}
	}
	return pay
}

// ChanceThen is the chance that the best of a target's recipes lands within
// tolerance once each is expected to be off by then in place of now, for what the
// calibration leaves open.
func ChanceThen(j *Judge, all []Recipe, now, then []float64) (float64, error) {
	best := 0.0
	for i, r := range all {
		share := 1.0
		if now[i] > 0 {
			share = math.Min(then[i]/now[i], 1)
		}
		_, l, err := j.Foresee(r.Loadings, r.LoadingSD, share)
		if err != nil {
			return 0, err
		}
		best = math.Max(best, l.Chance)
	}
	return best, nil
}
