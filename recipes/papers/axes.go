package papers

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"masstone/color"
	"masstone/recipes"
)

// against is a difference beside the one agreed, with as many digits as tell
// the two apart.
func (c Certificate) against(de float64) string {
	digits := 2
	for digits < 6 && de != c.Tolerance && fixed(de, digits) == fixed(c.Tolerance, digits) {
		digits++
	}
	if c.Tolerance == 0 {
		return fixed(de, 2)
	}
	return fmt.Sprintf("%s; agreed is at most %s", fixed(de, digits), fixed(c.Tolerance, digits))
}

// axesAgainst says which parts of a difference are limited, and which exceed it.
func (c Certificate) axesAgainst(d color.Difference) string {
	var limits []string
	for _, a := range recipes.AxesOf(d, c.Axes) {
		limits = append(limits, fmt.Sprintf("%s%s* %s", delta, a.Axis, short(a.Limit)))
	}
	if len(limits) == 0 {
		return ""
	}
	text := ", and either way " + strings.Join(limits, ", ")
	if c.Tolerance == 0 {
		text = "; agreed is at most, either way, " + strings.Join(limits, ", ")
	}
	over := exceeded(d, c.Axes)
	if len(over) == 0 {
		return text + ", all of which it keeps"
	}
	return text + "; it exceeds " + strings.Join(over, " and ")
}

// exceeded lists the parts of a difference that are over their limits.
func exceeded(d color.Difference, limits map[string]float64) []string {
	var out []string
	for _, a := range recipes.AxesOf(d, limits) {
		if !a.Passes {
			out = append(out, fmt.Sprintf("%s%s* by %s", delta, a.Axis, fixed(math.Abs(a.Value)-a.Limit, 2)))
		}
	}
	return out
}

func (c Certificate) checkAxes() error {
	for _, axis := range slices.Sorted(maps.Keys(c.Axes)) {
		if limit := c.Axes[axis]; !slices.Contains(recipes.Axes(), axis) || !(limit > 0 && limit <= 100) {
			return fmt.Errorf("papers: certificate for %q: limit %g of %q: give limits above 0 of L, a, b, C or H", c.Target, limit, axis)
		}
	}
	return nil
}
