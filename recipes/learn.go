package recipes

import "masstone/calibrate"

// Learn returns the calibration as the pours of a target teach it about the
// lots in the cup and about this target: what Correct finds its next recipe
// with. Match and NewJudge take it like any other, for this target. The
// receiver of the lesson, cal, stays as it is.
func Learn(cal *calibrate.Calibration, t Target, pours []Pour, o CorrectOptions) (*calibrate.Calibration, calibrate.Learned, error) {
	b, err := newPosterior(cal, t, pours, o)
	if err != nil {
		return nil, calibrate.Learned{}, err
	}
	return b.learn(false)
}
