package main

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
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
	headerRow                          int
	layout                             *pflag.FlagSet // those of addLayout
	mode                               string
	sight                              workbench.Sight
}

// addLayout adds the flags that settle how a file is laid out.
func (r *readingFlags) addLayout(f *pflag.FlagSet) {
	r.layout = f
	f.StringVar(&r.separator, "separator", "", "separator of a text file: , ; tab, | or blanks (else detected)")
	f.StringVar(&r.decimal, "decimal", "", "decimal mark of a text file: . or , (else detected)")
	f.StringArrayVar(&r.maps, "map", nil, "meaning of a column, `HEADER=COLUMN`, or HEADER=ignore (may be repeated)")
	f.StringVar(&r.sheet, "sheet", "", "worksheet of an XLSX file")
	wholeVar(f, &r.headerRow, "header-row", 0, "`LINE` of the header of a table, from 1 (else found)")
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
	f.Var(parsed[color.Geometry]{&r.geometry, geometry, func(g color.Geometry) string { return string(g) }, "d/8|45/0"},
		"geometry", "geometry of the instrument (d/8 if nothing says otherwise), or angles that a file states, such as 45/15")
	f.Var(parsed[color.Specular]{&r.specular, color.ParseSpecular, func(s color.Specular) string { return string(s) }, "included|excluded"},
		"specular", "specular reflection, included or excluded (included for d/8 if nothing says otherwise)")
	f.StringVar(&r.mode, "m-condition", "", "measurement condition of ISO 13655, M0 to M3, where a file has several")
}

// addPiece adds the flags for what the piece was and lay on.
func (r *readingFlags) addPiece(f *pflag.FlagSet, over string, thickness float64) {
	f.StringVar(&r.over, "over", over, "backing under the piece, where a file does not say it")
	numberVar(f, &r.thickness, "thickness", inMM, thickness, "thickness of the piece, where a file does not say it")
}

// addSight adds the flags for what the readings were read with.
func (r *readingFlags) addSight(f *pflag.FlagSet) {
	f.StringVar(&r.sight.Instrument, "instrument", "", "`NAME` of the instrument that read a file which names none")
	addAperture(f, &r.sight.ApertureMM)
}

func addAperture(f *pflag.FlagSet, mm *float64) {
	numberVar(f, mm, "aperture-mm", inMM, 0, "aperture of the instrument, its diameter (else as the file says, or the instrument's card)")
}

// said is how readings were taken, as far as the flags say it.
func (r *readingFlags) said() color.Measurement {
	return color.Measurement{Geometry: r.geometry, Specular: r.specular}
}

// geometry reads a geometry that is known here, or angles that a file may state.
func geometry(text string) (color.Geometry, error) {
	g, err := color.ParseGeometry(text)
	if angles, ok := readings.Angles(text); ok {
		return color.Geometry(angles), nil
	}
	return g, err
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
		Observer: r.observer, Measurement: r.said(), Backing: r.over, ThicknessMM: r.thickness, Sheet: r.sheet, HeaderRow: r.headerRow, Repeats: r.repeats}
	if r.headerRow < 0 || r.headerRow == 0 && r.layout != nil && r.layout.Changed("header-row") {
		return o, misusef("--header-row %d: is out of range; give the line of the header, from 1", r.headerRow)
	}
	if angles, ok := readings.Angles(string(r.geometry)); ok {
		o.Angles, o.Measurement.Geometry = angles, ""
	}
	if err := o.Measurement.Usual().Check(); err != nil {
		return o, misuse{fmt.Errorf("--specular: %w", err)}
	}
	switch o.Mode = strings.ToUpper(r.mode); o.Mode {
	case "", "M0", "M1", "M2", "M3":
	default:
		return o, misusef("--m-condition %q: is none of M0, M1, M2, M3; write --m-condition M1", r.mode)
	}
	switch strings.ToLower(r.separator) {
	case "":
	case "blanks":
		o.Separator = ' '
	case ",", ";", "|":
		o.Separator = rune(r.separator[0])
	case "tab", "\t", `\t`:
		o.Separator = '\t'
	default:
		return o, misusef("--separator %q: is none of , ; tab | blanks; write --separator ';'", r.separator)
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

// opened reads a file of readings for a verb, with what the flags say of it.
func (r *readingFlags) opened(ctx context.Context, env *Env, name string, do func(*workbench.File) error) error {
	options, err := r.options(name, nil)
	if err != nil {
		return err
	}
	data, err := env.read(ctx, name, mostReadings)
	if err != nil {
		return err
	}
	return do(&workbench.File{Name: title(name), Data: bytes.NewReader(data), Options: options, Sight: r.sight})
}

// again are the flags that were given to one command, as far as another has
// them too.
func again(given *pflag.FlagSet, to *cobra.Command) string {
	var text strings.Builder
	given.Visit(func(f *pflag.Flag) {
		same := to.Flags().Lookup(f.Name)
		if same == nil || f.Value.String() == same.DefValue {
			return
		}
		values := []string{f.Value.String()}
		if list, ok := f.Value.(pflag.SliceValue); ok {
			values = list.GetSlice()
		}
		for _, v := range values {
			if f.NoOptDefVal != "" {
				text.WriteString(" --" + f.Name + "=" + v)
			} else {
				text.WriteString(" --" + f.Name + " " + quoted(v))
			}
		}
	})
	return text.String()
}

func cutLast(s, sep string) (before, after string, found bool) {
	at := strings.LastIndex(s, sep)
	if at < 0 {
		return s, "", false
	}
	return s[:at], s[at+len(sep):], true
}
