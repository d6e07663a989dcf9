package readings

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"masstone/color"
	"masstone/color/remedy"
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
	brightest, notLab := 0.0, map[space]bool{}
	known := x.knownLights()
	leftOut := map[string]bool{}
	rows := []*exchangeRow{}
	for i := range x.objects {
		object := &x.objects[i]
		if object.name == "" {
			object.name = object.id
		}
		bad := func(column, problem, hint string) { p.add(object.line, object.name, column, problem, hint) }
		var read []*exchangeRow // of this object, each in a way of its own
		unsaid := &exchangeRow{object: object, labs: map[color.Condition][3]string{}, spaces: map[color.Condition]space{}}
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
			r := &exchangeRow{object: object, variant: v, labs: map[color.Condition][3]string{}, spaces: map[color.Condition]space{}}
			read = append(read, r)
			return r
		}
		// Lab goes before LCh, and that before XYZ of the same light.
		slices.SortStableFunc(object.labs, func(a, b exchangeLab) int { return cmp.Compare(a.in, b.in) })
		for _, l := range object.labs {
			if x.leaves(l.spec, o, known) {
				leftOut[x.specs[l.spec].illuminant] = true
				continue
			}
			under, problem, hint := x.condition(l.spec, o)
			if problem != "" {
				bad(l.in.element(), problem, hint)
				continue
			}
			r := in(l.spec)
			if before, twice := r.spaces[under]; twice {
				if before == l.in {
					bad(l.in.element(), fmt.Sprintf("comes twice under %s", under), "export one reading per object")
				}
				continue
			}
			r.spaces[under] = l.in
			if l.in != inLab {
				y, _ := number(l.v[1], '.')
				var problem, hint string
				if l.v, problem, hint = l.lab(under); problem != "" {
					bad(l.in.element(), problem, hint)
					continue
				}
				notLab[l.in] = true
				if l.in == inXYZ {
					brightest = max(brightest, y)
				}
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
	if notLab[inXYZ] && brightest <= maxReflectance {
		p.add(0, "", inXYZ.element(), "is nowhere above "+plain(maxReflectance), smallXYZ)
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

	s := &sheet{header: []string{"name"}, headerLine: x.objects[0].line, decimal: '.', layout: "ISO 17972 XML"}
	s.percent(false) // the format has fractions
	for _, in := range []space{inLCh, inXYZ} {
		if notLab[in] {
			s.notes = append(s.notes, "Lab brought from "+in.String()+" where there is none")
		}
	}
	if len(leftOut) > 0 {
		s.notes = append(s.notes, "left out, as their light is not known here: colours under "+strings.Join(slices.Sorted(maps.Keys(leftOut)), ", "))
	}
	for _, c := range sets {
		for _, axis := range []string{"L", "a", "b"} {
			s.header = append(s.header, fmt.Sprintf("%s_%s_%d", axis, c.Illuminant, c.Observer))
		}
	}
	for i := range bands {
		s.header = append(s.header, fmt.Sprintf("R%d", start+i*between))
	}
	x.strangeModes(s)
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
	spaces  map[color.Condition]space // that labs were brought from
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

// lab brings values of another space to Lab.
func (l exchangeLab) lab(under color.Condition) (v [3]string, problem, hint string) {
	var values [3]float64
	for axis, text := range l.v {
		if text == "" {
			return v, "has no " + exchangeColors[l.in.element()].axes[axis], "export it again"
		}
		if values[axis], problem = number(text, '.'); problem != "" {
			return v, problem, "export it again"
		}
		if problem, hint := l.in.impossible(axis, values[axis]); problem != "" {
			return v, problem, hint
		}
	}
	lab, err := l.in.lab(values, under)
	if err != nil {
		return v, err.Error(), "export it again"
	}
	for axis, value := range lab.Values() {
		v[axis] = exact(value)
	}
	return v, "", ""
}

// knownLights are the illuminants that the specifications state and that are
// known here.
func (x *exchangeXML) knownLights() map[color.Illuminant]bool {
	out := map[color.Illuminant]bool{}
	for _, s := range x.specs {
		if i, err := color.ParseIlluminant(s.illuminant); err == nil {
			out[i] = true
		}
	}
	return out
}

// leaves tells whether a colour under a light that is not known here is left
// out: as asked, or since the file has the light that was asked for.
func (x *exchangeXML) leaves(spec string, o *Options, known map[color.Illuminant]bool) bool {
	s := x.specs[spec]
	if s == nil || s.illuminant == "" {
		return false
	}
	if _, err := color.ParseIlluminant(s.illuminant); err == nil {
		return false
	}
	to := o.Map[s.illuminant]
	return to == "ignore" || to == "-" || known[o.Condition.Illuminant]
}

// leaving is how to leave out colours under a light, where the file has others.
func (x *exchangeXML) leaving(light string) string {
	others := len(x.knownLights()) > 0 || slices.ContainsFunc(x.objects, func(o exchangeObject) bool { return len(o.spectra) > 0 })
	if !others {
		return ", else export spectra"
	}
	return ", or " + ignoring(light) + " to leave it out"
}

// strangeModes keeps the specular modes that a specification in use states in
// words not known here.
func (x *exchangeXML) strangeModes(s *sheet) {
	used := map[string]bool{}
	for _, o := range x.objects {
		for _, l := range o.labs {
			used[l.spec] = true
		}
		for _, r := range o.spectra {
			used[r.spec] = true
		}
	}
	for _, id := range slices.Sorted(maps.Keys(used)) {
		if spec := x.specs[id]; spec != nil && spec.strangeMode != "" && spec.specular == "" {
			s.unclear = append(s.unclear, unclear{spec.line, "specular mode " + quote(spec.strangeMode) + " is none known here", ofSpecular, spec.strangeMode})
		}
	}
}

// condition finds what a colour is under: by its specification, else by the
// options. An illuminant or observer in words not known here is what the options
// say it is.
func (x *exchangeXML) condition(spec string, o *Options) (under color.Condition, problem, hint string) {
	under = o.Condition
	if under.Observer == 0 {
		under.Observer = o.Observer
	}
	if s := x.specs[spec]; s != nil {
		if i, err := color.ParseIlluminant(s.illuminant); err == nil {
			under.Illuminant = i
		} else if s.illuminant != "" && under.Illuminant == "" {
			return under, "is under illuminant " + quote(s.illuminant) + ", which is not known here", "say " + remedy.Input("illuminant") + " if it is " + lights() + x.leaving(s.illuminant)
		}
		// The standard writes 2_Degree and 10_Degree.
		if v, err := color.ParseObserver(strings.ReplaceAll(s.observer, "_", " ")); err == nil {
			under.Observer = v
		} else if s.observer != "" && under.Observer == 0 {
			return under, "is of observer " + quote(s.observer) + ", which is not known here", "say " + remedy.InputAs("observer", "2") + " or " + remedy.InputAs("observer", "10")
		}
	}
	if under.Check() != nil {
		return under, "does not say its illuminant and observer", "add " + usualLight + ", or export them"
	}
	return under, "", ""
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
