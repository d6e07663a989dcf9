package batch

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Mass is a mass held in whole micrograms, so that the lines of a sheet add up
// to its total exactly. The zero Mass is nothing.
type Mass struct{ micrograms int64 }

const (
	perGram  = 1_000_000 // micrograms
	heaviest = 1e9       // g; beyond it Grams stops
)

// Grams is a mass given in grams, kept to the nearest microgram. Values beyond
// ±1e9 g are held there, and NaN becomes the most negative mass, so that a
// check for a positive mass refuses it.
func Grams(g float64) Mass {
	if math.IsNaN(g) {
		g = -heaviest
	}
	g = math.Max(-heaviest, math.Min(heaviest, g))
	return Mass{int64(math.Round(g * perGram))}
}

// Grams is the mass in grams.
func (m Mass) Grams() float64 { return float64(m.micrograms) / perGram }

// Positive tells whether m is more than nothing.
func (m Mass) Positive() bool { return m.micrograms > 0 }

// Plus is m and n together.
func (m Mass) Plus(n Mass) Mass { return Mass{m.micrograms + n.micrograms} }

// Minus is what is left of m without n.
func (m Mass) Minus(n Mass) Mass { return Mass{m.micrograms - n.micrograms} }

// Compare is -1, 0 or 1 as m is less than, equal to or more than n.
func (m Mass) Compare(n Mass) int {
	switch {
	case m.micrograms < n.micrograms:
		return -1
	case m.micrograms > n.micrograms:
		return 1
	}
	return 0
}

// String is the mass in grams with the digits it needs, such as "1.3 g".
func (m Mass) String() string { return m.digits() + " g" }

// At is the mass in grams with the digits a scale of that step shows, such as
// "1.30" for a step of 0.01 g.
func (m Mass) At(step Mass) string {
	decimals := 0
	if _, after, found := strings.Cut(step.digits(), "."); found {
		decimals = len(after)
	}
	return strconv.FormatFloat(m.Grams(), 'f', decimals, 64)
}

// digits writes the exact decimal, without trailing zeros.
func (m Mass) digits() string {
	u, sign := m.micrograms, ""
	if u < 0 {
		u, sign = -u, "-"
	}
	s := fmt.Sprintf("%s%d.%06d", sign, u/perGram, u%perGram)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// MarshalJSON writes a plain number of grams.
func (m Mass) MarshalJSON() ([]byte, error) { return []byte(m.digits()), nil }

// UnmarshalJSON reads a plain number of grams.
func (m *Mass) UnmarshalJSON(data []byte) error {
	g, err := number("mass in grams", data)
	if err == nil {
		*m = Grams(g)
	}
	return err
}

// IsZero lets encoding/json leave out an absent mass.
func (m Mass) IsZero() bool { return m.micrograms == 0 }

// nearest is the multiple of step closest to micrograms.
func nearest(micrograms float64, step int64) int64 {
	return int64(math.Round(micrograms/float64(step))) * step
}

// atLeast is the smallest multiple of step not below micrograms; what is only
// a rounding error above a multiple counts as that multiple.
func atLeast(micrograms float64, step int64) int64 {
	return int64(math.Ceil(micrograms/float64(step)-1e-9)) * step
}
