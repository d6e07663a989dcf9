package readings

import (
	"errors"
	"fmt"
	"strings"

	"masstone/color"
)

// Typed reads L*, a* and b* as a person types or another program pipes them:
// three numbers between commas, semicolons or blanks, with L=, a=, b= before
// them or not. A decimal comma is taken where blanks or semicolons separate;
// commas in both roles are refused. The error is one line.
func Typed(text string, under color.Condition) (color.Lab, error) {
	bad := func(problem string) (color.Lab, error) {
		return color.Lab{}, fmt.Errorf("%s %s; type L, a and b as 61.2 38.9 21.4", quote(text), problem)
	}
	text = strings.TrimSpace(text)
	decimal := '.'
	parts := strings.FieldsFunc(text, func(r rune) bool { return r == ';' || r == ' ' || r == '\t' })
	for i, p := range parts {
		parts[i] = strings.TrimSuffix(p, ",") // 61.2, 38.9, 21.4
	}
	switch {
	case len(parts) == 1:
		parts = strings.Split(text, ",")
	case strings.Contains(strings.Join(parts, ""), ","):
		decimal = ','
	}
	if len(parts) != 3 {
		if len(parts) == 1 {
			return bad("holds one value, not 3 numbers")
		}
		return bad(fmt.Sprintf("holds %d numbers, not 3", len(parts)))
	}
	var v [3]float64
	for i, p := range parts {
		letter := [...]string{"L", "a", "b"}[i]
		for _, lead := range []string{letter + "*=", letter + "=", letter + "*:", letter + ":"} {
			p = strings.TrimPrefix(p, lead)
		}
		n, problem := number(p, decimal)
		if problem != "" {
			return bad("is no reading: " + problem)
		}
		v[i] = n
	}
	lab := color.LabFrom(v, under)
	if _, err := Judge("typed", []Row{{Name: "reading", Labs: []color.Lab{lab}}}); err != nil {
		var row *RowError
		if errors.As(err, &row) && row.Hint != "" {
			err = fmt.Errorf("%s: %s; %s", quote(text), row.Problem, row.Hint)
		}
		return color.Lab{}, err
	}
	return lab, nil
}
