package main

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
)

// A figure is a number of a result, printed in JSON with seven digits.
type fig float64

// MarshalJSON writes a plain number; what is no number is null.
func (f fig) MarshalJSON() ([]byte, error) {
	v := float64(f)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, v, 'g', 7, 64), nil
}

// labView is a colour in JSON.
type labView struct {
	L fig `json:"L"`
	A fig `json:"a"`
	B fig `json:"b"`
}

func viewLab(c color.Lab) labView { return labView{fig(c.L), fig(c.A), fig(c.B)} }

func view3(v [3]float64) labView { return labView{fig(v[0]), fig(v[1]), fig(v[2])} }

// colorView is a predicted colour in JSON.
type colorView struct {
	Under    string  `json:"under"`
	Lab      labView `json:"lab"`
	Half95   labView `json:"half95"`
	Expected fig     `json:"expected_dE00"`
	Upper95  fig     `json:"upper95_dE00"`
	Screen   string  `json:"swatch"`
	InGamut  bool    `json:"swatch_in_gamut"`
}

func viewColor(p calibrate.PredictedColor) colorView {
	v := colorView{Under: p.Lab.Under.String(), Lab: viewLab(p.Lab), Half95: view3(p.Half95),
		Expected: fig(p.Expected), Upper95: fig(p.Upper95)}
	if s, err := p.Lab.Swatch(); err == nil {
		v.Screen, v.InGamut = s.Hex(), s.InGamut
	}
	return v
}

func viewColors(colors []calibrate.PredictedColor) []colorView {
	views := make([]colorView, len(colors))
	for i, c := range colors {
		views[i] = viewColor(c)
	}
	return views
}

func figures[V ~float64](m map[string]V) map[string]fig {
	out := make(map[string]fig, len(m))
	for k, v := range m {
		out[k] = fig(v)
	}
	return out
}

// phrs are loadings for the packages.
func phrs(m map[string]float64) map[string]calibrate.PHR {
	out := make(map[string]calibrate.PHR, len(m))
	for code, v := range m {
		out[code] = calibrate.PHR(v)
	}
	return out
}

// floats are loadings for the archive.
func floats(m map[string]calibrate.PHR) map[string]float64 {
	out := make(map[string]float64, len(m))
	for code, v := range m {
		out[code] = float64(v)
	}
	return out
}

// byLoading lists the codes of loadings, the largest first.
func byLoading[V ~float64](loadings map[string]V) []string {
	return slices.SortedFunc(maps.Keys(loadings), func(a, b string) int {
		return cmp.Or(cmp.Compare(loadings[b], loadings[a]), strings.Compare(a, b))
	})
}

// recipeText lists loadings, the largest first: WH 1.02, RD 0.2.
func recipeText[V ~float64](loadings map[string]V, equals, comma string) string {
	codes := byLoading(loadings)
	var parts []string
	for _, code := range codes {
		parts = append(parts, code+equals+strconv.FormatFloat(float64(loadings[code]), 'g', 4, 64))
	}
	if len(parts) == 0 {
		return "bare resin"
	}
	return strings.Join(parts, comma)
}

func labText(c color.Lab) string { return fmt.Sprintf("%.2f %.2f %.2f", c.L, c.A, c.B) }

func archivedText(l archive.Lab) string { return labText(l.Color()) }

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// known writes a number that may not be known, with its unit.
func known(v float64, unit string) string {
	if v == 0 {
		return "-"
	}
	return short(v) + unit
}

// optional is a number in JSON that is left out when it is not known.
func optional(v float64) *fig {
	if v == 0 {
		return nil
	}
	f := fig(v)
	return &f
}

func listed(names []string) string { return strings.Join(names, ", ") }
