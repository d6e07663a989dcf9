package figure

import (
	"math"
	"strconv"
)

// A Number is a number of a result, in JSON with seven significant digits;
// what is no number is null.
type Number float64

// MarshalJSON writes a plain number or null.
func (n Number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, v, 'g', 7, 64), nil
}

// Known is a number that is left out of JSON when it is 0, which stands for not
// known.
func Known(v float64) *Number {
	if v == 0 {
		return nil
	}
	return Of(v)
}

// Finite is a number that is null in JSON unless it is above 0 and below a
// million, as the thickness that hides does where nothing hides.
func Finite(v float64) *Number {
	if !(v > 0 && v < 1e6) {
		return nil
	}
	return Of(v)
}

// Of is a number that is there.
func Of(v float64) *Number {
	n := Number(v)
	return &n
}

// Map is a map of numbers, such as loadings by pigment code.
func Map[V ~float64](m map[string]V) map[string]Number {
	out := make(map[string]Number, len(m))
	for k, v := range m {
		out[k] = Number(v)
	}
	return out
}
