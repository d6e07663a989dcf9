package recipes

import "masstone/calibrate"

// Learn returns the calibration as the pours of a target teach it about the
// lots in the cup and about this target: what Correct finds its next recipe
// with. Match and NewJudge take it like any other, for this target. The
// receiver of the lesson, cal, stays as it is.
func Learn(cal *calibrate.Calibration, t Target, pours []Pour, o CorrectOptions) (*calibrate.Calibration, calibrate.Learned, error) {
	b, err := newBelief(cal, t, pours, o)
	if err != nil {
		return nil, calibrate.Learned{}, err
	}
	return b.learn(false)
}

// Change returns how much more of each pigment, in phr, one mixture holds than
// another; pigments that either holds are all in it.
func Change(from, to map[string]calibrate.PHR) map[string]float64 {
	out := map[string]float64{}
	for code, phr := range to {
		out[code] = float64(phr - from[code])
	}
	for code, phr := range from {
		if _, still := to[code]; !still {
			out[code] = -float64(phr)
		}
	}
	return out
}

// worthChanging is how much nearer a recipe must be expected, in CIEDE2000, to
// take the place of one that has proved itself. Common practice, no source.
const worthChanging = 0.10

// WorthChanging reports whether a recipe that is expected at then should take
// the place of one that has proved itself and is expected at now.
func WorthChanging(now, then float64) bool { return now-then >= worthChanging }
