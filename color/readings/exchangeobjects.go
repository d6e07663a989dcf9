package readings

import (
	"fmt"
	"slices"
	"strings"

	"masstone/color"
)

// sheet brings the objects to one table: a name, geometry and specular mode,
// one set of columns for every condition that any object has, and the bands.
func (x *exchangeXML) sheet(o *Options) (*sheet, error) {
	if len(x.objects) == 0 {
		return nil, &RowError{File: x.file, Problem: "no object holds Lab or a reflectance spectrum", Hint: "export readings, not names alone"}
	}
	p := &problems{file: x.file}
	var sets []color.Condition
	grid := exchangeSpectrum{}
	bands := 0
	rows := []*exchangeRow{}
	for i := range x.objects {
		object := &x.objects[i]
		if object.name == "" {
			object.name = object.id
		}
		bad := func(column, problem, hint string) { p.add(object.line, object.name, column, problem, hint) }
		var read []*exchangeRow // of this object, each in a way of its own
		unsaid := &exchangeRow{object: object, labs: map[color.Condition][3]string{}}
		in := func(spec string) *exchangeRow {
			v := x.variant(spec)
			if v == (variant{}) {
				return unsaid
			}
			for _, r := range read {
				if both, agree := r.variant.with(v); agree {
					r.variant = both
					return r
				}
			}
			r := &exchangeRow{object: object, variant: v, labs: map[color.Condition][3]string{}}
			read = append(read, r)
			return r
		}
		for _, l := range object.labs {
			under, ok := x.condition(l.spec, o)
			if !ok {
				if s := x.specs[l.spec]; s != nil && s.illuminant+s.observer != "" {
					bad("ColorCIELab", fmt.Sprintf("is under illuminant %s and observer %s, which are not known here", quote(s.illuminant), quote(s.observer)), "export spectra, or Lab under "+lights()+" at 2 or 10 degrees")
					continue
				}
				bad("ColorCIELab", "does not say its illuminant and observer", "add "+usualLight+", or export them")
				continue
			}
			r := in(l.spec)
			if _, twice := r.labs[under]; twice {
				bad("ColorCIELab", fmt.Sprintf("comes twice under %s", under), "export one reading per object")
				continue
			}
			r.labs[under] = l.v
			if !slices.Contains(sets, under) {
				sets = append(sets, under)
			}
			x.measured(l.spec, r)
		}
		for k := range object.spectra {
			s := &object.spectra[k]
			x.bandsOf(s)
			r := in(s.spec)
			if r.bands != nil {
				bad("ReflectanceSpectrum", "comes twice", "export one reading per object")
				continue
			}
			if bands == 0 {
				grid = *s
			}
			r.bands = strings.Fields(strings.ReplaceAll(s.values, ",", " "))
			switch {
			case s.start != grid.start || s.between != grid.between:
				bad("ReflectanceSpectrum", fmt.Sprintf("bands from %s nm by %s, others from %s nm by %s", quote(s.start), quote(s.between), quote(grid.start), quote(grid.between)), "export all spectra on one set of bands")
			case bands == 0:
				bands = len(r.bands)
			case bands != len(r.bands):
				bad("ReflectanceSpectrum", fmt.Sprintf("%d bands, others have %d", len(r.bands), bands), "export all spectra on one set of bands")
			}
			x.measured(s.spec, r)
		}
		if len(unsaid.labs) > 0 || unsaid.bands != nil {
			read = unsaid.among(read)
		}
		rows = append(rows, read...)
	}
	start, between, err := x.grid(grid, bands)
	if err != "" {
		p.add(0, "", "ReflectanceSpectrum", err, "export StartWL and Increment with the spectra")
	}
	if width := 3 + 3*len(sets) + bands; width > maxColumns || width*len(rows) > maxCells {
		p.whole("holds more conditions and bands than a table of readings can", "split the file")
	}
	if err := p.err(); err != nil {
		return nil, err
	}

	s := &sheet{header: []string{"name"}, headerLine: x.objects[0].line, decimal: '.', fraction: true, layout: "ISO 17972 XML"}
	for _, c := range sets {
		for _, axis := range []string{"L", "a", "b"} {
			s.header = append(s.header, fmt.Sprintf("%s_%s_%d", axis, c.Illuminant, c.Observer))
		}
	}
	for i := range bands {
		s.header = append(s.header, fmt.Sprintf("R%d", start+i*between))
	}
	for _, r := range rows {
		cells := make([]string, 0, len(s.header))
		cells = append(cells, r.object.name)
		for _, c := range sets {
			v, ok := r.labs[c]
			if !ok {
				v = [3]string{notRead, notRead, notRead}
			}
			cells = append(cells, v[:]...)
		}
		if r.bands == nil {
			r.bands = slices.Repeat([]string{notRead}, bands)
		}
		s.records = append(s.records, record{r.object.line, append(cells, r.bands...)})
		s.measured = append(s.measured, r.how)
		s.angles = append(s.angles, r.angles)
		s.taken = append(s.taken, r.taken)
		s.roles = append(s.roles, r.object.kind)
	}
	return s, nil
}

// exchangeRow is what was read of an object in one way.
type exchangeRow struct {
	object  *exchangeObject
	variant variant
	labs    map[color.Condition][3]string
	bands   []string
	how     color.Measurement
	angles  string // geometry in the file's words, where it is not known here
	taken   Circumstances
}

// among puts values that do not say their way beside those of each way that is
// said.
func (r *exchangeRow) among(read []*exchangeRow) []*exchangeRow {
	if len(read) == 0 {
		return []*exchangeRow{r}
	}
	for _, to := range read {
		for under, v := range r.labs {
			if _, has := to.labs[under]; !has {
				to.labs[under] = v
			}
		}
		if to.bands == nil {
			to.bands = r.bands
		}
		to.taken = to.taken.or(r.taken)
	}
	return read
}

// variant is the way of reading that a specification states.
func (x *exchangeXML) variant(spec string) variant {
	s := x.specs[spec]
	if s == nil {
		return variant{}
	}
	return variantOf(string(s.geometry), s.geometryWords, s.specular, s.taken.Mode)
}

// condition finds what a Lab is under: by its specification, else by the
// options.
func (x *exchangeXML) condition(spec string, o *Options) (color.Condition, bool) {
	under := o.Condition
	if under.Observer == 0 {
		under.Observer = o.Observer
	}
	if s := x.specs[spec]; s != nil {
		if i, err := color.ParseIlluminant(s.illuminant); err == nil {
			under.Illuminant = i
		} else if s.illuminant != "" {
			return under, false
		}
		// The standard writes 2_Degree and 10_Degree.
		if v, err := color.ParseObserver(strings.ReplaceAll(s.observer, "_", " ")); err == nil {
			under.Observer = v
		} else if s.observer != "" {
			return under, false
		}
	}
	return under, under.Check() == nil
}

// measured adds what a specification says of the way of measuring.
func (x *exchangeXML) measured(spec string, r *exchangeRow) {
	s := x.specs[spec]
	if s == nil {
		return
	}
	r.taken = r.taken.or(s.taken)
	if s.geometry != "" {
		r.how.Geometry = s.geometry
	} else if s.geometryWords != "" {
		r.angles = s.geometryWords
	}
	if s.specular != "" {
		r.how.Specular = s.specular
	}
}

// bandsOf completes the bands of a spectrum by its specification.
func (x *exchangeXML) bandsOf(s *exchangeSpectrum) {
	if spec := x.specs[s.spec]; spec != nil {
		if s.start == "" {
			s.start = spec.start
		}
		if s.between == "" {
			s.between = spec.between
		}
	}
}

// grid reads where the bands start and how far apart they are. Without an
// increment the standard means 10 nm.
func (x *exchangeXML) grid(s exchangeSpectrum, bands int) (start, between int, problem string) {
	if bands == 0 {
		return 0, 0, ""
	}
	if s.between == "" {
		s.between = "10"
	}
	a, bad := number(s.start, '.')
	b, bad2 := number(s.between, '.')
	if bad != "" || bad2 != "" || a != float64(int(a)) || b != float64(int(b)) || a < 200 || a > 1200 || b < 1 || b > 100 {
		return 0, 0, fmt.Sprintf("bands from %s nm by %s nm are not understood", quote(s.start), quote(s.between))
	}
	return int(a), int(b), ""
}
