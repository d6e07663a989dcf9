package charts

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"masstone/calibrate"
	"masstone/calibrate/gamut"
	"masstone/color"
)

// Formats of a chart.
const (
	SVG = "svg"
	PNG = "png"
	CSV = "csv"
)

// A Chart is a picture or a table, ready to be written in any of its formats.
type Chart struct {
	// Name is fit for the stem of a file name: letters, digits, '-' and '_'.
	// No two charts share name and format, in capitals or not.
	Name    string
	Formats []string
	// Draw writes the chart. The error is that of the writer, or says that the
	// chart has no such format.
	Draw func(w io.Writer, format string) error
}

// Options say what the charts are of. The zero value will do.
type Options struct {
	Title string // heads every chart, such as the name of the calibration
	// Chips are those the calibration was fitted to, in the order given to Fit,
	// for their loadings, backings and thicknesses; nil where they are not known.
	Chips []calibrate.Chip
	// Setting is what colours and the gamut are predicted in; the zero value
	// stands for that of most chips or, where they are not known, 3 mm over a
	// white of reflectance factor 0.9, specular included.
	Setting calibrate.Setting
	Levels  []float64    // L* of the gamut, 0 to 100; nil for 40, 60, 80
	Limits  gamut.Limits // of the gamut
	DPI     int          // dots per inch of a PNG; 0 for those of a screen, 144
}

// All draws up every chart of a calibration. It errs on chips that are not the
// calibration's and on an impossible setting, level or limit.
func All(cal *calibrate.Calibration, o Options) ([]Chart, error) {
	if o.Chips != nil && len(o.Chips) != len(cal.Chips) {
		return nil, fmt.Errorf("charts: %d chips for a calibration of %d; give those it was fitted to", len(o.Chips), len(cal.Chips))
	}
	for i, c := range o.Chips {
		if c.Name != cal.Chips[i].Chip {
			return nil, fmt.Errorf("charts: chip %d is %s, in the calibration it is %s; give the chips in the order of the fit", i+1, c.Name, cal.Chips[i].Chip)
		}
	}
	if o.Setting == (calibrate.Setting{}) {
		o.Setting = usual(o.Chips)
	}
	if o.Levels == nil {
		o.Levels = []float64{40, 60, 80}
	}
	sections, err := gamut.Sections(cal, o.Setting, o.Levels, o.Limits)
	if err != nil {
		return nil, fmt.Errorf("charts: %w", err)
	}
	curves, err := drawnCurves(cal, o.Setting)
	if err != nil {
		return nil, fmt.Errorf("charts: %w", err)
	}

	n := namer{}
	picture := func(name string, p page) Chart {
		p.dpi = o.DPI
		return picture(name, p)
	}
	all := []Chart{picture(n.name("curves"), curvesGrid(o, curves))}
	for i := range curves {
		all = append(all, picture(n.name("curves-"+curves[i].name()), curveSheet(o, &curves[i])))
	}
	return append(all,
		picture(n.name("chips"), chipSheet(cal, o)),
		picture(n.name("left-out"), leftOutMap(cal, o)),
		picture(n.name("gamut"), gamutMap(cal, o, sections)),
		table("chips", cal, o.Chips),
		curveTable("curves", curves)), nil
}

// usual is the setting of most chips, the first of equals.
func usual(chips []calibrate.Chip) calibrate.Setting {
	count := map[calibrate.Setting]int{}
	best := calibrate.Setting{Thickness: 3, Backing: color.Constant(0.9), Specular: color.SpecularIncluded}
	of := func(c *calibrate.Chip) calibrate.Setting {
		s := calibrate.Setting{Thickness: c.Thickness, Backing: c.Backing, Specular: c.Measurement.Specular}
		if s.Check() != nil {
			return best
		}
		return s
	}
	for i := range chips {
		count[of(&chips[i])]++
	}
	most := 0
	for i := range chips {
		if s := of(&chips[i]); count[s] > most {
			most, best = count[s], s
		}
	}
	return best
}

// namer makes names for files.
type namer map[string]bool

// name keeps letters and digits of any script, '-' and '_'; what else there is
// becomes '_'. A name that is taken gets a number.
func (n namer) name(s string) string {
	s = strings.Map(func(r rune) rune {
		if r == '-' || r == '_' || r != unicode.ReplacementChar && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
			return r
		}
		return '_'
	}, s)
	if r := []rune(s); len(r) > 60 { // file names have an end
		s = string(r[:60])
	}
	name := s
	for i := 2; n[strings.ToLower(name)]; i++ {
		name = fmt.Sprintf("%s-%d", s, i)
	}
	n[strings.ToLower(name)] = true
	return name
}

// shown is a name as a picture can hold it: without characters that no font or
// XML document has.
func shown(s string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return unicode.ReplacementChar
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
}

// picture wraps a page as a chart.
func picture(name string, p page) Chart {
	return Chart{Name: name, Formats: []string{SVG, PNG}, Draw: func(w io.Writer, format string) error {
		if !slices.Contains([]string{SVG, PNG}, format) {
			return fmt.Errorf("chart %s: no format %q; give %s or %s", name, format, SVG, PNG)
		}
		if err := p.write(w, format); err != nil {
			return fmt.Errorf("chart %s: %w", name, err)
		}
		return nil
	}}
}
