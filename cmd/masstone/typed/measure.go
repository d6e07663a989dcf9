// Package typed reads what people type, at a prompt or into a form: numbers
// with or without a unit.
package typed

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"masstone/recipes/figure"
)

// A Measure is a kind of number that people type, with the units it may be
// written in. A bare number is in its first unit.
type Measure struct {
	Units    []Unit
	Above    float64 // exclusive unless Reach is set
	UpTo     float64
	Reach    bool // Above itself is allowed
	Examples string
}

// least is the least of anything but nothing, in the first unit of its measure: a
// microgram, a nanometre; what is less is a slip, or would be weighed as nothing.
const least = 1e-6

// A Unit is a unit and its size.
type Unit struct {
	Name string
	Size float64 // in the first unit
}

// Shown is the unit as people write it.
func (u Unit) Shown() string {
	if u.Name == "c" {
		return "C"
	}
	return u.Name
}

// The measures.
var (
	MM = Measure{Units: []Unit{{"mm", 1}, {"cm", 10}, {"in", 25.4}, {"um", 0.001}, {"µm", 0.001}}, UpTo: 200, Examples: "3 or 3mm"}

	Grams  = Measure{Units: []Unit{{"g", 1}, {"kg", 1000}, {"mg", 0.001}}, UpTo: 1e6, Examples: "250 or 250g"}
	ML     = Measure{Units: []Unit{{"ml", 1}, {"cm3", 1}, {"cc", 1}, {"cl", 10}, {"l", 1000}}, UpTo: 1e6, Examples: "18.5 or 18.5ml"}
	PerML  = Measure{Units: []Unit{{"g/ml", 1}, {"g/cm3", 1}, {"kg/l", 1}, {"kg/m3", 0.001}}, Above: 0.3, UpTo: 20, Reach: true, Examples: "1.05 or 1.05g/ml"}
	PHR    = Measure{Units: []Unit{{"phr", 1}}, UpTo: 100, Reach: true, Examples: "1.5 or 1.5phr"}
	Factor = Measure{Units: []Unit{{"", 1}, {"%", 0.01}}, UpTo: 1.2, Reach: true, Examples: "0.90 or 90%"}
	Share  = Measure{Units: []Unit{{"", 1}, {"%", 0.01}}, UpTo: 1, Reach: true, Examples: "0.95 or 95%"}
	DE     = Measure{Units: []Unit{{"", 1}}, UpTo: 100, Examples: "1.0"}
	Price  = Measure{Units: []Unit{{"", 1}}, UpTo: 1e9, Examples: "12.50"}
	Times  = Measure{Units: []Unit{{"", 1}, {"x", 1}}, Above: 1, UpTo: 20, Reach: true, Examples: "4"}
	Class  = Measure{Units: []Unit{{"", 1}}, UpTo: 1000, Examples: "7"}
	Index  = Measure{Units: []Unit{{"", 1}}, Above: 1, UpTo: 3, Examples: "1.50"}
	// Celsius is a room temperature, OnScale what a scale shows: there may be nothing of it.
	Celsius = Measure{Units: []Unit{{"c", 1}, {"°c", 1}}, Above: -40, UpTo: 60, Reach: true, Examples: "21 or 21C"}
	// Warmth is that of resin in use, WaterCelsius of water, Degrees between two temperatures.
	Warmth       = Measure{Units: Celsius.Units, Above: 5, UpTo: 60, Reach: true, Examples: "26 or 26C"}
	WaterCelsius = Measure{Units: Celsius.Units, UpTo: 40, Reach: true, Examples: "20 or 20C"}
	Degrees      = Measure{Units: Celsius.Units, Above: 2, UpTo: 50, Reach: true, Examples: "10 or 10C"}
	// MouldCelsius is that of a mould or of the part in it, Hours an age.
	MouldCelsius = Measure{Units: Celsius.Units, Above: -40, UpTo: 150, Reach: true, Examples: "30 or 30C"}
	Hours        = Measure{Units: []Unit{{"h", 1}, {"d", 24}, {"min", 1. / 60}}, UpTo: 1e6, Examples: "24h or 7d"}
	OnScale      = Measure{Units: Grams.Units, UpTo: Grams.UpTo, Reach: true, Examples: "1.32 or 1.32g"}
	// Miss is by how much a thickness may be off, nothing where it is exact.
	Miss = Measure{Units: MM.Units, UpTo: MM.UpTo, Reach: true, Examples: "0.09 or 0.09mm"}
)

// Parse reads a number with or without a unit of the measure.
func (m Measure) Parse(text string) (float64, error) {
	s := strings.ToLower(strings.TrimSpace(text))
	size := m.Units[0].Size
	byLength := append([]Unit(nil), m.Units...)
	sort.SliceStable(byLength, func(i, j int) bool { return len(byLength[i].Name) > len(byLength[j].Name) })
	for _, u := range byLength {
		if rest, found := strings.CutSuffix(s, u.Name); found && u.Name != "" {
			s, size = strings.TrimSpace(rest), u.Size
			break
		}
	}
	if strings.Contains(s, ",") {
		meant := strings.Replace(s, ",", ".", 1)
		if strings.ContainsAny(s, ".e") || strings.Contains(meant, ",") {
			meant = m.Examples // which of them marks the decimals cannot be told
		}
		return 0, fmt.Errorf("has a comma; write one decimal point and nothing between thousands, as in %s", meant)
	}
	if s == "" || strings.Trim(s, "+-.0123456789e") != "" {
		return 0, fmt.Errorf("is no number this takes; write it as %s", m.Examples)
	}
	v, err := strconv.ParseFloat(s, 64)
	v *= size
	low := v < m.Above || v == m.Above && !m.Reach
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		return 0, fmt.Errorf("is no number this takes; write it as %s", m.Examples)
	case low || v > m.UpTo:
		from := "above"
		if m.Reach {
			from = "from"
		}
		return 0, fmt.Errorf("is out of range; give a value %s %s up to %s%s", from, figure.Short(m.Above), figure.Short(m.UpTo), m.Units[0].Shown())
	case v != 0 && math.Abs(v) < least:
		return 0, fmt.Errorf("is out of range; give nothing below %s%s", figure.Short(least), m.Units[0].Shown())
	}
	return v, nil
}

// Minutes reads a time; a bare number is minutes.
func Minutes(text string) (time.Duration, error) {
	s := strings.ToLower(strings.TrimSpace(text))
	s = strings.TrimSuffix(s, "utes")
	if rest, found := strings.CutSuffix(s, "min"); found {
		s = strings.TrimSpace(rest) + "m"
	}
	if strings.Trim(s, ".0123456789") == "" {
		s += "m"
	}
	d, err := time.ParseDuration(s)
	if err != nil {
		return 0, fmt.Errorf("is no time; write it as 7m, 90s or 1h30m")
	}
	if d < 0 || d > 30*24*time.Hour {
		return 0, fmt.Errorf("is out of range; give a time from 0 to 30 days, such as 7m")
	}
	return d, nil
}
