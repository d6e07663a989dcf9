package typed

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"masstone/recipes"
)

// Loadings reads amounts by code, WH=1.02,RD=0.2, into a map that may have some
// already. Nothing of a text with a fault goes in.
func Loadings[V ~float64](into map[string]V, m Measure, text string) error {
	amounts := map[string]V{}
	for part := range strings.SplitSeq(text, ",") {
		code, amount, found := strings.Cut(part, "=")
		code = strings.TrimSpace(code)
		if !found || code == "" {
			if strings.Trim(strings.TrimSpace(part), "0123456789") == "" && len(amounts) > 0 {
				return errors.New("has a decimal comma; write decimal points, such as WH=1.02,RD=0.2")
			}
			return errors.New("is no list of amounts; write CODE=AMOUNT,CODE=AMOUNT, such as WH=1.02,RD=0.2")
		}
		v, err := m.Parse(amount)
		if err != nil {
			return fmt.Errorf("%s=%s %w", code, amount, err)
		}
		if _, twice := amounts[code]; twice {
			return twiceError(code)
		}
		amounts[code] = V(v)
	}
	for code := range amounts {
		if _, twice := into[code]; twice {
			return twiceError(code)
		}
	}
	for code, v := range amounts {
		into[code] = v
	}
	return nil
}

func twiceError(code string) error { return fmt.Errorf("names %s twice; give its sum once", code) }

// Lots reads lots by code, RD=L123,WH=7, into a map that may have some already.
func Lots(into map[string]string, text string) error {
	for part := range strings.SplitSeq(text, ",") {
		code, lot, found := strings.Cut(part, "=")
		code, lot = strings.TrimSpace(code), strings.TrimSpace(lot)
		if !found || code == "" || lot == "" {
			return errors.New("is no lot; write CODE=LOT, such as RD=L123")
		}
		if into[code] != "" {
			return fmt.Errorf("names %s twice; one lot each goes into a pour", code)
		}
		into[code] = lot
	}
	return nil
}

// Limits reads limits by axis, L=0.8,a=0.5, into a map that may have some already.
func Limits(into map[string]float64, text string) error {
	for part := range strings.SplitSeq(text, ",") {
		name, most, found := strings.Cut(part, "=")
		axis := strings.TrimPrefix(strings.TrimSuffix(strings.TrimSpace(name), "*"), "d")
		if i := slices.IndexFunc(recipes.Axes(), func(x string) bool { return strings.EqualFold(x, axis) }); i >= 0 {
			axis = recipes.Axes()[i]
		} else {
			found = false
		}
		if !found {
			return errors.New("is no list of limits; write AXIS=MOST,AXIS=MOST with axes L, a, b, C, H, such as L=0.8,a=0.5,b=0.5")
		}
		v, err := DE.Parse(most)
		if err != nil {
			return fmt.Errorf("%s=%s %w", axis, most, err)
		}
		if _, twice := into[axis]; twice {
			return fmt.Errorf("limits %s twice; give it once", axis)
		}
		into[axis] = v
	}
	return nil
}
