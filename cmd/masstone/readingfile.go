package main

import (
	"fmt"
	"strings"

	"github.com/spf13/pflag"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/workbench"
)

// readingFlags are the flags of commands that read files of readings: what a
// file cannot say about itself.
type readingFlags struct {
	separator, decimal, percent, sheet string
	maps                               []string
	illuminant                         color.Illuminant
	observer                           color.Observer
	geometry                           color.Geometry
	specular                           color.Specular
	over                               string
	thickness                          float64
	repeats                            bool
}

// addLayout adds the flags that settle how a file is laid out.
func (r *readingFlags) addLayout(f *pflag.FlagSet) {
	f.StringVar(&r.separator, "separator", "", "separator of a text file: , ; or tab (else detected)")
	f.StringVar(&r.decimal, "decimal", "", "decimal mark of a text file: . or , (else detected)")
	f.StringArrayVar(&r.maps, "map", nil, "meaning of a column, `HEADER=COLUMN`, or HEADER=ignore (may be repeated)")
	f.StringVar(&r.sheet, "sheet", "", "worksheet of an XLSX file")
}

// addPercent adds the flag that settles the unit of reflectance.
func (r *readingFlags) addPercent(f *pflag.FlagSet) {
	f.StringVar(&r.percent, "percent", "", "reflectances are percent; =false for fractions (else detected)")
	f.Lookup("percent").NoOptDefVal = "true"
}

// addConditions adds the flags for the light and the instrument.
func (r *readingFlags) addConditions(f *pflag.FlagSet) {
	f.Var(parsed[color.Illuminant]{&r.illuminant, color.ParseIlluminant, func(i color.Illuminant) string { return string(i) }, "light"},
		"illuminant", "illuminant of plain L,a,b values, such as D65")
	f.Var(parsed[color.Observer]{&r.observer, color.ParseObserver, func(o color.Observer) string {
		if o == 0 {
			return ""
		}
		return fmt.Sprint(int(o))
	}, "degrees"}, "observer", "observer, 2 or 10 degrees (10 if nothing says otherwise)")
	f.Var(parsed[color.Geometry]{&r.geometry, color.ParseGeometry, func(g color.Geometry) string { return string(g) }, "d/8|45/0"},
		"geometry", "geometry of the instrument (d/8 if nothing says otherwise)")
	f.Var(parsed[color.Specular]{&r.specular, color.ParseSpecular, func(s color.Specular) string { return string(s) }, "included|excluded"},
		"specular", "specular reflection, included or excluded (included for d/8 if nothing says otherwise)")
}

// addPiece adds the flags for what the piece was and lay on.
func (r *readingFlags) addPiece(f *pflag.FlagSet, over string, thickness float64) {
	f.StringVar(&r.over, "over", over, "backing under the piece, where a file does not say it")
	numberVar(f, &r.thickness, "thickness", inMM, thickness, "thickness of the piece, where a file does not say it")
}

// measurement is how readings were taken that do not say it themselves.
func (r *readingFlags) measurement() color.Measurement {
	m := color.Measurement{Geometry: r.geometry, Specular: r.specular}
	if m.Geometry == "" {
		m.Geometry = color.Sphere
	}
	if m.Specular == "" {
		m.Specular = color.SpecularIncluded
		if m.Geometry == color.Directional {
			m.Specular = color.SpecularExcluded
		}
	}
	return m
}

// said is how readings were taken, as far as the flags say it.
func (r *readingFlags) said() color.Measurement {
	return color.Measurement{Geometry: r.geometry, Specular: r.specular}
}

// condition is the light and observer of values typed without one.
func (r *readingFlags) condition() color.Condition {
	c := color.Condition{Illuminant: r.illuminant, Observer: r.observer}
	if c.Observer == 0 {
		c.Observer = color.TenDegree
	}
	return c
}

// options are the flags for the readings package.
func (r *readingFlags) options(file string, pigments []string) (readings.Options, error) {
	o := readings.Options{File: title(file), KnownPigments: pigments, Condition: color.Condition{Illuminant: r.illuminant, Observer: r.observer},
		Observer: r.observer, Measurement: r.measurement(), Backing: r.over, ThicknessMM: r.thickness, Sheet: r.sheet, Repeats: r.repeats}
	if err := o.Measurement.Check(); err != nil {
		return o, misuse{fmt.Errorf("--specular: %w", err)}
	}
	switch strings.ToLower(r.separator) {
	case "":
	case ",", ";":
		o.Separator = rune(r.separator[0])
	case "tab", "\t", `\t`:
		o.Separator = '\t'
	default:
		return o, misusef("--separator %q: is none of , ; tab; write --separator ';'", r.separator)
	}
	switch r.decimal {
	case "":
	case ".", ",":
		o.Decimal = rune(r.decimal[0])
	default:
		return o, misusef("--decimal %q: is neither . nor ,; write --decimal ,", r.decimal)
	}
	switch strings.ToLower(r.percent) {
	case "":
	case "true", "yes":
		yes := true
		o.Percent = &yes
	case "false", "no":
		no := false
		o.Percent = &no
	default:
		return o, misusef("--percent %q: is neither true nor false; write --percent or --percent=false", r.percent)
	}
	for _, m := range r.maps {
		header, column, found := cutLast(m, "=")
		if !found || header == "" || column == "" {
			return o, misusef("--map %q: has no equals sign between two names; write --map \"HEADER=COLUMN\"", m)
		}
		if o.Map == nil {
			o.Map = map[string]string{}
		}
		o.Map[header] = column
	}
	return o, nil
}

// opened opens a file of readings for a verb, with what the flags say of it.
func (r *readingFlags) opened(env *Env, name string, do func(*workbench.File) error) error {
	options, err := r.options(name, nil)
	if err != nil {
		return err
	}
	options.Measurement = r.said() // the verb knows what is usual
	f, err := env.read(name)
	if err != nil {
		return err
	}
	defer f.Close()
	return do(&workbench.File{Name: title(name), Data: f, Options: options})
}

func cutLast(s, sep string) (before, after string, found bool) {
	at := strings.LastIndex(s, sep)
	if at < 0 {
		return s, "", false
	}
	return s[:at], s[at+len(sep):], true
}
