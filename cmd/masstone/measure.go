package main

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// A measure is a kind of number that flags take, with the units it may be
// written in. A bare number is in its first unit.
type measure struct {
	units    []unit
	above    float64 // exclusive unless reach is set
	upTo     float64
	reach    bool // above itself is allowed
	examples string
}

// least is the least of anything but nothing, in the first unit of its measure: a
// microgram, a nanometre; what is less is a slip, or would be weighed as nothing.
const least = 1e-6

type unit struct {
	name string
	size float64 // in the first unit
}

// shown is the unit as people write it.
func (u unit) shown() string {
	if u.name == "c" {
		return "C"
	}
	return u.name
}

var (
	inMM = measure{units: []unit{{"mm", 1}, {"cm", 10}, {"in", 25.4}, {"um", 0.001}, {"µm", 0.001}}, upTo: 200, examples: "3 or 3mm"}

	inGrams = measure{units: []unit{{"g", 1}, {"kg", 1000}, {"mg", 0.001}}, upTo: 1e6, examples: "250 or 250g"}
	inML    = measure{units: []unit{{"ml", 1}, {"cm3", 1}, {"cc", 1}, {"cl", 10}, {"l", 1000}}, upTo: 1e6, examples: "18.5 or 18.5ml"}
	perML   = measure{units: []unit{{"g/ml", 1}, {"g/cm3", 1}, {"kg/l", 1}, {"kg/m3", 0.001}}, above: 0.3, upTo: 20, reach: true, examples: "1.05 or 1.05g/ml"}
	inPHR   = measure{units: []unit{{"phr", 1}}, upTo: 100, reach: true, examples: "1.5 or 1.5phr"}
	aFactor = measure{units: []unit{{"", 1}, {"%", 0.01}}, upTo: 1.2, reach: true, examples: "0.90 or 90%"}
	aShare  = measure{units: []unit{{"", 1}, {"%", 0.01}}, upTo: 1, reach: true, examples: "0.95 or 95%"}
	inDE    = measure{units: []unit{{"", 1}}, upTo: 100, examples: "1.0"}
	inPrice = measure{units: []unit{{"", 1}}, upTo: 1e9, examples: "12.50"}
	aTimes  = measure{units: []unit{{"", 1}, {"x", 1}}, above: 1, upTo: 20, reach: true, examples: "4"}
	aClass  = measure{units: []unit{{"", 1}}, upTo: 1000, examples: "7"}
	anIndex = measure{units: []unit{{"", 1}}, above: 1, upTo: 3, examples: "1.50"}
)

// parse reads a number with or without a unit of the measure.
func (m measure) parse(text string) (float64, error) {
	s := strings.ToLower(strings.TrimSpace(text))
	size := m.units[0].size
	byLength := append([]unit(nil), m.units...)
	sort.SliceStable(byLength, func(i, j int) bool { return len(byLength[i].name) > len(byLength[j].name) })
	for _, u := range byLength {
		if rest, found := strings.CutSuffix(s, u.name); found && u.name != "" {
			s, size = strings.TrimSpace(rest), u.size
			break
		}
	}
	if strings.Contains(s, ",") {
		meant := strings.Replace(s, ",", ".", 1)
		if strings.ContainsAny(s, ".e") || strings.Contains(meant, ",") {
			meant = m.examples // which of them marks the decimals cannot be told
		}
		return 0, fmt.Errorf("has a comma; write one decimal point and nothing between thousands, as in %s", meant)
	}
	if s == "" || strings.Trim(s, "+-.0123456789e") != "" {
		return 0, fmt.Errorf("is no number this takes; write it as %s", m.examples)
	}
	v, err := strconv.ParseFloat(s, 64)
	v *= size
	low := v < m.above || v == m.above && !m.reach
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		return 0, fmt.Errorf("is no number this takes; write it as %s", m.examples)
	case low || v > m.upTo:
		from := "above"
		if m.reach {
			from = "from"
		}
		return 0, fmt.Errorf("is out of range; give a value %s %s up to %s%s", from, figure.Short(m.above), figure.Short(m.upTo), m.units[0].shown())
	case v != 0 && math.Abs(v) < least:
		return 0, fmt.Errorf("is out of range; give nothing below %s%s", figure.Short(least), m.units[0].shown())
	}
	return v, nil
}

// number is a flag of a measure.
type number[V ~float64] struct {
	measure
	value *V
}

func (n number[V]) String() string {
	if n.value == nil || *n.value == 0 {
		return ""
	}
	return figure.Short(float64(*n.value))
}

func (n number[V]) Set(text string) error {
	v, err := n.parse(text)
	if err == nil {
		*n.value = V(v)
	}
	return err
}

func (n number[V]) Type() string {
	if len(n.units) > 0 && n.units[0].name != "" {
		return n.units[0].name
	}
	return "number"
}

// numberVar adds a flag of a measure, with the value it starts with.
func numberVar[V ~float64](flags *pflag.FlagSet, value *V, name string, m measure, start V, usage string) {
	*value = start
	flags.Var(number[V]{m, value}, name, usage)
}

// minutes is a flag for a time; a bare number is minutes.
type minutes struct{ value *time.Duration }

func (m minutes) String() string {
	if m.value == nil || *m.value == 0 {
		return ""
	}
	return figure.Duration(*m.value)
}

func (m minutes) Type() string { return "time" }

func (m minutes) Set(text string) error {
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
		return fmt.Errorf("is no time; write it as 7m, 90s or 1h30m")
	}
	if d < 0 || d > 30*24*time.Hour {
		return fmt.Errorf("is out of range; give a time from 0 to 30 days, such as 7m")
	}
	*m.value = d
	return nil
}

// dayVar adds a flag for a day.
func dayVar(flags *pflag.FlagSet, value *string, name, usage string) {
	flags.Var(parsed[string]{value, func(text string) (string, error) {
		text = strings.TrimSpace(text)
		if _, err := time.Parse(time.DateOnly, text); err != nil {
			return "", errors.New("is no day; write it as 2026-03-31")
		}
		return text, nil
	}, func(day string) string { return day }, "DAY"}, name, usage)
}

// parsed is a flag that a package reads: a mix ratio, a side, a light.
type parsed[T any] struct {
	value *T
	read  func(string) (T, error)
	show  func(T) string
	kind  string
}

func (p parsed[T]) Type() string { return p.kind }

func (p parsed[T]) String() string {
	if p.value == nil {
		return ""
	}
	return p.show(*p.value)
}

func (p parsed[T]) Set(text string) error {
	v, err := p.read(text)
	if err == nil {
		*p.value = v
	}
	return err
}

// loadings is a flag of amounts by code: WH=1,RD=0.2. It may be repeated.
type loadings[V ~float64] struct {
	measure
	value *map[string]V
}

func (l loadings[V]) Type() string { return "CODE=" + strings.ToUpper(l.units[0].name) }

func (l loadings[V]) String() string {
	if l.value == nil || len(*l.value) == 0 {
		return ""
	}
	return figure.LoadingsAs(*l.value, "=", ",")
}

func (l loadings[V]) Set(text string) error {
	amounts := map[string]V{}
	for part := range strings.SplitSeq(text, ",") {
		code, amount, found := strings.Cut(part, "=")
		code = strings.TrimSpace(code)
		if !found || code == "" {
			if strings.Trim(strings.TrimSpace(part), "0123456789") == "" && len(amounts) > 0 {
				return fmt.Errorf("has a decimal comma; write decimal points, such as WH=1.02,RD=0.2")
			}
			return fmt.Errorf("is no list of amounts; write CODE=AMOUNT,CODE=AMOUNT, such as WH=1.02,RD=0.2")
		}
		v, err := l.parse(amount)
		if err != nil {
			return fmt.Errorf("%s=%s %w", code, amount, err)
		}
		if _, twice := amounts[code]; twice {
			return fmt.Errorf("names %s twice; give its sum once", code)
		}
		amounts[code] = V(v)
	}
	if *l.value == nil {
		*l.value = map[string]V{}
	}
	for code, v := range amounts {
		if _, twice := (*l.value)[code]; twice {
			return fmt.Errorf("names %s twice; give its sum once", code)
		}
		(*l.value)[code] = v
	}
	return nil
}

func ratioFlag(value *batch.Ratio) pflag.Value {
	return parsed[batch.Ratio]{value, batch.ParseRatio, func(r batch.Ratio) string {
		if r == (batch.Ratio{}) {
			return ""
		}
		return r.String()
	}, "A:B"}
}

func sideFlag(value *batch.Side) pflag.Value {
	return parsed[batch.Side]{value, batch.ParseSide, func(s batch.Side) string { return string(s) }, "A|B"}
}

func wasteFlag(value *float64) pflag.Value {
	return parsed[float64]{value, batch.ParseWaste, func(v float64) string {
		if v == 0 {
			return ""
		}
		return figure.Short(v)
	}, "share"}
}
