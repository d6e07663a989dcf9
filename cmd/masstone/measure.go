package main

import (
	"errors"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"masstone/cmd/masstone/typed"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
)

// A measure is a kind of number that flags take.
type measure = typed.Measure

var (
	inMM, inGrams, inML, perML, inPHR = typed.MM, typed.Grams, typed.ML, typed.PerML, typed.PHR
	aFactor, aShare, aTimes, aClass   = typed.Factor, typed.Share, typed.Times, typed.Class
	inDE, inPrice, anIndex            = typed.DE, typed.Price, typed.Index
	inCelsius, onScale                = typed.Celsius, typed.OnScale
	inMouldCelsius, inHours           = typed.MouldCelsius, typed.Hours
	inWarmth, inWater, inDegrees      = typed.Warmth, typed.WaterCelsius, typed.Degrees
)

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
	v, err := n.Parse(text)
	if err == nil {
		*n.value = V(v)
	}
	return err
}

func (n number[V]) Type() string {
	if len(n.Units) > 0 && n.Units[0].Name != "" {
		return n.Units[0].Name
	}
	return "number"
}

// numberVar adds a flag of a measure, with the value it starts with.
func numberVar[V ~float64](flags *pflag.FlagSet, value *V, name string, m measure, start V, usage string) {
	*value = start
	flags.Var(number[V]{m, value}, name, usage)
}

// optional is a flag of a measure of which 0 is a value and not the same as nothing.
type optional struct {
	measure
	value **float64
}

func (o optional) String() string {
	if o.value == nil || *o.value == nil {
		return ""
	}
	return figure.Short(**o.value)
}

func (o optional) Set(text string) error {
	v, err := o.Parse(text)
	if err == nil {
		*o.value = &v
	}
	return err
}

func (o optional) Type() string { return number[float64]{measure: o.measure}.Type() }

// thicknessSDVar adds the flag for how far a thickness may miss.
func thicknessSDVar(flags *pflag.FlagSet, value **float64, of, otherwise string) {
	flags.Var(optional{typed.Miss, value}, "thickness-sd-mm", "how far the thickness of "+of+" may miss, a standard deviation, 0 for exact (else "+otherwise+")")
}

// usualMisses is what a thickness misses by where nobody says.
const usualMisses = "as is usual: 0.09 mm, of less than 3 mm 3 %"

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
	d, err := typed.Minutes(text)
	if err == nil {
		*m.value = d
	}
	return err
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

func (l loadings[V]) Type() string { return "CODE=" + strings.ToUpper(l.Units[0].Name) }

func (l loadings[V]) String() string {
	if l.value == nil || len(*l.value) == 0 {
		return ""
	}
	return figure.LoadingsAs(*l.value, "=", ",")
}

func (l loadings[V]) Set(text string) error {
	if *l.value == nil {
		*l.value = map[string]V{}
	}
	return typed.Loadings(*l.value, l.measure, text)
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
