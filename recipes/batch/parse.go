package batch

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// ParseMass reads "250", "250g", "0.25 kg" or "40mg"; a bare number is grams.
// The mass must be finite and not negative.
func ParseMass(text string) (Mass, error) {
	s, factor := strings.ToLower(strings.TrimSpace(text)), 1.0
	for _, u := range []struct {
		name string
		in   float64
	}{{"kg", 1000}, {"mg", 0.001}, {"g", 1}} {
		if rest, found := strings.CutSuffix(s, u.name); found {
			s, factor = strings.TrimSpace(rest), u.in
			break
		}
	}
	x, err := decimal(s)
	if err != nil || x < 0 || x*factor > heaviest {
		return Mass{}, fmt.Errorf("batch: mass %q: give grams with a decimal point, such as 1.32 or 1.32g (also kg, mg)", text)
	}
	return Grams(x * factor), nil
}

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

// ParsePoured reads what the scale showed for lines already in the cup, one
// "ITEM=GRAMS" each, such as "RD=1.32".
func ParsePoured(texts []string) (Poured, error) {
	p := make(Poured, len(texts))
	for _, text := range texts {
		at := strings.LastIndex(text, "=")
		if at < 1 {
			return nil, fmt.Errorf("batch: poured %q: give ITEM=GRAMS, such as RD=1.32", text)
		}
		item := strings.TrimSpace(text[:at])
		m, err := ParseMass(text[at+1:])
		if item == "" || err != nil {
			return nil, fmt.Errorf("batch: poured %q: give ITEM=GRAMS with a decimal point, such as RD=1.32", text)
		}
		if _, twice := p[item]; twice {
			return nil, fmt.Errorf("batch: poured %s is given twice: give the sum once", item)
		}
		p[item] = m
	}
	return p, nil
}

// decimal reads a finite number in the digits of a scale: no hexadecimal, no
// "inf", no digit grouping.
func decimal(s string) (float64, error) {
	if s == "" || strings.Trim(s, "+-.0123456789eE") != "" {
		return 0, strconv.ErrSyntax
	}
	x, err := strconv.ParseFloat(s, 64)
	if err == nil && (math.IsInf(x, 0) || math.IsNaN(x)) {
		err = strconv.ErrRange
	}
	return x, err
}
