package control

import "gonum.org/v1/gonum/stat/distuv"

// Share is how many of those looked at pass, with the interval that holds the
// share of all at a confidence.
type Share struct {
	Passed, Of int
	Low, High  float64
}

// ShareOf is the share with the interval of Clopper and Pearson, which holds at
// least as often as its confidence says.
func ShareOf(passed, of int, confidence float64) Share {
	s, tail := Share{passed, of, 0, 1}, (1-confidence)/2
	if passed > 0 {
		s.Low = distuv.Beta{Alpha: float64(passed), Beta: float64(of-passed) + 1}.Quantile(tail)
	}
	if passed < of {
		s.High = distuv.Beta{Alpha: float64(passed) + 1, Beta: float64(of - passed)}.Quantile(1 - tail)
	}
	return s
}

// A Decision on a part.
type Decision string

// The decisions.
const (
	Within    Decision = "within"
	Outside   Decision = "outside"
	Undecided Decision = "undecided" // the reading is too near the limit to tell
)

// UsualRisk is the largest chance of being wrong about a part that is called
// within. Common practice, no source.
const UsualRisk = 0.05

// Decide decides on a part by the probability that it is within tolerance.
func Decide(chance, risk float64) Decision {
	switch {
	case chance >= 1-risk:
		return Within
	case chance <= risk:
		return Outside
	}
	return Undecided
}

// GuardBand is how far below an upper limit a reading must lie for its risk of
// being above to be at most risk, its standard uncertainty being u (JCGM
// 106:2012, 7.2.2.2 and 8.3.2; from memory).
func GuardBand(u, risk float64) float64 { return distuv.UnitNormal.Quantile(1-risk) * u }
