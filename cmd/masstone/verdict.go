package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/cmd/masstone/typed"
	"masstone/recipes"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// verdictLine is a verdict in one line: CIEDE2000 1.62 of 1: darker, greener.
func verdictLine(v *kept.Verdict) string { return tidy(v.Line()) }

func printVerdict(env *Env, v *kept.Verdict) {
	env.print("%s: %s", upperFirst(v.Word()), verdictLine(v))
	t := newTable("under "+v.Under, ">L*", ">a*", ">b*", ">C*", ">H*")
	row := func(name, format string, values ...figure.Number) {
		cells := []string{name}
		for _, n := range values {
			cells = append(cells, fmt.Sprintf(format, n))
		}
		t.add(cells...)
	}
	row("target", "%.2f", v.Target.L, v.Target.A, v.Target.B)
	row("part", "%.2f", v.Part.L, v.Part.A, v.Part.B)
	row("part less target", "%+.2f", v.DL, v.DA, v.DB, v.DC, v.DH)
	if len(v.Axes) > 0 {
		limits := map[string]string{}
		for _, a := range v.Axes {
			limits[a.Axis] = figure.Short(float64(a.Limit))
			if !a.Passes {
				limits[a.Axis] += " over"
			}
		}
		cells := []string{"limit"}
		for _, axis := range recipes.Axes() {
			cells = append(cells, limits[axis])
		}
		t.add(cells...)
	}
	t.print(env.Stdout)
	for _, l := range v.Lights {
		env.print("under %s %s %.2f: %s", l.Under, v.Formula, l.Difference, l.Words)
	}
	if v.Note != "" {
		env.print("The part was %s.", tidy(v.Note))
	}
	env.print("Chance that the part is within tolerance, the noise of the readings counted: %.0f %%.", 100*v.Chance)
	if text := v.SettledLine(); text != "" {
		env.print("%s.", upperFirst(text))
	}
}

// axisLimits is a flag of limits per axis: L=0.8,a=0.5.
type axisLimits struct{ value *map[string]float64 }

func (a axisLimits) Type() string { return "AXIS=MOST" }

func (a axisLimits) String() string {
	if a.value == nil {
		return ""
	}
	var parts []string
	for _, axis := range slices.Sorted(maps.Keys(*a.value)) {
		parts = append(parts, axis+"="+figure.Short((*a.value)[axis]))
	}
	return strings.Join(parts, ",")
}

func (a axisLimits) Set(text string) error {
	if *a.value == nil {
		*a.value = map[string]float64{}
	}
	return typed.Limits(*a.value, text)
}
