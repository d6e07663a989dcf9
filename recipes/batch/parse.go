package batch

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ParseRatio reads a mix ratio A:B by mass such as "100:90".
func ParseRatio(text string) (Ratio, error) {
	left, right, _ := strings.Cut(text, ":")
	a, errA := decimal(strings.TrimSpace(left))
	b, errB := decimal(strings.TrimSpace(right))
	r := Ratio{a, b}
	if errA != nil || errB != nil || r.check() != nil {
		return Ratio{}, fmt.Errorf("batch: mix ratio %q: give two positive masses A:B such as 100:90, at most 1000:1 apart", text)
	}
	return r, nil
}

// ParseSide reads "A" or "B" in any case.
func ParseSide(text string) (Side, error) {
	switch s := Side(strings.ToUpper(strings.TrimSpace(text))); s {
	case SideA, SideB:
		return s, nil
	}
	return "", fmt.Errorf("batch: pigment side %q: give A or B", text)
}

// ParseWaste reads "10%" or the share "0.10"; a bare number of 1 or more is
// refused because it could be either.
func ParseWaste(text string) (float64, error) {
	s, percent := strings.CutSuffix(strings.TrimSpace(text), "%")
	x, err := decimal(strings.TrimSpace(s))
	switch {
	case err != nil || x < 0 || percent && x > 500:
		return 0, fmt.Errorf("batch: waste %q: give a percentage such as 10%%, from 0%% to 500%%", text)
	case !percent && x >= 1:
		return 0, fmt.Errorf("batch: waste %q could be a share or per cent: write %s%% or a share below 1", text, s)
	case percent:
		return x / 100, nil
	}
	return x, nil
}

// decimal reads a number as large as masses and shares are, in the digits of a
// scale: no hexadecimal, no "inf", no digit grouping.
func decimal(s string) (float64, error) {
	if s == "" || strings.Trim(s, "+-.0123456789eE") != "" {
		return 0, strconv.ErrSyntax
	}
	x, err := strconv.ParseFloat(s, 64)
	if size := math.Abs(x); err == nil && x != 0 && !(size >= 1e-6 && size <= heaviest) {
		err = strconv.ErrRange
	}
	return x, err
}
